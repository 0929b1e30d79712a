"""Cells of whole columns: what follows a cell's address is made once for values that are the same.

A column comes as runs of bytes, each with one piece for every row, so that a row is a join across the runs.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import date
from itertools import compress, repeat
from types import NoneType
from typing import cast

from fleetaudit.workbook.cellmarkup import cell_end, number_frame, text_frame
from fleetaudit.workbook.markup import escape_texts

Run = Iterable[bytes]


def kinds(values: Iterable[object]) -> set[type]:
    """Types of the values, blanks left out."""
    return set(map(type, values)) - {NoneType}


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
    style_of: Callable[[object], int],
    prefix: str = "",
    *,
    epoch_1904: bool = False,
) -> list[bytes] | None:
    """What follows the address of a cell with each value, nothing for a blank; `style_of` gives its style.

    None where the values are neither all texts nor all numbers nor all dates.
    """
    found = kinds(values)
    if not found:
        return [b""] * len(values)
    if found == {str}:
        return _text_ends(cast(Sequence[str | None], values), style_of, prefix)
    if found == {int, float}:  # the same number may be written in two ways
        return _number_ends(cast(Sequence[float | None], values), style_of, prefix)
    distinct = list(dict.fromkeys(values))
    if found in ({int}, {float}):
        ends = _number_ends(cast(Sequence[float | None], distinct), style_of, prefix)
    elif found == {date}:
        ends = [
            b"" if day is None else f'"{cell_end(day, style_of(day), prefix, epoch_1904=epoch_1904)}'.encode()
            for day in distinct
        ]
    else:
        return None
    known = dict(zip(distinct, ends, strict=True))
    return [known[value] for value in values]


def _text_ends(texts: Sequence[str | None], style_of: Callable[[object], int], prefix: str) -> list[bytes]:
    """What follows the address of a cell with each text."""
    distinct = [text for text in dict.fromkeys(texts) if text]
    ends: dict[str | None, bytes] = {"": b"", None: b""}
    if distinct:
        head, tail = (markup.encode() for markup in text_frame(style_of(distinct[0]), prefix))
        escaped = escape_texts(distinct)
        ends.update(zip(distinct, [b'"' + head + text + tail for text in escaped], strict=True))
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
    ends = iter([b'"' + head + figure + tail for figure in figures])
    return [next(ends) if finite else b"" for finite in there]
