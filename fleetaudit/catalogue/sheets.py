"""Rows of the user's sheets: where they stand, what their cells say, and what is wrong with them."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping

from msgspec import Struct, field

from fleetaudit import units
from fleetaudit.catalogue.entries import nearest
from fleetaudit.catalogue.kinds import to_si
from fleetaudit.catalogue.model import Figure

Cell = str | float | bool | None

_NUMBER = r"[-+]?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?"
_TYPED = re.compile(rf"^\s*({_NUMBER})\s*(?:(?:-|–|to)\s*({_NUMBER})\s*)?(.*?)\s*$")
_PLACE = re.compile(r"^(?P<sheet>.+)![A-Z]*\$?(?P<row>\d+)")
_YES = frozenset({"yes", "y", "true", "on", "1", "x"})
_NO = frozenset({"no", "n", "false", "off", "0"})


class OverrideRow(Struct, frozen=True):
    """One row of a sheet of figures; `values` by field name, numbers under a name with SI suffix in SI."""

    place: str
    values: Mapping[str, Cell]
    file: str = ""

    @property
    def where(self) -> str:
        """File and cell, for messages."""
        return f"{self.file}: {self.place}" if self.file else self.place

    @property
    def source(self) -> str:
        """Source of every figure the row brings."""
        found = _PLACE.match(self.place)
        spot = f"{found['sheet']}, row {found['row']}" if found else self.place
        origin = ", ".join(part for part in (self.file, spot) if part)
        said = [str(self.values[name]) for name in ("source", "note") if not blank(self.values.get(name))]
        return "; ".join([f"user: {origin}", *said])

    def first(self, *names: str) -> Cell:
        """First filled cell among fields that mean the same."""
        return next((self.values[name] for name in names if not blank(self.values.get(name))), None)


def blank(cell: Cell) -> bool:
    """Tell whether a cell says nothing."""
    return (
        cell is None
        or (isinstance(cell, str) and not cell.strip())
        or (isinstance(cell, float) and math.isnan(cell))
    )


class Ledger(Struct):
    """Reads cells and writes down each that cannot be used."""

    problems: list[str] = field(default_factory=list)

    def report(self, row: OverrideRow, sentence: str) -> None:
        """Note what is wrong with a row."""
        self.problems.append(f"{row.where} {sentence}")

    def unknown(self, row: OverrideRow, known: Iterable[str]) -> None:
        """Note the fields of a row that nobody knows."""
        known = sorted(set(known))
        for name in row.values.keys() - set(known):
            if not blank(row.values[name]):
                self.report(row, f'has the unknown field "{name}".{nearest(name, known)}')

    def yes(self, row: OverrideRow, name: str, cell: Cell) -> bool | None:
        """Yes or no of a cell."""
        word = str(cell).strip().casefold().removesuffix(".0")
        if word not in _YES | _NO:
            self.report(row, f'has "{cell}" under {name}. Write yes or no.')
            return None
        return word in _YES

    def figure(
        self, row: OverrideRow, name: str, cell: Cell, unit: str, *, si: bool = False
    ) -> Figure | None:
        """Figure of a cell: a number, "8 gpm", "8-12 gpm"; a bare number is SI where `si`, else in `unit`."""
        typed = (
            _TYPED.match(cell if isinstance(cell, str) else repr(float(cell))) if cell is not None else None
        )
        if typed is None:
            self.report(
                row, f'has "{cell}" under {name}, which is no number. Write for example 10{_tail(unit)}.'
            )
            return None
        ends = [float(part) for part in typed.group(1, 2) if part is not None]
        named = self._unit(row, name, typed.group(3), unit)
        if named is None:
            return None
        low, high = (to_si(end, named) if named else _bare(end, unit, si) for end in (ends[0], ends[-1]))
        if not (math.isfinite(low) and low <= high):
            self.report(row, f'has "{cell}" under {name}; write the smaller number first.')
            return None
        return Figure((low + high) / 2, low, high, named or unit, "", row.source, "high")

    def _unit(self, row: OverrideRow, name: str, typed: str, expected: str) -> str | None:
        if not typed or typed == expected:
            return typed
        known, wanted = units.find(typed), units.find(expected)
        if known is None:
            self.report(
                row,
                f'has the unit "{typed}" under {name}, which this tool does not know. Use {_name(expected)}.',
            )
            return None
        if wanted is None or known.si != wanted.si:
            self.report(
                row,
                f'has the unit "{typed}" under {name}, which measures something else. Use {_name(expected)}.',
            )
            return None
        return known.name


def _bare(number: float, unit: str, si: bool) -> float:
    """Carry a number without a unit to SI; a share up to 1 is a fraction, above 1 per cent."""
    if unit == "%":
        return number if abs(number) <= 1 else to_si(number, unit)
    return number if si else to_si(number, unit)


def _name(unit: str) -> str:
    return "a plain number" if unit == "1" else unit


def _tail(unit: str) -> str:
    return "" if unit == "1" else f" {unit}"
