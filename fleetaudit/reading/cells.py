"""One column of the sheet cut down to its distinct cells, and the reading of numbers with their units."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime, time, timedelta
from typing import NamedTuple

import numpy as np
from msgspec import Struct, field

from fleetaudit import units
from fleetaudit.facts.frame import Codes, Flags, Floats
from fleetaudit.language import later, say
from fleetaudit.reading import grammar
from fleetaudit.reading.grammar import Mark
from fleetaudit.reading.headers import HeadingUnit, unit_of
from fleetaudit.reading.plain import cut, plain, plains, shown
from fleetaudit.reading.remarks import CELLS, Log, spoken
from fleetaudit.schema.column import Column, Missing, Origin
from fleetaudit.schema.quantity import Quantity
from fleetaudit.schema.remark import Level
from fleetaudit.units import Unit
from fleetaudit.workbook.book import SheetData
from fleetaudit.workbook.cells import Held, Special

ERRORS = frozenset(
    {
        "#N/A",
        "#VALUE!",
        "#REF!",
        "#DIV/0!",
        "#NUM!",
        "#NAME?",
        "#NULL!",
        "#SPILL!",
        "#CALC!",
        "#GETTING_DATA",
        "#FIELD!",
    }
)
NAN = float("nan")


class Trouble(Struct, frozen=True):
    """What stands in a cell that has no value: the name of an error, or a formula without a result."""

    word: str
    missing: Missing


class Cell(Struct, frozen=True, gc=False):
    """A distinct cell of a column: value and number format; text is plain, and blank text is None."""

    value: object
    code: str = ""

    @property
    def shown(self) -> str:
        """The cell as a person would read it, cut where it is long."""
        if isinstance(self.value, Trouble):
            return self.value.word
        words = grammar.literal(self.code) if self.code else ""
        return cut(f"{shown(self.value)} {words}".strip())


class Strip(Struct):
    """The cells of one column for the rows of units; `index` gives each row's place in `distinct`.

    `elsewhere` are texts of the column in other parts of the list, which help to settle how texts are meant.
    """

    column: Column
    number: int
    heading: str
    rows: Codes
    distinct: list[Cell]
    index: Codes
    filled_in: Flags
    elsewhere: tuple[str, ...] = ()
    _places: list[Codes] = field(default_factory=list)

    @property
    def blank(self) -> Flags:
        """True for rows whose cell is blank."""
        return np.array([cell.value is None for cell in self.distinct], dtype=bool)[self.index]

    def places(self, which: int) -> Codes:
        """Units that hold a distinct cell."""
        if not self._places:
            order = np.argsort(self.index, kind="stable")
            edges = np.searchsorted(self.index[order], np.arange(len(self.distinct) + 1))
            self._places = [order[edges[place] : edges[place + 1]] for place in range(len(self.distinct))]
        return self._places[which]

    def cells(self, log: Log, *which: int) -> tuple[str, ...]:
        """Addresses of distinct cells, top down."""
        if not which:
            return ()
        places = np.sort(np.concatenate([self.places(one) for one in which]))
        return log.cells(self.rows[places], self.number)

    def keep(self, wanted: Flags) -> Strip:
        """The same column with some rows, and the cells only they held, left out."""
        if wanted.all():
            return self
        used, index = np.unique(self.index[wanted], return_inverse=True)
        distinct = [self.distinct[which] for which in used.tolist()]
        return Strip(
            self.column,
            self.number,
            self.heading,
            self.rows[wanted],
            distinct,
            index,
            self.filled_in[wanted],
            self.elsewhere,
        )

    def deciding_texts(self) -> list[str]:
        """Distinct texts of the column, by which the way to read all of them is settled."""
        texts = (cell.value for cell in self.distinct if isinstance(cell.value, str))
        return list(dict.fromkeys((*texts, *self.elsewhere)))


class Sheet:
    """Cuts columns out of a sheet; merged cells count for all their rows, in their first column."""

    def __init__(
        self,
        data: SheetData,
        epoch_1904: bool,
        rows_above: int = 0,
        elsewhere: Mapping[str, tuple[str, ...]] | None = None,
    ) -> None:
        self.data = data
        self.epoch_1904 = epoch_1904
        self.rows_above = rows_above
        self.elsewhere = elsewhere or {}

    def strips(self, wanted: Iterable[tuple[Column, int, str]], first: int, last: int) -> dict[str, Strip]:
        """Rows first to last, both counted from 1, of columns with their numbers and headings."""
        rows = np.arange(first, last + 1) + self.rows_above
        return {
            column.name: self._strip(column, number, heading, rows, first)
            for column, number, heading in wanted
        }

    def _strip(self, column: Column, number: int, heading: str, rows: Codes, first: int) -> Strip:
        last = first + len(rows) - 1
        places: Codes = np.asarray(self.data.cells.columns[number - 1])[first - 1 : last]
        filled_in = np.zeros(len(places), dtype=bool)
        merged = [merge for merge in self.data.merged if merge.first_column == number]
        places = places.copy() if merged else places
        for merge in merged:
            if merge.last_row > merge.first_row >= first and merge.first_row <= last:
                top, end = merge.first_row - first, min(merge.last_row, last) - first + 1
                places[top:end] = places[top]
                filled_in[top + 1 : end] = True
        held = self.data.cells.held
        found, index = _in_order(places, len(held))
        distinct, index = _told_apart([held[place] for place in found.tolist()], index)
        elsewhere = self.elsewhere.get(column.name, ())
        return Strip(column, number, heading, rows, distinct, index, filled_in, elsewhere)


def _in_order(places: Codes, count: int) -> tuple[Codes, Codes]:
    """Distinct places, all below `count`, as they first occur, and where each stands among them."""
    first = np.full(count, len(places), dtype=np.int32)
    first[places[::-1]] = np.arange(len(places) - 1, -1, -1)  # of several rows the last one set stays
    there = np.flatnonzero(first < len(places))
    there = there[np.argsort(first[there])]
    rank = first
    rank[there] = np.arange(len(there))
    return there, rank[places]


def _told_apart(found: Sequence[Held], index: Codes) -> tuple[list[Cell], Codes]:
    """Distinct cells and each row's place among them; texts that differ in blanks only are one cell."""
    texts = iter(plains([what for what in found if isinstance(what, str)]))
    cells = [_text_cell(next(texts)) if isinstance(what, str) else _cell(what) for what in found]
    keys: list[object] = list(cells)
    if bool in {type(cell.value) for cell in cells}:  # true equals 1, and they are not the same
        keys = [(bool, cell) if isinstance(cell.value, bool) else cell for cell in cells]
    distinct = dict(zip(keys, cells, strict=True))
    if len(distinct) < len(cells):
        places = dict(zip(distinct, range(len(distinct)), strict=True))
        index = np.fromiter(map(places.__getitem__, keys), dtype=np.int32, count=len(keys))[index]
    return list(distinct.values()), index


