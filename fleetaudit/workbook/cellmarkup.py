"""Markup of single cells: text stays text, numbers and dates are typed, nothing becomes a formula."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from functools import lru_cache
from math import isfinite
from typing import Any, cast

from fleetaudit.workbook.markup import escape_text

DATE_CODE, MOMENT_CODE = "yyyy-mm-dd", "yyyy-mm-dd hh:mm"
_DAY_0, _DAY_0_OF_1904 = date(1899, 12, 30).toordinal(), date(1904, 1, 1).toordinal()
TIME_CODE, DURATION_CODE = "hh:mm", "[h]:mm"


def plain(value: object) -> object:
    """Python value of an array element; NaN and infinity count as blank."""
    item: Any = getattr(value, "item", None)
    if item is not None:
        if getattr(value, "dtype", None) is not None and cast(Any, value).dtype.kind == "M":
            item = cast(Any, value).astype("datetime64[us]").item  # finer steps would come as a bare count
        value = item()
    if isinstance(value, float) and not isfinite(value):
        return None
    return None if value == "" else value


def default_code(value: object) -> str | None:
    """Number format that a value needs to be shown as what it is."""
    if isinstance(value, datetime):
        return MOMENT_CODE
    if isinstance(value, date):
        return DATE_CODE
    if isinstance(value, time):
        return TIME_CODE
    return DURATION_CODE if isinstance(value, timedelta) else None


def cell(where: str, value: object, style: int, prefix: str = "", *, epoch_1904: bool = False) -> str:
    """Markup of one cell; an empty string for a blank."""
    if value is None:
        return ""
    return f'<{prefix}c r="{where}"{cell_end(value, style, prefix, epoch_1904=epoch_1904)}'


def cell_end(value: object, style: int, prefix: str = "", *, epoch_1904: bool = False) -> str:
    """Markup of a filled cell from behind its address on."""
    if isinstance(value, str):
        head, tail = text_frame(style, prefix)
        return head + escape_text(value) + tail
    if isinstance(value, bool):
        look = f' s="{style}"' if style else ""
        return f'{look} t="b"><{prefix}v>{int(value)}</{prefix}v></{prefix}c>'
    if isinstance(value, int | float):
        figure = float(value) if isinstance(value, float) else int(value)
    else:
        figure = serial(value, epoch_1904)
    head, tail = number_frame(style, prefix)
    return f"{head}{figure!r}{tail}"


@lru_cache(maxsize=1024)
def text_frame(style: int, prefix: str = "") -> tuple[str, str]:
    """Markup between the address of a cell and its text, and behind the text."""
    look = f' s="{style}"' if style else ""
    head = f'{look} t="inlineStr"><{prefix}is><{prefix}t xml:space="preserve">'
    return head, f"</{prefix}t></{prefix}is></{prefix}c>"


@lru_cache(maxsize=1024)
def number_frame(style: int, prefix: str = "") -> tuple[str, str]:
    """Markup between the address of a cell and its number, and behind the number."""
    look = f' s="{style}"' if style else ""
    return f"{look}><{prefix}v>", f"</{prefix}v></{prefix}c>"


def serial(value: object, epoch_1904: bool) -> float | int:
    """Serial number of a date, time or duration.

    >>> serial(date(2021, 4, 5), False), serial(date(2021, 4, 5), True)
    (44291, 42829)
    """
    if isinstance(value, timedelta):
        return value / timedelta(days=1)
    if isinstance(value, time):
        since = timedelta(hours=value.hour, minutes=value.minute, seconds=value.second)
        return (since + timedelta(microseconds=value.microsecond)) / timedelta(days=1)
    if isinstance(value, datetime):
        naive = value.replace(tzinfo=None)
        days = serial_day(naive.date(), epoch_1904)
        return days + (naive - datetime.combine(naive.date(), time())) / timedelta(days=1)
    if isinstance(value, date):
        return serial_day(value, epoch_1904)
    raise TypeError(f"a cell cannot hold {type(value).__name__}")


def serial_day(day: date, epoch_1904: bool) -> int:
    """Serial number of a day."""
    return day.toordinal() - (_DAY_0_OF_1904 if epoch_1904 else _DAY_0)
