"""Unit spellings and the way to SI and back; the only module that imports pint.

The closed table of spellings lies in data/units.toml with factors computed by pint (a test compares them).
pint itself is asked, and so loaded, only for a unit expression that the table does not hold.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache, lru_cache
from typing import TypeVar

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from fleetaudit.assets import read_table
from fleetaudit.errors import InputError

Number = TypeVar("Number", float, NDArray[np.float64])
_PER = re.compile(r"\s*/\s*")
_BLANKS = re.compile(r"\s+")


class Unit(Struct, frozen=True):
    """A unit of the table: value in SI = (value + offset) * factor."""

    name: str
    si: str
    factor: float
    offset: float


def fold(spelling: str) -> str:
    """Spelling without case, dots and needless blanks, as the table is keyed."""
    text = spelling.strip().lower().replace(".", "")
    return text if text.isalnum() else _BLANKS.sub(" ", _PER.sub("/", text))


@cache
def table() -> Mapping[str, Unit]:
    """All known spellings, folded, each with its unit."""
    found: dict[str, Unit] = {}
    for name, row in read_table("data/units.toml")["unit"].items():
        unit = Unit(name, row["si"], row["factor"], row["offset"])
        for spelling in (name, *row["spellings"]):
            found[fold(spelling)] = unit
    return found


@lru_cache(maxsize=1024)
def find(spelling: str) -> Unit | None:
    """Unit of a spelling, or None where the table does not hold it."""
    return table().get(fold(spelling))


@lru_cache(maxsize=4096)
def factor(spelling: str) -> tuple[float, float]:
    """Factor and offset of a spelling; InputError where nobody knows the unit."""
    unit = find(spelling) or _ask_pint(spelling)
    return unit.factor, unit.offset


def to_si(value: Number, spelling: str) -> Number:
    """Value in the unit named by `spelling`, carried to SI."""
    scale, offset = factor(spelling)
    return (value + offset) * scale


def from_si(value: Number, spelling: str) -> Number:
    """SI value shown in the unit named by `spelling`."""
    scale, offset = factor(spelling)
    return value / scale - offset


@lru_cache(maxsize=1024)
def _ask_pint(expression: str) -> Unit:
    import pint  # noqa: PLC0415 - a third of a second that a run with known units need not pay

    registry: pint.UnitRegistry[float] = pint.UnitRegistry()
    try:
        one = registry.Quantity(1.0, expression).to_base_units()
        zero = registry.Quantity(0.0, expression).to_base_units()
    except (pint.PintError, AssertionError, AttributeError, ValueError, TypeError) as trouble:
        raise InputError(
            f'"{expression}" is not a unit this tool knows. Examples: gpm, L/min, in, mm.'
        ) from trouble
    scale = float(one.magnitude - zero.magnitude)
    return Unit(expression, f"{one.units:~C}", scale, float(zero.magnitude) / scale)
