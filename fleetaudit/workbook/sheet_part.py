"""The part of a sheet that is wholly ours: its rows and all that stands around them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from msgspec import Struct

from fleetaudit.workbook.markup import (
    MAIN,
    RELATIONSHIPS,
    STRICT_MAIN,
    STRICT_RELATIONSHIPS,
    escape_attribute,
    escape_text,
)
from fleetaudit.workbook.place import Range, column_letters
from fleetaudit.workbook.sheet_rows import Rows
from fleetaudit.workbook.sheets import Sheet
from fleetaudit.workbook.styles import Look, Styles

#: rows of a table that are made together, and bytes that a cell takes
_ROWS_AT_ONCE, _ABOUT_A_CELL = 1_024, 110


class WrittenSheet(Struct):
    """Markup of an added sheet, in pieces that are made when they are asked for; about how long it is.

    With it the ranges that need a name in the workbook part.
    """

    pieces: Iterator[bytes]
    about: int
    filter_range: Range | None
    title_rows: int


def write_sheet(
    sheet: Sheet, styles: Styles, *, strict: bool, epoch_1904: bool, target: Callable[[str], str] = str
) -> WrittenSheet:
    """Markup of an added sheet; `target` maps where a link leads when a sheet had to take another name."""
    rows = Rows(styles, epoch_1904, sheet.widths, target)
    # rows of a table come in lots; all others are few, and the extent of the sheet is told before its rows
    above = max(sheet.freeze_rows, sheet.head_rows) if sheet.styles else len(sheet.rows)
    top = "".join([rows.row(number, values) for number, values in enumerate(sheet.rows[:above], start=1)])
    extent = Range(1, 1, max(len(sheet.rows), 1), max(rows.last_column, len(sheet.styles)))
    head = f"{_head(sheet, extent, strict=strict)}{top}".encode()
    about = len(head) + (len(sheet.rows) - above) * len(sheet.styles) * _ABOUT_A_CELL
    return WrittenSheet(
        _pieces(sheet, rows, head, above), about, _table_part(sheet, extent.last_row), sheet.freeze_rows
    )


def _pieces(sheet: Sheet, rows: Rows, head: bytes, above: int) -> Iterator[bytes]:
    yield head
    for start in range(above, len(sheet.rows), _ROWS_AT_ONCE):
        lot = sheet.rows[start : start + _ROWS_AT_ONCE]
        if set(map(len, lot)) == {len(sheet.styles)}:
            yield rows.table(start + 1, lot, sheet.styles)
        else:
            numbered = enumerate(lot, start=start + 1)
            yield "".join([rows.row(number, values, sheet.styles) for number, values in numbered]).encode()
    yield b"".join(_tail(sheet, rows, max(len(sheet.rows), 1)))


def _head(sheet: Sheet, extent: Range, *, strict: bool) -> str:
    main, related = (STRICT_MAIN, STRICT_RELATIONSHIPS) if strict else (MAIN, RELATIONSHIPS)
    parts = [
        '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n',
        f'<worksheet xmlns="{main}" xmlns:r="{related}">',
        "<sheetPr>",
        f'<tabColor rgb="FF{sheet.tab_colour}"/>' if sheet.tab_colour else "",
        '<pageSetUpPr fitToPage="1"/></sheetPr>',
        f'<dimension ref="{extent}"/>',
        _view(sheet.freeze_rows),
        '<sheetFormatPr defaultRowHeight="15"/>',
        _widths(sheet.widths),
        "<sheetData>",
    ]
    return "".join(parts)


def _tail(sheet: Sheet, rows: Rows, last_row: int) -> list[bytes]:
    table = _table_part(sheet, last_row)
    before = [
        "</sheetData>",
        f'<autoFilter ref="{table}"/>' if table else "",
        _looks(sheet, rows.styles, last_row),
        _choices(sheet, last_row),
    ]
    links = [b"<hyperlinks>", *rows.links, b"</hyperlinks>"] if rows.links else []
    behind = [
        '<pageMargins left="0.5" right="0.5" top="0.6" bottom="0.6" header="0.3" footer="0.3"/>',
        f'<pageSetup orientation="{"landscape" if sheet.landscape else "portrait"}" fitToHeight="0"/>',
        "<headerFooter><oddFooter>&amp;L&amp;A&amp;RPage &amp;P of &amp;N</oddFooter></headerFooter>",
        "</worksheet>",
    ]
    return ["".join(before).encode(), *links, "".join(behind).encode()]


def _table_part(sheet: Sheet, last_row: int) -> Range | None:
    if not sheet.filter or sheet.freeze_rows < 1 or len(sheet.rows) <= sheet.freeze_rows:
        return None
    return Range(sheet.freeze_rows, 1, last_row, max(len(sheet.rows[sheet.freeze_rows - 1]), 1))


def _view(freeze_rows: int) -> str:
    if not freeze_rows:
        return '<sheetViews><sheetView showGridLines="0" workbookViewId="0"/></sheetViews>'
    pane = (
        f'<pane ySplit="{freeze_rows}" topLeftCell="A{freeze_rows + 1}" activePane="bottomLeft" '
        f'state="frozen"/>'
        f'<selection pane="bottomLeft"/>'
    )
    return f'<sheetViews><sheetView workbookViewId="0">{pane}</sheetView></sheetViews>'


def _widths(widths: Sequence[float]) -> str:
    columns = "".join(
        f'<col min="{number}" max="{number}" width="{width:g}" customWidth="1"/>'
        for number, width in enumerate(widths, start=1)
    )
    return f"<cols>{columns}</cols>" if columns else ""


def _looks(sheet: Sheet, styles: Styles, last_row: int) -> str:
    markups, priority = [], 1
    first = sheet.freeze_rows + 1
    for column, looks in sheet.looks:
        if last_row >= first and looks:
            letters = column_letters(column)
            markups.append(rules_markup(f"{letters}{first}:{letters}{last_row}", looks, styles, priority))
            priority += len(looks)
    return "".join(markups)


def _choices(sheet: Sheet, last_row: int) -> str:
    first = sheet.freeze_rows + 1
    if not sheet.choices or last_row < first:
        return ""
    marks = []
    for choice in sheet.choices:
        letters = column_letters(choice.column)
        note = (
            f' showInputMessage="1" promptTitle="{escape_attribute(choice.title)}" '
            f'prompt="{escape_attribute(choice.note)}"'
            if choice.note
            else ""
        )
        marks.append(
            f'<dataValidation type="list" allowBlank="1"{note} sqref="{letters}{first}:{letters}{last_row}">'
            f"<formula1>{escape_text(quoted_text(','.join(choice.words)))}</formula1></dataValidation>"
        )
    return f'<dataValidations count="{len(marks)}">{"".join(marks)}</dataValidations>'


def rules_markup(cells: str, looks: Sequence[Look], styles: Styles, priority: int) -> str:
    """Conditional formats that colour cells equal to a word; priorities count up from `priority`."""
    rules = "".join(
        f'<cfRule type="cellIs" dxfId="{styles.look(look)}" priority="{priority + index}" operator="equal">'
        f"<formula>{escape_text(quoted_text(look.equals))}</formula></cfRule>"
        for index, look in enumerate(looks)
    )
    return f'<conditionalFormatting sqref="{cells}">{rules}</conditionalFormatting>'


def quoted_text(text: str) -> str:
    """Text as it stands inside a formula."""
    return '"' + text.replace('"', '""') + '"'
