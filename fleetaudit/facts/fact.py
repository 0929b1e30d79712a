"""A Fact: one quantity for every unit, with its range, whether it is known, and where it came from."""

from __future__ import annotations

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from fleetaudit.facts.frame import Codes, Flags, Floats, Frame
from fleetaudit.schema.column import Column, Missing, Origin


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
        return np.asarray(self.missing == Missing.KNOWN)

    @property
    def assumed(self) -> Flags:
        """True where a default or a fill stands in for what nobody gave."""
        return np.asarray(self.origin == Origin.DEFAULT)

    def where(self, use_other: Flags, other: Fact) -> Fact:
        """Take `other` where `use_other` holds, else this fact."""
        return Fact(
            np.where(use_other, other.value, self.value),
            np.where(use_other, other.low, self.low),
            np.where(use_other, other.high, self.high),
            np.where(use_other, other.missing, self.missing),
            np.where(use_other, other.origin, self.origin),
            tuple(dict.fromkeys((*self.columns, *other.columns))),
        )

    def spread(self, share: float | Floats) -> Fact:
        """The same fact with a range of value * (1 -/+ share)."""
        return replace(self, low=self.value * (1 - share), high=self.value * (1 + share))


def given(frame: Frame, column: Column) -> Fact:
    """What the cells of a numeric column say."""
    value = frame.number(column)
    return Fact(value, value, value, frame.why_missing(column), frame.origins(column), (column,))


def unusable(frame: Frame, column: Column) -> Flags:
    """True where a cell is filled and gives no value that may be used."""
    missing = frame.why_missing(column)
    return np.asarray(
        (missing != Missing.KNOWN) & (missing != Missing.BLANK) & (missing != Missing.NO_COLUMN)
    )


def computed(value: Floats, *parents: Fact, low: Floats | None = None, high: Floats | None = None) -> Fact:
    """A fact worked out from others: known where all are, with the first reason and the weakest origin."""
    missing = first_reason(*(parent.missing for parent in parents))
    missing = np.where((missing == Missing.KNOWN) & np.isnan(value), int(Missing.NO_FIGURE), missing)
    origin = weakest(*(parent.origin for parent in parents))
    columns = tuple(dict.fromkeys(column for parent in parents for column in parent.columns))
    return Fact(
        value, value if low is None else low, value if high is None else high, missing, origin, columns
    )


def assumed(value: Floats, low: Floats, high: Floats) -> Fact:
    """A fact that rests on a default alone; not known where the default is NaN."""
    missing = np.where(np.isnan(value), int(Missing.NO_FIGURE), int(Missing.KNOWN))
    return Fact(value, low, high, missing, np.full(len(value), int(Origin.DEFAULT)))


def figure(value: Floats, low: Floats, high: Floats, medium: Fact) -> Fact:
    """A figure of the catalogue for the medium of each unit; worth no more than the name of the medium is."""
    missing = np.where(medium.known, np.where(np.isnan(value), int(Missing.NO_FIGURE), 0), medium.missing)
    return Fact(value, low, high, missing, medium.origin)


def first_reason(*missing: Codes) -> Codes:
    """The first reason that is not KNOWN, unit by unit."""
    found = missing[0]
    for other in missing[1:]:
        found = np.where(found == Missing.KNOWN, other, found)
    return found


#: how little an origin is worth: typed, header and format alike, then filled, default, guessed, conflict
_WEAKNESS = np.array([0, 0, 0, 0, 2, 1, 3, 4])
_ORIGIN_OF_WEAKNESS = np.array([Origin.TYPED, Origin.FILLED, Origin.DEFAULT, Origin.GUESSED, Origin.CONFLICT])


def weakest(*origins: Codes) -> Codes:
    """The least trusted of several origins, unit by unit."""
    level = _WEAKNESS[origins[0]]
    for other in origins[1:]:
        level = np.maximum(level, _WEAKNESS[other])
    return np.asarray(_ORIGIN_OF_WEAKNESS[level], dtype=np.int64)
