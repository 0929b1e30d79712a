"""Days and times of day in words."""

from __future__ import annotations

from datetime import date, timedelta

from fleetaudit.language import dated, say
from fleetaudit.routing.model import HOUR_S, MINUTE_S

EPOCH = date(1970, 1, 1)
NAMES = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


def date_of(day: int) -> date:
    """Date of a day counted from 1970-01-01."""
    return EPOCH + timedelta(days=day)


def day_of(when: date) -> int:
    """Days from 1970-01-01.

    >>> day_of(date(2026, 11, 25))
    20782
    """
    return (when - EPOCH).days


def day_words(day: int) -> str:
    """Weekday and date.

    >>> day_words(20782)
    'Wednesday 2026-11-25'
    """
    when = date_of(day)
    return f"{say(NAMES[when.weekday()])} {dated(when)}"


def minutes(seconds: float) -> int:
    """Whole minutes, rounded up."""
    return int(-(-seconds // MINUTE_S))


def clock(seconds: int) -> str:
    """Time of day.

    >>> clock(27000), clock(90000)
    ('07:30', '25:00')
    """
    return f"{seconds // HOUR_S:02d}:{seconds % HOUR_S // MINUTE_S:02d}"
