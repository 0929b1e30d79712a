"""Cells of whole columns: what follows a cell's address is made once for values that are the same.

A column comes as runs of bytes, each with one piece for every row, so that a row is a join across the runs.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from datetime import date
from itertools import compress, repeat
from types import NoneType
from typing import cast

from fleetaudit.workbook.cellmarkup import number_frame, serial_day, text_frame
from fleetaudit.workbook.markup import escape_texts

Run = Iterable[bytes]


def kinds(values: Iterable[object]) -> set[type]:
    """Types of the values; blanks are left out, and texts of any kind are texts."""
    found = set(map(type, values)) - {NoneType}
    return {str} if found and all(issubclass(one, str) for one in found) else found


def digits(numbers: Iterable[int]) -> list[bytes]:
    """Numbers of rows as they stand in an address.

    >>> digits([9, 10])
    [b'9', b'10']
    """
    return "\n".join(map(str, numbers)).encode().split(b"\n")


def runs(letters: str, numbers: Sequence[bytes], ends: Sequence[bytes], prefix: str = "") -> list[Run]:
    """A column in runs, from what follows each address; where that is empty there is no cell."""
    start = f'<{prefix}c r="{letters}'.encode()
    if all(ends):
        return [repeat(start), numbers, ends]
    return [[start + number if end else b"" for number, end in zip(numbers, ends, strict=True)], ends]


def across(columns: Iterable[Run]) -> list[bytes]:
    """All cells of each row."""
    return list(map(b"".join, zip(*columns, strict=False)))  # a run that repeats one piece has no end


def cell_ends(
    values: Sequence[object],
    found: Collection[type],
    style_of: Callable[[object], int],
    prefix: str = "",
    *,
    epoch_1904: bool = False,
) -> list[bytes] | None:
    """What follows the address of a cell with each value, nothing for a blank; `style_of` gives its style.

    `found` is the kinds of the values; None where these are neither all texts nor all numbers nor all dates.
    """
    if not found:
        return [b""] * len(values)
    if found == {str}:
        texts = cast(Sequence[str | None], values)
        return text_ends(texts, distinct(texts), style_of, prefix)
    if found == {int, float}:  # the same number may be written in two ways
        return _number_ends(cast(Sequence[float | None], values), style_of, prefix)
    each = list(dict.fromkeys(values))
    if found in ({int}, {float}):
        ends = _number_ends(cast(Sequence[float | None], each), style_of, prefix)
    elif found == {date}:
        days = cast(Sequence[date | None], each)
        serials = [None if day is None else serial_day(day, epoch_1904) for day in days]
        ends = _number_ends(serials, lambda _: style_of(next(filter(None, days))), prefix)
    else:
        return None
    known = dict(zip(each, ends, strict=True))
    return [known[value] for value in values]


def distinct(texts: Iterable[str | None]) -> list[str]:
    """Each of the texts once, without blanks."""
    return [text for text in dict.fromkeys(texts) if text]


def text_ends(
    texts: Iterable[str | None], each: Sequence[str], style_of: Callable[[object], int], prefix: str = ""
) -> list[bytes]:
    """What follows the address of a cell with each of the texts, `each` of which is given once."""
    ends: dict[str | None, bytes] = {"": b"", None: b""}
    if each:
        head, tail = (markup.encode() for markup in text_frame(style_of(each[0]), prefix))
        head = b'"' + head
        ends.update(zip(each, [head + text + tail for text in escape_texts(each)], strict=True))
    return [ends[text] for text in texts]


def _number_ends(
    numbers: Sequence[float | None], style_of: Callable[[object], int], prefix: str
) -> list[bytes]:
    """What follows the address of a cell with each number that is finite."""
    there = [number is not None and number - number == 0 for number in numbers]  # neither NaN nor infinite
    filled = list(compress(numbers, there))
    if not filled:
        return [b""] * len(numbers)
    head, tail = (markup.encode() for markup in number_frame(style_of(filled[0]), prefix))
    figures = "\n".join(map(repr, filled)).encode().split(b"\n")
    head = b'"' + head
    ends = iter([head + figure + tail for figure in figures])
    return [next(ends) if finite else b"" for finite in there]
