"""The blank workbook to fill in, generated from the columns and the catalogue (openpyxl).

Each heading carries its note as an input prompt, so that it shows when the cell is chosen and never gets in
the way; the same notes stand on the Read me sheet. Notes are in the reader's language; headings and
words to choose from stay as the audit reads them.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from pathlib import Path

from openpyxl import Workbook
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from fleetaudit.catalogue.model import Catalogue
from fleetaudit.checks.registry import CHECKS
from fleetaudit.language import say
from fleetaudit.schema import company, fleet, visits
from fleetaudit.schema.column import Column
from fleetaudit.schema.quantity import Kind
from fleetaudit.schema.stock import STOCK
from fleetaudit.workbook.atomic import write_atomic
from fleetaudit.workbook.place import quoted
from fleetaudit.writing.report_workbook import without_clock

#: sheets after the list of units, in order
SHEETS = (*company.SHEETS, company.SITES, STOCK, visits.ACCEPTED)
UNITS_SHEET, READ_ME_SHEET, LISTS_SHEET = "Units", "Read me", "Lists"
ROWS_READY = 5000
LONGEST_PROMPT, LONGEST_PROMPT_TITLE = 255, 32
EPOCH = datetime(1980, 1, 1, tzinfo=UTC)
FONT_NAME = "Calibri"
HEADING_FONT, HEADING_FILL = (
    Font(name=FONT_NAME, bold=True, color="FFFFFFFF"),
    PatternFill("solid", fgColor="FF1F3A4D"),
)
NEEDED_FILL = PatternFill("solid", fgColor="FF8A4B00")
UNIT_SIGNS = {"degF": "°F", "degC": "°C", "d": "days", "year": "years"}
DATE_FORMAT, TEXT_FORMAT = "yyyy-mm-dd", "@"

HOW_TO = (
    "One row of the sheet Units is one installed unit. Fill in what you know and leave the rest blank: a "
    "blank is reported as not checked, never as right. Columns that you do not use may be deleted or moved.",
    "Headings with an orange ground are needed. A number is taken in the unit its heading "
    'names. To use another, change the heading: "19 L/min" under a heading in gpm counts as a contradiction.',
    "Choose a heading to see what belongs in its column. The lists offer the usual words; media may be "
    "written in your own words too.",
    "The sheets after Units are for your own figures and may stay empty. A row there takes the place of the "
    "figure that the tool ships, for this workbook only.",
)

#: what the sheet of units is for, and what is told of each column
UNITS_DOC = "Your installed units, one to a row."
EXPLAINED = ("Heading", "What belongs there", "Measured in", "Words it takes", "Example")


def write_template(path: Path, catalogue: Catalogue, force: bool = False) -> None:
    """Write the blank workbook."""
    write_atomic(path, [template_bytes(catalogue)], force=force)


def template_bytes(catalogue: Catalogue) -> bytes:
    """Blank workbook as a file; the same columns and catalogue give the same bytes."""
    book = Workbook()
    page = book.worksheets[0]
    page.title = UNITS_SHEET
    lists = _Lists(catalogue)
    _fill_page(page, fleet.COLUMNS, lists)
    _read_me(book.create_sheet(READ_ME_SHEET))
    for sheet in SHEETS:
        _fill_page(book.create_sheet(sheet.name), sheet.columns, lists)
    lists.write(book.create_sheet(LISTS_SHEET))
    buffer = io.BytesIO()
    book.save(buffer)
    return without_clock(buffer.getvalue(), EPOCH)


class _Lists:
    """Words offered by drop-downs; each list is a column of the Lists sheet."""

    def __init__(self, catalogue: Catalogue) -> None:
        self._catalogue = catalogue
        self._columns: dict[tuple[str, ...], tuple[str, str]] = {}

    def reference(self, column: Column) -> str | None:
        """Range of the words a column offers, None where it offers none."""
        words = self._words(column)
        if not words:
            return None
        if words not in self._columns:
            letter = get_column_letter(len(self._columns) + 1)
            where = f"{quoted(LISTS_SHEET)}!${letter}$2:${letter}${len(words) + 1}"
            self._columns[words] = (column.title, where)
        return self._columns[words][1]

    def write(self, page: Worksheet) -> None:
        """Put the lists on their sheet."""
        for number, (words, (title, _)) in enumerate(self._columns.items(), start=1):
            _head(page, number, title)
            page.column_dimensions[get_column_letter(number)].width = max(
                14, *(len(word) + 2 for word in words)
            )
            for row, word in enumerate(words, start=2):
                page.cell(row, number, word)
        page.freeze_panes = "A2"

    def _words(self, column: Column) -> tuple[str, ...]:
        if column.choices:
            return tuple(column.choices)
        if column.quantity.kind is Kind.FLAG:
            return ("yes", "no")
        return tuple(dict.fromkeys(self._named(column)))

    def _named(self, column: Column) -> Iterable[str]:
        if column is fleet.SIZE:
            return _sizes(self._catalogue)
        if column in (fleet.MEDIUM, company.MEDIUM, company.LIKE):
            return (medium.name for medium in self._catalogue.media if not medium.support)
        if column is fleet.PURPOSE:
            return (purpose.key.replace("-", " ") for purpose in self._catalogue.purposes)
        if column is visits.CHECK:
            return (check.slug for check in CHECKS)
        return self._catalogue.settings if column is company.SETTING else ()


def _sizes(catalogue: Catalogue) -> Iterable[str]:
    inch = fleet.INCH
    for vessel in catalogue.vessels:
        for height in vessel.heights_m:
            yield f"{vessel.diameter_m / inch:.4g}x{height / inch:.4g}"


def _fill_page(page: Worksheet, columns: Sequence[Column], lists: _Lists) -> None:
    for number, column in enumerate(columns, start=1):
        letter = get_column_letter(number)
        _head(page, number, heading(column), needed=column.needed)
        page.column_dimensions[letter].width = max(12, len(heading(column)) * 0.75 + 3)
        _prompt(page, f"{letter}1", column)
        _drop_down(page, f"{letter}2:{letter}{ROWS_READY + 1}", lists.reference(column))
        if column.quantity.kind is Kind.DATE:
            page.column_dimensions[letter].number_format = DATE_FORMAT
        elif column.quantity.kind in (Kind.NAME, Kind.SIZE):
            # a bare 0104 or 10-54 would otherwise become a number or a date
            page.column_dimensions[letter].number_format = TEXT_FORMAT
    page.freeze_panes = "A2"
    page.auto_filter.ref = f"A1:{get_column_letter(len(columns))}1"
    page.page_setup.orientation = "landscape"
    page.page_setup.fitToHeight = 0
    page.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)


def heading(column: Column) -> str:
    """Title of a column with the unit that bare numbers under it have."""
    unit = column.quantity.us
    return f"{column.title} ({UNIT_SIGNS.get(unit, unit)})" if unit else column.title


def _head(page: Worksheet, number: int, text: str, *, needed: bool = False) -> None:
    cell = page.cell(1, number, text)
    cell.font, cell.fill = HEADING_FONT, NEEDED_FILL if needed else HEADING_FILL
    cell.alignment = Alignment(wrap_text=True, vertical="top")


def _prompt(page: Worksheet, where: str, column: Column) -> None:
    example = " " + say("Example: {value}.", value=column.example) if column.example else ""
    note = DataValidation(type=None, showInputMessage=True, showErrorMessage=False)
    note.promptTitle = column.title[:LONGEST_PROMPT_TITLE]
    note.prompt = f"{say(column.doc)}{example}"[:LONGEST_PROMPT]
    note.add(where)
    page.add_data_validation(note)


def _drop_down(page: Worksheet, where: str, words: str | None) -> None:
    if words is None:
        return
    rule = DataValidation(type="list", formula1=f"={words}", allow_blank=True, showErrorMessage=False)
    rule.add(where)
    page.add_data_validation(rule)


def _read_me(page: Worksheet) -> None:
    page.cell(1, 1, say("How to fill in this workbook")).font = Font(name=FONT_NAME, bold=True, size=15)
    for row, text in enumerate(HOW_TO, start=2):
        page.merge_cells(start_row=row, start_column=1, end_row=row, end_column=5)
        cell = page.cell(row, 1, say(text))
        cell.alignment = Alignment(wrap_text=True, vertical="top")
        page.row_dimensions[row].height = 32
    first = len(HOW_TO) + 3
    explained = [(UNITS_SHEET, UNITS_DOC, fleet.COLUMNS)]
    explained += [(sheet.name, sheet.doc, sheet.columns) for sheet in SHEETS]
    for sheet, doc, columns in explained:
        page.cell(first, 1, say("Sheet {name}", name=sheet)).font = Font(name=FONT_NAME, bold=True, size=12)
        page.cell(first, 2, say(doc))
        for number, text in enumerate(EXPLAINED, start=1):
            cell = page.cell(first + 1, number, say(text))
            cell.font, cell.fill = HEADING_FONT, HEADING_FILL
        for row, column in enumerate(columns, start=first + 2):
            _explain(page, row, column)
        first += len(columns) + 3
    for number, width in enumerate((24, 64, 16, 44, 28), start=1):
        page.column_dimensions[get_column_letter(number)].width = width
    page.page_setup.orientation = "landscape"
    page.page_setup.fitToHeight = 0
    page.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)


def _explain(page: Worksheet, row: int, column: Column) -> None:
    unit = column.quantity.us
    words = ", ".join(column.choices) or ("yes, no" if column.quantity.kind is Kind.FLAG else "")
    doc = f"{say(column.doc)} {say('Needed.')}" if column.needed else say(column.doc)
    for number, text in enumerate(
        (column.title, doc, say(UNIT_SIGNS.get(unit, unit)), words, column.example), start=1
    ):
        if text:
            cell = page.cell(row, number, text)
            cell.data_type = "s"
            cell.alignment = Alignment(wrap_text=True, vertical="top")
            cell.font = Font(name=FONT_NAME, bold=number == 1)
