"""Edits of one sheet part: cells into rows, extents, column widths, conditional formats."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Collection, Iterable, Iterator, Mapping
from functools import cached_property

from fleetaudit.workbook.markup import (
    Edit,
    Element,
    append_child,
    prefixed,
    set_attributes,
    whole,
    with_attribute,
    without_attribute,
)
from fleetaudit.workbook.outline import Outline, last_filled_column, last_written_column
from fleetaudit.workbook.place import Range, column_number, parse_range
from fleetaudit.workbook.rows import Cell, Row, SheetPart

_TAG_NAME = re.compile(rb"<([^\s/>]+)")
_SPANS = re.compile(rb"\sspans\s*=\s*[\"'](\d{1,9}):(\d{1,9})[\"']")
_AFTER_RULES = {
    "dataValidations", "hyperlinks", "printOptions", "pageMargins", "pageSetup", "headerFooter", "rowBreaks",
    "colBreaks", "customProperties", "cellWatches", "ignoredErrors", "smartTags", "drawing", "drawingHF",
    "legacyDrawing", "legacyDrawingHF", "picture", "oleObjects", "controls", "webPublishItems", "tableParts",
    "extLst",
}  # fmt: skip
_BEFORE_RULES = {
    "sheetData", "sheetCalcPr", "sheetProtection", "protectedRanges", "scenarios", "autoFilter", "sortState",
    "dataConsolidate", "customSheetViews", "mergeCells", "phoneticPr", "conditionalFormatting",
}  # fmt: skip

_BEHIND_LETTERS = b'0123456789"'

NewCells = Mapping[int, Mapping[int, bytes]]


class SheetEdit:
    """Collects edits of one sheet; the bytes between them are never touched."""

    def __init__(self, part: SheetPart) -> None:
        self.part = part
        self.data = part.data
        self.root = part.root
        self.prefix = part.root.prefix
        self.rows = Outline(part)
        self.numbers = self.rows.numbers
        self.edits: list[Edit] = []
        #: edits in the order of the part that are made when they are asked for
        self.appended: Iterable[Edit] = ()

    @property
    def in_order(self) -> bool:
        """Tell whether every row occurs once and in its place, as inserting cells needs."""
        return self.rows.in_order

    def row(self, number: int) -> Row | None:
        """Row element of a row number."""
        index = bisect_left(self.numbers, number)
        return self.rows[index] if index < len(self.rows) and self.numbers[index] == number else None

    def last_filled(self, first: int, last: int) -> int:
        """Last column in which any of these rows holds something."""
        found = 0
        for place in range(bisect_left(self.numbers, first), bisect_left(self.numbers, last + 1)):
            if self.rows.written[place] > found:
                found = max(found, last_filled_column(self.rows[place]))
        return found

    @cached_property
    def _places(self) -> dict[int, int]:
        """Place of each row number among the rows."""
        return {number: place for place, number in enumerate(self.numbers)}

    def write(self, cells: NewCells, clear: Mapping[int, Collection[int]]) -> None:
        """Put cells into rows, in place of what stands in the same columns; `clear` only takes away."""
        for number in sorted({*cells, *clear}):
            new, row = dict(cells.get(number, {})), self.row(number)
            for column in clear.get(number, ()):
                new.setdefault(column, b"")
            if row is not None and new:
                self._write_row(row, new)
            elif any(new.values()):
                self._insert_row(number, new)

    def is_free(self, number: int, column: int) -> bool:
        """Tell whether cells may simply be put behind those of a row, from this column on."""
        place = self._places.get(number)
        return place is not None and self.rows.written[place] < column and not self.rows.is_closed(place)

    def append(self, numbers: Iterable[int], bodies: Iterable[bytes]) -> None:
        """Put cells behind all that stands in rows that are free there, given from first to last."""
        self.appended = self._appended([self._places[number] for number in numbers], bodies)

    def _appended(self, places: Iterable[int], bodies: Iterable[bytes]) -> Iterator[Edit]:
        parent = self.part.rows_element
        assert parent is not None
        data, rows = self.data, self.rows
        has_spans = data.find(b"spans", parent.open_end, parent.close) >= 0
        start = f'<{self.prefix}c r="'.encode()
        for place, body in zip(places, bodies, strict=True):
            close = rows.closes[place]
            if not body:
                continue
            spans = _SPANS.search(data, rows.starts[place], rows.opened[place]) if has_spans else None
            if spans is not None:
                letters = body.rfind(start) + len(start)
                last = column_number(body[letters : letters + 3].rstrip(_BEHIND_LETTERS).decode())
                if int(spans[2]) < last:
                    kept = data[spans.end(2) : close]
                    yield Edit(spans.start(2), close, b"%d%b%b" % (last, kept, body))
                    continue
            yield Edit(close, close, body)

    def _write_row(self, row: Row, new: dict[int, bytes]) -> None:
        columns = [column for column, markup in new.items() if markup]
        tag = self._spanned(row, max(columns, default=0))
        if row.self_closed:
            if columns:
                name = _TAG_NAME.match(tag)
                assert name is not None
                body = b"".join(new[column] for column in sorted(columns))
                opened = tag[:-2].rstrip() + b">"
                self.edits.append(Edit(row.start, row.end, opened + body + b"</" + name[1] + b">"))
            return
        if tag != self.data[row.start : row.open_end]:
            self.edits.append(Edit(row.start, row.open_end, tag))
        if min(new) > last_written_column(row):
            body = b"".join(new[column] for column in sorted(columns))
            self.edits.append(Edit(row.close, row.close, body))
        else:
            self._merge_cells(row, new)

    def _merge_cells(self, row: Row, new: dict[int, bytes]) -> None:
        old = sorted(row.cells(), key=lambda cell: cell.column)
        for column in sorted(new):
            markup = new[column]
            same = next((cell for cell in old if cell.column == column), None)
            if same is not None:
                if self.data[same.start : same.end] != markup:
                    self.edits.append(Edit(same.start, same.end, markup))
            elif markup:
                position = next((cell.start for cell in old if cell.column > column), row.close)
                self.edits.append(Edit(position, position, markup))

    def _insert_row(self, number: int, new: dict[int, bytes]) -> None:
        body = b"".join(new[column] for column in sorted(new))
        opened, closed = f'<{self.prefix}row r="{number}">', f"</{self.prefix}row>"
        markup = opened.encode() + body + closed.encode()
        index = bisect_left(self.numbers, number)
        if index < len(self.rows):
            position = self.rows[index].start
        else:
            parent = self.part.rows_element
            assert parent is not None
            position = parent.close
        self.edits.append(Edit(position, position, markup))

    def _spanned(self, row: Row, last: int) -> bytes:
        tag = self.data[row.start : row.open_end]
        spans = _SPANS.search(tag)
        if spans is None or int(spans[2]) >= last:
            return tag
        return tag[: spans.start(2)] + b"%d" % last + tag[spans.end(2) :]

    def extend_dimension(self, last_row: int, last_column: int) -> None:
        """Let the claimed extent hold our cells; one that is absent or unreadable stays so."""
        element = self.root.find("dimension")
        cells = parse_range(element.attributes.get("ref", "")) if element is not None else None
        if element is None or cells is None:
            return
        wider = Range(
            cells.first_row,
            cells.first_column,
            max(cells.last_row, last_row),
            max(cells.last_column, last_column),
        )
        if wider != cells:
            self.edits.append(set_attributes(self.data, element, ref=str(wider)))

    def set_widths(self, widths: Mapping[int, float]) -> None:
        """Give columns a width and make them visible; a span of columns that holds one is split."""
        if not widths:
            return
        parent = self.root.find("cols")
        if parent is None:
            markup = prefixed(
                f"<cols>{''.join(_col(c, widths[c]) for c in sorted(widths))}</cols>", self.prefix
            )
            rows = self.part.rows_element
            assert rows is not None
            self.edits.append(Edit(rows.start, rows.start, markup))
            return
        left = dict(widths)
        for element in parent.all("col"):
            self._split_span(element, left)
        spans = [
            element for element in parent.all("col") if whole(element.attributes.get("min", "")) is not None
        ]
        for column in sorted(left):
            markup = prefixed(_col(column, left[column]), self.prefix)
            after = next((e for e in spans if int(e.attributes["min"]) > column), None)
            if after is not None:
                self.edits.append(Edit(after.start, after.start, markup))
            elif not parent.self_closed:
                self.edits.append(Edit(parent.close, parent.close, markup))
        if parent.self_closed:
            inside = prefixed("".join(_col(c, left[c]) for c in sorted(left)), self.prefix)
            self.edits += append_child(self.data, parent, inside)

    def _split_span(self, element: Element, left: dict[int, float]) -> None:
        """Cut our columns out of one span of columns, keeping all else the span says."""
        first, last = (whole(element.attributes.get(name, "")) for name in ("min", "max"))
        if first is None or last is None:
            return
        inside = sorted(column for column in left if first <= column <= last)
        if not inside:
            return
        tag, end = self.data[element.start : element.open_end], self.data[element.open_end : element.end]
        pieces, position = [], first
        for column in inside:
            if column > position:
                pieces.append(_bounded(tag, position, column - 1) + end)
            own = _bounded(tag, column, column)
            for name in ("hidden", "bestFit", "outlineLevel", "collapsed"):
                own = without_attribute(own, name)
            own = with_attribute(with_attribute(own, "width", f"{left.pop(column):g}"), "customWidth", "1")
            pieces.append(own + end)
            position = column + 1
        if position <= last:
            pieces.append(_bounded(tag, position, last) + end)
        self.edits.append(Edit(element.start, element.end, b"".join(pieces)))

    def remove_rules(self, columns: Collection[int], words: Collection[str]) -> int:
        """Take away our own conditional formats; give the highest priority among those that stay."""
        highest = 0
        for element in self.root.walk():
            if element.name == "cfRule" or element.tag.endswith(":cfRule"):
                priority = element.attributes.get("priority", "")
                highest = max(highest, whole(priority) or 0)
        ours = [
            element for element in self.root.all("conditionalFormatting") if _is_ours(element, columns, words)
        ]
        if not ours:
            return highest
        self.edits += [Edit(element.start, element.end, b"") for element in ours]
        gone = {id(rule) for element in ours for rule in element.walk()}
        kept = [e for e in self.root.walk() if e.tag.split(":")[-1] == "cfRule" and id(e) not in gone]
        priorities = [e.attributes.get("priority", "") for e in kept]
        return max((whole(text) or 0 for text in priorities), default=0)

    def add_rules(self, markup: str, columns: Collection[int], words: Collection[str]) -> None:
        """Insert conditional formats where the schema wants them, after the user's own."""
        position = -1
        for child in self.root.children:
            if child.name == "conditionalFormatting" and _is_ours(child, columns, words):
                continue
            if child.name in _BEFORE_RULES:
                position = child.end
            elif child.name in _AFTER_RULES and position >= 0:
                break
        self.edits.append(Edit(position, position, prefixed(markup, self.prefix)))


def _is_ours(element: Element, columns: Collection[int], words: Collection[str]) -> bool:
    """Tell a conditional format of ours: whole in our columns, each rule equal to one of our words."""
    ranges = [parse_range(piece) for piece in element.attributes.get("sqref", "").split()]
    if not ranges or not all(
        r is not None and all(column in columns for column in range(r.first_column, r.last_column + 1))
        for r in ranges
    ):
        return False
    for rule in element.children:
        formula = rule.find("formula")
        text = formula.text.strip() if formula is not None else ""
        if rule.attributes.get("type") != "cellIs" or text not in words:
            return False
    return bool(element.children)


def _bounded(tag: bytes, first: int, last: int) -> bytes:
    return with_attribute(with_attribute(tag, "min", str(first)), "max", str(last))


def _col(column: int, width: float) -> str:
    return f'<col min="{column}" max="{column}" width="{width:g}" customWidth="1"/>'


def cell_at(row: Row | None, column: int) -> Cell | None:
    """Cell of a row in a column."""
    return next((cell for cell in row.cells() if cell.column == column), None) if row is not None else None
