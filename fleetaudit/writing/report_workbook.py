"""A report workbook of its own, for files that our columns cannot be put into (openpyxl)."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Sequence
from datetime import date, datetime, time
from pathlib import Path

from openpyxl import Workbook
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE, Cell
from openpyxl.formatting.rule import CellIsRule
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.hyperlink import Hyperlink
from openpyxl.worksheet.worksheet import Worksheet

from fleetaudit.schema import results
from fleetaudit.schema.results import ResultColumn
from fleetaudit.workbook.atomic import write_atomic
from fleetaudit.workbook.place import parse_range, quoted
from fleetaudit.workbook.sheets import NAMED_STYLES, Link, Sheet, Styled
from fleetaudit.workbook.styles import PLAIN, Style
from fleetaudit.writing.added_sheets import LOOKS, added_sheets
from fleetaudit.writing.annotate import FORMATS, unit_values
from fleetaudit.writing.report import Report
from fleetaudit.writing.tables import Row, table

LONGEST_TEXT = 32767
KEY_COLUMNS = (
    (ResultColumn("Unit", width=16), "unit_id"), (ResultColumn("Account", width=28), "account"),
    (ResultColumn("Row", width=8), "row"), (ResultColumn("Crew", width=14), "crew"),
    (ResultColumn("Medium", width=22), "media"), (ResultColumn("Vessel", width=12), "vessel"),
    (ResultColumn("Housing", width=12), "housing"), (ResultColumn("Media date", width=13), "media_date"),
)  # fmt: skip
_LONE_SURROGATE = re.compile("[\ud800-\udfff]")
_MODIFIED = re.compile(rb"(<dcterms:(created|modified)[^>]*>)[^<]*")


def write_stand_alone(report: Report, target: Path, *, why: str, force: bool = False) -> list[str]:
    """Write the report workbook; returns what the user should know about it."""
    if target.suffix.lower() != ".xlsx":
        target = target.with_suffix(".xlsx")
    write_atomic(target, [workbook_bytes(report)], force=force)
    return [
        f"{why} The results are in a workbook of their own, {target.name}; "
        f"the sheet {results.SHEET_UNITS} lists the units."
    ]


def workbook_bytes(report: Report) -> bytes:
    """Report workbook as a file; the same report gives the same bytes."""
    return book_bytes([_units(report), *(one.make() for one in added_sheets(report))], report.as_of)


def book_bytes(sheets: Sequence[Sheet], as_of: date) -> bytes:
    """Workbook of sheets that are wholly ours, as a file; the day stands in for the clock."""
    book = Workbook()
    book.remove(book.worksheets[0])
    for sheet in sheets:
        _write(book, sheet)
    buffer = io.BytesIO()
    book.save(buffer)
    return without_clock(buffer.getvalue(), datetime.combine(as_of, time()))


def _units(report: Report) -> Sheet:
    values = unit_values(report, report.units)
    columns = [*(column for column, _ in KEY_COLUMNS), *(column for column, _ in values)]
    rows: list[Row] = [
        [
            *(getattr(unit, name) or None for _, name in KEY_COLUMNS),
            *(
                Styled(told[place], "", FORMATS.get(column, "0.0" if column.numeric else None))
                for column, told in values
            ),
        ]
        for place, unit in enumerate(report.units)
    ]
    sheet = table(results.SHEET_UNITS, columns, rows, report.system)
    sheet.looks = [(len(KEY_COLUMNS) + 1, LOOKS)]
    return sheet


def _write(book: Workbook, sheet: Sheet) -> None:
    page = book.create_sheet(sheet.name)
    known = {results.SHEET_UNITS, *(name for name in results.OWN_SHEETS)}
    above = max(sheet.freeze_rows, sheet.head_rows)
    for number, row in enumerate(sheet.rows, start=1):
        styles = sheet.styles if sheet.styles and number > above else [""] * len(row)
        for column, (value, style) in enumerate(zip(row, styles, strict=False), start=1):
            if value is not None:
                _fill(page.cell(number, column), value, known, NAMED_STYLES[style])
    for column, width in enumerate(sheet.widths, start=1):
        page.column_dimensions[get_column_letter(column)].width = width
    if sheet.freeze_rows:
        page.freeze_panes = f"A{sheet.freeze_rows + 1}"
        if sheet.filter and len(sheet.rows) > sheet.freeze_rows:
            last = get_column_letter(len(sheet.rows[sheet.freeze_rows - 1]))
            page.auto_filter.ref = f"A{sheet.freeze_rows}:{last}{len(sheet.rows)}"
    _rules(page, sheet)
    _choices(page, sheet)
    page.page_setup.orientation = "landscape" if sheet.landscape else "portrait"
    page.page_setup.fitToHeight = 0
    page.sheet_properties.pageSetUpPr.fitToPage = True


def _fill(cell: Cell, value: object, known: set[str], style: Style = PLAIN) -> None:
    number_format = None
    if isinstance(value, Styled):
        style = value.style if isinstance(value.style, Style) else NAMED_STYLES[value.style]
        number_format, value = value.number_format, value.value
    if isinstance(value, Link):
        if _leads_somewhere(value.target, known):
            cell.hyperlink = Hyperlink(ref=cell.coordinate, location=value.target)
            style = NAMED_STYLES["link"]
        value = value.text
    if isinstance(value, str):
        text = _LONE_SURROGATE.sub("\ufffd", ILLEGAL_CHARACTERS_RE.sub("\ufffd", value))
        cell.value = text[:LONGEST_TEXT]
        cell.data_type = "s"  # never a formula, whatever it begins with
    else:
        cell.value = value  # type: ignore[assignment]  # numbers and dates only; the stubs do not narrow `object`
    if style != PLAIN:
        _dress(cell, style)
    if number_format:
        cell.number_format = number_format


def _leads_somewhere(target: str, known: set[str]) -> bool:
    sheet, _, where = target.rpartition("!")
    return parse_range(where) is not None and sheet in {quoted(name) for name in known}


def _dress(cell: Cell, style: Style) -> None:
    cell.font = Font(
        name="Calibri", size=11 + style.larger, bold=style.bold, italic=style.italic,
        underline="single" if style.underline else None, color=f"FF{style.colour}" if style.colour else None,
    )  # fmt: skip
    if style.fill:
        cell.fill = PatternFill("solid", fgColor=f"FF{style.fill}")
    cell.alignment = Alignment(wrap_text=style.wrap or None, vertical="top" if style.top else None)
    cell.number_format = style.number_format


def _rules(page: Worksheet, sheet: Sheet) -> None:
    last = len(sheet.rows)
    for column, looks in sheet.looks:
        letter = get_column_letter(column)
        for look in looks:
            rule = CellIsRule(  # type: ignore[no-untyped-call]  # openpyxl leaves it without types
                operator="equal", formula=[f'"{look.equals}"'],
                font=Font(color=f"FF{look.font}", bold=look.bold),
                fill=PatternFill("solid", bgColor=f"FF{look.fill}"),
            )  # fmt: skip
            page.conditional_formatting.add(
                f"{letter}{sheet.freeze_rows + 1}:{letter}{max(last, sheet.freeze_rows + 1)}", rule
            )


def _choices(page: Worksheet, sheet: Sheet) -> None:
    first, last = sheet.freeze_rows + 1, len(sheet.rows)
    for choice in sheet.choices if last >= first else ():
        rule = DataValidation(
            type="list",
            formula1=f'"{",".join(choice.words)}"',
            allow_blank=True,
            showErrorMessage=False,
            showInputMessage=bool(choice.note),
            promptTitle=choice.title or None,
            prompt=choice.note or None,
        )
        letter = get_column_letter(choice.column)
        rule.add(f"{letter}{first}:{letter}{last}")
        page.add_data_validation(rule)


def without_clock(data: bytes, moment: datetime) -> bytes:
    """Package without the time of writing: `moment` stands in the properties, the members carry none."""
    stamp = moment.strftime("%Y-%m-%dT%H:%M:%SZ").encode()
    buffer = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(data)) as source,
        zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as copy,
    ):
        for name in source.namelist():
            content = source.read(name)
            if name == "docProps/core.xml":
                content = _MODIFIED.sub(rb"\g<1>" + stamp, content)
            copy.writestr(zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0)), content, zipfile.ZIP_DEFLATED)
    return buffer.getvalue()
