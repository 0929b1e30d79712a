"""read_fleet: a workbook of units to a frame of SI arrays, with a remark on all that is not plain fact."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Protocol

import numpy as np
from msgspec import Struct, field

from fleetaudit.catalogue.model import Catalogue
from fleetaudit.errors import HeaderError, together
from fleetaudit.facts.frame import Flags, Frame
from fleetaudit.language import say
from fleetaudit.reading import beds, sheets, site_water
from fleetaudit.reading.block import Block, cut
from fleetaudit.reading.cells import Filled, Rules, Sheet, Strip, raw_of, read_numbers
from fleetaudit.reading.company import crew_names, heading_map
from fleetaudit.reading.crews import alike
from fleetaudit.reading.dates import read_dates
from fleetaudit.reading.plain import cut as cut_short
from fleetaudit.reading.remarks import CELLS, Log, spoken
from fleetaudit.reading.sheets import Found, Placed
from fleetaudit.reading.sizes import read_sizes
from fleetaudit.reading.whole import Part, Whole, told
from fleetaudit.reading.words import read_choices, read_flags, read_texts
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Column, Missing, Origin
from fleetaudit.schema.quantity import Kind
from fleetaudit.schema.remark import Level, Remark
from fleetaudit.workbook.book import Workbook, open_workbook
from fleetaudit.workbook.container import Kind as Kinds
from fleetaudit.workbook.place import quoted
from fleetaudit.workbook.structure import SIGNATURE

SAME_SIZE = 0.03
STRAY_ROWS, STRAY_FACTOR = 1000, 2
_BED_COLUMNS = (fleet.MEDIUM, fleet.MESH, fleet.LAYERS, fleet.PURPOSE)
_CREWS = (fleet.CREW, fleet.MEDIA_CREW)


class Fleet(Struct):
    """What was read: the frame, what there is to say about it, and where the list stands in the workbook."""

    frame: Frame
    remarks: list[Remark]
    sheet: str
    heading_row: int
    workbook: Workbook
    unknown_columns: tuple[str, ...] = ()
    own_columns: tuple[str, ...] = ()
    headings: Mapping[str, str] = field(default_factory=dict)


class Asked(Protocol):
    """What a request says of how to read a list."""

    @property
    def sheet(self) -> str | None:
        """Name of the sheet that lists the units."""

    @property
    def header_map(self) -> Mapping[str, str]:
        """What headings mean."""

    @property
    def settings(self) -> Path | None:
        """Workbook of the user's own figures."""


def read_asked(asked: Asked, workbook: Workbook, catalogue: Catalogue) -> Fleet:
    """Read the list of an open workbook as a request has it."""
    return read_fleet(
        workbook.path,
        catalogue,
        sheet=asked.sheet,
        header_map=asked.header_map,
        workbook=workbook,
        settings=asked.settings,
    )


def read_fleet(
    path: Path | str,
    catalogue: Catalogue,
    *,
    sheet: str | None = None,
    header_map: Mapping[str, str] | None = None,
    workbook: Workbook | None = None,
    settings: Path | None = None,
) -> Fleet:
    """Read the list of units of a workbook.

    `header_map` says what a heading of the sheet means ("Their heading" -> our column); it goes before the
    Columns part of the Settings sheets of the workbook and of the `settings` workbook. Raises one error with
    all problems that stop the run, a line each.
    """
    book = workbook or open_workbook(Path(path))
    theirs = {**heading_map(settings, book), **(header_map or {})}
    mapped = sheets.mapping(book, theirs)
    found = sheets.find(book, sheet, mapped)
    log = Log(found.data.name)
    _about_the_file(book, log)
    placed = sheets.place(book.path.name, found, mapped, log)
    for name in sheets.unused(header_map or {}, found):
        log.stop(
            say(
                '{file}, sheet {sheet} has no heading "{name}" to map. Its headings are',
                file=book.path.name,
                sheet=quoted(log.sheet),
                name=name,
            )
            + " "
            + ", ".join(f'"{heading.text}"' for heading in found.headings.headings)
            + "."
        )
    reader = _Reader(book, found, placed, catalogue, log, crew_names(settings, book))
    if not log.problems:
        reader.read()
    if log.problems:
        raise HeaderError(together(log.problems))
    unknown = tuple(heading.text for heading in placed.unknown)
    titles = {name: heading.text for name, heading in placed.by_name.items()}
    return Fleet(
        reader.frame, log.remarks, log.sheet, found.headings.last_row, book, unknown, placed.own, titles
    )


