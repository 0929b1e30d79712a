"""Cells of a sheet as Python values, with what the value alone does not tell kept beside them."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date, datetime, time, timedelta
from operator import itemgetter

from msgspec import Struct

from fleetaudit.errors import WorkbookError
from fleetaudit.language import say
from fleetaudit.workbook.archive import Limits
from fleetaudit.workbook.cells import NOTHING, Cells, Grid, Held, Special, Value
from fleetaudit.workbook.formats import NumberFormat, number_format
from fleetaudit.workbook.markup import unescape, unescape_cell
from fleetaudit.workbook.pieces import Pieces, Raw, columns_of, raw_cell
from fleetaudit.workbook.place import LAST_COLUMN, address, column_letters, column_number
from fleetaudit.workbook.rows import STRIDE, NotCanonical, Order, Row, SheetPart, rows_between
from fleetaudit.workbook.texts import rich_text

_GENERAL = number_format("General")
_INTEGER = re.compile(rb"-?[0-9]{1,300}")
# Serial numbers know no time zone, so neither do these.
_DAYS_1900 = datetime(1899, 12, 30)  # noqa: DTZ001  no time zone in a workbook
_DAYS_1900_EARLY = datetime(1899, 12, 31)  # noqa: DTZ001  no time zone in a workbook
_DAYS_1904 = datetime(1904, 1, 1)  # noqa: DTZ001  no time zone in a workbook
_SHIFT_1904 = 1462
_LEAP_DAY_1900 = 60
_LAST_SERIAL_1900 = 2_958_466  # 31 December 9999
#: so many different cells are remembered at a time
_MOST_SEEN = 1 << 14
#: so many orders of filled and missing cells
_MOST_LAYOUTS = 1 << 12
_MILLISECONDS = 86_400_000


class Readings(Struct):
    """What the rows of one sheet hold."""

    cells: Cells
    hidden_rows: frozenset[int]


class Decoder(Struct, frozen=True):
    """All that turning raw cells into values needs to know of the workbook."""

    strings: list[str]
    formats: list[NumberFormat]
    epoch_1904: bool
    limits: Limits
    label: str

    def read(self, cell: Raw) -> Held:
        """What a filled cell holds."""
        if cell.has_formula and not cell.value and cell.inline is None and cell.kind != b"str":
            return Special(None, unstored=True)
        if cell.kind == b"s":
            return self._shared(cell.value or b"")
        if cell.inline is not None:
            return unescape_cell(cell.inline.decode() if cell.is_plain else rich_text(cell.inline)) or None
        if cell.kind == b"n":
            return self._number(cell.style, cell.value or b"")
        text = (cell.value or b"").decode()
        text = text if cell.is_plain else unescape(text)
        return Special(None, error=text) if cell.kind == b"e" else _typed(cell.kind, text)

    def _shared(self, value: bytes) -> Value:
        try:
            return self.strings[int(value)] or None
        except (ValueError, IndexError) as error:
            raise WorkbookError(
                say(
                    "{label} is damaged (a cell refers to text {number}, which does not exist). Open "
                    "and repair it in your spreadsheet program, then save.",
                    label=self.label,
                    number=value.decode(errors="replace"),
                )
            ) from error

    def _number(self, style: int, value: bytes) -> Held:
        """Number, date or time; an index of a style that does not exist counts as none."""
        shown = self.formats[style] if style < len(self.formats) else _GENERAL
        found = number(value)
        if shown.plain:
            return found
        if shown.shows != "number":
            found = from_serial(found, shown.shows, self.epoch_1904)
        return Special(found, shown.code)


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
        self.decoder, self.limits = decoder, decoder.limits
        self.grid = Grid()
        self.hidden: set[int] = set()
        self.in_order = True
        self._order = Order()
        self._most_rows = 0
        self._seen: dict[Raw, int] = {}
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
                value = cell.value.encode() if cell.value is not None else None
                inline = cell.inline.encode() if cell.inline is not None else None
                raw = Raw(cell.style, cell.type.encode(), cell.has_formula, value, inline, is_plain=True)
                places[cell.column] = self._known_place(raw) or places.get(cell.column, NOTHING)
            self._add(row.number, places)
        return self._readings()

    def _readings(self) -> Readings:
        return Readings(self.grid.cells(), frozenset(self.hidden))

    def _place(self, cell: Raw) -> int:
        """Place of what a cell holds."""
        return self.grid.hold(self.decoder.read(cell)) if cell.filled else NOTHING

    def _known_place(self, cell: Raw) -> int:
        """The same, for cells that come again."""
        place = self._seen.get(cell)
        if place is None:
            if len(self._seen) >= _MOST_SEEN:
                self._seen.clear()
            place = self._seen[cell] = self._place(cell)
        return place

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
            for name, *raw in zip(letters, *fields, strict=True):
                column = column_number((name or b"").decode())
                places[column] = self._known_place(raw_cell(*raw)) or places.get(column, NOTHING)
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
        limits, label = self.limits, self.decoder.label
        if last > min(LAST_COLUMN, limits.columns):
            raise _too_far_right(label, last, limits)
        if number > limits.rows:
            raise _too_long(label, number, limits)
        rows, columns = max(number, self.grid.rows), max(last, self.grid.width)
        if rows * columns > limits.cells:
            raise _too_wide(label, address(number, last), rows, columns, limits)
        self._most_rows = min(limits.rows, limits.cells // columns)


def _typed(kind: bytes, text: str) -> Value:
    if kind == b"b":
        return text.strip() in ("1", "true")
    return _from_iso(text) if kind == b"d" else unescape_cell(text) or None


def number(text: bytes) -> Value:
    """Number as written in the file: whole ones as int; what is no number stays text."""
    if (text.isdigit() and len(text) < 300) or _INTEGER.fullmatch(text):
        return int(text)
    try:
        found = float(text)
    except ValueError:
        return text.decode().strip() or None
    return found if math.isfinite(found) and b"_" not in text else text.decode()


def from_serial(serial: Value, shows: str, epoch_1904: bool) -> Value:
    """Date, time or duration behind a serial number; one outside the calendar stays a number.

    >>> from_serial(44291, "date", False), from_serial(42829, "date", True)
    (datetime.date(2021, 4, 5), datetime.date(2021, 4, 5))
    """
    if not isinstance(serial, int | float) or isinstance(serial, bool):
        return serial
    if not 0 <= serial < _LAST_SERIAL_1900 - (_SHIFT_1904 if epoch_1904 else 0):
        return serial
    if isinstance(serial, int) and shows == "date" and serial >= _LEAP_DAY_1900:
        return date.fromordinal(_first_day(serial, epoch_1904).toordinal() + serial)
    days, part = divmod(round(serial * _MILLISECONDS), _MILLISECONDS)
    clock = timedelta(milliseconds=part)
    if shows == "duration":
        return timedelta(days=days) + clock
    moment = _first_day(days, epoch_1904) + timedelta(days=days) + clock
    if days == 0 and (shows == "time" or not epoch_1904):
        return moment.time()
    return moment if part or shows == "time" else moment.date()


def _first_day(days: int, epoch_1904: bool) -> datetime:
    """Day zero of the serial numbers; the 1900 system counts a 29 February 1900 that never was."""
    if epoch_1904:
        return _DAYS_1904
    return _DAYS_1900 if days >= _LEAP_DAY_1900 else _DAYS_1900_EARLY


def _from_iso(text: str) -> Value:
    for reader in (date.fromisoformat, datetime.fromisoformat, time.fromisoformat):
        try:
            return reader(text.removesuffix("Z"))
        except ValueError:
            continue
    return text or None


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
