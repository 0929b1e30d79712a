"""The form a crew takes along and fills in, one line a unit; `record` reads it back (openpyxl)."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from pathlib import Path

from openpyxl import Workbook
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from fleetaudit.language import say
from fleetaudit.schema import fleet, visits
from fleetaudit.schema.column import Column
from fleetaudit.schema.quantity import Kind
from fleetaudit.workbook.atomic import write_atomic
from fleetaudit.writing.blank import (
    DATE_FORMAT,
    EPOCH,
    FONT_NAME,
    HEADING_FILL,
    HEADING_FONT,
    LONGEST_PROMPT,
    LONGEST_PROMPT_TITLE,
    NEEDED_FILL,
    TEXT_FORMAT,
    UNIT_SIGNS,
)
from fleetaudit.writing.report import UnitRecord
from fleetaudit.writing.report_workbook import without_clock

READ_ME = "How to fill in"
TOLD_FILL = PatternFill("solid", fgColor="FFEDF1F4")
LINE = Side(style="thin", color="FF9AA5AD")
BOX = Border(left=LINE, right=LINE, top=LINE, bottom=LINE)
ROW_HEIGHT = 30
NEEDED = (visits.VISIT_DATE, visits.INITIALS)
DECIMALS = 2
HOW_TO = (
    "One line is one unit. Grey cells say what is on record and what the audit asks for; leave them alone.",
    "Fill in the white cells of what was done or found, and leave the others blank. A blank changes nothing.",
    "The visit date is needed, and the initials or the crew. Without them nothing of the line is taken over.",
    "Numbers without a unit are taken in the unit of their heading; another one may stand in the cell.",
    "Restrictor fitted: only if it was changed. Restrictor found: what was read on the one in there before.",
    "Measured drain flow: bucket and watch, after the work. If the restrictor was changed and nothing "
    "was measured, the flow on record is emptied, as it was that of the old one.",
    'Bed: "new bed" if all of it was replaced, which starts its life anew; "topped up" if media were added.',
    "Media loaded: one name with its mesh, or all layers from the top down: anthracite 18 in; sand 12 in.",
    "Isolate, relieve the pressure and disconnect before opening anything. Common practice, no source; "
    "the maker's sheet and local rules come first.",
)

Given = Mapping[Column, object]


def given_of(unit: UnitRecord, label: str, flow: str, wanted: Given, bed: str = "") -> Given:
    """What the form says of a unit that was audited; flows come in the reader's units.

    `bed` is how the list writes a bed of several layers.
    """
    return {
        fleet.UNIT_ID: unit.unit_id,
        fleet.VESSEL_LABEL: label,
        fleet.ACCOUNT: unit.account,
        fleet.ADDRESS: unit.address,
        fleet.SIZE: unit.vessel,
        fleet.MEDIUM: bed or say(unit.media),
        visits.HOUSING_TO_FIT: unit.housing_recommended,
        visits.TO_CONFIRM: flow,
        **wanted,
    }


def write_returns(path: Path, lines: Sequence[Given], system: str, *, force: bool = False) -> None:
    """Write the form with a line for each unit."""
    write_atomic(path, [returns_bytes(lines, system)], force=force)


def returns_bytes(lines: Sequence[Given], system: str) -> bytes:
    """The form as a file; the same lines give the same bytes."""
    book = Workbook()
    page = book.worksheets[0]
    page.title = say(visits.RETURNS_SHEET)
    last = len(lines) + 1
    columns = [
        column
        for column in visits.RETURN_COLUMNS
        if column in visits.FILLED_IN or column is fleet.UNIT_ID or any(line.get(column) for line in lines)
    ]
    for number, column in enumerate(columns, start=1):
        _head(page, number, column, system)
        for row, line in enumerate(lines, start=2):
            _cell(page, row, number, column, line.get(column))
        _helps(page, number, column, last)
    page.freeze_panes = "B2"
    _print_setup(page)
    _read_me(book.create_sheet(say(READ_ME)))
    buffer = io.BytesIO()
    book.save(buffer)
    return without_clock(buffer.getvalue(), EPOCH)


def _head(page: Worksheet, number: int, column: Column, system: str) -> None:
    unit = column.quantity.unit(system)
    title = say(column.title)
    text = f"{title} ({UNIT_SIGNS.get(unit, unit)})" if unit and column is not fleet.SIZE else title
    cell = page.cell(1, number, text)
    cell.font, cell.fill = HEADING_FONT, NEEDED_FILL if column in NEEDED else HEADING_FILL
    cell.alignment = Alignment(wrap_text=True, vertical="top")
    wide = column.quantity.kind is Kind.TEXT or column in (fleet.ACCOUNT, fleet.MEDIUM)
    page.column_dimensions[get_column_letter(number)].width = 24 if wide else 13


def _cell(page: Worksheet, row: int, number: int, column: Column, value: object) -> None:
    cell = page.cell(row, number)
    if value not in (None, ""):
        cell.value = value  # type: ignore[assignment]  # texts and numbers only; the stubs do not narrow `object`
        if isinstance(value, str):
            cell.data_type = "s"  # never a formula, whatever it begins with
    if column.quantity.kind is Kind.DATE:
        cell.number_format = DATE_FORMAT
    elif column.quantity.kind is Kind.NAME:
        cell.number_format = TEXT_FORMAT
    if column not in visits.FILLED_IN:
        cell.fill = TOLD_FILL
    cell.border = BOX
    cell.alignment = Alignment(wrap_text=True, vertical="top")
    page.row_dimensions[row].height = ROW_HEIGHT


def _helps(page: Worksheet, number: int, column: Column, last: int) -> None:
    """A note on the heading, and a list to choose from where there is one."""
    letter = get_column_letter(number)
    words = choice_words(column)
    prompt = say(column.doc)
    if column.example and column in visits.FILLED_IN:
        worded = column.quantity.kind is Kind.FLAG or column is visits.BED_WORK
        example = say(column.example) if worded else column.example
        prompt += " " + say("Example: {example}.", example=example)
    note = DataValidation(type=None, showInputMessage=True, showErrorMessage=False)
    note.promptTitle = say(column.title)[:LONGEST_PROMPT_TITLE]
    note.prompt = prompt[:LONGEST_PROMPT]
    note.add(f"{letter}1")
    page.add_data_validation(note)
    if words and column in visits.FILLED_IN and last > 1:
        rule = DataValidation(
            type="list", formula1=f'"{",".join(words)}"', allow_blank=True, showErrorMessage=False
        )
        rule.add(f"{letter}2:{letter}{last}")
        page.add_data_validation(rule)


def choice_words(column: Column) -> list[str]:
    """Words offered for a column, in the language spoken; housings keep the names of the catalogue."""
    if column.quantity.kind is Kind.FLAG:
        return [say("yes"), say("no")]
    return [say(word) for word in column.choices] if column is visits.BED_WORK else list(column.choices)


def _print_setup(page: Worksheet) -> None:
    page.page_setup.orientation = "landscape"
    page.page_setup.fitToHeight = 0
    page.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    page.print_title_rows = "1:1"


def _read_me(page: Worksheet) -> None:
    page.cell(1, 1, say(READ_ME)).font = Font(name=FONT_NAME, bold=True, size=15)
    for row, text in enumerate(HOW_TO, start=2):
        page.cell(row, 1, say(text)).alignment = Alignment(wrap_text=True, vertical="top")
    page.column_dimensions["A"].width = 110
