"""Figures and flags of the media of many units at once, by medium code (-1 where the medium is not known)."""

from __future__ import annotations

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from fleetaudit.catalogue.model import Catalogue, Figure

Floats = NDArray[np.float64]
Codes = NDArray[np.int64]
Flags = NDArray[np.bool_]
Range = tuple[Floats, Floats, Floats]

_NOTHING = (np.nan, np.nan, np.nan)


def spread(catalogue: Catalogue, codes: Codes, key: str) -> Range:
    """Value, low and high [SI] of a figure for each unit, NaN where there is none."""
    return pick(table(catalogue, key), codes)


def table(catalogue: Catalogue, key: str) -> Range:
    """Value, low and high [SI] of a figure by the code of each medium, NaN last, for the code -1."""
    return _table([_ends(medium.figures.get(key)) for medium in catalogue.media])


class Sought(Struct, frozen=True):
    """What units are there to take out: of each its place in `together`, -1 where unknown.

    One of `together` holds the places in the catalogue of all purposes of a unit.
    """

    codes: Codes
    together: tuple[tuple[int, ...], ...]

    def keys(self, catalogue: Catalogue, code: int) -> tuple[str, ...]:
        """Keys of the purposes a code stands for; none for an unknown one."""
        return tuple(catalogue.purposes[one].key for one in self.together[code]) if code >= 0 else ()

    def guard(self, catalogue: Catalogue) -> Flags:
        """True where somebody's health hangs on a purpose of the unit."""
        guards = [any(catalogue.purposes[one].guards for one in all_of_it) for all_of_it in self.together]
        return np.asarray(np.array([*guards, False])[self.codes])


def spread_for_purpose(catalogue: Catalogue, codes: Codes, sought: Sought, key: str) -> Range:
    """Pick "life_s" or "contact_time_s" by what the bed is there for; of several purposes the strictest."""
    rows = [
        _ends(medium.figure(key, sought.keys(catalogue, code)))
        for medium in catalogue.media
        for code in (*range(len(sought.together)), -1)
    ]
    width = len(sought.together) + 1
    where = np.where(codes >= 0, codes * width + np.where(sought.codes >= 0, sought.codes, width - 1), -1)
    return pick(_table(rows), where)


def flag(catalogue: Catalogue, codes: Codes, name: str) -> Flags:
    """Pick a yes-or-no property such as "loss_sensitive" for each unit, False for an unknown medium."""
    table = np.array([*(bool(getattr(medium, name)) for medium in catalogue.media), False])
    return np.asarray(table[codes], dtype=np.bool_)


def guards_health(catalogue: Catalogue, codes: Codes, sought: Sought) -> Flags:
    """Tell where the medium always guards health, or may and a purpose of the unit says so."""
    always = np.array([*(medium.guard == "yes" for medium in catalogue.media), False])
    may = np.array([*(medium.guard == "by-purpose" for medium in catalogue.media), False])
    return np.asarray(always[codes] | (may[codes] & sought.guard(catalogue)), dtype=np.bool_)


def _ends(figure: Figure | None) -> tuple[float, float, float]:
    return _NOTHING if figure is None else (figure.value, figure.low, figure.high)


def _table(rows: list[tuple[float, float, float]]) -> Range:
    value, low, high = np.array([*rows, _NOTHING]).T
    return value, low, high


def pick(ends: Range, codes: Codes) -> Range:
    """Value, low and high of each unit, from those by code."""
    value, low, high = (np.ascontiguousarray(end)[codes] for end in ends)
    return value, low, high
