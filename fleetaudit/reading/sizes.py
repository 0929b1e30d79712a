"""Vessel sizes: diameter x height as people write it, or the diameter alone."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date, datetime, time
from math import isnan

from msgspec import Struct
from msgspec.structs import replace

from fleetaudit import units
from fleetaudit.catalogue.model import Catalogue, Vessel
from fleetaudit.language import later, say
from fleetaudit.reading import grammar
from fleetaudit.reading.cells import NAN, Cell, Filled, Reading, Rules, Strip, report_trouble, spread
from fleetaudit.reading.headers import unit_of
from fleetaudit.reading.patterns import pattern
from fleetaudit.reading.plain import shown
from fleetaudit.reading.remarks import CELLS, Log, spoken
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Column, Missing, Origin
from fleetaudit.schema.remark import Level
from fleetaudit.units import Unit
from fleetaudit.workbook.formats import number_format

_TIMES = pattern(r" ?(?:x|×|\*|\bby\b| - ?|-) ?", re.I)
_RUN = pattern(r"[0-9]{3,4}")
_FRACTION_DASH = pattern(r"[0-9]+-[0-9]+/[0-9]+.*")
_PREFIX = pattern(r"(?:dia(?:meter)?|ø|⌀)\.? ?", re.I)
# A first number below the least diameter of a vessel cannot be part of the size, so it counts vessels.
_SEVERAL = pattern(
    r"\(?(?P<count>[2-5])\)? ?(?:x|×|\*|@|of|off|pcs?\.?|ea\.?)? ?(?<![0-9])"
    r"(?P<size>(?:[1-9][0-9]|[6-9])(?:\.[0-9]+)?[^0-9.]*[x×*][^x×*]+)",
    re.I,
)


class Size(Struct, frozen=True):
    """Diameter and height in the unit typed; `guessed` where digits were split, `problem` says why not."""

    diameter: float = NAN
    height: float = NAN
    diameter_unit: Unit | None = None
    height_unit: Unit | None = None
    guessed: bool = False
    problem: str = ""
    digits_only: bool = False
    vessels: int = 1

    @property
    def digits_guessed(self) -> bool:
        """Tell a run of digits that was split from a size whose number of vessels was guessed."""
        return self.guessed and self.vessels == 1


#: a size, with or without its marks of inches, that stands before words
_SIZE_AHEAD = re.compile(r"^[0-9][0-9./\" -]*(?:[x×*] ?[0-9./\"-]+)?(?: ?(?:in|mm|cm)\b)? +", re.I)


def read(text: str, vessels: Sequence[Vessel]) -> Size:
    """Read a size from plain text.

    >>> size = read('10"x54"', ()); size.diameter, size.height, size.diameter_unit.name
    (10.0, 54.0, 'in')
    >>> size = read("2 x 10x54", ()); size.vessels, size.diameter, size.height, size.guessed
    (2, 10.0, 54.0, True)
    """
    several = _SEVERAL.fullmatch(text)
    if several is not None:
        one = read(several["size"], vessels)
        if one.problem or one.digits_only or isnan(one.height):
            return Size(problem="is not a size")
        return replace(one, vessels=int(several["count"]), guessed=True)
    text = _PREFIX.sub("", text).strip()
    if _RUN.fullmatch(text):
        return _split(text, vessels)
    parts = _TIMES.split(text) if not _FRACTION_DASH.fullmatch(text) or "x" in text.casefold() else [text]
    if len(parts) > 2 and re.search("[x×*]", text, re.I):
        parts = re.split(r" ?[x×*] ?", text, flags=re.I)
    if len(parts) == 1:
        return _one(text)
    if len(parts) != 2:
        return Size(problem="is not a size")
    return _pair(*parts)


def _one(text: str) -> Size:
    typed = grammar.read(text)
    if typed.problem:
        return Size(problem="is not a size" if "number" in typed.problem else typed.problem)
    return Size(typed.number, NAN, typed.unit)


def _pair(wide: str, tall: str) -> Size:
    first, second = grammar.read(wide.strip()), grammar.read(tall.strip())
    if first.problem or second.problem:
        return Size(problem="is not a size")
    unit, other = first.unit or second.unit, second.unit or first.unit
    return Size(first.number, second.number, unit, other)


def _split(digits: str, vessels: Sequence[Vessel]) -> Size:
    """Split a run of digits where exactly one split is a vessel of the table; splits are in inches."""
    inch = units.find("in")
    found = [
        (int(digits[:cut]), int(digits[cut:]))
        for cut in range(1, len(digits))
        if not digits[cut:].startswith("0") and _known(int(digits[:cut]), int(digits[cut:]), vessels)
    ]
    if len(found) == 1:
        wide, tall = found[0]
        return Size(float(wide), float(tall), inch, inch, guessed=True)
    return Size(float(digits), digits_only=True)


def _known(wide: int, tall: int, vessels: Sequence[Vessel]) -> bool:
    width, height = units.to_si(float(wide), "in"), units.to_si(float(tall), "in")
    return any(
        abs(vessel.diameter_m - width) < 1e-3 * width
        and any(abs(one - height) < 1e-3 * height for one in vessel.heights_m)
        for vessel in vessels
    )


class Sizes(Struct, frozen=True):
    """What a size column says of diameter and height, and of itself."""

    diameter: Filled
    height: Filled
    size: Filled
    vessels: Filled


def no_bed(text: str, catalogue: Catalogue) -> str:
    """Group of equipment that is no backwashing bed and stands where a size should, "" for any other text.

    >>> from fleetaudit.catalogue.shipped import load
    >>> no_bed("UV", load()), no_bed("2.5x20 cartridge", load()), no_bed("10x54 tank", load())
    ('lamp', 'cartridge', '')
    """
    words = _SIZE_AHEAD.sub("", text)
    return catalogue.find_non_bed(text) or (catalogue.find_non_bed(words) if words else None) or ""


def read_sizes(strip: Strip, catalogue: Catalogue, rules: Rules, log: Log) -> Sizes:
    """Sizes of a column in SI."""
    return _SizeReader(strip, catalogue, rules, log).read()


class _SizeReader:
    def __init__(self, strip: Strip, catalogue: Catalogue, rules: Rules, log: Log) -> None:
        self.strip, self.vessels, self.rules, self.log = strip, catalogue.vessels, rules, log
        self.catalogue = catalogue
        self.heading = unit_of(strip.heading, strip.column.quantity)
        count = len(strip.distinct)
        self.wide, self.tall, self.own = Reading.empty(count), Reading.empty(count), Reading.empty(count)
        self.several = Reading.empty(count)
        self.other_system: list[int] = []
        self.defaulted: list[int] = []

    def read(self) -> Sizes:
        for which, cell in enumerate(self.strip.distinct):
            if cell.value is None:
                continue
            missing = report_trouble(self.strip, which, self.log)
            if missing is None:
                self._cell(which, cell)
            else:
                self._lost(which, missing)
        self._sum_up()
        return Sizes(*(spread(self.strip, one) for one in (self.wide, self.tall, self.own, self.several)))

    def _lost(self, which: int, missing: Missing) -> None:
        for reading in (self.wide, self.tall, self.own):
            reading.lost(which, missing)

    def _cell(self, which: int, cell: Cell) -> None:
        value = cell.value
        if isinstance(value, date):
            self._became_date(which, cell, value)
            return
        if isinstance(value, bool) or not isinstance(value, str | int | float):
            self._unread(which, cell, "is not a size")
            return
        if isinstance(value, str) and grammar.says_nothing(value):
            return
        text = shown(value)
        words = grammar.literal(cell.code) if cell.code else ""
        size = read(f"{text} {words}".strip(), self.vessels)
        if size.problem and no_bed(text, self.catalogue):
            self._lost(which, Missing.BLANK)
        elif size.problem:
            self._unread(which, cell, size.problem)
        else:
            self._settle(which, cell, size)

    def _settle(self, which: int, cell: Cell, size: Size) -> None:
        head = self.heading
        if size.digits_only and head.unit is None:
            self._unread(which, cell, "does not part into one vessel of the Vessels table")
            return
        wrong = [one for one in (size.diameter_unit, size.height_unit) if one is not None and one.si != "m"]
        if wrong:
            self._unread(which, cell, later("is in {name}, which is no length", name=wrong[0].name))
            return
        clash = head.clash or (
            head.unit.name
            if head.unit and not size.digits_guessed and size.diameter_unit not in (None, head.unit)
            else ""
        )
        if clash:
            self._lost(which, Missing.CONFLICT)
            self._skip(
                which,
                "units-disagree",
                say(
                    '"{shown}" and the heading "{heading}" give two units. Measure again, then leave '
                    "one unit standing.",
                    shown=cell.shown,
                    heading=self.strip.heading,
                ),
            )
            return
        unit, origin = self._unit(which, size)
        origin = Origin.GUESSED if size.guessed else origin
        wide = units.to_si(size.diameter, unit.name)
        tall = units.to_si(size.height, (size.height_unit or unit).name)
        for reading, column, number, meter in (
            (self.wide, fleet.DIAMETER, size.diameter, wide),
            (self.tall, fleet.HEIGHT, size.height, tall),
        ):
            if isnan(number):
                continue
            if _inside(meter, column):
                reading.known(which, meter, origin)
            else:
                reading.lost(which, Missing.IMPLAUSIBLE)
                low, high = (units.from_si(end, unit.name) for end in column.bounds or (0.0, 0.0))
                self._skip(
                    which,
                    "implausible",
                    say(
                        '"{shown}": {column} {number:g} {unit}. Expected {low:.4g} to {high:.4g} {unit}.',
                        shown=cell.shown,
                        column=spoken(column),
                        number=number,
                        unit=unit.name,
                        low=low,
                        high=high,
                    ),
                )
        self.own.known(which, wide, origin)
        if self.wide.missing[which] is not Missing.KNOWN:
            self.own.lost(which, self.wide.missing[which])
        if size.vessels > 1:
            self.several.known(which, float(size.vessels), Origin.GUESSED)
        if size.guessed:
            self._guessed(which, cell, size)

    def _unit(self, which: int, size: Size) -> tuple[Unit, Origin]:
        """Unit of a size; where none is stated, the one system in which such a vessel can exist."""
        if size.diameter_unit is not None:
            return size.diameter_unit, Origin.GUESSED if size.guessed else Origin.TYPED
        if self.heading.unit is not None:
            return self.heading.unit, Origin.HEADER
        quantity = self.strip.column.quantity
        metric = self.rules.system == "metric"
        usual, other = (quantity.metric, quantity.us) if metric else (quantity.us, quantity.metric)
        fits = [name for name in (usual, other) if _fits(size, name)]
        chosen = units.find(fits[0] if fits else usual)
        assert chosen is not None
        if fits == [other]:
            self.other_system.append(which)
            return chosen, Origin.GUESSED
        if len(fits) != 1:
            self.defaulted.append(which)
        return chosen, Origin.TYPED if len(fits) == 1 else Origin.DEFAULT

    def _guessed(self, which: int, cell: Cell, size: Size) -> None:
        told = f"{size.diameter:g}x{size.height:g}"
        fix = say("Type {size}.", size=told)
        if size.vessels > 1:
            fix = say(
                "Type {size}, and {vessels} in a column for the number of vessels.",
                size=told,
                vessels=size.vessels,
            )
        self.log.add(
            Level.WARN,
            "guessed-size",
            say(
                '{cells} "{shown}" read as {size}. {fix}',
                cells=CELLS,
                shown=cell.shown,
                size=_several(size) + told + _unit_word(size),
                fix=fix,
            ),
            self.strip.cells(self.log, which),
            read=cell.shown,
            assumed=_several(size) + told,
            effect="everything that rests on the vessel is likely at most",
            column=self.strip.column.name,
        )

    def _became_date(self, which: int, cell: Cell, value: date) -> None:
        code = cell.code.lower()
        year = value.year % 100
        if value.day == 1 and "y" in code and "d" not in number_format_letters(code):
            ways = [f"{value.month}x{year:02d}"]
        elif "y" in number_format_letters(code) and isinstance(value, datetime) and value.time() != time():
            ways = []
        else:
            ways = [f"{value.month}x{value.day}", f"{value.day}x{value.month}"]
        told = f" {say('or')} ".join(dict.fromkeys(ways))
        fix = (
            say("Was it {size}? Set the cell to text and type it again.", size=told)
            if told
            else say("Type the size as text.")
        )
        self._lost(which, Missing.UNREADABLE)
        self._skip(
            which,
            "size-became-date",
            say(
                "holds the date {shown}, which the spreadsheet made of what was typed. {fix}",
                shown=shown(value),
                fix=fix,
            ),
        )

    def _unread(self, which: int, cell: Cell, problem: str) -> None:
        self._lost(which, Missing.UNREADABLE)
        self._skip(
            which,
            "unreadable",
            say('"{shown}" {problem}. Type it as 10x54.', shown=cell.shown, problem=say(problem)),
        )

    def _skip(self, which: int, kind: str, sentence: str) -> None:
        self.log.add(
            Level.SKIP,
            kind,
            f"{CELLS} {spoken(self.strip.column)} {sentence}",
            self.strip.cells(self.log, which),
            read=self.strip.distinct[which].shown,
            effect="checks that need the vessel did not run",
            column=self.strip.column.name,
        )

    def _sum_up(self) -> None:
        strip, log = self.strip, self.log
        for which in self.other_system:
            metric = self.rules.system == "metric"
            unit = strip.column.quantity.us if metric else strip.column.quantity.metric
            log.add(
                Level.WARN,
                "guessed-size-unit",
                say(
                    '{cells} "{shown}" read in {unit}: no vessel has that size in the usual unit. '
                    'Type "{shown} {unit}".',
                    cells=CELLS,
                    shown=strip.distinct[which].shown,
                    unit=unit,
                ),
                strip.cells(log, which),
                read=strip.distinct[which].shown,
                assumed=unit,
                column=strip.column.name,
            )
        if self.defaulted:
            unit = strip.column.quantity.unit(self.rules.system)
            log.add(
                Level.WARN,
                "unit-assumed",
                say(
                    'Column "{heading}" has no unit. Taken as {unit}. Add "({unit})" to the heading.',
                    heading=strip.heading,
                    unit=unit,
                ),
                strip.cells(log, *self.defaulted),
                read=say("no unit"),
                assumed=unit,
                effect="every size of the column",
                column=strip.column.name,
            )


def _several(size: Size) -> str:
    return say("{vessels} vessels of", vessels=size.vessels) + " " if size.vessels > 1 else ""


def _unit_word(size: Size) -> str:
    return f" {size.diameter_unit.name}" if size.diameter_unit is not None else ""


def number_format_letters(code: str) -> str:
    """Letters of a date format without its quoted words; "" where the format shows no date."""
    return re.sub(r'"[^"]*"|\[[^\]]*\]|\\.', "", code) if number_format(code).shows == "date" else ""


def _inside(value: float, column: Column) -> bool:
    low, high = column.bounds or (0.0, float("inf"))
    return low * (1 - 1e-9) <= value <= high * (1 + 1e-9)


def _fits(size: Size, unit: str) -> bool:
    wide = _inside(units.to_si(size.diameter, unit), fleet.DIAMETER)
    return wide and (isnan(size.height) or _inside(units.to_si(size.height, unit), fleet.HEIGHT))
