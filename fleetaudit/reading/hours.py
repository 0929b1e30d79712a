"""Days of the week, times of day, opening hours, lists of dates and of skills as people type them."""

from __future__ import annotations

import re
from datetime import date

from fleetaudit.reading.plain import plain

EPOCH = date(1970, 1, 1)
MINUTE_S, HOUR_S, DAY_S, WEEK, NOON = 60, 3600, 86400, 7, 12
_NAMES = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_DAY = r"(mon|tue|wed|thu|fri|sat|sun)[a-z]*\.?"
_DAYS = re.compile(rf"{_DAY}(?:\s*(?:-|to)\s*{_DAY})?", re.IGNORECASE)
_TIME = re.compile(r"(\d{1,2})(?:[:.h](\d{2}))?(?::\d{2})?\s*(am|pm)?", re.IGNORECASE)
_SPAN = re.compile(rf"({_TIME.pattern})\s*(?:-|to)\s*({_TIME.pattern})", re.IGNORECASE)
_WORDS = {"daily": range(WEEK), "every day": range(WEEK), "weekdays": range(5), "weekends": range(5, WEEK)}
_ISO = re.compile(r"\d{4}-\d{2}-\d{2}")


def days_of(text: str) -> frozenset[int] | None:
    """Days of the week, Monday 0; None where the text names none or says something else beside.

    >>> sorted(days_of("Mon-Wed, Sat")), days_of("whenever")
    ([0, 1, 2, 5], None)
    """
    words = plain(text).casefold().strip()
    if words in _WORDS:
        return frozenset(_WORDS[words])
    found: set[int] = set()
    for match in _DAYS.finditer(words):
        first = _NAMES.index(match[1])
        last = _NAMES.index(match[2]) if match[2] else first
        found |= {(first + step) % WEEK for step in range((last - first) % WEEK + 1)}
    rest = re.sub(r"[\s,;/+&]|and", "", _DAYS.sub("", words))
    return frozenset(found) if found and not rest else None


def time_of(text: str) -> int | None:
    """Seconds after midnight; a spreadsheet's fraction of a day counts too. None where it is no time.

    >>> time_of("7:30"), time_of("0.3125"), time_of("4 pm"), time_of("noonish")
    (27000, 27000, 57600, None)
    """
    words = plain(text).strip()
    try:
        number = float(words)
    except ValueError:
        number = -1.0
    if 0 < number < 1:
        return round(number * DAY_S / MINUTE_S) * MINUTE_S
    found = _TIME.fullmatch(words)
    return _seconds(found[1], found[2], found[3]) if found else None


def _seconds(hour: str, minute: str | None, half: str | None) -> int | None:
    hours, minutes = int(hour), int(minute or 0)
    if half:
        hours = hours % NOON + (NOON if half.lower() == "pm" else 0)
    seconds = hours * HOUR_S + minutes * MINUTE_S
    return seconds if minutes < HOUR_S // MINUTE_S and seconds <= DAY_S else None


def hours_of(text: str) -> tuple[tuple[int, int] | None, ...] | None:
    """Opening and closing [s] of each weekday, parts by semicolons; None where any part cannot be read.

    >>> hours_of("Mon-Tue 8-12; Wed 9:30-16")[:4]
    ((28800, 43200), (28800, 43200), (34200, 57600), None)
    """
    week: list[tuple[int, int] | None] = [None] * WEEK
    for part in filter(None, (piece.strip() for piece in re.split(r"[;\n]", plain(text)))):
        span = _SPAN.search(part)
        if span is None:
            return None
        named = part[: span.start()].strip(" :,")
        days = days_of(named) if named else frozenset(range(5))
        opens = _seconds(span[2], span[3], span[4])
        closes = _seconds(span[6], span[7], span[8])
        if (
            days is None
            or opens is None
            or closes is None
            or closes <= opens
            or part[span.end() :].strip(" .h")
        ):
            return None
        for day in days:
            week[day] = opens, closes
    return tuple(week)


def skills_of(text: str) -> frozenset[str]:
    """Words of a list of skills, whatever their capitals and blanks.

    >>> sorted(skills_of("Hoist,  site  Pass; hoist"))
    ['hoist', 'site pass']
    """
    parts = (" ".join(part.casefold().split()) for part in re.split(r"[,;/\n]", plain(text)))
    return frozenset(part for part in parts if part)


def dates_of(text: str) -> frozenset[int] | None:
    """Days from 1970-01-01 of dates written year-month-day; None where something else stands there."""
    words = plain(text)
    if re.sub(r"[\s,;]|\d{2}:\d{2}", "", _ISO.sub("", words)):
        return None
    try:
        return frozenset((date.fromisoformat(found) - EPOCH).days for found in _ISO.findall(words))
    except ValueError:
        return None
