"""Kinds of files that are read but never annotated: text tables, binary and open-document workbooks."""

from __future__ import annotations

import csv
import io
import re
import struct
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import timedelta
from itertools import zip_longest
from pathlib import Path
from typing import Any
from xml.parsers import expat

from msgspec import Struct, field

from fleetaudit.errors import WorkbookError
from fleetaudit.language import say
from fleetaudit.workbook.archive import Limits, Package
from fleetaudit.workbook.book import SheetData, SheetInfo, Workbook
from fleetaudit.workbook.cells import NOTHING, Cells, Grid, Held, Special, Value
from fleetaudit.workbook.container import Kind
from fleetaudit.workbook.markup import NotWellFormed, feed, make_parser, split_name, whole
from fleetaudit.workbook.place import LAST_COLUMN, LAST_ROW, Range, address, quoted
from fleetaudit.workbook.structure import read_relations

_DELIMITERS = ",;\t|"
_LOOKED_AT = 50
_MANY_ROWS = 10_000  # repeated that often, a row is what is left of the sheet
_DURATION = re.compile(r"PT(\d+)H(\d+)M(\d+(?:\.\d+)?)S")


class Facts(Struct):
    """What the reader behind these kinds does not tell of a sheet; addresses are (row, column) from 1."""

    rows: int = 0
    columns: int = 0
    errors: dict[tuple[int, int], str] = field(default_factory=dict)
    merged: list[Range] = field(default_factory=list)
    hidden_rows: set[int] = field(default_factory=set)


class TextWorkbook(Workbook):
    """A text table as a workbook of one sheet, named after the file; all its values are text."""

    def __init__(self, path: Path, data: bytes, limits: Limits) -> None:
        super().__init__(path, Kind.CSV, data, limits)
        self.sheets = (SheetInfo(path.stem),)
        self._text = decode(data)

    def _read_sheet(self, name: str) -> SheetData:
        grid, limits, width = Grid(), self.limits, 0
        places_of = _Places(grid.hold).__getitem__
        try:
            for row, fields in enumerate(_records(self._text, delimiter(self._text)), 1):
                width = max(width, len(fields))
                if row > limits.rows or row * width > limits.cells:
                    raise WorkbookError(
                        say(
                            "{name} is longer than {rows:,} rows or {cells:,} cells. Split it.",
                            name=self.path.name,
                            rows=limits.rows,
                            cells=limits.cells,
                        )
                    )
                places = list(map(places_of, fields))
                if any(places):
                    grid.add_any(row, places)
        except csv.Error as error:
            raise WorkbookError(
                say(
                    "{name} cannot be read as a table of text ({error}). Save it as .xlsx.",
                    name=self.path.name,
                    error=error,
                )
            ) from error
        return SheetData(name, grid.cells())


class _Places(dict[str, int]):
    """Places of texts among all that cells hold, each held once; a blank one is nothing."""

    def __init__(self, hold: Callable[[str], int]) -> None:
        super().__init__()
        self._hold = hold

    def __missing__(self, text: str) -> int:
        self[text] = place = self._hold(text) if text.strip() else NOTHING
        return place


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


def rectangle(rows: Sequence[Sequence[Held]]) -> Cells:
    """Rows of any length as columns of one length; blank rows and columns at the end do not count."""
    height = next((n for n in range(len(rows), 0, -1) if any(what is not None for what in rows[n - 1])), 0)
    columns = list(zip_longest(*rows[:height]))
    while columns and all(what is None for what in columns[-1]):
        columns.pop()
    return Cells.of(columns)


