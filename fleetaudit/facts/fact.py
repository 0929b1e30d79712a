"""A Fact: one quantity for every unit, with its range, whether it is known, and where it came from."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from fleetaudit.facts.frame import Codes, Flags, Floats, Frame
from fleetaudit.schema.column import Column, Missing, Origin

#: codes in a byte, as columns hold them: compared with the enumeration itself they would be widened first
KNOWN, BLANK, NO_COLUMN, NO_FIGURE = (
    np.int8(reason) for reason in (Missing.KNOWN, Missing.BLANK, Missing.NO_COLUMN, Missing.NO_FIGURE)
)
DEFAULT = np.int8(Origin.DEFAULT)


class Fact(Struct, frozen=True):
    """Value [SI] by unit, NaN if not known; `low` and `high` bound it; `columns`: the cells it rests on."""

    value: Floats
    low: Floats
    high: Floats
    missing: Codes
    origin: Codes
    columns: tuple[Column, ...] = ()

    @property
    def known(self) -> Flags:
        """True where the value may be used."""
        return np.asarray(self.missing == KNOWN)

    @property
    def assumed(self) -> Flags:
        """True where a default or a fill stands in for what nobody gave."""
        return np.asarray(self.origin == DEFAULT)

    def where(self, use_other: Flags, other: Fact) -> Fact:
        """Take `other` where `use_other` holds, else this fact."""
        columns = tuple(dict.fromkeys((*self.columns, *other.columns)))
        if not use_other.any():
            return replace(self, columns=columns)
        value = np.where(use_other, other.value, self.value)
        if self.low is self.value is self.high and other.low is other.value is other.high:
            low = high = value
        else:
            low = np.where(use_other, other.low, self.low)
            high = np.where(use_other, other.high, self.high)
        missing = np.where(use_other, other.missing, self.missing)
        origin = np.where(use_other, other.origin, self.origin)
        return Fact(value, low, high, missing, origin, columns)

    def spread(self, share: float | Floats) -> Fact:
        """The same fact with a range of value * (1 -/+ share)."""
        return replace(self, low=self.value * (1 - share), high=self.value * (1 + share))


def given(frame: Frame, column: Column) -> Fact:
    """What the cells of a numeric column say."""
    value = frame.number(column)
    return Fact(value, value, value, frame.why_missing(column), frame.origins(column), (column,))


def unusable(frame: Frame, column: Column, rows: Codes | None = None) -> Flags:
    """True where a cell is filled and gives no value that may be used; of some rows, if not of all."""
    missing = frame.why_missing(column)
    if rows is not None:
        missing = missing[rows]
    return np.asarray((missing != KNOWN) & (missing != BLANK) & (missing != NO_COLUMN))


def computed(value: Floats, *parents: Fact, low: Floats | None = None, high: Floats | None = None) -> Fact:
    """A fact worked out from others: known where all are, with the first reason and the weakest origin."""
    missing = first_reason(*(parent.missing for parent in parents))
    missing = np.where((missing == KNOWN) & np.isnan(value), NO_FIGURE, missing)
    origin = weakest(*(parent.origin for parent in parents))
    columns = tuple(dict.fromkeys(column for parent in parents for column in parent.columns))
    return Fact(
        value, value if low is None else low, value if high is None else high, missing, origin, columns
    )


def assumed(value: Floats, low: Floats, high: Floats) -> Fact:
    """A fact that rests on a default alone; not known where the default is NaN."""
    missing = np.where(np.isnan(value), NO_FIGURE, KNOWN)
    return Fact(value, low, high, missing, np.full(len(value), DEFAULT))


def figure(value: Floats, low: Floats, high: Floats, medium: Fact) -> Fact:
    """A figure of the catalogue for the medium of each unit; worth no more than the name of the medium is."""
    missing = np.where(medium.known, np.where(np.isnan(value), NO_FIGURE, KNOWN), medium.missing)
    return Fact(value, low, high, missing, medium.origin)


def first_reason(*missing: Codes) -> Codes:
    """The first reason that is not KNOWN, unit by unit."""
    found, *others = _each_once(missing)
    for other in others:
        open_ = found == KNOWN
        found = other if open_.all() else np.where(open_, other, found)
    return found


def _each_once(columns: Sequence[Codes]) -> list[Codes]:
    """Columns in order, those that are one and the same array once."""
    return list({id(column): column for column in columns}.values())


#: how little an origin is worth: typed, header and format alike, then filled, default, guessed, conflict
_WEAKNESS = np.array([0, 0, 0, 0, 2, 1, 3, 4], dtype=np.int8)
_TRUSTED = int(Origin.FORMAT)  # origins up to here are worth as much
_ORIGIN_OF_WEAKNESS = np.array(
    [Origin.TYPED, Origin.FILLED, Origin.DEFAULT, Origin.GUESSED, Origin.CONFLICT], dtype=np.int8
)


def weakest(*origins: Codes) -> Codes:
    """The least trusted of several origins, unit by unit."""
    weak = [origin for origin in _each_once(origins) if origin.max(initial=0) > _TRUSTED]
    level = np.zeros(len(origins[0]), dtype=np.int8)
    for origin in weak:
        level = np.maximum(level, _WEAKNESS[origin])
    return _ORIGIN_OF_WEAKNESS[level]
