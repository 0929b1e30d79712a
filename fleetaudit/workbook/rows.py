"""Rows and cells of a sheet part: a fast way for the usual spelling, a parser for every other.

Both ways give the same rows. The fast one checks that its patterns cover every byte between the first and
the last row and gives up (NotCanonical) where they do not.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from itertools import pairwise

from msgspec import Struct

from fleetaudit.workbook.markup import (
    Element,
    NotWellFormed,
    TreeBuilder,
    feed,
    split_name,
    tag_end,
    unescape,
    whole,
)
from fleetaudit.workbook.place import LAST_COLUMN, LAST_ROW, column_number
from fleetaudit.workbook.texts import rich_text

_TRUE = {b"1", b"true", b"on"}
_CHUNK = 1 << 16

# the atomic group is spelled as one: Python before 3.11.5 takes repeated `*+` of alternatives wrongly
#: a cell behind the number of its row: style, type, formula, value and inline text
REST_OF_CELL = (
    rb'(?: s="([0-9]{1,9})")?(?: t="([a-zA-Z]+)")?(?: (?:cm|vm|ph)="[^"<]*")*'
    rb"(?:/>|>(<f(?:\s[^<>]*)?(?:/>|>[^<]*</f>))?"
    rb'(?:<v(?: xml:space="preserve")?>([^<]*)</v>|<v/>|<is>((?>[^<]*(?:<(?!/is>)[^<]*)*))</is>)?</c>)'
)
#: attributes of a row
ROW_ATTRIBUTES = rb'(?:\s+[A-Za-z0-9:]+="[^"<]*")*'
_ROW = re.compile(rb"<row(" + ROW_ATTRIBUTES + rb")\s*(/?)>")
_ATTRIBUTE = re.compile(rb'\s([A-Za-z0-9:]+)="([^"<]*)"')
_CELL = re.compile(rb'<c r="([A-Z]{1,3})([1-9][0-9]{0,6})"' + REST_OF_CELL)
STRIDE = _CELL.groups + 1


#: what must not stand among the rows for patterns to be tried: comments, instructions, rows within rows
_NOT_USUAL = (b"<!", b"<?", b"sheetData>")


class NotCanonical(Exception):
    """The part is spelled in a way the patterns do not know; the parser must read it."""


class Cell(Struct, frozen=True, gc=False):
    """One cell as written: its texts without markup and entities, not yet turned into values."""

    column: int
    style: int
    type: str
    has_formula: bool
    value: str | None
    inline: str | None
    start: int
    end: int

    @property
    def filled(self) -> bool:
        """Tell whether the cell holds anything; a cell that is only styled does not."""
        return self.has_formula or bool(self.value) or self.inline is not None


class Row(Struct, gc=False):
    """One row element: `<` at start, content from open_end to close, over at end."""

    number: int
    hidden: bool
    start: int
    open_end: int
    close: int
    end: int
    data: bytes
    parsed: list[Cell] | None = None

    @property
    def self_closed(self) -> bool:
        """Tell `<row/>` from `<row></row>`."""
        return self.close == self.end

    @property
    def content(self) -> bytes:
        """Bytes of all the row's cells."""
        return self.data[self.open_end : self.close]

    def pieces(self) -> list[bytes | None]:
        """Columns, rows, styles, types, formulas, values and inline texts of the cells, interleaved.

        Only for rows found by pattern: piece 0 of every stride is what stands between two cells.
        """
        pieces: list[bytes | None] = _CELL.split(self.content)
        gaps = pieces[0::STRIDE]
        if any(gaps) and any(gap and not gap.isspace() for gap in gaps):
            raise NotCanonical
        rows = pieces[2::STRIDE]
        if rows.count(b"%d" % self.number) != len(rows):
            raise NotCanonical
        return pieces

    def cells(self) -> list[Cell]:
        """Cells with the bytes they cover."""
        if self.parsed is not None:
            return self.parsed
        self.pieces()
        return [_cell_of(match, self.open_end) for match in _CELL.finditer(self.content)]


def _cell_of(match: re.Match[bytes], offset: int) -> Cell:
    letters, _, style, kind, formula, value, inline = match.groups()
    return Cell(
        column=column_number(letters.decode()),
        style=int(style or 0),
        type=(kind or b"n").decode(),
        has_formula=formula is not None,
        value=None if value is None else unescape(value.decode()),
        inline=None if inline is None else rich_text(inline),
        start=match.start() + offset,
        end=match.end() + offset,
    )


