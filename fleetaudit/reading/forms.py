"""How the list of units writes a value: in which unit, as number or text, with which words."""

from __future__ import annotations

from collections import Counter
from datetime import date, timedelta

from fleetaudit import units
from fleetaudit.catalogue.model import Catalogue
from fleetaudit.reading import grammar
from fleetaudit.reading.cells import said
from fleetaudit.reading.fleet import Fleet
from fleetaudit.reading.headers import unit_of
from fleetaudit.reading.plain import plain, shown
from fleetaudit.schema.column import Column
from fleetaudit.schema.quantity import Kind
from fleetaudit.units import Unit

EPOCH = date(1970, 1, 1)
DIGITS, CLOSE = (1, 2, 3, 4, 5, 6), 1e-9
USUAL_DIGITS = 4


class Forms:
    """Turns values in SI into what goes into a cell of the list, and shows what stands in one."""

    def __init__(self, listed: Fleet, catalogue: Catalogue, *, doubtful: bool = False) -> None:
        self.frame = listed.frame
        self.headings = listed.headings
        self.data = listed.workbook.read(listed.sheet)
        self.system = catalogue.text("units")
        self.doubtful = doubtful

    def place(self, unit: int, column: Column) -> tuple[int, int] | None:
        """Row and column of a unit's cell; None where the list has no such column."""
        number = self.frame.columns.get(column.name)
        return None if number is None else (int(self.frame.rows[unit]), number)

    def old(self, unit: int, column: Column) -> str:
        """What stands in the cell, with the unit it is meant in; "" where blank."""
        place = self.place(unit, column)
        if place is None:
            return ""
        value = self.data.value(*place)
        words = grammar.literal(self.data.format(*place))
        text = f"{shown(value)} {words}".strip()
        if (
            isinstance(value, int | float)
            and not isinstance(value, bool)
            and not words
            and column.quantity.us
        ):
            unit_name = self._heading(column) or units.find(column.quantity.unit(self.system))
            return f"{text} {said(unit_name.name)}" if unit_name is not None else text
        return text

    def new(self, unit: int, column: Column, value: float | str | None) -> tuple[object, str]:
        """Value for the cell, and the same for people to read."""
        kind = column.quantity.kind
        if value is None or isinstance(value, str):
            return value, value or ""
        if kind is Kind.DATE:
            day = EPOCH + timedelta(days=int(value))
            return day, day.isoformat()
        if kind in (Kind.CHOICE, Kind.FLAG):
            word = self._word(column, int(value))
            return word, shown(word)
        return self._number(unit, column, value)

    def added(self, column: Column, value: float | str | None) -> tuple[object, str]:
        """Value for a column that is added, whose heading says the usual unit of the system."""
        kind = column.quantity.kind
        if isinstance(value, str) or value is None or kind in (Kind.DATE, Kind.CHOICE, Kind.FLAG):
            return self.new(-1, column, value)
        name = column.quantity.unit(self.system)
        number = tidy(float(units.from_si(value, name)) if name else value)
        return number, f"{number:g} {said(name)}".strip()

    def _number(self, unit: int, column: Column, value: float) -> tuple[object, str]:
        if not column.quantity.us:
            return tidy(value), f"{tidy(value):g}"
        found, as_text = self._unit(unit, column)
        number = tidy(float(units.from_si(value, found.name)))
        text = f"{number:g} {said(found.name)}"
        return (text if as_text else number), text

    def _unit(self, unit: int, column: Column) -> tuple[Unit, bool]:
        """Unit a number is to be in, and whether the cell has to say so itself."""
        place = self.place(unit, column)
        usual = units.find(column.quantity.unit(self.system))
        assert usual is not None and place is not None
        inside = self._own_unit(place)
        if inside is not None and inside[0].si == column.quantity.si:
            return inside
        heading = self._heading(column)
        if heading is not None:
            return heading, False
        bare = isinstance(self.data.value(*place), int | float)
        if bare and not self.doubtful and not self.data.format(*place):
            return usual, False
        return usual, self.doubtful or self._says_units(column)

    def _heading(self, column: Column) -> Unit | None:
        return unit_of(self.headings.get(column.name, ""), column.quantity).unit

    def _own_unit(self, place: tuple[int, int]) -> tuple[Unit, bool] | None:
        """Unit the cell itself states, by its number format or its text."""
        words = grammar.literal(self.data.format(*place))
        by_format = units.find(words) if words else None
        if by_format is not None:
            return by_format, False
        value = self.data.value(*place)
        typed = grammar.read(plain(value)).unit if isinstance(value, str) else None
        return None if typed is None else (typed, True)

    def _says_units(self, column: Column) -> bool:
        """True where most cells of a column state a unit of their own."""
        number = self.frame.columns[column.name]
        filled = [
            (int(row), number) for row in self.frame.rows if self.data.value(int(row), number) is not None
        ]
        return 2 * sum(self._own_unit(place) is not None for place in filled) >= max(len(filled), 1)

    def _word(self, column: Column, code: int) -> object:
        """The word the list itself uses for a choice, else the usual one."""
        number = self.frame.columns.get(column.name)
        codes = self.frame.code(column.name)
        if number is not None:
            words = Counter(
                self.data.value(int(row), number)
                for row, there in zip(self.frame.rows, codes, strict=True)
                if there == code and isinstance(self.data.value(int(row), number), str | bool)
            )
            if words:
                return words.most_common(1)[0][0]
        if column.quantity.kind is Kind.FLAG:
            return "yes" if code else "no"
        return list(column.choices)[code]


def tidy(value: float) -> float | int:
    """Number without the dust of going to SI and back; one of another unit keeps four digits.

    >>> tidy(6.999999999), tidy(26.497882), tidy(1.5)
    (7, 26.5, 1.5)
    """
    near = next(
        (n for n in DIGITS if abs(float(f"{value:.{n}g}") - value) <= CLOSE * abs(value)), USUAL_DIGITS
    )
    short = float(f"{value:.{near}g}")
    return int(short) if short == int(short) else short
