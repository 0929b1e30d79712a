"""Kinds of files that are read but never annotated: text tables, binary and open-document workbooks."""

from __future__ import annotations

import csv
import io
import re
import struct
from collections import Counter
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any
from xml.parsers import expat

from fleetaudit.errors import WorkbookError
from fleetaudit.workbook.archive import Limits, Package
from fleetaudit.workbook.book import SheetData, SheetInfo, Workbook
from fleetaudit.workbook.container import Kind
from fleetaudit.workbook.markup import NotWellFormed, feed, make_parser, split_name
from fleetaudit.workbook.place import Range, address, quoted
from fleetaudit.workbook.structure import read_relations

_DELIMITERS = ",;\t|"
_LOOKED_AT = 50
_DURATION = re.compile(r"PT(\d+)H(\d+)M(\d+(?:\.\d+)?)S")


class TextWorkbook(Workbook):
    """A text table as a workbook of one sheet, named after the file; all its values are text."""

    def __init__(self, path: Path, data: bytes, limits: Limits) -> None:
        super().__init__(path, Kind.CSV, data, limits)
        self.sheets = (SheetInfo(path.stem),)
        self._text = decode(data)

    def _read_sheet(self, name: str) -> SheetData:
        rows: list[list[object]] = []
        width = 0
        try:
            for fields in _records(self._text, delimiter(self._text)):
                rows.append([field if field.strip() else None for field in fields])
                width = max(width, len(fields))
                if len(rows) > self.limits.rows or len(rows) * width > self.limits.cells:
                    raise WorkbookError(
                        f"{self.path.name} is longer than {self.limits.rows:,} rows or "
                        f"{self.limits.cells:,} cells. Split it."
                    )
        except csv.Error as error:
            raise WorkbookError(
                f"{self.path.name} cannot be read as a table of text ({error}). Save it as .xlsx."
            ) from error
        return rectangle(name, rows)