class CalamineWorkbook(Workbook):
    """Binary and open-document workbooks, read by calamine after their extent was bounded."""

    def __init__(self, path: Path, kind: Kind, data: bytes, limits: Limits) -> None:
        super().__init__(path, kind, data, limits)
        import python_calamine  # noqa: PLC0415  needed for these kinds only

        self._facts: dict[str, Facts] = {}
        if kind is not Kind.XLS:
            with Package(data, limits, label=path.name) as package:
                package.refuse_doctypes()
                scan = _binary_facts if kind is Kind.XLSB else _open_document_facts
                self._facts = scan(package)
        if kind is Kind.ODS:  # all of its sheets are read at once when it is opened
            for name, facts in self._facts.items():
                label = say("{file}: sheet {sheet}", file=path.name, sheet=quoted(name))
                check_extent(label, facts.rows, facts.columns, limits)
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
                say(
                    "{name} is damaged (it cannot be read as {kind}). Open it in your spreadsheet "
                    "program and save it as .xlsx.",
                    name=self.path.name,
                    kind=self.kind.value,
                )
            ) from error

    def _read_sheet(self, name: str) -> SheetData:
        facts = self._facts.get(name, Facts())
        label = say("{file}: sheet {sheet}", file=self.path.name, sheet=quoted(name))
        check_extent(label, facts.rows, facts.columns, self.limits)
        sheet = self._guarded(self._book.get_sheet_by_name, name)
        check_extent(label, sheet.total_height, sheet.total_width, self.limits)
        found = self._guarded(sheet.to_python, skip_empty_area=False)
        merges = sheet.merged_cell_ranges or []
        ranges = tuple(Range(a + 1, b + 1, c + 1, d + 1) for (a, b), (c, d) in merges)
        return SheetData(
            name,
            rectangle(_with_errors([[_cleaned(value) for value in row] for row in found], facts.errors)),
            hidden_rows=frozenset(facts.hidden_rows),
            merged=ranges or tuple(facts.merged),
            blind=_BLIND.get(self.kind, ()),
        )


#: what neither the reader nor the scan can tell of a kind
_BLIND = {
    Kind.XLS: ("error cells", "formulas without a result", "number formats", "hidden rows"),
    Kind.XLSB: ("formulas without a result", "number formats", "hidden rows"),
    Kind.ODS: ("formulas without a result", "number formats"),
}


def _with_errors(rows: list[list[Held]], errors: Mapping[tuple[int, int], str]) -> list[list[Held]]:
    """Rows with the error cells that the reader gave as blanks, also at their edge."""
    for (row, column), word in errors.items():
        rows += [[] for _ in range(row - len(rows))]
        cells = rows[row - 1]
        cells += [None] * (column - len(cells))
        if cells[column - 1] is None:
            cells[column - 1] = Special(None, error=word)
    return rows


def _cleaned(value: Any) -> Value:
    """Value as the other readers give it; long durations of open documents come as text."""
    match = _DURATION.fullmatch(value) if isinstance(value, str) else None
    if match is None:
        plain: Value = value if value != "" else None
        return plain
    return timedelta(hours=int(match[1]), minutes=int(match[2]), seconds=float(match[3]))


def check_extent(label: str, rows: int, columns: int, limits: Limits) -> None:
    """Refuse a sheet that reaches further than the limits before its values are read."""
    if rows > limits.rows or columns > limits.columns or rows * columns > limits.cells:
        raise WorkbookError(
            say(
                "{label} reaches to {cell}; at most {rows:,} rows and {cells:,} cells are "
                "read. Delete what stands far from the units.",
                label=label,
                cell=address(rows, columns),
                rows=limits.rows,
                cells=limits.cells,
            )
        )


_ROW_RECORD, _SHEET_RECORD = 0, 156
_CELL_RECORDS = range(2, 12)  # MS-XLSB 2.3: cells with a value or a formula; 1 is a cell that is only styled
_ERROR_RECORDS = (3, 11)  # an error as such, and the result of a formula
# MS-XLSB 2.5.97.2 (BErr)
_ERROR_WORDS = {
    0x00: "#NULL!", 0x07: "#DIV/0!", 0x0F: "#VALUE!", 0x17: "#REF!", 0x1D: "#NAME?", 0x24: "#NUM!",
    0x2A: "#N/A", 0x2B: "#GETTING_DATA",
}  # fmt: skip


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


def _binary_facts(package: Package) -> dict[str, Facts]:
    """Extent and error cells of each sheet of a binary workbook."""
    main = next((r.target for r in read_relations(package, "").values() if r.type == "officeDocument"), "")
    if main not in package:
        raise package.damaged("cannot read the sheet list")
    relations = read_relations(package, main)
    found = {}
    for kind, body in _binary_records(package.read(main)):
        if kind != _SHEET_RECORD:
            continue
        identifier, offset = _wide_text(body, 8)
        name, _ = _wide_text(body, offset)
        relation = relations.get(identifier)
        if relation is not None and relation.target in package:
            found[name] = _binary_sheet(package.read(relation.target))
    return found