def read_part(
    book: Workbook, found: Found, placed: Placed, catalogue: Catalogue, crews: Mapping[str, str], part: Part
) -> tuple[Frame, list[Remark], Whole]:
    """Read a part of a list whose headings are placed already, as it would be read within the whole list.

    Gives the frame, which may be empty, what there is to say, and what the part tells of the whole.
    """
    log = Log(found.data.name)
    reader = _Reader(book, found, placed, catalogue, log, crews, part)
    reader.read()
    if log.problems:
        raise HeaderError(together(log.problems))
    return reader.frame, log.remarks, told(reader.frame, reader.strips)


def _about_the_file(book: Workbook, log: Log) -> None:
    name = book.path.name
    kept = [feature for feature in book.features if feature != SIGNATURE]
    if kept:
        log.add(
            Level.INFO,
            "kept-unchanged",
            say("{name}: {kept}: kept unchanged and never run.", name=name, kept=", ".join(kept)),
        )
    if SIGNATURE in book.features:
        log.add(
            Level.WARN,
            "signature",
            say(
                "{name} carries a digital signature. It is invalid on the annotated copy and "
                "still good on the input. Sign the copy again if it needs one.",
                name=name,
            ),
        )
    data = book.read(log.sheet)
    if data.claimed_rows > max(STRAY_ROWS, STRAY_FACTOR * data.n_rows):
        log.add(
            Level.INFO,
            "stray-formatting",
            say(
                "Sheet {sheet} claims {claimed:,} rows; the last with data is {last:,}. "
                "Read up to row {last:,}.",
                sheet=quoted(log.sheet),
                claimed=data.claimed_rows,
                last=data.n_rows,
            ),
        )
    if data.blind:
        log.add(
            Level.INFO,
            "not-told-apart",
            say(
                "{name}: in files of the kind {kind} these cannot be told from blank or plain "
                "cells: {blind}. Save it as .xlsx to have them named.",
                name=name,
                kind=book.kind.value,
                blind=", ".join(data.blind),
            ),
        )
    if not book.can_annotate:
        log.add(
            Level.INFO,
            "not-annotated",
            say("{name}: {why}. Results go to a new workbook.", name=name, why=say(book.why_not or "")),
        )


