"""Markup of single cells: text stays text, numbers and dates are typed, nothing becomes a formula."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import date, datetime, time, timedelta
from functools import lru_cache
from math import isfinite
from types import NoneType
from typing import Any, cast

from fleetaudit.workbook.markup import escape_text, escape_texts

#: columns of one type, in which equal values have the same markup
_ALIKE = ({str}, {int}, {float}, {date})
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
    if type(value) is int or type(value) is float:
        return number_end(value, style, prefix)
    look = f' s="{style}"' if style else ""
    if isinstance(value, str):
        return f'{look} t="inlineStr">{_text(value, prefix)}</{prefix}c>'
    if isinstance(value, bool):
        return f'{look} t="b"><{prefix}v>{int(value)}</{prefix}v></{prefix}c>'
    if isinstance(value, int | float):
        figure = float(value) if isinstance(value, float) else int(value)
    else:
        figure = serial(value, epoch_1904)
    return number_end(figure, style, prefix)


def number_end(figure: float, style: int, prefix: str = "") -> str:
    """Markup of a cell with a number from behind its address on."""
    look = f' s="{style}"' if style else ""
    return f"{look}><{prefix}v>{figure!r}</{prefix}v></{prefix}c>"


def text_ends(texts: Iterable[str], style: int) -> dict[str, str]:
    """Markup from behind its address on of a cell with each text, the same as `cell_end`; "" for no text."""
    kept = list(texts)
    start = f' s="{style}" t="inlineStr">' if style else ' t="inlineStr">'
    start += '<is><t xml:space="preserve">'
    escaped = zip(kept, escape_texts(kept), strict=True)
    return {text: f"{start}{said}</t></is></c>" if text else "" for text, said in escaped}


def column_cells(
    letters: str,
    rows: Sequence[int],
    values: Sequence[object],
    style_of: Callable[[str | None], int],
    code: str | None,
    prefix: str = "",
    *,
    epoch_1904: bool = False,
) -> list[str]:
    """Markup of one cell for each row; `style_of` gives the style index of a number format.

    The same as `cell` for each value; in a column of one type, what is the same is made once.
    """

    def end(raw: object) -> str:
        value = plain(raw)
        if value is None:
            return ""
        style = 0 if isinstance(value, str) else style_of(code or default_code(value))
        return cell_end(value, style, prefix, epoch_1904=epoch_1904)

    start = f'<{prefix}c r="{letters}'
    if set(map(type, values)) - {NoneType} in _ALIKE:
        known = {value: end(value) for value in dict.fromkeys(values)}
        ends = [known[value] for value in values]
    else:
        ends = [end(value) for value in values]
    return [f'{start}{row}"{markup}' if markup else "" for row, markup in zip(rows, ends, strict=True)]


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
