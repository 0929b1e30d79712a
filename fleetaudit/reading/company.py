"""The company's own sheets of figures, settings, headings and crews, from one workbook or two."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from msgspec import Struct

from fleetaudit import units
from fleetaudit.catalogue import shipped
from fleetaudit.catalogue.model import Catalogue
from fleetaudit.errors import CatalogueError, HeaderError, together
from fleetaudit.language import code, say, several, spoken
from fleetaudit.reading import grammar
from fleetaudit.reading.headers import bare, normalise
from fleetaudit.reading.plain import plain, shown
from fleetaudit.schema import company
from fleetaudit.schema.column import Column
from fleetaudit.schema.company import CompanySheet
from fleetaudit.schema.remark import Level, Remark
from fleetaudit.units import Unit
from fleetaudit.workbook.book import SheetData, Workbook, open_workbook
from fleetaudit.workbook.place import address, quoted

if TYPE_CHECKING:
    from fleetaudit.catalogue.sheets import Cell

HEADING_ROWS = 30
_LIST = re.compile(r"[;\n|]")
_BRACKET = re.compile(r"[(\[]([^)\]]*)[)\]]")


class _Line(Struct, frozen=True):
    """One row of a company sheet: its cells by field name, as text with their unit where they have one."""

    row: int
    values: Mapping[str, Cell]
    cell: str = ""


class _Table(Struct, frozen=True):
    """A company sheet as read; `problems` are cells that hold no value."""

    sheet: CompanySheet
    data: SheetData
    heading_row: int
    lines: tuple[_Line, ...]
    remarks: tuple[Remark, ...]
    problems: tuple[str, ...]


class Settled(NamedTuple):
    """Figures in force, what reading them brought up, and the language and style of days to go on in."""

    catalogue: Catalogue
    remarks: list[Remark]
    language: str
    dates: str


def settle(
    settings: Path | None, workbook: Workbook | None, language: str | None, dates: str | None
) -> Settled:
    """Load the catalogue, and find out in what language to go on: as asked for, else as Settings have it."""
    catalogue, remarks = load_catalogue(settings, workbook)
    language, dates = tongue(catalogue, language, dates)
    if remarks and language != code():
        # the sheet has just named the language in which to say what reading it brought up
        with spoken(language, dates):
            catalogue, remarks = load_catalogue(settings, workbook)
    return Settled(catalogue, remarks, language, dates)


def tongue(catalogue: Catalogue, language: str | None, dates: str | None) -> tuple[str, str]:
    """Language and style of days as asked for, else as the sheets Settings have them."""
    return language or catalogue.text("language"), dates or catalogue.text("dates")


def load_catalogue(
    settings: Path | None = None, workbook: Workbook | None = None
) -> tuple[Catalogue, list[Remark]]:
    """Shipped figures, then the company sheets of the settings workbook, then those of the fleet workbook."""
    catalogue = shipped.load()
    remarks: list[Remark] = []
    problems: list[str] = []
    for book in _books(settings, workbook):
        sheets = {}
        for table in _tables(book):
            remarks += table.remarks
            problems += table.problems
            if table.sheet is company.CREWS:
                continue
            lines = list(_own_lines(table))
            if lines:
                sheets[table.sheet.name] = table, lines
                remarks.append(
                    Remark(
                        Level.INFO,
                        "own-figures",
                        several(
                            len(lines),
                            "{file}, sheet {sheet}: 1 row goes before the shipped figures.",
                            "{file}, sheet {sheet}: {count} rows go before the shipped figures.",
                            file=book.path.name,
                            sheet=quoted(table.data.name),
                        ),
                    )
                )
        try:
            catalogue = _laid_over(catalogue, book, sheets) if sheets else catalogue
        except CatalogueError as trouble:
            problems.append(trouble.message)
    if problems:
        raise CatalogueError(together(problems))
    return catalogue, remarks


def heading_map(settings: Path | None, workbook: Workbook | None) -> dict[str, str]:
    """Headings the Columns part of the Settings sheets explains, those of the fleet workbook first."""
    found: dict[str, str] = {}
    for book in _books(settings, workbook):
        for table in _tables(book):
            if table.sheet is company.SETTINGS:
                for line in _column_lines(table):
                    theirs, ours = (
                        str(line.values.get(column.name) or "").strip()
                        for column in (company.SETTING, company.VALUE)
                    )
                    if theirs:
                        found[theirs] = ours
    return found


def crew_names(settings: Path | None, workbook: Workbook | None) -> dict[str, str]:
    """Name to show for each spelling of a crew, folded; a spelling claimed by two crews is an error."""
    found: dict[str, str] = {}
    problems = []
    for book in _books(settings, workbook):
        mine: dict[str, str] = {}
        for table in _tables(book):
            if table.sheet is not company.CREWS:
                continue
            for line in table.lines:
                name = plain(str(line.values.get(company.CREW.name) or ""))
                others = _LIST.split(str(line.values.get(company.CREW_SPELLINGS.name) or ""))
                for spelling in filter(None, (name, *map(plain, others)) if name else ()):
                    owner = mine.setdefault(spelling.casefold(), name)
                    if owner != name:
                        problems.append(
                            say(
                                '{file}: {sheet}!{cell} gives "{spelling}" to {name}, another row to '
                                "{owner}. Keep it in one of them.",
                                file=book.path.name,
                                sheet=quoted(table.data.name),
                                cell=address(line.row, 1),
                                spelling=spelling,
                                name=name,
                                owner=owner,
                            )
                        )
        found.update(mine)
    if problems:
        raise HeaderError(together(problems))
    return found


def _books(settings: Path | None, workbook: Workbook | None) -> Iterator[Workbook]:
    if settings is not None:
        yield open_workbook(Path(settings))
    if workbook is not None:
        yield workbook


def _tables(book: Workbook) -> list[_Table]:
    known = {sheet.name.casefold(): sheet for sheet in company.SHEETS}
    found = []
    for info in book.sheets:
        sheet = known.get(info.name.strip().casefold())
        if sheet is not None:
            found.append(_table(book, sheet, book.read(info.name)))
    return found


@lru_cache(maxsize=32)
def _spellings(sheet_name: str) -> Mapping[str, Column]:
    found: dict[str, Column] = {}
    for column in company.BY_SHEET[sheet_name].columns:
        for spelling in (column.title, column.name, *column.aliases):
            found.setdefault(normalise(spelling), column)
    return found


def _table(book: Workbook, sheet: CompanySheet, data: SheetData) -> _Table:
    """Read a company sheet; one without its headings is somebody's own of that name, and only reported."""
    known = _spellings(sheet.name)
    heading_row, columns = 0, {}
    for row in range(1, min(data.n_rows, HEADING_ROWS) + 1):
        placed = {
            number: known[key]
            for number in range(1, data.n_columns + 1)
            if isinstance(text := data.value(row, number), str)
            for key in (normalise(text), bare(text))
            if key in known
        }
        if sheet.key in placed.values() and len(set(placed.values())) >= 2:
            heading_row, columns = row, placed
            break
    if not heading_row:
        return _Table(sheet, data, 0, (), _not_ours(book, sheet, data), ())
    lines, problems = [], []
    errors, unstored = data.errors, data.unstored
    for row in range(heading_row + 1, data.n_rows + 1):
        values: dict[str, Cell] = {}
        for number, column in columns.items():
            where = f"{book.path.name}: {quoted(data.name)}!{address(row, number)}"
            if (row, number) in errors:
                problems.append(
                    say(
                        "{where} holds {word}. Repair the formula.",
                        where=where,
                        word=errors[row, number],
                    )
                )
            elif (row, number) in unstored:
                problems.append(
                    say(
                        "{where} is a formula never calculated. Open the workbook in your spreadsheet "
                        "program and save it.",
                        where=where,
                    )
                )
            else:
                value = _cell(data, row, number, str(data.value(heading_row, number)), column)
                if value is not None:
                    values[column.name] = value
        if values:
            lines.append(_Line(row, values, _said_in(sheet, row, columns)))
    return _Table(
        sheet, data, heading_row, tuple(lines), _unknown(book, data, heading_row, columns), tuple(problems)
    )


