"""Sheets with headings of our own, such as return sheets, read line by line with the usual care for cells."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from fleetaudit.catalogue.model import Catalogue
from fleetaudit.reading.cells import Filled, Rules, Sheet, Strip, read_numbers
from fleetaudit.reading.dates import Dates, read_dates
from fleetaudit.reading.headers import bare, normalise
from fleetaudit.reading.remarks import Log
from fleetaudit.reading.words import read_choices, read_flags, read_texts
from fleetaudit.schema.column import Column, Missing, Origin
from fleetaudit.schema.quantity import Kind
from fleetaudit.workbook.book import SheetData, Workbook
from fleetaudit.workbook.container import Kind as Kinds

HEADING_ROWS = 30
LEAST_HEADINGS = 2
UNITS_DISAGREE = "units-disagree"


class Lines(Struct):
    """The lines of one sheet: their rows, and what stands in each column that is there."""

    data: SheetData
    heading_row: int
    rows: range
    strips: Mapping[str, Strip]
    rules: Rules
    log: Log

    def has(self, column: Column) -> bool:
        """True where the sheet has the column."""
        return column.name in self.strips

    def number(self, column: Column) -> int:
        """Sheet column counted from 1, 0 where there is none."""
        strip = self.strips.get(column.name)
        return 0 if strip is None else strip.number

    def texts(self, column: Column) -> list[str]:
        """Texts of a column as typed, "" where blank."""
        strip = self.strips.get(column.name)
        if strip is None:
            return [""] * len(self.rows)
        shown = ["" if cell.value is None else cell.shown for cell in strip.distinct]
        return [shown[place] for place in strip.index.tolist()]

    def names(self, column: Column) -> list[str]:
        """Names of a column, as the sheet shows them; "" where blank."""
        strip = self.strips.get(column.name)
        return [""] * len(self.rows) if strip is None else read_texts(strip, self.log)[0]

    def values(self, column: Column) -> Filled | None:
        """Numbers in SI, days or codes of a column; None where the sheet has no such column."""
        strip = self.strips.get(column.name)
        if strip is None:
            return None
        kind = column.quantity.kind
        if kind is Kind.DATE:
            return _whole_days(read_dates(strip, self.rules, self.log))
        if kind in (Kind.CHOICE, Kind.FLAG):
            codes, filled = (read_choices if kind is Kind.CHOICE else read_flags)(strip, self.log)
            return Filled(codes.astype(float), filled.origin, filled.missing)
        return self._numbers(strip)

    def _numbers(self, strip: Strip) -> Filled:
        """Numbers; a cell that states a unit of its own may differ from its heading, which is ours."""
        log = Log(self.log.sheet)
        first = read_numbers(strip, self.rules, log)
        mixed = first.missing == Missing.CONFLICT
        second = read_numbers(replace(strip, heading=strip.column.title), self.rules, Log(self.log.sheet))
        taken = mixed & (second.missing == Missing.KNOWN) & (second.origin == Origin.TYPED)
        whole = bool(taken[mixed].all())
        self.log.remarks += [r for r in log.remarks if not (whole and r.kind == UNITS_DISAGREE)]
        return Filled(*(np.where(taken, b, a) for a, b in zip(first, second, strict=True)))


def _whole_days(dates: Dates) -> Filled:
    """Dates of which the very day is known; a month or a year alone is no day of a visit."""
    filled = dates.middle
    vague = (filled.missing == Missing.KNOWN) & (dates.low != dates.high)
    filled.missing[vague] = int(Missing.UNREADABLE)
    return filled


def read_lines(
    book: Workbook, name: str, columns: Sequence[Column], needed: Column, catalogue: Catalogue
) -> Lines | None:
    """Lines of a sheet that has the heading of the needed column and another; None for any other sheet."""
    data = book.read(name)
    known = _spellings(columns)
    for row in range(1, min(data.n_rows, HEADING_ROWS) + 1):
        placed: dict[str, tuple[int, str]] = {}
        for number in range(1, data.n_columns + 1):
            text = data.value(row, number)
            if isinstance(text, str):
                column = known.get(normalise(text)) or known.get(bare(text))
                if column is not None:
                    placed.setdefault(column.name, (number, text))
        if needed.name in placed and len(placed) >= LEAST_HEADINGS:
            rows = range(row + 1, data.n_rows + 1)
            sheet = Sheet(data, book.epoch_1904)
            by_name = {column.name: column for column in columns}
            wanted = [(by_name[name], number, text) for name, (number, text) in placed.items()]
            strips = sheet.strips(wanted, rows.start, rows.stop - 1)
            rules = Rules(
                catalogue.text("units"), catalogue.text("decimal_mark"), catalogue.text("date_order"),
                book.epoch_1904, book.kind is Kinds.CSV,
            )  # fmt: skip
            return Lines(data, row, rows, strips, rules, Log(data.name))
    return None


def _spellings(columns: Sequence[Column]) -> dict[str, Column]:
    """Spellings of headings; those of a column's own title go before those other columns lend."""
    found: dict[str, Column] = {}
    titles = [(spelling, column) for column in columns for spelling in (column.title, column.name)]
    others = [(spelling, column) for column in columns for spelling in column.aliases]
    for spelling, column in (*titles, *others):
        found.setdefault(normalise(spelling), column)
    return found
