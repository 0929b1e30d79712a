"""Rows taken apart by cutting each at its own number, which every cell of it bears.

Cut at `7"`, `<row r="7"><c r="A7" s="1"><v>5</v></c><c r="C7"/>` falls into `<row r="`, `><c r="A`,
` s="1"><v>5</v></c><c r="C` and `/>`. Such pieces come again in row after row, so each is understood once and
looked up from then on. Where a row says its number and a quotation mark elsewhere too, it falls into pieces
that are none of these, and somebody else has to read it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from itertools import pairwise

from fleetaudit.workbook.place import column_number
from fleetaudit.workbook.rows import REST_OF_CELL, ROW_ATTRIBUTES, NotCanonical, attributes_of, is_hidden

_LEAD = b'<c r="'
_NEXT = rb"\s*(?:" + _LEAD + rb"([A-Z]{1,3}))?"
_CELL = re.compile(REST_OF_CELL + _NEXT)
_OPENING = re.compile(rb"\s*<row r=\"")
_ATTRIBUTES = re.compile(rb"(" + ROW_ATTRIBUTES + rb")\s*>" + _NEXT)
_MOST_KNOWN = 1 << 14
#: from so many columns on the same cells stand in front of ever other columns
_WIDE = 64
#: what leads on to the attributes of a row
_TO_ATTRIBUTES = -1
#: added to the column that the attributes of a row lead on to
_FROM_ATTRIBUTES = 1 << 16


class Pieces(dict[bytes, tuple[int, int]]):
    """What each piece leads on to, and the place of what the cell in it holds; of attributes, 1 for hidden.

    A piece leads on to the column of the next cell, 0 where the row ends. Pieces that do not come again for
    long are forgotten.
    """

    def __init__(self, place: Callable[..., int]) -> None:
        super().__init__()
        self._place = place
        self._before: dict[bytes, tuple[int, int]] = {}
        self._columns: dict[bytes, int] = {}
        self._cells: dict[bytes, int] = {}

    def __missing__(self, piece: bytes) -> tuple[int, int]:
        """Understand a piece not seen of late, or raise NotCanonical."""
        if len(self) >= _MOST_KNOWN:
            self._before = dict(self)
            self.clear()
        told = self._before.get(piece) or (self._cells and self._elsewhere(piece)) or self._understood(piece)
        self[piece] = told
        return told

    def _elsewhere(self, piece: bytes) -> tuple[int, int] | None:
        """A piece of a wide sheet whose cell is known from in front of another column."""
        cell, _, letters = piece.rpartition(_LEAD)
        if cell in self._cells and letters in self._columns:
            return self._columns[letters], self._cells[cell]
        return None

    def _understood(self, piece: bytes) -> tuple[int, int]:
        cell = _CELL.fullmatch(piece)
        if cell is not None:
            style, kind, formula, value, inline, letters = cell.groups()
            place = self._place(style, kind, formula, value, inline)
            if letters is not None and len(self._columns) >= _WIDE:
                if len(self._cells) >= _MOST_KNOWN:
                    self._cells.clear()
                self._cells[piece[: cell.start(6) - len(_LEAD)]] = place
            return self._column(letters), place
        attributes = _ATTRIBUTES.fullmatch(piece)
        if attributes is not None:
            hidden = is_hidden(attributes_of(attributes[1]))
            return _FROM_ATTRIBUTES + self._column(attributes[2]), int(hidden)
        if _OPENING.fullmatch(piece):
            return _TO_ATTRIBUTES, 0
        raise NotCanonical

    def _column(self, letters: bytes | None) -> int:
        if letters is None:
            return 0
        column = self._columns.get(letters)
        if column is None:
            column = self._columns[letters] = column_number(letters.decode())
        return column


def columns_of(leads: Sequence[int]) -> Sequence[int]:
    """Columns of the cells of a row from what its pieces lead on to.

    Raises NotCanonical where the pieces are not those of one row with its cells from left to right.
    """
    first, *columns = leads
    if first != _TO_ATTRIBUTES or not columns:
        raise NotCanonical
    columns[0] -= _FROM_ATTRIBUTES
    behind = columns.pop()
    if behind or any(before >= after for before, after in pairwise((0, *columns, _FROM_ATTRIBUTES))):
        raise NotCanonical
    return columns