def _said_in(sheet: CompanySheet, row: int, columns: Mapping[int, Column]) -> str:
    """Cells a row is known by: the name of what it is about and, of a setting, its value."""
    wanted = (sheet.key, company.VALUE) if sheet is company.SETTINGS else (sheet.key,)
    numbers = sorted(number for number, column in columns.items() if column in wanted)
    return ":".join(address(row, number) for number in numbers)


def _cell(data: SheetData, row: int, number: int, heading: str, column: Column) -> Cell:
    """Value of a cell; a number under a heading with a unit, or shown with one, carries it along."""
    value = data.value(row, number)
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, str):
        return plain(value) or None
    if not isinstance(value, int | float):
        return shown(value)
    code = data.format(row, number)
    unit = units.find(grammar.literal(code)) if grammar.literal(code) else None
    unit = unit or _heading_unit(heading)
    if grammar.percent(code):
        return f"{value * 100:.12g} %"
    if unit is None or not column.quantity.us:
        return value if column.numeric or column is company.VALUE else shown(value)
    return f"{value:.15g} {unit.name}"


def _heading_unit(heading: str) -> Unit | None:
    for inside in _BRACKET.findall(plain(heading)):
        unit = units.find(inside)
        if unit is not None:
            return unit
    return None


def _not_ours(book: Workbook, sheet: CompanySheet, data: SheetData) -> tuple[Remark, ...]:
    if not data.n_rows:
        return ()
    return (
        Remark(
            Level.WARN,
            "company-sheet-unread",
            say(
                '{file}, sheet {sheet} has no heading "{title}" with others beside it; nothing '
                "of it was used. The command `fleetaudit template` shows how it is laid out.",
                file=book.path.name,
                sheet=quoted(data.name),
                title=sheet.key.title,
            ),
        ),
    )


