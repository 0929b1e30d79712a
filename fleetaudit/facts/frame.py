"""The fleet as arrays: what reading hands to the audit, and what a partition of a larger table looks like."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

import numpy as np
from msgspec import Struct, field
from numpy.typing import NDArray

from fleetaudit.schema.column import Column, Missing, Origin

Floats = NDArray[np.float64]
#: whole numbers, in as few bytes as they are given in
Codes = NDArray[np.signedinteger[Any]]
Flags = NDArray[np.bool_]

_CODES = 3  # that stand for columns which are not there: no code, no column, absent


@lru_cache(maxsize=1)
def _nothing(units: int) -> Floats:
    """What stands for a column that is not there."""
    blank = np.full(units, np.nan)
    blank.setflags(write=False)
    return blank


@lru_cache(maxsize=_CODES)
def _every(code: int, units: int, kind: type[np.signedinteger[Any]]) -> Codes:
    """One code for all units; asked for again and again, so the last few are kept."""
    same = np.full(units, code, dtype=kind)
    same.setflags(write=False)
    return same


class Layer(Struct, frozen=True):
    """One layer of a bed: catalogue code (-1 unknown), depth [m] or share of the volume (NaN not given)."""

    medium: int
    depth_m: float
    share: float


class Frame(Struct):
    """Rows of a fleet, column by column, in SI.

    `numbers` holds float64 arrays by `Column.key` (NaN where unknown; dates as days since 1970-01-01, see
    `dates`), `texts` lists of str by `Column.key` ("" where blank), `codes` int arrays: "medium" (index in
    the catalogue, -1 unknown), "bed" (1 a backwashing bed, 0 none), and for each choice or flag column its
    position in `Column.choices` (flags: 0 no, 1 yes), -1 unknown. `origin` and `missing` are int arrays by
    `Column.name` for every column of the schema that the sheet has; a column that is absent, or blank on
    every row, is in neither. `columns` gives the 1-based sheet column a field was read from, `raw` the text
    of the cells that could not be used, by (unit, column name). `date_low`, `date_high` bound a date given as
    a month or a year only. A code of "purpose" is a place in `purposes`, which holds all that a cell names
    together, each as its place in the catalogue.
    """

    file: str
    sheet: str
    rows: Codes
    numbers: dict[str, Floats] = field(default_factory=dict)
    texts: dict[str, list[str]] = field(default_factory=dict)
    codes: dict[str, Codes] = field(default_factory=dict)
    origin: dict[str, Codes] = field(default_factory=dict)
    missing: dict[str, Codes] = field(default_factory=dict)
    columns: dict[str, int] = field(default_factory=dict)
    raw: dict[tuple[int, str], str] = field(default_factory=dict)
    layers: dict[int, tuple[Layer, ...]] = field(default_factory=dict)
    date_low: dict[str, Floats] = field(default_factory=dict)
    date_high: dict[str, Floats] = field(default_factory=dict)
    purposes: tuple[tuple[int, ...], ...] = ()

    @property
    def units(self) -> int:
        """Number of rows."""
        return len(self.rows)

    def has(self, column: Column) -> bool:
        """True where the sheet has the column and at least one row fills it."""
        return column.name in self.missing

    def number(self, column: Column) -> Floats:
        """Values of a numeric column [SI], NaN where unknown or absent."""
        found = self.numbers.get(column.key)
        return _nothing(self.units) if found is None else found

    def text(self, column: Column) -> Sequence[str]:
        """Texts of a column, "" where blank or absent."""
        found = self.texts.get(column.key)
        return [""] * self.units if found is None else found

    def code(self, name: str) -> Codes:
        """Codes of a coded column, -1 where unknown or absent."""
        found = self.codes.get(name)
        return _every(-1, self.units, np.int64) if found is None else found

    def why_missing(self, column: Column) -> Codes:
        """Missing code of each row."""
        found = self.missing.get(column.name)
        return _every(int(Missing.NO_COLUMN), self.units, np.int8) if found is None else found

    def origins(self, column: Column) -> Codes:
        """Origin code of each row."""
        found = self.origin.get(column.name)
        return _every(int(Origin.ABSENT), self.units, np.int8) if found is None else found

    def part(self, first: int, last: int) -> Frame:
        """Rows first to last - 1 as a frame of their own."""
        cut = slice(first, last)

        def arrays(source: Mapping[str, NDArray[np.float64]]) -> dict[str, Floats]:
            return {key: values[cut] for key, values in source.items()}

        def codes(source: Mapping[str, Codes]) -> dict[str, Codes]:
            return {key: values[cut] for key, values in source.items()}

        inside = range(first, min(last, self.units))
        return Frame(
            self.file,
            self.sheet,
            self.rows[cut],
            arrays(self.numbers),
            {key: values[cut] for key, values in self.texts.items()},
            codes(self.codes),
            codes(self.origin),
            codes(self.missing),
            dict(self.columns),
            {(unit - first, name): text for (unit, name), text in self.raw.items() if unit in inside},
            {unit - first: layers for unit, layers in self.layers.items() if unit in inside},
            arrays(self.date_low),
            arrays(self.date_high),
            self.purposes,
        )