def _text_cell(text: str, code: str = "") -> Cell:
    """Cell of a plain text."""
    if text[:1] == "#" and text.upper() in ERRORS:
        return Cell(Trouble(text.upper(), Missing.UNREADABLE))
    return Cell(text or None, code)


def _cell(what: Held) -> Cell:
    """Cell of all else."""
    if not isinstance(what, Special):
        return Cell(what)
    if what.unstored:
        return Cell(Trouble("a formula never calculated", Missing.NEVER_CALCULATED))
    if what.error:
        return Cell(Trouble(what.error, Missing.UNREADABLE))
    if isinstance(what.value, str):
        return _text_cell(plain(what.value), what.code)
    return Cell(what.value, "" if what.value is None or isinstance(what.value, bool) else what.code)


class Reading(Struct):
    """What the distinct cells of a column were read as: value [SI], origin of its unit, why there is none."""

    value: list[float]
    origin: list[Origin]
    missing: list[Missing]

    @classmethod
    def empty(cls, count: int) -> Reading:
        """Nothing read yet: all blank."""
        return cls([NAN] * count, [Origin.ABSENT] * count, [Missing.BLANK] * count)

    @classmethod
    def known_where(cls, known: Sequence[bool]) -> Reading:
        """Known without a number where so said, else blank."""
        return cls(
            [0.0 if one else NAN for one in known],
            [Origin.TYPED if one else Origin.ABSENT for one in known],
            [Missing.KNOWN if one else Missing.BLANK for one in known],
        )

    def known(self, which: int, value: float, origin: Origin) -> None:
        """Note a value."""
        self.value[which], self.origin[which], self.missing[which] = value, origin, Missing.KNOWN

    def lost(self, which: int, missing: Missing) -> None:
        """Note a cell that is filled but gives no value."""
        self.value[which], self.missing[which] = NAN, missing
        self.origin[which] = Origin.CONFLICT if missing is Missing.CONFLICT else Origin.TYPED


class Filled(NamedTuple):
    """Arrays for the frame, one entry a unit."""

    value: Floats
    origin: Codes
    missing: Codes


