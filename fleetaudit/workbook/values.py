"""Cells of a sheet as Python values, with what the value alone does not tell kept beside them."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from datetime import date, datetime, time, timedelta

from msgspec import Struct, field

from fleetaudit.errors import WorkbookError
from fleetaudit.language import say
from fleetaudit.workbook.archive import Limits
from fleetaudit.workbook.formats import NumberFormat, number_format
from fleetaudit.workbook.markup import unescape, unescape_cell
from fleetaudit.workbook.place import LAST_COLUMN, address, column_number
from fleetaudit.workbook.rows import STRIDE, NotCanonical, Order, Row, SheetPart
from fleetaudit.workbook.texts import rich_text

Value = str | int | float | bool | date | datetime | time | timedelta | None

_GENERAL = number_format("General")
_INTEGER = re.compile(rb"-?[0-9]{1,300}")
# Serial numbers know no time zone, so neither do these.
_DAYS_1900 = datetime(1899, 12, 30)  # noqa: DTZ001  no time zone in a workbook
_DAYS_1900_EARLY = datetime(1899, 12, 31)  # noqa: DTZ001  no time zone in a workbook
_DAYS_1904 = datetime(1904, 1, 1)  # noqa: DTZ001  no time zone in a workbook
_SHIFT_1904 = 1462
_LAST_SERIAL_1900 = 2_958_466  # 31 December 9999
#: kinds of cells that hold the same over and over: numbers, and numbers of shared texts
_REPEATED = (None, b"n", b"s")
_MOST_SEEN = 100_000
_MILLISECONDS = 86_400_000


class Readings(Struct):
    """What the rows of one sheet hold; addresses are (row, column) counted from 1."""

    rows: dict[int, list[Value]] = field(default_factory=dict)
    formats: dict[tuple[int, int], str] = field(default_factory=dict)
    errors: dict[tuple[int, int], str] = field(default_factory=dict)
    unstored: set[tuple[int, int]] = field(default_factory=set)
    hidden_rows: set[int] = field(default_factory=set)
    formulas: int = 0
    n_rows: int = 0
    n_columns: int = 0

    def columns(self) -> list[list[object]]:
        """All values column by column, blank rows included."""
        width = self.n_columns
        blank: list[Value] = [None] * width
        full = []
        for number in range(1, self.n_rows + 1):
            row = self.rows.get(number, blank)
            full.append(row if len(row) == width else row + blank[len(row) :])
        return [list(column) for column in zip(*full, strict=True)] if full else [[] for _ in range(width)]


class Decoder(Struct, frozen=True):
    """All that turning raw cells into values needs to know of the workbook."""

    strings: list[str]
    formats: list[NumberFormat]
    epoch_1904: bool
    limits: Limits
    label: str

    def format_of(self, style: int) -> NumberFormat:
        """Number format of a cell style; an index that does not exist counts as none."""
        return self.formats[style] if style < len(self.formats) else _GENERAL


class Raw(Struct):
    """A filled cell before its meaning is known; `is_plain` tells that markup and entities are undone."""

    style: int
    kind: bytes
    has_formula: bool
    value: bytes | None
    inline: bytes | None
    is_plain: bool = False


def read_rows(part: SheetPart, decoder: Decoder) -> Readings:
    """Values of a sheet: by pattern when all of it fits, else by the parser."""
    if part.canonical:
        try:
            collector = _Collector(decoder)
            readings = collector.collect(part.rows(canonical=True))
        except NotCanonical:
            part.canonical = False
        else:
            if collector.order is not None:
                part.keep(collector.looked_at)
            return readings
    return _Collector(decoder).collect(part.rows(canonical=False))


class _Collector:
    """Takes the rows of one sheet one by one."""

    def __init__(self, decoder: Decoder) -> None:
        self.decoder = decoder
        self.out = Readings()
        self.looked_at: list[Row] = []
        self.order: Order | None = Order()
        self._columns: dict[bytes | None, int] = {}
        self._texts: dict[bytes, str | None] = {}
        self._seen: dict[tuple[bytes | None, bytes | None, bytes | None], tuple[Value, str | None]] = {}

    def collect(self, rows: Iterable[Row]) -> Readings:
        """Read all rows and check them against the limits."""
        out, limits, label = self.out, self.decoder.limits, self.decoder.label
        for row in rows:
            self.looked_at.append(row)
            if row.hidden:
                out.hidden_rows.add(row.number)
            values = self._fast_row(row) if row.parsed is None else self._parsed_row(row)
            if not values:
                continue
            if row.number > limits.rows:
                raise _too_long(label, row.number, limits)
            if row.number in out.rows:
                values = _merged(out.rows[row.number], values)
            out.rows[row.number] = values
            out.n_rows = max(out.n_rows, row.number)
            out.n_columns = max(out.n_columns, len(values))
            if out.n_rows * out.n_columns > limits.cells:
                raise _too_wide(label, row.number, len(values), out, limits)
        return out

    def _fast_row(self, row: Row) -> list[Value]:
        pieces, known, seen = row.pieces(), self._columns, self._seen
        texts, values = self._texts, list[Value]()
        fields = [pieces[start::STRIDE] for start in (1, 3, 4, 5, 6, 7)]
        if self.order is not None:
            self._look(self.order, fields[0])
        for letters, style, kind, formula, value, inline in zip(*fields, strict=True):
            if not value and formula is None and inline is None:
                continue
            column = known.get(letters) or self._column(letters)
            found: Value
            if formula is None and inline is None and kind in _REPEATED:
                told = seen.get((style, kind, value)) or self._see(style, kind, value or b"")
                found, code = told
                if code is not None:
                    self.out.formats[row.number, column] = code
            elif formula is None and inline is not None:
                found = texts[inline] if inline in texts else self._inline(inline)
            else:
                cell = Raw(int(style or 0), kind or b"n", formula is not None, value, inline)
                found = self._value(row.number, column, cell)
            if column > len(values):
                values.extend([None] * (column - len(values) - 1))
                values.append(found)
            else:
                values[column - 1] = found
        return values

    def _look(self, order: Order, letters: list[bytes | None]) -> None:
        """Note where columns stand out of order: that matters to those who add cells, not to a reader."""
        try:
            order.look(letters)
        except NotCanonical:
            self.order = None

    def _column(self, letters: bytes | None) -> int:
        letters = letters or b""
        column = column_number(letters.decode())
        if column > min(LAST_COLUMN, self.decoder.limits.columns):
            raise WorkbookError(
                say(
                    "{label} has a value in column {column}; at most {columns:,} columns are read. "
                    "Delete what stands so far to the right.",
                    label=self.decoder.label,
                    column=letters.decode(),
                    columns=self.decoder.limits.columns,
                )
            )
        self._columns[letters] = column
        return column

    def _see(self, style: bytes | None, kind: bytes | None, value: bytes) -> tuple[Value, str | None]:
        """Value of a cell of text or number, with the format that says more than it; worked out once."""
        if kind == b"s":
            told: tuple[Value, str | None] = self._shared(value), None
        else:
            shown = self.decoder.format_of(int(style or 0))
            found = number(value)
            if shown.shows != "number":
                found = from_serial(found, shown.shows, self.decoder.epoch_1904)
            told = found, None if shown.plain else shown.code
        if len(self._seen) >= _MOST_SEEN:
            self._seen.clear()
        self._seen[style, kind, value] = told
        return told

    def _inline(self, raw: bytes) -> str | None:
        self._texts[raw] = unescape_cell(rich_text(raw)) or None
        return self._texts[raw]

    def _parsed_row(self, row: Row) -> list[Value]:
        values: list[Value] = []
        for cell in row.parsed or []:
            if not cell.filled:
                continue
            value = cell.value.encode() if cell.value is not None else None
            inline = cell.inline.encode() if cell.inline is not None else None
            raw = Raw(cell.style, cell.type.encode(), cell.has_formula, value, inline, is_plain=True)
            found = self._value(row.number, cell.column, raw)
            values.extend([None] * (cell.column - len(values)))
            values[cell.column - 1] = found
        return values

    def _value(self, row: int, column: int, cell: Raw) -> Value:
        """Value of one filled cell."""
        if cell.has_formula:
            self.out.formulas += 1
            if not cell.value and cell.inline is None and cell.kind != b"str":
                self.out.unstored.add((row, column))
                return None
        if cell.kind == b"s":
            return self._shared(cell.value or b"")
        if cell.inline is not None:
            return unescape_cell(cell.inline.decode() if cell.is_plain else rich_text(cell.inline)) or None
        if cell.kind == b"n":
            return self._number(row, column, self.decoder.format_of(cell.style), cell.value or b"")
        text = (cell.value or b"").decode()
        text = text if cell.is_plain else unescape(text)
        if cell.kind == b"e":
            self.out.errors[row, column] = text
            return None
        return _typed(cell.kind, text)

    def _shared(self, value: bytes) -> Value:
        try:
            return self.decoder.strings[int(value)] or None
        except (ValueError, IndexError) as error:
            raise WorkbookError(
                say(
                    "{label} is damaged (a cell refers to text {number}, which does not exist). Open "
                    "and repair it in your spreadsheet program, then save.",
                    label=self.decoder.label,
                    number=value.decode(errors="replace"),
                )
            ) from error

    def _number(self, row: int, column: int, shown: NumberFormat, value: bytes) -> Value:
        if not shown.plain:
            self.out.formats[row, column] = shown.code
            if shown.shows != "number":
                return from_serial(number(value), shown.shows, self.decoder.epoch_1904)
        return number(value)


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
    return _DAYS_1900 if days >= 60 else _DAYS_1900_EARLY


def _from_iso(text: str) -> Value:
    for reader in (date.fromisoformat, datetime.fromisoformat, time.fromisoformat):
        try:
            return reader(text.removesuffix("Z"))
        except ValueError:
            continue
    return text or None


def _merged(old: list[Value], new: list[Value]) -> list[Value]:
    """Cells of a row that occurs twice; the later ones win."""
    longer = old + [None] * (len(new) - len(old))
    return [
        after if after is not None else before for before, after in zip(longer, new, strict=False)
    ] + longer[len(new) :]


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


def _too_wide(label: str, row: int, column: int, out: Readings, limits: Limits) -> WorkbookError:
    return WorkbookError(
        say(
            "{label} has a value in {cell}, which makes it {n_rows:,} rows by "
            "{n_columns:,} columns, more than {cells:,} cells. Delete what stands far from "
            "the units.",
            label=label,
            cell=address(row, column),
            n_rows=out.n_rows,
            n_columns=out.n_columns,
            cells=limits.cells,
        )
    )