class SheetPart:
    """A sheet part: the elements around the rows as a tree, the rows one by one.

    It is `in_order` once every cell has been found by pattern, left to right in its row.
    """

    def __init__(self, data: bytes) -> None:
        self.data = data
        self.root, self.rows_element, self.canonical = _skeleton(data)
        self.in_order = False

    def rows(self, *, canonical: bool) -> Iterator[Row]:
        """All row elements in the order of the part."""
        rows = self.rows_element
        if rows is None:
            return iter(())
        return rows_between(self.data, rows.open_end, rows.close) if canonical else _parsed_rows(self.data)

    def has_usual_rows(self) -> bool:
        """Tell whether every cell is found by pattern, left to right in its row, and no parser is needed."""
        if self.canonical and not self.in_order:
            try:
                order = Order()
                for row in self.rows(canonical=True):
                    order.look(row.pieces()[1::STRIDE])
            except NotCanonical:
                self.canonical = False
            else:
                self.in_order = True
        return self.canonical


class Order:
    """Looks at the order of the columns in rows found by pattern."""

    def __init__(self) -> None:
        self._seen: set[tuple[bytes | None, ...]] = set()

    def look(self, letters: list[bytes | None]) -> None:
        """Raise NotCanonical where the cells of a row do not stand from left to right."""
        known = tuple(letters)
        if known in self._seen:
            return
        columns = [column_number(piece.decode()) for piece in letters if piece is not None]
        if any(before >= after for before, after in pairwise(columns)):
            raise NotCanonical
        self._seen.add(known)


def _skeleton(data: bytes) -> tuple[Element, Element | None, bool]:
    """Tree of a sheet without its rows, the sheetData element, and whether patterns may be tried."""
    opened, closed = data.find(b"<sheetData>"), data.rfind(b"</sheetData>")
    inside = opened + len(b"<sheetData>")
    if 0 <= opened < closed and not any(_holds(data, mark, inside, closed) for mark in _NOT_USUAL):
        try:
            root = TreeBuilder(data[:inside] + data[closed:]).run()
        except NotWellFormed:
            root = None
        rows = root.find("sheetData") if root is not None else None
        if root is not None and rows is not None and rows.start == opened and not rows.children:
            _shift(root, inside, closed - inside)
            return root, rows, True
    root = _SkeletonBuilder(data).run()
    return root, root.find("sheetData"), False


def _holds(data: bytes, mark: bytes, start: int, stop: int) -> bool:
    """Tell whether a mark stands there; its last byte alone is found, or missed, much quicker."""
    return data.find(mark[-1:], start, stop) >= 0 and data.find(mark, start, stop) >= 0


def _shift(root: Element, beyond: int, by: int) -> None:
    """Move offsets that lie at or after a point; start tags that end there stay."""
    for element in root.walk():
        if element.start >= beyond:
            element.start += by
            element.open_end += by
        element.close += by if element.close >= beyond else 0
        element.end += by if element.end >= beyond else 0


class _SkeletonBuilder(TreeBuilder):
    """Tree of everything but the content of sheetData."""

    def __init__(self, data: bytes) -> None:
        super().__init__(data)
        self._depth = 0

    def open_element(self, qualified: str, attributes: dict[str, str]) -> None:
        inside = len(self.stack) == 2 and self.stack[1].name == "sheetData"
        if inside or self._depth:
            self._depth += 1
            self.row_event(qualified, attributes)
        else:
            super().open_element(qualified, attributes)

    def close_element(self, qualified: str) -> None:
        if self._depth:
            self.row_end(qualified)
            self._depth -= 1
        else:
            super().close_element(qualified)

    def characters(self, text: str) -> None:
        if not self._depth:
            super().characters(text)

    def row_event(self, qualified: str, attributes: dict[str, str]) -> None:
        """Something inside sheetData starts."""

    def row_end(self, qualified: str) -> None:
        """Something inside sheetData ends."""


def rows_between(data: bytes, position: int, stop: int, last: int = 0) -> Iterator[Row]:
    """Row elements by pattern from one byte to another; `last` is the number of the row before them."""
    while True:
        match = _ROW.search(data, position, stop)
        if match is None:
            if data[position:stop].strip():
                raise NotCanonical
            return
        if match.start() != position and data[position : match.start()].strip():
            raise NotCanonical
        attributes = attributes_of(match[1])
        last = _row_number(attributes.get(b"r", b"").decode(), last)
        close = end = match.end()
        if not match[2]:
            close = data.find(b"</row>", end, stop)
            if close < 0:
                raise NotCanonical
            end = close + len(b"</row>")
        yield Row(last, is_hidden(attributes), match.start(), match.end(), close, end, data)
        position = end


def attributes_of(text: bytes) -> dict[bytes, bytes]:
    """Attributes of a row found by pattern."""
    return dict(_ATTRIBUTE.findall(text))


def is_hidden(attributes: Mapping[bytes, bytes]) -> bool:
    """Tell whether the attributes of a row hide it."""
    return attributes.get(b"hidden") in _TRUE or attributes.get(b"ht") == b"0"