class _Reader:
    """Fills a frame column by column."""

    def __init__(
        self,
        book: Workbook,
        found: Found,
        placed: Placed,
        catalogue: Catalogue,
        log: Log,
        crews: Mapping[str, str],
        part: Part | None = None,
    ) -> None:
        self.book, self.found, self.placed, self.catalogue, self.log = book, found, placed, catalogue, log
        self.crews = crews
        self.part = part
        self.whole = Whole() if part is None else part.whole
        self.rules = Rules(
            catalogue.text("units"),
            catalogue.text("decimal_mark"),
            catalogue.text("date_order"),
            book.epoch_1904,
            book.kind is Kinds.CSV,
        )
        above = 0 if part is None else part.rows_above
        self.sheet = Sheet(found.data, book.epoch_1904, above, self.whole.witnesses)
        self.frame = Frame(book.path.name, found.data.name, np.zeros(0, dtype=np.int64))
        self.strips: dict[str, Strip] = {}

    def read(self) -> None:
        """Cut out the rows of units and read every column."""
        skip_hidden, in_parts = self.catalogue.text("hidden_rows") == "skip", self.part is not None
        block: Block = cut(self.sheet, self.found, self.placed, skip_hidden, self.log, in_parts=in_parts)
        self.strips = block.strips
        self.frame.rows = block.rows
        if not self.frame.units and self.part is None:
            self.log.stop(
                say(
                    "{name}, sheet {sheet} has headings but no units.",
                    name=self.book.path.name,
                    sheet=quoted(self.log.sheet),
                )
            )
        if not self.frame.units:
            return
        self._stop_for_formulas()
        for column in fleet.COLUMNS:
            strip = self.strips.get(column.name)
            if (
                strip is not None
                and column not in _BED_COLUMNS
                and column not in (fleet.SIZE, fleet.DIAMETER, fleet.HEIGHT)
            ):
                self._column(column, strip)
        self._vessel()
        beds.read(self.frame, self.strips, self.catalogue, self.log, self._note)
        site_water.fill(self.frame, self.book, self.catalogue, self.log)
        self._names()
        self._alike_crews()

    def _stop_for_formulas(self) -> None:
        """A needed column of formulas that were never calculated leaves nothing to audit."""
        for column in (fleet.SIZE, fleet.DIAMETER, fleet.MEDIUM, fleet.RESTRICTOR):
            strip = self.strips.get(column.name)
            if strip is None:
                continue
            waiting = np.array(
                [getattr(cell.value, "missing", None) is Missing.NEVER_CALCULATED for cell in strip.distinct]
            )
            blank = np.array([cell.value is None for cell in strip.distinct])
            if waiting.any() and (waiting | blank).all():
                cells = self.log.cells(strip.rows[waiting[strip.index]], strip.number)
                last = cells[-1].rpartition("!")[2]
                self.log.stop(
                    say(
                        "{name}: {first}:{last} ({column}) are formulas never calculated. Open the "
                        "workbook in your spreadsheet program, save it and run again.",
                        name=self.book.path.name,
                        first=cells[0],
                        last=last,
                        column=spoken(column),
                    )
                )

    def _column(self, column: Column, strip: Strip) -> None:
        kind, frame = column.quantity.kind, self.frame
        if kind is Kind.NUMBER:
            numbers = read_numbers(strip, self.rules, self.log)
            self._note(column, strip, numbers)
            frame.numbers[column.key] = numbers.value
        elif kind is Kind.DATE:
            dates = read_dates(strip, self.rules, self.log)
            self._note(column, strip, dates.middle)
            frame.numbers[column.key] = dates.middle.value
            frame.date_low[column.key], frame.date_high[column.key] = dates.low, dates.high
        elif kind is Kind.CHOICE:
            find = self._find_housing if column is fleet.HOUSING else None
            codes, filled = read_choices(strip, self.log, find)
            self._note(column, strip, filled)
            frame.codes[column.name] = np.where(strip.blank, 0, codes) if column is fleet.STATUS else codes
        elif kind is Kind.FLAG:
            codes, filled = read_flags(strip, self.log)
            self._note(column, strip, filled)
            frame.codes[column.name] = codes
        else:
            texts, filled = read_texts(strip, self.log)
            self._note(column, strip, filled)
            frame.texts[column.key] = (
                [self.crews.get(text.casefold(), text) for text in texts] if column in _CREWS else texts
            )

    def _find_housing(self, text: str) -> int:
        key = self.catalogue.find_housing(text)
        return list(fleet.HOUSING.choices).index(key) if key in fleet.HOUSING.choices else -1

    def _note(self, column: Column, strip: Strip, filled: Filled) -> None:
        """Origin, reason, place and raw form of a column; one that is blank throughout counts as absent."""
        self.frame.columns[column.name] = strip.number
        if (filled.missing == Missing.BLANK).all() and column.name not in self.whole.filled:
            return
        self.frame.missing[column.name] = filled.missing.astype(np.int8, copy=False)
        self.frame.origin[column.name] = filled.origin.astype(np.int8, copy=False)
        unusable = (filled.missing != Missing.KNOWN) & (filled.missing != Missing.BLANK)
        self.frame.raw.update((key, text) for key, text in raw_of(strip, unusable))

    def _vessel(self) -> None:
        """Diameter and height from their own columns, else from the size; two that differ contradict."""
        size = self.strips.get(fleet.SIZE.name)
        sizes = None if size is None else read_sizes(size, self.catalogue, self.rules, self.log)
        if size is not None and sizes is not None:
            self._note(fleet.SIZE, size, sizes.size)
            self._several(size, sizes.vessels)
        for column in (fleet.DIAMETER, fleet.HEIGHT):
            own = self.strips.get(column.name)
            from_size = (
                None if sizes is None else sizes.diameter if column is fleet.DIAMETER else sizes.height
            )
            filled = None if own is None else read_numbers(own, self.rules, self.log)
            if filled is not None and own is not None and from_size is not None and size is not None:
                filled = self._both(column, own, size, filled, from_size)
            used = own is not None and (column.name in self.whole.typed or not own.blank.all())
            strip = own if used else size
            result = filled if filled is not None else from_size
            if result is None or strip is None:
                continue
            self._note(column, strip, result)
            self.frame.numbers[column.key] = result.value

    def _several(self, size: Strip, told: Filled) -> None:
        """Number of vessels told by the size ("2 x 10x54"), where no column of its own says it."""
        known, key = told.missing == Missing.KNOWN, fleet.VESSELS.name
        if not known.any() and key not in self.whole.filled:
            return
        own = self.strips.get(key)
        if own is None:
            self.frame.numbers[fleet.VESSELS.key] = told.value
            self._note(fleet.VESSELS, size, told)
            return
        frame, blank = self.frame, np.full_like(told.missing, Missing.BLANK)
        value, missing = frame.numbers[fleet.VESSELS.key], frame.missing.get(key, blank)
        clash: Flags = known & (missing == Missing.KNOWN) & (value != told.value)
        use = known & (missing == Missing.BLANK)
        before = value, frame.origin.get(key, np.full_like(told.origin, Origin.ABSENT)), missing
        filled = Filled(*(np.where(use, new, old) for new, old in zip(told, before, strict=True)))
        filled.value[clash], filled.origin[clash] = np.nan, int(Origin.CONFLICT)
        filled.missing[clash] = int(Missing.CONFLICT)
        frame.numbers[fleet.VESSELS.key] = filled.value
        self._note(fleet.VESSELS, own, filled)

    def _both(self, column: Column, own: Strip, size: Strip, first: Filled, second: Filled) -> Filled:
        known, other = first.missing == Missing.KNOWN, second.missing == Missing.KNOWN
        with np.errstate(invalid="ignore"):
            clash: Flags = known & other & (np.abs(first.value / second.value - 1) > SAME_SIZE)
        use = (first.missing == Missing.BLANK) & (second.missing != Missing.BLANK)
        value, origin, missing = (
            np.where(use, getattr(second, part), getattr(first, part))
            for part in ("value", "origin", "missing")
        )
        for unit in np.flatnonzero(clash).tolist():
            cells = (
                *self.log.cells(own.rows[unit : unit + 1], own.number),
                *self.log.cells(size.rows[unit : unit + 1], size.number),
            )
            texts = [strip.distinct[strip.index[unit]].shown for strip in (own, size)]
            self.log.add(
                Level.SKIP,
                "sizes-disagree",
                say(
                    '{cells}: {column} "{text}" and vessel size "{size}" contradict each other. '
                    "Measure the vessel, correct one cell.",
                    cells=CELLS,
                    column=spoken(column),
                    text=texts[0],
                    size=texts[1],
                ),
                cells,
                read=" / ".join(texts),
                effect="checks that need the vessel did not run",
                column=column.name,
            )
        value[clash], origin[clash], missing[clash] = np.nan, int(Origin.CONFLICT), int(Missing.CONFLICT)
        return Filled(value, origin, missing)

    def _alike_crews(self) -> None:
        """Show spellings that may be one crew; only the Crews sheet merges them."""
        for column in _CREWS:
            texts, strip = self.frame.texts.get(column.key), self.strips.get(column.name)
            if texts is None or strip is None:
                continue
            for group in alike(text for text in texts if text):
                rows = strip.rows[np.isin(texts, group)]
                listed = ", ".join(f'"{cut_short(name)}"' for name in group)
                self.log.add(
                    Level.WARN,
                    "crews-alike",
                    say(
                        'Column "{heading}": {count} spellings may be one crew: {listed}. Not merged. '
                        "Add them to one row of the Crews sheet where they are.",
                        heading=strip.heading,
                        count=len(group),
                        listed=listed,
                    ),
                    self.log.cells(rows, strip.number),
                    read=listed,
                    column=column.name,
                )

    def _names(self) -> None:
        """Give units without a name that of their row."""
        column, frame = fleet.UNIT_ID, self.frame
        texts = list(frame.texts.get(column.key, [""] * frame.units))
        nameless = [unit for unit, text in enumerate(texts) if not text]
        for unit in nameless:
            texts[unit] = say("row {row}", row=frame.rows[unit])
        frame.texts[column.key] = texts
        if nameless and column.name in frame.missing:
            cells = self.log.cells(frame.rows[nameless], frame.columns[column.name])
            frame.origin[column.name][nameless] = int(Origin.FILLED)
            frame.missing[column.name][nameless] = int(Missing.KNOWN)
            self.log.add(
                Level.INFO,
                "unnamed-units",
                say(
                    "{cells}: {count:,} units without a name; called after their row.",
                    cells=CELLS,
                    count=len(nameless),
                ),
                cells,
                assumed="row number",
                column=column.name,
            )