def _wide_text(body: bytes, offset: int) -> tuple[str, int]:
    if len(body) < offset + 4:
        return "", len(body)
    (length,) = struct.unpack_from("<L", body, offset)
    end = offset + 4 + 2 * length
    return body[offset + 4 : end].decode("utf-16-le", errors="replace"), end


def _binary_sheet(data: bytes) -> Facts:
    facts, row = Facts(), 0
    for kind, body in _binary_records(data):
        if len(body) < 4:
            continue
        if kind == _ROW_RECORD:
            row = int.from_bytes(body[:4], "little") + 1
        elif kind in _CELL_RECORDS:
            column = int.from_bytes(body[:4], "little") + 1
            facts.rows, facts.columns = max(facts.rows, row), max(facts.columns, column)
            if kind in _ERROR_RECORDS and len(body) > 8:
                facts.errors[row, column] = _ERROR_WORDS.get(body[8], "an error")
    return facts


class _OpenDocumentScan:
    """Follows the rows and cells of an open-document workbook, repeats included."""

    def __init__(self) -> None:
        self.found: dict[str, Facts] = {}
        self._facts = Facts()
        self._row = self._column = self._row_repeat = 0
        self._filled = 0
        self._error: list[str] | None = None
        self._errors: list[tuple[int, str]] = []

    def start(self, qualified: str, attributes: dict[str, str]) -> None:
        """Take the start of an element."""
        local = split_name(qualified)[1]
        values = {split_name(name)[1]: value for name, value in attributes.items()}
        if local == "table":
            self._facts, self._row = Facts(), 0
            self.found[values.get("name", "")] = self._facts
        elif local == "table-row":
            self._row_repeat, self._column, self._filled = _count(values, "number-rows-repeated"), 0, 0
            self._errors = []
            if values.get("visibility", "visible") != "visible" and self._row_repeat < _MANY_ROWS:
                first = self._row + 1
                self._facts.hidden_rows.update(range(first, first + self._row_repeat))
        elif local in ("table-cell", "covered-table-cell"):
            self._cell(attributes, values)

    def _cell(self, attributes: dict[str, str], values: dict[str, str]) -> None:
        first = self._column + 1
        self._column += _count(values, "number-columns-repeated")
        if "value-type" in values or "formula" in values:
            self._filled = self._column
        down, across = _count(values, "number-rows-spanned"), _count(values, "number-columns-spanned")
        if down > 1 or across > 1:
            last = min(self._row + down, LAST_ROW), min(first + across - 1, LAST_COLUMN)
            self._facts.merged.append(Range(self._row + 1, first, *last))
        kinds = [value for name, value in attributes.items() if split_name(name)[1] == "value-type"]
        self._error = [] if "error" in kinds else None

    def characters(self, text: str) -> None:
        """Collect the word of an error."""
        if self._error is not None:
            self._error.append(text)

    def end(self, qualified: str) -> None:
        """Take the end of an element."""
        local = split_name(qualified)[1]
        if local == "table-cell" and self._error is not None:
            self._errors.append((self._column, "".join(self._error).strip() or "an error"))
            self._error = None
        if local != "table-row":
            return
        facts = self._facts
        for column, word in self._errors:
            rows = range(self._row + 1, self._row + 1 + min(self._row_repeat, _MANY_ROWS))
            facts.errors.update({(row, column): word for row in rows})
        self._row += self._row_repeat
        if self._filled:
            facts.rows, facts.columns = self._row, max(facts.columns, self._filled)


def _count(values: dict[str, str], name: str) -> int:
    return whole(values.get(name, "1")) or 1


def _open_document_facts(package: Package) -> dict[str, Facts]:
    """Extent, error cells, merged cells and hidden rows of each sheet of an open-document workbook."""
    if "content.xml" not in package:
        raise package.damaged("cannot read the sheet list")
    scan = _OpenDocumentScan()
    parser: expat.XMLParserType = make_parser()
    parser.StartElementHandler, parser.EndElementHandler = scan.start, scan.end
    parser.CharacterDataHandler = scan.characters
    try:
        feed(parser, package.read("content.xml"), True)
    except NotWellFormed as error:
        raise package.damaged(say('part "content.xml": {error}', error=error)) from error
    return scan.found