def spread(strip: Strip, reading: Reading) -> Filled:
    """Give every unit what its distinct cell was read as; values filled in from a merged cell say so."""
    value = np.array(reading.value, dtype=np.float64)[strip.index]
    origin = np.array(reading.origin, dtype=np.int8)[strip.index]
    missing = np.array(reading.missing, dtype=np.int8)[strip.index]
    taken = strip.filled_in & (missing == Missing.KNOWN) & (origin <= Origin.FORMAT)
    return Filled(value, np.where(taken, int(Origin.FILLED), origin), missing)


def report_trouble(strip: Strip, which: int, log: Log) -> Missing | None:
    """Remark on an error or a formula without a result; None where the cell holds neither."""
    cell = strip.distinct[which]
    if not isinstance(cell.value, Trouble):
        return None
    cells = strip.cells(log, which)
    if cell.value.missing is Missing.NEVER_CALCULATED:
        log.add(
            Level.SKIP,
            "never-calculated",
            say(
                "{cells} ({title}): a formula without a stored result. Open the workbook in your spreadsheet "
                "program, save it and run again.",
                cells=CELLS,
                title=say(strip.column.title),
            ),
            cells,
            read=say("formula"),
            effect="checks that need the cell did not run",
            column=strip.column.name,
        )
    else:
        log.add(
            Level.SKIP,
            "error-cell",
            say(
                "{cells} ({title}) holds {word}. Repair the formula.",
                cells=CELLS,
                title=say(strip.column.title),
                word=cell.value.word,
            ),
            cells,
            read=cell.value.word,
            effect="checks that need the cell did not run",
            column=strip.column.name,
        )
    return cell.value.missing


class Rules(NamedTuple):
    """Settings of the run that bear on reading."""

    system: str = "us"
    mark: str = "auto"
    date_order: str = "auto"
    epoch_1904: bool = False
    all_text: bool = False


def read_numbers(strip: Strip, rules: Rules, log: Log) -> Filled:
    """Numbers of a column in SI."""
    return spread(strip, _Numbers(strip, rules, log).read())


