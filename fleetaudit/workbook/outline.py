"""Where the rows of a sheet stand: a few numbers each, of which a row is made when somebody asks for it."""

from __future__ import annotations

import re
from array import array
from collections.abc import Sequence
from itertools import islice
from operator import lt
from typing import overload

from fleetaudit.workbook.place import column_number
from fleetaudit.workbook.rows import ROW_ATTRIBUTES, Row, SheetPart, attributes_of, is_hidden

_ROW = re.compile(rb'<row r="([1-9][0-9]{0,5})"' + ROW_ATTRIBUTES + rb"\s*(/?)>")
_ROW_END = b"</row>"
_REFERENCE = re.compile(rb'<c r="([A-Z]{1,3})')


class Outline(Sequence[Row]):
    """Rows of a sheet in the order of the part, each of which stands at a place, counted from 0.

    `numbers` are those of the rows, `written` the last columns in which they have a cell, filled or only
    styled. Bytes are those of a row: `<` at start, content from opened to close.
    """

    def __init__(self, part: SheetPart) -> None:
        self.data = part.data
        self.numbers, self.written = array("q"), array("q")
        self.starts, self.opened, self.closes = array("q"), array("q"), array("q")
        self._parsed: list[Row] = []
        canonical = part.has_usual_rows()
        if canonical and self._take_usual(part):
            return
        for row in part.rows(canonical=canonical):
            self._add(row.number, row.start, row.open_end, row.close, last_written_column(row))
            if not canonical:
                self._parsed.append(row)

    def __len__(self) -> int:
        return len(self.numbers)

    @overload
    def __getitem__(self, place: int) -> Row: ...

    @overload
    def __getitem__(self, place: slice) -> list[Row]: ...

    def __getitem__(self, place: int | slice) -> Row | list[Row]:
        if isinstance(place, slice):
            return [self[one] for one in range(len(self))[place]]
        if self._parsed:
            return self._parsed[place]
        start, opened, close = self.starts[place], self.opened[place], self.closes[place]
        hidden = is_hidden(attributes_of(self.data[start:opened]))
        end = close if self.is_closed(place) else close + len(_ROW_END)
        return Row(self.numbers[place], hidden, start, opened, close, end, self.data)

    def is_closed(self, place: int) -> bool:
        """Tell `<row/>` from `<row></row>`."""
        return self.data[self.opened[place] - 2 : self.opened[place]] == b"/>"

    @property
    def in_order(self) -> bool:
        """Tell whether every row occurs once and in its place."""
        return all(map(lt, self.numbers, islice(self.numbers, 1, None)))

    def _add(self, number: int, start: int, opened: int, close: int, written: int) -> None:
        self.numbers.append(number)
        self.starts.append(start)
        self.opened.append(opened)
        self.closes.append(close)
        self.written.append(written)

    def _take_usual(self, part: SheetPart) -> bool:
        """Take in rows that tell their numbers and stand close together; False, and none, for others."""
        if part.rows_element is None:
            return True
        data, position, stop = self.data, part.rows_element.open_end, part.rows_element.close
        columns: dict[bytes, int] = {}
        while position < stop:
            row = _ROW.match(data, position, stop)
            opened = close = row.end() if row is not None else stop
            if row is None or (not row[2] and (close := data.find(_ROW_END, opened, stop)) < 0):
                for numbers in (self.numbers, self.starts, self.opened, self.closes, self.written):
                    del numbers[:]
                return False
            cell = _REFERENCE.match(data, max(data.rfind(b"<c ", opened, close), 0))
            letters = cell[1] if cell is not None else b""
            if letters not in columns:
                columns[letters] = column_number(letters.decode())
            self._add(int(row[1]), position, opened, close, columns[letters])
            position = close if row[2] else close + len(_ROW_END)
        return True


def last_written_column(row: Row) -> int:
    """Last column that has a cell in a row, filled or only styled."""
    if row.parsed is None:
        found = _REFERENCE.match(row.data, max(row.data.rfind(b"<c ", row.open_end, row.close), 0))
        if found is not None:
            return column_number(found[1].decode())
    return max((cell.column for cell in row.cells()), default=0)


def last_filled_column(row: Row) -> int:
    """Last column of a row that holds a value or a formula."""
    tail = row.data[max(row.open_end, row.close - 6) : row.end]
    if row.parsed is None and tail.endswith(b"></c></row>") and not tail.startswith(b'"'):
        return last_written_column(row)
    return max((cell.column for cell in row.cells() if cell.filled), default=0)