def _row_number(text: str, last: int) -> int:
    told = whole(text)
    number = last + 1 if told is None else told
    if not 1 <= number <= LAST_ROW:
        raise NotWellFormed(f"it has a row {number}, past the last one a sheet can have")
    return number


class _RowsBuilder(_SkeletonBuilder):
    """Collects rows with all their cells while the parser runs."""

    def __init__(self, data: bytes) -> None:
        super().__init__(data)
        self.done: list[Row] = []
        self._last_row = 0
        self._row: Row | None = None
        self._cell: _OpenCell | None = None
        self._names: list[str] = []

    def row_event(self, qualified: str, attributes: dict[str, str]) -> None:
        local = split_name(qualified)[1]
        self._names.append(local)
        start = self.parser.CurrentByteIndex
        if len(self._names) == 1 and local == "row":
            self._open_row(attributes, start)
        elif len(self._names) == 2 and local == "c" and self._row is not None:
            self._open_cell(attributes, start)
        elif self._cell is not None:
            self._cell.opened(self._names[2:])

    def row_end(self, qualified: str) -> None:
        depth, at = len(self._names), self.parser.CurrentByteIndex
        if depth == 1 and self._row is not None:
            row, self._row = self._row, None
            closed = self.data[row.open_end - 2 : row.open_end] == b"/>"
            row.close = row.open_end if closed else at
            row.end = row.open_end if closed else self.data.index(b">", at) + 1
            self.done.append(row)
        elif depth == 2 and self._cell is not None and self._row is not None:
            cell, self._cell = self._cell, None
            closed = self.data[cell.open_end - 2 : cell.open_end] == b"/>"
            end = cell.open_end if closed else self.data.index(b">", at) + 1
            assert self._row.parsed is not None
            self._row.parsed.append(cell.finished(end))
        self._names.pop()

    def characters(self, text: str) -> None:
        if self._cell is not None:
            self._cell.characters(self._names[2:], text)
        else:
            super().characters(text)

    def _open_row(self, attributes: dict[str, str], start: int) -> None:
        self._last_row = _row_number(attributes.get("r", ""), self._last_row)
        hidden = attributes.get("hidden", "").encode() in _TRUE or attributes.get("ht") == "0"
        open_end = tag_end(self.data, start)
        self._row = Row(self._last_row, hidden, start, open_end, -1, -1, self.data, [])

    def _open_cell(self, attributes: dict[str, str], start: int) -> None:
        assert self._row is not None
        parsed = self._row.parsed or []
        reference = attributes.get("r", "")
        letters = reference.rstrip("0123456789")
        column = column_number(letters) if letters else (parsed[-1].column if parsed else 0) + 1
        row = reference[len(letters) :] or str(self._row.number)
        if not 1 <= column <= LAST_COLUMN or (letters and not letters.isalpha()):
            raise NotWellFormed(f"it has a cell {reference or column}, past the last column a sheet can have")
        if whole(row) != self._row.number:
            raise NotWellFormed(f"cell {reference} stands in row {self._row.number}")
        style = attributes.get("s", "0")
        self._cell = _OpenCell(
            column,
            whole(style) or 0,
            attributes.get("t", "n"),
            start,
            tag_end(self.data, start),
        )


class _OpenCell(Struct):
    """A cell whose end has not been seen yet."""

    column: int
    style: int
    kind: str
    start: int
    open_end: int
    has_formula: bool = False
    value: list[str] | None = None
    inline: list[str] | None = None

    def opened(self, path: list[str]) -> None:
        """Note that an element inside the cell starts."""
        if path == ["f"]:
            self.has_formula = True
        elif path == ["v"]:
            self.value = []
        elif path == ["is"]:
            self.inline = []

    def characters(self, path: list[str], text: str) -> None:
        """Collect text of the value or of the inline string; phonetic hints are no part of it."""
        if path == ["v"] and self.value is not None:
            self.value.append(text)
        elif path and path[0] == "is" and path[-1] == "t" and "rPh" not in path and self.inline is not None:
            self.inline.append(text)

    def finished(self, end: int) -> Cell:
        """Give the cell now that its end is known."""
        value = "".join(self.value) if self.value is not None else None
        inline = "".join(self.inline) if self.inline is not None else None
        return Cell(self.column, self.style, self.kind, self.has_formula, value, inline, self.start, end)


def _parsed_rows(data: bytes) -> Iterator[Row]:
    """Rows by the parser, handed on as soon as they are complete."""
    builder = _RowsBuilder(data)
    for position in range(0, len(data), _CHUNK):
        feed(builder.parser, data[position : position + _CHUNK], position + _CHUNK >= len(data))
        ready, builder.done = builder.done, []
        yield from ready