class _Numbers:
    """Reads one numeric column; told cell by cell, summed up in remarks at the end."""

    def __init__(self, strip: Strip, rules: Rules, log: Log) -> None:
        self.strip, self.log, self.all_text = strip, log, rules.all_text
        self.column: Column = strip.column
        self.quantity: Quantity = strip.column.quantity
        self.heading: HeadingUnit = unit_of(strip.heading, self.quantity)
        self.default = units.find(self.quantity.unit(rules.system)) if self.quantity.us else None
        texts = strip.deciding_texts()
        self.mark = grammar.decimal_mark(texts, rules.mark)
        self.comma_decided = (
            rules.mark == "auto" and self.mark is not Mark.UNKNOWN and any("," in t for t in texts)
        )
        self.out = Reading.empty(len(strip.distinct))
        self.defaulted: list[int] = []
        self.as_text: list[int] = []
        self.with_comma: list[int] = []
        self.wrong_heading: list[int] = []

    def read(self) -> Reading:
        """Read all distinct cells."""
        for which, cell in enumerate(self.strip.distinct):
            if cell.value is None:
                continue
            missing = report_trouble(self.strip, which, self.log)
            if missing is not None:
                self.out.lost(which, missing)
            else:
                self._cell(which, cell)
        self._sum_up()
        return self.out

    def _cell(self, which: int, cell: Cell) -> None:
        value, unit, by = cell.value, None, Origin.TYPED
        if isinstance(value, str):
            if grammar.says_nothing(value):
                return
            typed = grammar.read(value, self.mark)
            if typed.problem:
                self._unreadable(which, cell, typed.problem)
                return
            number, unit = typed.number, typed.unit
            if unit is None and not typed.problem:
                self.as_text.append(which)
            if "," in value and self.comma_decided:
                self.with_comma.append(which)
        elif isinstance(value, bool) or not isinstance(value, int | float):
            timed = self._timed(value)
            if timed is None:
                self._unreadable(
                    which, cell, "is a date or time" if isinstance(value, date | time) else "is not a number"
                )
                return
            number, unit = timed
        else:
            number = float(value)
            told = self._from_format(which, cell)
            if told is None:
                return
            unit, by = told
        self._settle(which, cell, number, unit, by)

    def _timed(self, value: object) -> tuple[float, Unit | None] | None:
        """Times and durations, where the column counts time."""
        if self.quantity.si != "s" or isinstance(value, date | datetime):
            return None
        if isinstance(value, time):
            return value.hour * 3600.0 + value.minute * 60 + value.second, units.find("s")
        if isinstance(value, timedelta):
            return value.total_seconds(), units.find("s")
        return None

    def _from_format(self, which: int, cell: Cell) -> tuple[Unit | None, Origin] | None:
        words = grammar.literal(cell.code) if cell.code else ""
        if cell.code and grammar.percent(cell.code):
            if self.quantity.si == "1":
                return (
                    None
                    if self._clash(which, cell, "%", self.quantity.us == "%")
                    else (units.find("1"), Origin.FORMAT)
                )
            self._unreadable(which, cell, "is shown as per cent")
            return None
        if not any(character.isalpha() or character in "\"'%°" for character in words):
            return None, Origin.TYPED
        unit = units.find(words)
        if unit is None:
            self._unreadable(
                which,
                cell,
                later('is shown with "{words}", which is no unit this column can have', words=words),
            )
            return None
        return unit, Origin.FORMAT

    def _clash(self, which: int, cell: Cell, spelling: str, fine: bool) -> bool:
        if fine:
            return False
        self._unreadable(
            which, cell, later('is shown as "{spelling}", which does not measure this', spelling=spelling)
        )
        return True

    def _settle(self, which: int, cell: Cell, number: float, unit: Unit | None, by: Origin) -> None:
        """Carry a number to SI by the unit of cell, format, heading or default, unless two disagree."""
        if not self.quantity.us:
            if unit is not None and unit.si != "1":
                self._unreadable(
                    which, cell, later('ends in "{name}", and this column has no unit', name=unit.name)
                )
            else:
                self._bounded(
                    which, cell, number if unit is None else (number + unit.offset) * unit.factor, unit, by
                )
            return
        if unit is not None and unit.si != self.quantity.si:
            self._unreadable(which, cell, later("is in {name}, which does not measure this", name=unit.name))
            return
        head = self.heading
        if (
            unit is not None
            and by is not Origin.DEFAULT
            and head.unit is not None
            and unit != head.unit
            and not isinstance(cell.value, time | timedelta)
        ):
            self._contradicts(which, cell, unit.name, head.unit.name)
            return
        if unit is None and head.clash:
            self.out.lost(which, Missing.CONFLICT)
            self.wrong_heading.append(which)
            return
        if unit is None and head.unit is not None:
            unit, by = head.unit, Origin.HEADER
        elif unit is None:
            unit, by = self.default, Origin.DEFAULT
            self.defaulted.append(which)
        if unit is not None:
            self._bounded(which, cell, (number + unit.offset) * unit.factor, unit, by)

    def _bounded(self, which: int, cell: Cell, value: float, unit: Unit | None, by: Origin) -> None:
        low, high = self.column.bounds or (-math.inf, math.inf)
        slack = 1e-9 * max(abs(low), abs(high)) if self.column.bounds else 0.0
        if low - slack <= value <= high + slack:
            self.out.known(which, min(max(value, low), high), by)
            return
        self.out.lost(which, Missing.IMPLAUSIBLE)
        name = "" if unit is None or unit.name == "1" else said(unit.name)
        ends = [end if unit is None else units.from_si(end, unit.name) for end in (low, high)]
        expected = say("{low:.4g} to {high:.4g} {unit}", low=ends[0], high=ends[1], unit=name).strip()
        typed = grammar.read(cell.value).unit if isinstance(cell.value, str) else None
        seen = cell.shown if typed is not None or cell.code else f"{cell.shown} {name}".strip()
        self.log.add(
            Level.SKIP,
            "implausible",
            say(
                "{cells} {column} {seen}. Expected {expected}.",
                cells=CELLS,
                column=spoken(self.column),
                seen=seen,
                expected=expected,
            ),
            self.strip.cells(self.log, which),
            read=cell.shown,
            effect="checks that need the value did not run",
            column=self.column.name,
        )

    def _unreadable(self, which: int, cell: Cell, problem: str) -> None:
        self.out.lost(which, Missing.UNREADABLE)
        fix = _FIXES.get(problem, NO_FIX if self.quantity.us else NUMBER_ALONE)
        if problem.startswith("could be"):
            fix = SET_MARK
        self.log.add(
            Level.SKIP,
            "unreadable",
            say(
                '{cells} {column} "{shown}" {problem}. {fix}',
                cells=CELLS,
                column=spoken(self.column),
                shown=cell.shown,
                problem=say(problem),
                fix=say(fix),
            ),
            self.strip.cells(self.log, which),
            read=cell.shown,
            effect="checks that need the value did not run",
            column=self.column.name,
        )

    def _contradicts(self, which: int, cell: Cell, inside: str, heading: str) -> None:
        self.out.lost(which, Missing.CONFLICT)
        self.log.add(
            Level.SKIP,
            "units-disagree",
            say(
                '{cells} {column} "{shown}" has {inside}, but the heading "{heading}" says '
                "{unit}. Measure again, then leave one unit standing.",
                cells=CELLS,
                column=spoken(self.column),
                shown=cell.shown,
                inside=inside,
                heading=self.strip.heading,
                unit=heading,
            ),
            self.strip.cells(self.log, which),
            read=cell.shown,
            effect="checks that need the value did not run",
            column=self.column.name,
        )

    def _sum_up(self) -> None:
        strip, log = self.strip, self.log
        if self.wrong_heading:
            log.add(
                Level.SKIP,
                "heading-unit",
                say(
                    '{cells}: the heading "{heading}" says {clash}, which is no {name}. Nothing '
                    "without a unit of its own was used. Correct the heading.",
                    cells=CELLS,
                    heading=strip.heading,
                    clash=self.heading.clash,
                    name=say(self.quantity.name),
                ),
                strip.cells(log, *self.wrong_heading),
                read=self.heading.clash,
                effect="checks that need the column did not run",
                column=self.column.name,
            )
        if self.defaulted and self.default is not None:
            example = f" {say('or')} ".join(
                f'"({said(unit)})"' for unit in (self.quantity.us, self.quantity.metric) if unit
            )
            example = example if self.quantity.us != self.quantity.metric else f'"({said(self.quantity.us)})"'
            log.add(
                Level.WARN,
                "unit-assumed",
                say(
                    'Column "{heading}" has no unit. Taken as {unit}. Add {example} to the heading.',
                    heading=strip.heading,
                    unit=said(self.default.name),
                    example=example,
                ),
                strip.cells(log, *self.defaulted),
                read=say("no unit"),
                assumed=said(self.default.name),
                effect=say("every {column} of the column", column=spoken(self.column)),
                column=self.column.name,
            )
        if self.as_text and not self.all_text:
            cells = strip.cells(log, *self.as_text)
            log.add(
                Level.INFO,
                "numbers-as-text",
                say(
                    'Column "{heading}": {count:,} numbers stored as text, read as numbers.',
                    heading=strip.heading,
                    count=len(cells),
                ),
                cells,
                column=self.column.name,
            )
        if self.with_comma:
            meaning = say("thousands") if self.mark is Mark.POINT else say("decimals")
            log.add(
                Level.WARN,
                "comma-decided",
                say(
                    'Column "{heading}": commas are taken for the mark of {meaning}, as its other '
                    "numbers show. Settings: decimal_mark.",
                    heading=strip.heading,
                    meaning=meaning,
                ),
                strip.cells(log, *self.with_comma),
                read=",",
                assumed=say("mark of {meaning}", meaning=meaning),
                column=self.column.name,
            )