def decode(data: bytes) -> str:
    """Text of a table: by its byte order mark, else UTF-8, else Western code page 1252."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", errors="replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def delimiter(text: str) -> str:
    """Mark between fields: the one that cuts most of the first records into the same number of fields."""
    best, best_score = ",", 0.0
    head = "".join(text.splitlines(keepends=True)[:_LOOKED_AT])
    for mark in _DELIMITERS:
        try:
            widths = Counter(len(fields) for fields in _records(head, mark) if any(fields))
        except csv.Error:
            continue
        width, count = widths.most_common(1)[0] if widths else (0, 0)
        score = count / sum(widths.values()) * width if width > 1 else 0.0
        if score > best_score:
            best, best_score = mark, score
    return best


def _records(text: str, mark: str) -> Iterator[list[str]]:
    return csv.reader(io.StringIO(text, newline=""), delimiter=mark)


def rectangle(name: str, rows: list[list[object]], merged: tuple[Range, ...] = ()) -> SheetData:
    """Rows of any length as columns of one length; blank rows and columns at the end do not count."""
    while rows and all(value is None for value in rows[-1]):
        rows.pop()
    width = max((len(row) for row in rows), default=0)
    full = [row + [None] * (width - len(row)) for row in rows]
    columns = [list(column) for column in zip(*full, strict=True)]
    while columns and all(value is None for value in columns[-1]):
        columns.pop()
    return SheetData(name, len(rows), len(columns), columns, merged=merged)


class CalamineWorkbook(Workbook):
    """Binary and open-document workbooks, read by calamine after their extent was bounded."""

    def __init__(self, path: Path, kind: Kind, data: bytes, limits: Limits) -> None:
        super().__init__(path, kind, data, limits)
        import python_calamine  # noqa: PLC0415  needed for these kinds only

        self._extents: dict[str, tuple[int, int]] = {}
        if kind is not Kind.XLS:
            with Package(data, limits, label=path.name) as package:
                package.refuse_doctypes()
                measure = _binary_extents if kind is Kind.XLSB else _open_document_extents
                self._extents = measure(package)
        if kind is Kind.ODS:  # all of its sheets are read at once when it is opened
            for name, (rows, columns) in self._extents.items():
                check_extent(f"{path.name}: sheet {quoted(name)}", rows, columns, limits)
        self._book: Any = self._guarded(python_calamine.CalamineWorkbook.from_filelike, io.BytesIO(data))
        visible, worksheet = python_calamine.SheetVisibleEnum.Visible, python_calamine.SheetTypeEnum.WorkSheet
        self.sheets = tuple(
            SheetInfo(sheet.name, sheet.visible != visible)
            for sheet in self._book.sheets_metadata
            if sheet.typ == worksheet
        )

    def _guarded(self, function: Any, *arguments: Any, **options: Any) -> Any:
        """Call the reader; its complaints and its inner panics become one sentence."""
        try:
            return function(*arguments, **options)
        except MemoryError:
            raise
        except BaseException as error:
            foreign = type(error).__module__.startswith(
                ("python_calamine", "_python_calamine", "pyo3_runtime")
            )
            if not foreign and not isinstance(error, OSError | ValueError):
                raise
            raise WorkbookError(
                f"{self.path.name} is damaged (it cannot be read as {self.kind.value}). Open it in your "
                f"spreadsheet program and save it as .xlsx."
            ) from error

    def _read_sheet(self, name: str) -> SheetData:
        rows, columns = self._extents.get(name, (0, 0))
        label = f"{self.path.name}: sheet {quoted(name)}"
        check_extent(label, rows, columns, self.limits)
        sheet = self._guarded(self._book.get_sheet_by_name, name)
        check_extent(label, sheet.total_height, sheet.total_width, self.limits)
        found = self._guarded(sheet.to_python, skip_empty_area=False)
        merges = sheet.merged_cell_ranges or []
        ranges = tuple(Range(a + 1, b + 1, c + 1, d + 1) for (a, b), (c, d) in merges)
        return rectangle(name, [[_cleaned(value) for value in row] for row in found], ranges)


def _cleaned(value: object) -> object:
    """Value as the other readers give it; long durations of open documents come as text."""
    if not isinstance(value, str):
        return value
    match = _DURATION.fullmatch(value)
    if match is None:
        return value or None
    return timedelta(hours=int(match[1]), minutes=int(match[2]), seconds=float(match[3]))


def check_extent(label: str, rows: int, columns: int, limits: Limits) -> None:
    """Refuse a sheet that reaches further than the limits before its values are read."""
    if rows > limits.rows or columns > limits.columns or rows * columns > limits.cells:
        raise WorkbookError(
            f"{label} reaches to {address(rows, columns)}; at most {limits.rows:,} rows and "
            f"{limits.cells:,} cells "
            f"are read. Delete what stands far from the units."
        )


_ROW_RECORD, _SHEET_RECORD = 0, 156
_CELL_RECORDS = range(2, 12)  # MS-XLSB 2.3: cells with a value or a formula; 1 is a cell that is only styled


def _binary_records(data: bytes) -> Iterator[tuple[int, bytes]]:
    position, end = 0, len(data)
    try:
        while position < end:
            kind = data[position]
            position += 1
            if kind & 0x80:
                kind = (kind & 0x7F) | (data[position] & 0x7F) << 7
                position += 1
            size = 0
            for shift in (0, 7, 14, 21):
                byte = data[position]
                position += 1
                size |= (byte & 0x7F) << shift
                if not byte & 0x80:
                    break
            yield kind, data[position : position + size]
            position += size
    except IndexError:
        return


def _binary_extents(package: Package) -> dict[str, tuple[int, int]]:
    """Last row and column with a value on each sheet of a binary workbook."""
    main = next((r.target for r in read_relations(package, "").values() if r.type == "officeDocument"), "")
    if main not in package:
        raise package.damaged("cannot read the sheet list")
    relations = read_relations(package, main)
    extents = {}
    for kind, body in _binary_records(package.read(main)):
        if kind != _SHEET_RECORD:
            continue
        identifier, offset = _wide_text(body, 8)
        name, _ = _wide_text(body, offset)
        relation = relations.get(identifier)
        if relation is not None and relation.target in package:
            extents[name] = _binary_extent(package.read(relation.target))
    return extents


def _wide_text(body: bytes, offset: int) -> tuple[str, int]:
    if len(body) < offset + 4:
        return "", len(body)
    (length,) = struct.unpack_from("<L", body, offset)
    end = offset + 4 + 2 * length
    return body[offset + 4 : end].decode("utf-16-le", errors="replace"), end


def _binary_extent(data: bytes) -> tuple[int, int]:
    row = last_row = last_column = 0
    for kind, body in _binary_records(data):
        if len(body) < 4:
            continue
        if kind == _ROW_RECORD:
            row = int.from_bytes(body[:4], "little") + 1
        elif kind in _CELL_RECORDS:
            last_row = max(last_row, row)
            last_column = max(last_column, int.from_bytes(body[:4], "little") + 1)
    return last_row, last_column


class _OpenDocumentScan:
    """Follows the rows and cells of an open-document workbook, repeats included."""

    def __init__(self) -> None:
        self.extents: dict[str, tuple[int, int]] = {}
        self._sheet = ""
        self._row = self._column = self._row_repeat = 0
        self._filled = 0

    def start(self, qualified: str, attributes: dict[str, str]) -> None:
        """Take the start of an element."""
        local = split_name(qualified)[1]
        values = {split_name(name)[1]: value for name, value in attributes.items()}
        if local == "table":
            self._sheet, self._row = values.get("name", ""), 0
            self.extents[self._sheet] = (0, 0)
        elif local == "table-row":
            self._row_repeat, self._column, self._filled = _count(values, "number-rows-repeated"), 0, 0
        elif local in ("table-cell", "covered-table-cell"):
            self._column += _count(values, "number-columns-repeated")
            if "value-type" in values or "formula" in values:
                self._filled = self._column

    def end(self, qualified: str) -> None:
        """Take the end of an element."""
        if split_name(qualified)[1] != "table-row":
            return
        self._row += self._row_repeat
        if self._filled:
            _, columns = self.extents.get(self._sheet, (0, 0))
            self.extents[self._sheet] = (self._row, max(columns, self._filled))


def _count(values: dict[str, str], name: str) -> int:
    text = values.get(name, "1")
    return int(text) if text.isdigit() else 1


def _open_document_extents(package: Package) -> dict[str, tuple[int, int]]:
    """Last row and column with a value on each sheet of an open-document workbook."""
    if "content.xml" not in package:
        raise package.damaged("cannot read the sheet list")
    scan = _OpenDocumentScan()
    parser: expat.XMLParserType = make_parser()
    parser.StartElementHandler, parser.EndElementHandler = scan.start, scan.end
    try:
        feed(parser, package.read("content.xml"), True)
    except NotWellFormed as error:
        raise package.damaged(f'part "content.xml": {error}') from error
    return scan.extents