def _unknown(book: Workbook, data: SheetData, row: int, columns: Mapping[int, Column]) -> tuple[Remark, ...]:
    names = [
        f'"{value}" ({address(row, number)})'
        for number in range(1, data.n_columns + 1)
        if number not in columns and isinstance(value := data.value(row, number), str)
    ]
    if not names:
        return ()
    return (
        Remark(
            Level.WARN,
            "company-heading-unknown",
            say(
                "{file}, sheet {sheet}: headings that mean nothing here, not used: {names}.",
                file=book.path.name,
                sheet=quoted(data.name),
                names=", ".join(names),
            ),
        ),
    )


def _laid_over(
    catalogue: Catalogue, book: Workbook, sheets: Mapping[str, tuple[_Table, Sequence[_Line]]]
) -> Catalogue:
    from fleetaudit.catalogue import overrides  # noqa: PLC0415 - most workbooks bring no figures

    rows = {
        name: [
            overrides.OverrideRow(f"{quoted(table.data.name)}!{line.cell}", line.values, book.path.name)
            for line in lines
        ]
        for name, (table, lines) in sheets.items()
    }
    return overrides.apply(catalogue, rows)


def _own_lines(table: _Table) -> tuple[_Line, ...]:
    """Rows of figures: of Settings those above the Columns part."""
    start = _columns_start(table)
    return tuple(line for line in table.lines if start is None or line.row < start)


def _column_lines(table: _Table) -> tuple[_Line, ...]:
    start = _columns_start(table)
    return () if start is None else tuple(line for line in table.lines if line.row > start)


def _columns_start(table: _Table) -> int | None:
    if table.sheet is not company.SETTINGS:
        return None
    word = company.COLUMNS_PART.casefold()
    return next(
        (
            line.row
            for line in table.lines
            if str(line.values.get(company.SETTING.name) or "").strip().casefold().rstrip(":") == word
        ),
        None,
    )
