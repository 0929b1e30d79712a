"""Markup of single cells: text stays text, numbers and dates are typed, nothing becomes a formula."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from datetime import date, datetime, time, timedelta
from functools import lru_cache
from math import isfinite
from typing import Any, cast

from fleetaudit.workbook.markup import escape_text

DATE_CODE, MOMENT_CODE = "yyyy-mm-dd", "yyyy-mm-dd hh:mm"
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


@lru_cache(maxsize=8192)
def _text(value: str, prefix: str) -> str:
    return f'<{prefix}is><{prefix}t xml:space="preserve">{escape_text(value)}</{prefix}t></{prefix}is>'


def cell(where: str, value: object, style: int, prefix: str = "", *, epoch_1904: bool = False) -> str:
    """Markup of one cell; an empty string for a blank."""
    if value is None:
        return ""
    return f'<{prefix}c r="{where}"{cell_end(value, style, prefix, epoch_1904=epoch_1904)}'


def cell_end(value: object, style: int, prefix: str = "", *, epoch_1904: bool = False) -> str:
    """Markup of a filled cell from behind its address on."""
    look = f' s="{style}"' if style else ""
    if isinstance(value, str):
        return f'{look} t="inlineStr">{_text(value, prefix)}</{prefix}c>'
    if isinstance(value, bool):
        return f'{look} t="b"><{prefix}v>{int(value)}</{prefix}v></{prefix}c>'
    if isinstance(value, int | float):
        figure = float(value) if isinstance(value, float) else int(value)
    else:
        figure = serial(value, epoch_1904)
    return f"{look}><{prefix}v>{figure!r}</{prefix}v></{prefix}c>"


def text_ends(texts: Iterable[str], style: int) -> dict[str, str]:
    """Markup from behind its address on of a cell with each text, the same as `cell_end`; "" for no text."""
    start = f' s="{style}" t="inlineStr">' if style else ' t="inlineStr">'
    return {text: f"{start}{_text(text, '')}</c>" if text else "" for text in texts}


def column_cells(
    letters: str,
    rows: Iterable[int],
    values: Iterable[object],
    style_of: Callable[[str | None], int],
    code: str | None,
    prefix: str = "",
    *,
    epoch_1904: bool = False,
) -> Iterator[str]:
    """Markup of one cell for each row; `style_of` gives the style index of a number format.

    The same as `cell` for each value, with the types that fill most columns taken on a short way.
    """
    start, close = f'<{prefix}c r="{letters}', f"</{prefix}v></{prefix}c>"
    plain_number, plain_text, numeric = f'"><{prefix}v>', '" t="inlineStr">', ""
    for row, raw in zip(rows, values, strict=True):
        kind = type(raw)
        if isinstance(raw, str) and raw:
            yield f"{start}{row}{plain_text}{_text(raw, prefix)}</{prefix}c>"
        elif raw is None:
            yield ""
        elif kind is int or (kind is float and isfinite(cast(float, raw))):
            if not numeric:
                style = style_of(code)
                numeric = f'" s="{style}"><{prefix}v>' if style else plain_number
            yield f"{start}{row}{numeric}{raw!r}{close}"
        else:
            value = plain(raw)
            style = style_of(code or default_code(value)) if not isinstance(value, str | None) else 0
            yield cell(f"{letters}{row}", value, style, prefix, epoch_1904=epoch_1904)


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
        days = _days(naive.date(), epoch_1904)
        return days + (naive - datetime.combine(naive.date(), time())) / timedelta(days=1)
    if isinstance(value, date):
        return _days(value, epoch_1904)
    raise TypeError(f"a cell cannot hold {type(value).__name__}")


def _days(day: date, epoch_1904: bool) -> int:
    if epoch_1904:
        return (day - date(1904, 1, 1)).days
    return (day - date(1899, 12, 30)).days
