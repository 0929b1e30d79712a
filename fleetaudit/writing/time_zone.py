"""A time zone as iCalendar describes it (RFC 5545, section 3.6.5), for the days that matter and no others."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

#: how far back the change that led to the first day is looked for
_LOOK_BACK = timedelta(days=400)
_STEP = timedelta(days=7)
_SECOND = timedelta(seconds=1)


def description(name: str, first: date, last: date) -> list[str]:
    """Lines of a VTIMEZONE: the rule in force on the first day, and every change up to the last."""
    zone = ZoneInfo(name)
    end = datetime.combine(last + timedelta(days=2), datetime.min.time(), UTC)
    start = datetime.combine(first, datetime.min.time(), UTC)
    changes = _changes(zone, start - _LOOK_BACK, end)
    before = [when for when in changes if when <= start - timedelta(days=1)]
    needed = [*before[-1:], *(when for when in changes if when > start - timedelta(days=1))]
    lines = ["BEGIN:VTIMEZONE", f"TZID:{name}"]
    if not before:
        lines += _observance(zone, start - _LOOK_BACK)
    for when in needed:
        lines += _observance(zone, when)
    return [*lines, "END:VTIMEZONE"]


def _changes(zone: ZoneInfo, start: datetime, end: datetime) -> list[datetime]:
    """Moments at which the zone's distance from UTC changes, to the second."""
    found = []
    while start < end:
        later = min(start + _STEP, end)
        if _offset(zone, start) != _offset(zone, later):
            low, high = start, later
            while high - low > _SECOND:
                middle = low + (high - low) // 2
                middle -= timedelta(microseconds=middle.microsecond)
                if _offset(zone, middle) == _offset(zone, low):
                    low = middle
                else:
                    high = middle
            found.append(high)
        start = later
    return found


def _offset(zone: ZoneInfo, moment: datetime) -> timedelta:
    return moment.astimezone(zone).utcoffset() or timedelta()


def _observance(zone: ZoneInfo, when: datetime) -> list[str]:
    """Rule from a moment on; its start is written in the time that went before, as the standard asks."""
    before, after = _offset(zone, when - _SECOND), _offset(zone, when)
    here = when.astimezone(zone)
    kind = "DAYLIGHT" if here.dst() else "STANDARD"
    return [
        f"BEGIN:{kind}",
        f"DTSTART:{(when + before).strftime('%Y%m%dT%H%M%S')}",
        f"TZOFFSETFROM:{_signed(before)}",
        f"TZOFFSETTO:{_signed(after)}",
        f"TZNAME:{here.tzname()}",
        f"END:{kind}",
    ]


def _signed(offset: timedelta) -> str:
    minutes = round(offset.total_seconds() / 60)
    hours, rest = divmod(abs(minutes), 60)
    return f"{'-' if minutes < 0 else '+'}{hours:02d}{rest:02d}"
