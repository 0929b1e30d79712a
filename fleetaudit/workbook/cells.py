"""The cells of a sheet: what is held anywhere in it, once, and column by column which of it stands where."""

from __future__ import annotations

from array import array
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime, time, timedelta
from itertools import count

from msgspec import Struct

Value = str | int | float | bool | date | datetime | time | timedelta | None

#: place of what a cell holds that is not there, or only styled
NOTHING = 0
_PLACES = "i"
_WIDTH = array(_PLACES).itemsize
#: so many rows at least, and cells, are turned into columns at a time
_BLOCK_ROWS, _BLOCK_CELLS = 32, 1 << 14
_BLANK_KEYS = (None, (type(None), None))


class Special(Struct, frozen=True, gc=False):
    """What a cell holds where its value does not tell all.

    `code` is a number format that says more than the value, `error` the word of an error cell; a formula
    that was never calculated is `unstored`.
    """

    value: Value
    code: str = ""
    error: str = ""
    unstored: bool = False


Held = Value | Special


class Cells(Struct):
    """Cells by column: each column names, row by row, a place in `held`, the first of which is nothing.

    A column that nobody reads may be left empty.
    """

    held: list[Held]
    columns: list[array[int]]
    n_rows: int

    @classmethod
    def of(cls, columns: Iterable[Sequence[Held]]) -> Cells:
        """Cells of columns given in full."""
        held: list[Held] = [None]
        places = [_factored(column, held) for column in columns]
        return cls(held, places, max(map(len, places), default=0))

    @property
    def n_columns(self) -> int:
        """Number of columns."""
        return len(self.columns)

    def at(self, row: int, column: int) -> Held:
        """What a cell holds, counted from 1; nothing outside the extent."""
        inside = 1 <= row <= self.n_rows and 1 <= column <= self.n_columns
        return self.held[self.columns[column - 1][row - 1]] if inside else None

    def row(self, number: int) -> list[Value]:
        """Values of a row counted from 1."""
        return [value_of(self.held[column[number - 1]]) for column in self.columns]

    def distinct(self, column: int, first: int) -> Iterator[Value]:
        """Values of a column from a row on, each once."""
        return (value_of(self.held[place]) for place in dict.fromkeys(self.columns[column - 1][first - 1 :]))

    def values(self) -> list[list[Value]]:
        """All values column by column."""
        values = [value_of(what) for what in self.held]
        return [[values[place] for place in column] for column in self.columns]

    def special(self) -> dict[tuple[int, int], Special]:
        """Cells whose value does not tell all, by (row, column) counted from 1."""
        there = {place: what for place, what in enumerate(self.held) if isinstance(what, Special)}
        if not there:
            return {}
        return {
            (row, number): there[place]
            for number, column in enumerate(self.columns, 1)
            for row, place in enumerate(column, 1)
            if place in there
        }


def value_of(what: Held) -> Value:
    """Value alone."""
    return what.value if isinstance(what, Special) else what


def _factored(column: Sequence[Held], held: list[Held]) -> array[int]:
    """Places of the cells of a column; what it holds is added to all that is held, once."""
    kinds = set(map(type, column)) - {type(None)}
    # true equals 1 and 1 equals 1.0, and they are not the same
    keys = column if len(kinds) < 2 else list(zip(map(type, column), column, strict=True))
    distinct = dict(zip(keys, column, strict=True))
    for blank in _BLANK_KEYS:
        distinct.pop(blank, None)
    places: dict[object, int] = dict.fromkeys(_BLANK_KEYS, NOTHING)
    places.update(zip(distinct, count(len(held)), strict=False))
    held += distinct.values()
    return array(_PLACES, map(places.__getitem__, keys))


class Grid:
    """Gathers the cells of a sheet row by row."""

    def __init__(self) -> None:
        self.held: list[Held] = [None]
        self._columns: list[array[int]] = []
        self.rows = 0
        self._block: list[Sequence[int]] = []

    @property
    def width(self) -> int:
        """Number of columns so far."""
        return len(self._columns)

    def hold(self, what: Held) -> int:
        """Place of something that cells hold, blank texts included."""
        self.held.append(what)
        return len(self.held) - 1

    def put(self, row: int, places: Mapping[int, int]) -> None:
        """Put cells into a row by their column; the sheet becomes as wide as they reach."""
        width = max(places)
        if width > self.width:
            self._flush()
            self._columns += [_blanks(self.rows) for _ in range(width - self.width)]
        self.add(row, [places.get(column, NOTHING) for column in range(1, self.width + 1)])

    def add_any(self, row: int, places: Sequence[int]) -> None:
        """Add a row of any length, which holds something."""
        if len(places) < self.width or any(places[self.width :]):
            self.put(row, {column: place for column, place in enumerate(places, 1) if place != NOTHING})
        else:
            self.add(row, places)

    def add(self, row: int, places: Sequence[int]) -> None:
        """Add a row of so many cells as there are columns, or more; one that was there keeps what it held."""
        if row <= self.rows:
            self._flush()
            for column, place in zip(self._columns, places, strict=False):
                column[row - 1] = place or column[row - 1]
            return
        if row > self.rows + 1:
            self._flush()
            for column in self._columns:
                column.extend(_blanks(row - 1 - self.rows))
        self._block.append(places)
        self.rows = row
        if len(self._block) >= _BLOCK_ROWS and len(self._block) * self.width >= _BLOCK_CELLS:
            self._flush()

    def _flush(self) -> None:
        for column, places in zip(self._columns, zip(*self._block, strict=False), strict=False):
            column.extend(places)
        self._block.clear()

    def cells(self) -> Cells:
        """All of it."""
        self._flush()
        return Cells(self.held, self._columns, self.rows)


def _blanks(count: int) -> array[int]:
    return array(_PLACES, bytes(count * _WIDTH))