NO_FIX = "Type the number, with its unit where the heading has none."
NUMBER_ALONE = "Type the number alone; where the column holds something else, rename its heading."
SET_MARK = "Set the decimal mark on the Settings sheet."
_FIXES = {
    "is a range": "Type one number.",
    "is an estimate": "Measure it and type the number alone.",
    "is a date or time": "Type the number again after setting the cell to a plain number.",
}


def texts_of(strip: Strip, render: Mapping[int, str] | None = None) -> list[str]:
    """Text of every unit, "" where blank or in trouble."""
    words = [
        ""
        if cell.value is None or isinstance(cell.value, Trouble)
        else (render or {}).get(which, shown(cell.value))
        for which, cell in enumerate(strip.distinct)
    ]
    return by_unit(words, strip)


def by_unit(words: Sequence[str], strip: Strip) -> list[str]:
    """Give every unit the text of its distinct cell."""
    return list(map(words.__getitem__, strip.index.tolist()))


def raw_of(strip: Strip, unusable: Flags) -> Iterable[tuple[tuple[int, str], str]]:
    """Raw form of the cells that could not be used, by unit and column name."""
    for unit in np.flatnonzero(unusable).tolist():
        yield (unit, strip.column.name), strip.distinct[strip.index[unit]].shown


def said(unit: str) -> str:
    """Unit as it is written for people.

    >>> said("degF"), said("gpm")
    ('°F', 'gpm')
    """
    return unit.replace("deg", "°")
