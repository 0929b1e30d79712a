"""Sheets that are wholly ours, written from rows of values."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from datetime import date
from itertools import repeat
from types import NoneType
from typing import cast

from msgspec import Struct, field
from msgspec.structs import replace

from fleetaudit.workbook.cellmarkup import DATE_CODE, cell_end, default_code, number_end, plain, text_ends
from fleetaudit.workbook.formats import GENERAL
from fleetaudit.workbook.markup import (
    MAIN,
    RELATIONSHIPS,
    STRICT_MAIN,
    STRICT_RELATIONSHIPS,
    escape_attribute,
    escape_text,
)
from fleetaudit.workbook.place import Range, address, column_letters
from fleetaudit.workbook.styles import PLAIN, Look, Style, Styles

_LINE_POINTS, _MOST_POINTS = 15.0, 405.0
_TEXTS_KEPT = 16_384
_ROWS_AT_ONCE = 4_096

NAMED_STYLES = {
    "": PLAIN,
    "title": Style(bold=True, larger=5),
    "subtitle": Style(bold=True, larger=1),
    "heading": Style(bold=True, colour="FFFFFF", fill="1F3A4D", wrap=True, top=True),
    "strong": Style(bold=True, top=True),
    "wrap": Style(wrap=True, top=True),
    "top": Style(top=True),
    "note": Style(italic=True, colour="5A5A5A"),
    "wrapped note": Style(italic=True, colour="5A5A5A", wrap=True, top=True),
    "link": Style(underline=True, colour="0B5394", top=True),
    "integer": Style(number_format="#,##0", top=True),
    "number": Style(number_format="0.0", top=True),
    "precise": Style(number_format="0.00", top=True),
    "percent": Style(number_format="0%", top=True),
    "date": Style(number_format="yyyy-mm-dd", top=True),
}


class Link(Struct, frozen=True, gc=False):
    """Text that leads to a cell of the same workbook, such as "'My units'!F17"."""

    text: str
    target: str


class Styled(Struct, frozen=True, gc=False):
    """A value with the name of a style, or a style of its own, and a number format over it."""

    value: object
    style: str | Style = ""
    number_format: str | None = None


class Choice(Struct, frozen=True):
    """A column whose cells offer words to choose from, and a note; other words may be typed all the same."""

    column: int
    words: tuple[str, ...]
    title: str = ""
    note: str = ""


class Sheet(Struct):
    """An added sheet; `filter` spans from the last frozen row (the headings) down to the last row.

    `styles` names the style of each column for bare values below the frozen rows, or below the first
    `head_rows` where those are more.
    """

    name: str
    rows: Sequence[Sequence[object]]
    widths: Sequence[float] = ()
    freeze_rows: int = 0
    filter: bool = False
    landscape: bool = True
    styles: Sequence[str] = ()
    head_rows: int = 0
    looks: Sequence[tuple[int, Sequence[Look]]] = ()
    #: columns with words to choose from below the frozen rows, and what a chosen cell says of them
    choices: Sequence[Choice] = ()
    tab_colour: str = ""


class WrittenSheet(Struct):
    """Markup of an added sheet, in pieces, with the ranges that need a name in the workbook part."""

    pieces: list[bytes]
    filter_range: Range | None
    title_rows: int


#: markup of a cell after its address, its style, and its text where that may take several lines
_Ready = tuple[str, Style, str | None]


def _tall(content: object, style: Style) -> str | None:
    return content if isinstance(content, str) and (style.wrap or "\n" in content) else None


def _height(lines: int) -> str:
    return f' ht="{min(lines * _LINE_POINTS, _MOST_POINTS):g}" customHeight="1"' if lines > 1 else ""


class _Rows(Struct):
    """Rows in the making."""

    styles: Styles
    epoch_1904: bool
    widths: Sequence[float]
    target: Callable[[str], str]
    last_column: int = 1
    links: list[str] = field(default_factory=list)
    known: dict[tuple[str | Style, str | None], tuple[Style, int]] = field(default_factory=dict)
    said: dict[tuple[str | Style, str], _Ready] = field(default_factory=dict)
    rooms: dict[tuple[int, bool], float] = field(default_factory=dict)

    def row(self, number: int, values: Sequence[object], styles: Iterable[str] = ()) -> str:
        """Markup of one row; a row with wrapped text gets the height the text needs."""
        cells, lines, column, last = [], 1, 0, 0
        for value, named in zip(values, styles or repeat(""), strict=False):
            column += 1
            if value is None:
                continue
            ready = self.said.get((named, value)) if type(value) is str else None
            ready = ready or self._any(value, number, column, named)
            if ready is None:
                continue
            end, style, tall = ready
            cells.append(f'<c r="{column_letters(column)}{number}"{end}')
            last = column
            if tall is not None:
                lines = max(lines, self._lines(tall, column, style))
        self.last_column = max(self.last_column, last)
        return f'<row r="{number}"{_height(lines)}>{"".join(cells)}</row>' if cells else ""

    def table(self, first: int, rows: Sequence[Sequence[object]], styles: Sequence[str]) -> str:
        """Markup of the rows of a table, the same as row by row, made a column at a time."""
        numbers, tallest = range(first, first + len(rows)), [1] * len(rows)
        columns = []
        for column, (values, named) in enumerate(zip(zip(*rows, strict=True), styles, strict=True), start=1):
            kinds = set(map(type, values)) - {NoneType}
            if len(kinds) == 1 and kinds <= {int, float, date}:
                cells = self._number_column(column, numbers, values, named)
            elif kinds == {str}:
                texts = [value or "" for value in cast(Sequence[str | None], values)]
                distinct, style = dict.fromkeys(texts), NAMED_STYLES[named]
                cells = self._text_column(column, numbers, texts, distinct, named)
                high = {
                    text: lines
                    for text in distinct
                    if (style.wrap or "\n" in text) and (lines := self._lines(text, column, style)) > 1
                }
                if high:
                    tallest = list(map(max, tallest, [high.get(text, 1) for text in texts]))
            elif kinds == {Link} and self._all_short(cast(Sequence[Link | None], values), named):
                cells = self._link_column(column, numbers, cast(Sequence[Link | None], values), named)
            else:
                cells = []
                for place, (number, value) in enumerate(zip(numbers, values, strict=True)):
                    ready = None if value is None else self._any(value, number, column, named)
                    start = f'<c r="{column_letters(column)}{number}"'
                    cells.append("" if ready is None else start + ready[0])
                    if ready is not None and ready[2] is not None:
                        tallest[place] = max(tallest[place], self._lines(ready[2], column, ready[1]))
            columns.append(cells)
            if any(cells):
                self.last_column = max(self.last_column, column)
        bodies = map("".join, zip(*columns, strict=True))
        return "".join(
            [
                f'<row r="{number}"{_height(lines)}>{body}</row>' if body else ""
                for number, lines, body in zip(numbers, tallest, bodies, strict=True)
            ]
        )

    def _number_column(
        self, column: int, numbers: Iterable[int], values: Sequence[object], named: str
    ) -> list[str]:
        """Cells of numbers, or of dates; those that are the same are made once."""
        start, index = f'<c r="{column_letters(column)}', -1
        ends: dict[object, str] = {None: ""}
        for value in dict.fromkeys(values):
            if type(value) in (int, float) and math.isfinite(cast(float, value)):
                index = self._index(value, named) if index < 0 else index
                ends[value] = number_end(cast(float, value), index)
            elif value is not None:
                ready = self._any(value, 0, column, named)
                ends[value] = "" if ready is None else ready[0]
        filled = zip(numbers, [ends[value] for value in values], strict=True)
        return [f'{start}{n}"{end}' if end else "" for n, end in filled]

    def _text_column(
        self, column: int, numbers: Iterable[int], texts: Sequence[str], distinct: Iterable[str], named: str
    ) -> list[str]:
        """Cells of texts; those that are the same are made once."""
        start, first = f'<c r="{column_letters(column)}', next(filter(None, distinct), None)
        if first is None:
            return [""] * len(texts)
        ends = text_ends(distinct, self._index(first, named))
        return [f'{start}{n}"{ends[text]}' if text else "" for n, text in zip(numbers, texts, strict=True)]

    def _link_column(
        self, column: int, numbers: Iterable[int], links: Sequence[Link | None], named: str
    ) -> list[str]:
        """Cells of links, each of which is noted."""
        letters = column_letters(column)
        places = [(f"{letters}{n}", link) for n, link in zip(numbers, links, strict=True) if link is not None]
        index = self._index(places[0][1].text, named or "link")
        ends = text_ends(dict.fromkeys([link.text for _, link in places]), index)
        for where, link in places:
            location = escape_attribute(self.target(link.target))
            self.links.append(f'<hyperlink ref="{where}" location="{location}"/>')
        made = iter([f'<c r="{where}"{ends[link.text]}' for where, link in places])
        return ["" if link is None else next(made) for link in links]

    @staticmethod
    def _all_short(links: Sequence[Link | None], named: str) -> bool:
        """Tell whether every link has a text, of one line."""
        if NAMED_STYLES[named or "link"].wrap:
            return False
        return all(link is None or (link.text != "" and "\n" not in link.text) for link in links)

    def _index(self, value: object, named: str) -> int:
        """Index of the style of a text or number."""
        return (self.known.get((named, None)) or self._resolve(Styled(value, named), 0, 0)[1:])[1]

    def _any(self, value: object, number: int, column: int, named: str | Style) -> _Ready | None:
        return self._ready(value, named) or self._made(value, number, column, named)

    def _ready(self, value: object, named: str | Style) -> _Ready | None:
        """A text, number or date on a short way, None for anything else; a text in one style is made once."""
        if type(value) is Styled and value.number_format is None:
            named, value = value.style, value.value
        kind = type(value)
        if kind is int or (kind is float and math.isfinite(cast(float, value))):
            style, index = self.known.get((named, None)) or self._resolve(Styled(value, named), 0, 0)[1:]
            return cell_end(value, index), style, None
        if kind is date:
            style, index = self.known.get((named, DATE_CODE)) or self._resolve(Styled(value, named), 0, 0)[1:]
            return cell_end(value, index, epoch_1904=self.epoch_1904), style, None
        return self._said(value, named) if type(value) is str and value else None

    def _said(self, text: str, named: str | Style) -> _Ready:
        ready = self.said.get((named, text))
        if ready is None:
            if len(self.said) >= _TEXTS_KEPT:
                self.said.clear()
            style, index = self.known.get((named, None)) or self._resolve(Styled(text, named), 0, 0)[1:]
            ready = self.said[named, text] = cell_end(text, index), style, _tall(text, style)
        return ready

    def _made(self, value: object, number: int, column: int, named: str | Style) -> _Ready | None:
        """Any cell, None for a blank one without a fill."""
        content, style, index = self._resolve(value, number, column, named)
        if content is None:
            return (f' s="{index}"/>', style, None) if style.fill else None
        end = cell_end(content, index, epoch_1904=self.epoch_1904)
        return end, style, _tall(content, style)

    def _resolve(
        self, value: object, row: int, column: int, named: str | Style = ""
    ) -> tuple[object, Style, int]:
        """Content of a cell, its style and the style's index; a link is noted."""
        code = None
        if isinstance(value, Styled):
            named, code, value = value.style, value.number_format, value.value
        if isinstance(value, Link):
            location = escape_attribute(self.target(value.target))
            self.links.append(f'<hyperlink ref="{address(row, column)}" location="{location}"/>')
            named, value = named or "link", value.text
        content = plain(value)
        if code is None and not isinstance(content, str | None):
            code = default_code(content)
        key = named, code
        if key not in self.known:
            style = named if isinstance(named, Style) else NAMED_STYLES[named]
            if code is not None and (style.number_format == GENERAL or code != default_code(content)):
                style = replace(style, number_format=code)
            self.known[key] = style, self.styles.cell(style)
        return content, *self.known[key]

    def _lines(self, text: str, column: int, style: Style) -> int:
        if not style.wrap:
            return text.count("\n") + 1
        room = self.rooms.get((column, style.bold)) or self._room(column, style.bold)
        if "\n" not in text:
            return 1 if len(text) <= room else math.ceil(len(text) / room)
        return sum([max(1, math.ceil(len(line) / room)) for line in text.split("\n")])

    def _room(self, column: int, bold: bool) -> float:
        """Letters that a line of a column takes."""
        width = self.widths[column - 1] if column <= len(self.widths) else 8.43
        room = self.rooms[column, bold] = max(width * (0.9 if bold else 1.0) - 1, 1)
        return room


