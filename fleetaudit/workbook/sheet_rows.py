"""Rows of the sheets that are wholly ours: one by one, or the rows of a table a column at a time."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import date
from functools import partial
from itertools import chain, repeat
from math import ceil, inf, isfinite
from typing import cast

from msgspec import Struct, field
from msgspec.structs import replace

from fleetaudit.workbook.cellmarkup import DATE_CODE, cell_end, default_code, plain
from fleetaudit.workbook.columns import Run, across, cell_ends, digits, distinct, kinds, runs, text_ends
from fleetaudit.workbook.formats import GENERAL
from fleetaudit.workbook.markup import escape_attribute, escape_attributes
from fleetaudit.workbook.place import address, column_letters
from fleetaudit.workbook.sheets import NAMED_STYLES, Link, Styled
from fleetaudit.workbook.styles import Style, Styles

_LINE_POINTS, _MOST_POINTS = 15.0, 405.0
_TEXTS_KEPT = 16_384

#: markup of a cell after its address, its style, and its text where that may take several lines
_Ready = tuple[str, Style, str | None]


def _tall(content: object, style: Style) -> str | None:
    return content if isinstance(content, str) and (style.wrap or "\n" in content) else None


def _height(lines: int) -> str:
    return f' ht="{min(lines * _LINE_POINTS, _MOST_POINTS):g}" customHeight="1"' if lines > 1 else ""


def lines_of(text: str, room: float) -> int:
    r"""Lines that a text takes where a line holds `room` letters.

    >>> lines_of("twenty letters or so", 8.5), lines_of("one\n\nthree", 8.5)
    (3, 3)
    """
    if "\n" not in text:
        return ceil(len(text) / room) or 1
    lengths = [*map(len, text.split("\n"))]
    if max(lengths) <= room:
        return len(lengths)
    return sum([ceil(length / room) or 1 for length in lengths])


class Rows(Struct):
    """Rows in the making."""

    styles: Styles
    epoch_1904: bool
    widths: Sequence[float]
    target: Callable[[str], str]
    last_column: int = 1
    links: list[bytes] = field(default_factory=list)
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

    def table(self, first: int, rows: Sequence[Sequence[object]], styles: Sequence[str]) -> bytes:
        """Markup of the rows of a table, the same as row by row, made a column at a time."""
        numbers, tall = range(first, first + len(rows)), [[1] * len(rows)]
        said, no_row_is_blank, columns = digits(numbers), False, list[Run]()
        for column, (values, named) in enumerate(zip(zip(*rows, strict=True), styles, strict=True), start=1):
            ends = self._column(column, numbers, values, named, tall)
            columns += runs(column_letters(column), said, ends)
            if any(ends):
                self.last_column = max(self.last_column, column)
                no_row_is_blank = no_row_is_blank or all(ends)
        lines = list(map(max, zip(*tall, strict=True)))
        heights = {count: f'"{_height(count)}>'.encode() for count in set(lines)}
        around = repeat(b'<row r="'), said, [heights[count] for count in lines]
        if no_row_is_blank:
            return b"".join(chain.from_iterable(zip(*around, *columns, repeat(b"</row>"), strict=False)))
        rows_made = zip(*around, across(columns), repeat(b"</row>"), strict=False)
        return b"".join(chain.from_iterable(pieces for pieces in rows_made if pieces[3]))

    def _column(
        self,
        column: int,
        numbers: Sequence[int],
        values: Sequence[object],
        named: str,
        tall: list[list[int]],
    ) -> list[bytes]:
        """What follows the addresses of a column; `tall` gets the lines that its texts take."""
        found = kinds(values)
        if found == {Link}:
            links = cast(Sequence[Link | None], values)
            self._note(column, numbers, links)
            values, named, found = [link and link.text for link in links], named or "link", {str}
        style_of = partial(self._index, named)
        if found == {str}:
            texts = cast(Sequence[str | None], values)
            each = distinct(texts)
            high = self._high(each, column, NAMED_STYLES[named])
            if high:
                tall.append(list(map(high.get, texts, repeat(1))))
            return text_ends(texts, each, style_of)
        ends = cell_ends(values, found, style_of, epoch_1904=self.epoch_1904)
        return ends if ends is not None else self._odd_column(column, numbers, values, named, tall)

    def _odd_column(
        self,
        column: int,
        numbers: Sequence[int],
        values: Sequence[object],
        named: str,
        tall: list[list[int]],
    ) -> list[bytes]:
        """The same for a column of different kinds, a cell at a time."""
        ends, lines = [], []
        for number, value in zip(numbers, values, strict=True):
            ready = None if value is None else self._any(value, number, column, named)
            ends.append(b"" if ready is None else f'"{ready[0]}'.encode())
            lines.append(1 if ready is None or ready[2] is None else self._lines(ready[2], column, ready[1]))
        tall.append(lines)
        return ends

    def _high(self, each: Iterable[str], column: int, style: Style) -> dict[str | None, int]:
        """Texts that take more than one line of a column, with the number of their lines."""
        room = self._room(column, style.bold) if style.wrap else inf
        return {text: lines_of(text, room) for text in each if len(text) > room or "\n" in text}

    def _note(self, column: int, numbers: Iterable[int], links: Sequence[Link | None]) -> None:
        """Note where the links of a column lead."""
        there = [(number, link) for number, link in zip(numbers, links, strict=True) if link is not None]
        start = f'<hyperlink ref="{column_letters(column)}'.encode()
        places = digits([number for number, _ in there])
        leads = escape_attributes([self.target(link.target) for _, link in there])
        pieces = zip(repeat(start), places, repeat(b'" location="'), leads, repeat(b'"/>'), strict=False)
        self.links.append(b"".join(chain.from_iterable(pieces)))

    def _index(self, named: str, value: object) -> int:
        """Index of the style of a text, number or date."""
        code = default_code(value)
        return (self.known.get((named, code)) or self._resolve(Styled(value, named), 0, 0)[1:])[1]

    def _any(self, value: object, number: int, column: int, named: str | Style) -> _Ready | None:
        return self._ready(value, named) or self._made(value, number, column, named)

    def _ready(self, value: object, named: str | Style) -> _Ready | None:
        """A text, number or date on a short way, None for anything else; a text in one style is made once."""
        if type(value) is Styled and value.number_format is None:
            named, value = value.style, value.value
        kind = type(value)
        if kind is int or (kind is float and isfinite(cast(float, value))):
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
            link = f'<hyperlink ref="{address(row, column)}" location="{location}"/>'
            self.links.append(link.encode())
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
        return lines_of(text, self.rooms.get((column, style.bold)) or self._room(column, style.bold))

    def _room(self, column: int, bold: bool) -> float:
        """Letters that a line of a column takes."""
        width = self.widths[column - 1] if column <= len(self.widths) else 8.43
        room = self.rooms[column, bold] = max(width * (0.9 if bold else 1.0) - 1, 1)
        return room
