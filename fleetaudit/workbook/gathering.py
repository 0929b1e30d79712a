"""The cells of a sheet brought together from its rows, within the limits.

Rows of the usual spelling are cut at their own number; one that does not fall apart so is taken cell by cell;
a sheet of another spelling is parsed. All ways give the same.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from operator import itemgetter
from typing import Any

from msgspec import Struct

from fleetaudit.errors import WorkbookError
from fleetaudit.language import say
from fleetaudit.workbook.archive import Limits
from fleetaudit.workbook.cells import NOTHING, Cells, Grid
from fleetaudit.workbook.pieces import Pieces, columns_of
from fleetaudit.workbook.place import LAST_COLUMN, address, column_letters, column_number
from fleetaudit.workbook.rows import STRIDE, NotCanonical, Order, Row, SheetPart, rows_between
from fleetaudit.workbook.values import Decoder

#: so many different cells are remembered at a time
_MOST_SEEN = 1 << 14
#: so many orders of filled and missing cells
_MOST_LAYOUTS = 1 << 12


class Readings(Struct):
    """What the rows of one sheet hold."""

    cells: Cells
    hidden_rows: frozenset[int]


def read_rows(part: SheetPart, decoder: Decoder) -> Readings:
    """Values of a sheet: by pattern when all of it fits, else by the parser."""
    if part.canonical:
        try:
            collector = _Collector(decoder)
            readings = collector.by_pattern(part)
        except NotCanonical:
            part.canonical = False
        else:
            part.in_order = collector.in_order
            return readings
    return _Collector(decoder).parsed(part)


class _Collector:
    """Takes the rows of one sheet one by one."""

    def __init__(self, decoder: Decoder) -> None:
        self.decoder = decoder
        self.grid = Grid()
        self.hidden: set[int] = set()
        self.in_order = True
        self._order = Order()
        self._most_rows = 0
        self._seen: dict[tuple[Any, ...], int] = {}
        self._pieces = Pieces(self._place)
        self._pickers: dict[tuple[int, ...], Callable[[tuple[int, ...]], tuple[int, ...]]] = {}

    def by_pattern(self, part: SheetPart) -> Readings:
        """Read all rows, cutting each at its own number where that can be done."""
        rows = part.rows_element
        if rows is None:
            return self._readings()
        data, position, stop, number = part.data, rows.open_end, rows.close, 0
        while (close := data.find(b"</row>", position, stop)) >= 0:
            end = close + len(b"</row>")
            if self._cut(number + 1, data[position:close]):
                number += 1
            else:
                number = self._found(rows_between(data, position, end, number), number)
            position = end
        self._found(rows_between(data, position, stop, number), number)
        return self._readings()

    def parsed(self, part: SheetPart) -> Readings:
        """Read all rows by the parser."""
        for row in part.rows(canonical=False):
            if row.hidden:
                self.hidden.add(row.number)
            places: dict[int, int] = {}
            for cell in row.parsed or []:
                written = (cell.style, cell.type, cell.has_formula, cell.value, cell.inline)
                place = self._remembered(written, self._parsed_place)
                places[cell.column] = place or places.get(cell.column, NOTHING)
            self._add(row.number, places)
        return self._readings()

    def _readings(self) -> Readings:
        return Readings(self.grid.cells(), frozenset(self.hidden))

    def _place(
        self,
        style: bytes | None,
        kind: bytes | None,
        formula: bytes | None,
        value: bytes | None,
        inline: bytes | None,
    ) -> int:
        """Place of what a cell holds that was found by pattern; one that is only styled holds nothing."""
        if not value and formula is None and inline is None:
            return NOTHING
        found = self.decoder.read(int(style or 0), kind or b"n", formula is not None, value or b"", inline)
        return self.grid.hold(found)

    def _parsed_place(
        self, style: int, kind: str, has_formula: bool, value: str | None, inline: str | None
    ) -> int:
        """The same of a cell that was parsed."""
        if not value and not has_formula and inline is None:
            return NOTHING
        text = inline.encode() if inline is not None else None
        raw = style, kind.encode(), has_formula, (value or "").encode(), text
        return self.grid.hold(self.decoder.read(*raw, is_plain=True))

    def _remembered(self, written: tuple[Any, ...], place: Callable[..., int]) -> int:
        """The same for cells that come again."""
        found = self._seen.get(written)
        if found is None:
            if len(self._seen) >= _MOST_SEEN:
                self._seen.clear()
            found = self._seen[written] = place(*written)
        return found

    def _cut(self, number: int, row: bytes) -> bool:
        """Take a row by cutting it at its number; False where that does not tell its cells."""
        try:
            leads, places = zip(*map(self._pieces.__getitem__, row.split(b'%d"' % number)), strict=True)
            picker = self._pickers.get(leads)
            columns = columns_of(leads) if picker is None else ()
        except NotCanonical:
            return False
        if places[1]:
            self.hidden.add(number)
        if picker is None:
            self._add(number, dict(zip(columns, places[2:], strict=True)))
            self._lay_out(leads, columns)
        elif places[-1] or any(places[2:]):
            if number > self._most_rows:
                self._refuse(number, self.grid.width)
            self.grid.add(number, picker((*places, NOTHING)))
        return True

    def _lay_out(self, leads: tuple[int, ...], columns: Sequence[int]) -> None:
        """Remember which piece of a row tells of which column, for the rows cut into like pieces.

        One with cells that are only styled right of all that are filled must not make the sheet wider.
        """
        if columns and columns[-1] <= self.grid.width:
            if len(self._pickers) >= _MOST_LAYOUTS:
                self._pickers.clear()
            piece = {column: place for place, column in enumerate(columns, 2)}
            nothing = len(leads)
            # one more than there are columns, since of a single one it would give no tuple
            wanted = [piece.get(column, nothing) for column in range(1, self.grid.width + 2)]
            self._pickers[leads] = itemgetter(*wanted)

    def _found(self, rows: Iterable[Row], last: int) -> int:
        """Take rows found by pattern; gives the number of the last."""
        tried = last + 1
        for row in rows:
            last = row.number
            if last != tried and self._cut(last, row.data[row.start : row.close]):
                continue
            pieces = row.pieces()
            letters, *fields = (pieces[start::STRIDE] for start in (1, 3, 4, 5, 6, 7))
            self._look(letters)
            places: dict[int, int] = {}
            for name, raw in zip(letters, zip(*fields, strict=True), strict=True):
                column = column_number((name or b"").decode())
                places[column] = self._remembered(raw, self._place) or places.get(column, NOTHING)
            if row.hidden:
                self.hidden.add(last)
            self._add(last, places)
        return last

    def _look(self, letters: list[bytes | None]) -> None:
        """Note where columns stand out of order: that matters to those who add cells, not to a reader."""
        try:
            self._order.look(letters)
        except NotCanonical:
            self.in_order = False

    def _add(self, number: int, places: Mapping[int, int]) -> None:
        """Add the filled cells of a row, within the limits."""
        filled = {column: place for column, place in places.items() if place != NOTHING}
        if not filled:
            return
        last = max(filled)
        if last > self.grid.width or number > self._most_rows:
            self._refuse(number, last)
            self._pickers.clear()
        self.grid.put(number, filled)

    def _refuse(self, number: int, last: int) -> None:
        """Raise where a row makes the sheet larger than the limits; else note how long it may become."""
        limits, label = self.decoder.limits, self.decoder.label
        if last > min(LAST_COLUMN, limits.columns):
            raise _too_far_right(label, last, limits)
        if number > limits.rows:
            raise _too_long(label, number, limits)
        rows, columns = max(number, self.grid.rows), max(last, self.grid.width)
        if rows * columns > limits.cells:
            raise _too_wide(label, address(number, last), rows, columns, limits)
        self._most_rows = min(limits.rows, limits.cells // columns)


def _too_far_right(label: str, column: int, limits: Limits) -> WorkbookError:
    return WorkbookError(
        say(
            "{label} has a value in column {column}; at most {columns:,} columns are read. "
            "Delete what stands so far to the right.",
            label=label,
            column=column_letters(column),
            columns=limits.columns,
        )
    )


def _too_long(label: str, row: int, limits: Limits) -> WorkbookError:
    return WorkbookError(
        say(
            "{label} has a value in row {row:,}; at most {rows:,} rows are read. Delete what "
            "stands below the units, or split the workbook.",
            label=label,
            row=row,
            rows=limits.rows,
        )
    )


def _too_wide(label: str, cell: str, rows: int, columns: int, limits: Limits) -> WorkbookError:
    return WorkbookError(
        say(
            "{label} has a value in {cell}, which makes it {n_rows:,} rows by "
            "{n_columns:,} columns, more than {cells:,} cells. Delete what stands far from "
            "the units.",
            label=label,
            cell=cell,
            n_rows=rows,
            n_columns=columns,
            cells=limits.cells,
        )
    )