def write_sheet(
    sheet: Sheet, styles: Styles, *, strict: bool, epoch_1904: bool, target: Callable[[str], str] = str
) -> WrittenSheet:
    """Markup of an added sheet; `target` maps where a link leads when a sheet had to take another name."""
    rows = _Rows(styles, epoch_1904, sheet.widths, target)
    body = _body(rows, sheet)
    last_row = max(len(sheet.rows), 1)
    extent = Range(1, 1, last_row, rows.last_column)
    table = _table_part(sheet, last_row)
    main, related = (STRICT_MAIN, STRICT_RELATIONSHIPS) if strict else (MAIN, RELATIONSHIPS)
    head = [
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
    tail = [
        "</sheetData>",
        f'<autoFilter ref="{table}"/>' if table else "",
        _looks(sheet, styles, last_row),
        _choices(sheet, last_row),
        f"<hyperlinks>{''.join(rows.links)}</hyperlinks>" if rows.links else "",
        '<pageMargins left="0.5" right="0.5" top="0.6" bottom="0.6" header="0.3" footer="0.3"/>',
        f'<pageSetup orientation="{"landscape" if sheet.landscape else "portrait"}" fitToHeight="0"/>',
        "<headerFooter><oddFooter>&amp;L&amp;A&amp;RPage &amp;P of &amp;N</oddFooter></headerFooter>",
        "</worksheet>",
    ]
    pieces = ["".join(head).encode(), *body, "".join(tail).encode()]
    return WrittenSheet(pieces, table, sheet.freeze_rows)


def _body(rows: _Rows, sheet: Sheet) -> list[bytes]:
    """All rows, those of a table in lots, so that what is made of them by columns stays small.

    Encoded they take half as much: a single sign beyond Latin makes every letter of a text take two bytes.
    """
    if not sheet.styles:
        every = "".join([rows.row(number, values) for number, values in enumerate(sheet.rows, start=1)])
        return [every.encode()]
    above = max(sheet.freeze_rows, sheet.head_rows)
    head, body = sheet.rows[:above], sheet.rows[above:]
    markup = [rows.row(number, values).encode() for number, values in enumerate(head, start=1)]
    for start in range(0, len(body), _ROWS_AT_ONCE):
        lot, first = body[start : start + _ROWS_AT_ONCE], len(head) + 1 + start
        if all(len(values) == len(sheet.styles) for values in lot):
            markup.append(rows.table(first, lot, sheet.styles).encode())
        else:
            markup += [
                rows.row(place, values, sheet.styles).encode()
                for place, values in enumerate(lot, start=first)
            ]
    return markup


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
