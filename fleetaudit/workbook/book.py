"""A workbook opened for reading, whatever its kind; nothing of it is changed."""

from __future__ import annotations

import hashlib
from pathlib import Path

from msgspec import Struct

from fleetaudit.errors import WorkbookError
from fleetaudit.language import later, say
from fleetaudit.workbook.archive import Limits
from fleetaudit.workbook.cells import Cells, Special, Value, value_of
from fleetaudit.workbook.census import refuse_crowds
from fleetaudit.workbook.container import Kind, read_bytes, sniff_bytes
from fleetaudit.workbook.encryption import decrypted
from fleetaudit.workbook.formats import NumberFormat, cell_formats
from fleetaudit.workbook.gathering import Readings, read_rows
from fleetaudit.workbook.markup import NotWellFormed, whole
from fleetaudit.workbook.opened import Opened
from fleetaudit.workbook.place import Range, parse_range, quoted
from fleetaudit.workbook.rows import SheetPart
from fleetaudit.workbook.structure import (
    Table,
    parse_part,
    read_part,
    read_tables,
    why_not_spliced,
)
from fleetaudit.workbook.texts import shared_strings
from fleetaudit.workbook.values import Decoder

_TRUE = {"1", "true", "on"}


class SheetInfo(Struct, frozen=True):
    """Name of a sheet and whether it is hidden."""

    name: str
    hidden: bool = False


class SheetData(Struct):
    """All cells of one sheet; addresses are (row, column) counted from 1, columns[c][r] counts from 0."""

    name: str
    cells: Cells
    hidden_rows: frozenset[int] = frozenset()
    hidden_columns: frozenset[int] = frozenset()
    merged: tuple[Range, ...] = ()
    tables: tuple[Table, ...] = ()
    autofilter: Range | None = None
    protected: bool = False
    claimed_rows: int = 0
    blind: tuple[str, ...] = ()

    @property
    def n_rows(self) -> int:
        """Last row that holds a value or a formula."""
        return self.cells.n_rows

    @property
    def n_columns(self) -> int:
        """Last column that holds a value or a formula."""
        return self.cells.n_columns

    def value(self, row: int, column: int) -> Value:
        """Value of one cell counted from 1; None outside the sheet's extent."""
        return value_of(self.cells.at(row, column))

    def format(self, row: int, column: int) -> str:
        """Number format of a cell; "" where it says no more than the value."""
        what = self.cells.at(row, column)
        return what.code if isinstance(what, Special) else ""

    @property
    def columns(self) -> list[list[Value]]:
        """All values, column by column."""
        return self.cells.values()

    @property
    def formats(self) -> dict[tuple[int, int], str]:
        """Number formats that say more than the value, by cell."""
        return {place: what.code for place, what in self.cells.special().items() if what.code}

    @property
    def errors(self) -> dict[tuple[int, int], str]:
        """Words of error cells."""
        return {place: what.error for place, what in self.cells.special().items() if what.error}

    @property
    def unstored(self) -> set[tuple[int, int]]:
        """Formulas that were never calculated."""
        return {place for place, what in self.cells.special().items() if what.unstored}


class Workbook:
    """One opened file; sheets are read when asked for and kept."""

    def __init__(self, path: Path, kind: Kind, data: bytes, limits: Limits) -> None:
        self.path = path
        self.kind = kind
        self.limits = limits
        self.content = data
        self.sha256 = hashlib.sha256(data).hexdigest()
        self.was_encrypted = False
        self.opened: Opened | None = None
        self.epoch_1904 = False
        self.features: tuple[str, ...] = ()
        self.sheets: tuple[SheetInfo, ...] = ()
        self.can_annotate = False
        self.why_not: str | None = later(
            "files of the kind {kind} can be read but not annotated", kind=kind.value
        )
        self._read: dict[str, SheetData] = {}

    def read(self, name: str) -> SheetData:
        """All cells of a sheet."""
        if name not in self._read:
            self._read[name] = self._read_sheet(self._checked(name))
        return self._read[name]

    def forget(self, name: str) -> None:
        """Give up the cells of a sheet that nobody reads again; asked for, they are read anew."""
        self._read.pop(name, None)

    def extent(self, name: str) -> tuple[int, int]:
        """Last row and last column that hold a value or a formula; (0, 0) for an empty sheet."""
        data = self.read(name)
        return data.n_rows, data.n_columns

    def _checked(self, name: str) -> str:
        if all(sheet.name != name for sheet in self.sheets):
            there = ", ".join(f'"{sheet.name}"' for sheet in self.sheets) or "none"
            raise WorkbookError(
                say(
                    '{file} has no sheet "{sheet}". Its sheets are {there}.',
                    file=self.path.name,
                    sheet=name,
                    there=there,
                )
            )
        return name

    def _read_sheet(self, name: str) -> SheetData:
        raise NotImplementedError


class PackageWorkbook(Workbook):
    """A workbook of the zipped XML kinds, read by the scanner of this package."""

    def __init__(self, path: Path, kind: Kind, data: bytes, limits: Limits) -> None:
        super().__init__(path, kind, data, limits)
        self.opened = self._parts = Opened.of(data, limits, path.name)
        self._package, self._structure = self._parts.package, self._parts.structure
        self.epoch_1904 = self._structure.epoch_1904
        self.features = self._structure.features
        sheets = [entry for entry in self._structure.sheets if entry.is_worksheet]
        self.sheets = tuple(SheetInfo(entry.name, entry.hidden) for entry in sheets)
        self.why_not = why_not_spliced(self._package)
        self.can_annotate = self.why_not is None
        self._strings: list[str] | None = None
        self._formats: list[NumberFormat] | None = None

    def _read_sheet(self, name: str) -> SheetData:
        entry = self._structure.sheet(name, self.path.name)
        refuse_crowds(self._package, entry.part)
        try:
            _, sheet = self._parts.sheet(entry.part)
            decoder = self._decoder(name)
            readings = read_rows(sheet, decoder)
        except (NotWellFormed, UnicodeDecodeError) as error:
            raise self._package.damaged(
                say('sheet "{sheet}" cannot be read: {error}', sheet=name, error=error)
            ) from error
        tables = read_tables(self._package, entry.part)
        self._parts.forget_if_long(entry.part)
        return _sheet_data(name, sheet, readings, tables)

    def _decoder(self, name: str) -> Decoder:
        if self._strings is None:
            part = self._structure.strings_part
            refuse_crowds(self._package, part or "")
            self._strings = shared_strings(read_part(self._package, part).data) if part else []
        if self._formats is None:
            part = self._structure.styles_part
            styles = parse_part(self._package, read_part(self._package, part)) if part else None
            self._formats = cell_formats(styles)
        label = say("{file}: sheet {sheet}", file=self.path.name, sheet=quoted(name))
        return Decoder(self._strings, self._formats, self.epoch_1904, self.limits, label)


def _sheet_data(name: str, sheet: SheetPart, readings: Readings, tables: tuple[Table, ...]) -> SheetData:
    root = sheet.root
    merges, filters = root.find("mergeCells"), root.find("autoFilter")
    protection, dimension = root.find("sheetProtection"), root.find("dimension")
    merged = [parse_range(m.attributes.get("ref", "")) for m in merges.children] if merges else []
    claimed = parse_range(dimension.attributes.get("ref", "")) if dimension else None
    return SheetData(
        name=name,
        cells=readings.cells,
        hidden_rows=readings.hidden_rows,
        hidden_columns=hidden_columns(sheet),
        merged=tuple(found for found in merged if found is not None),
        tables=tables,
        autofilter=parse_range(filters.attributes.get("ref", "")) if filters else None,
        protected=protection is not None and protection.attributes.get("sheet", "") in _TRUE,
        claimed_rows=claimed.last_row if claimed else 0,
    )


def hidden_columns(sheet: SheetPart) -> frozenset[int]:
    """Columns that are hidden or have no width; a span to the last column counts for what is in use only."""
    hidden: set[int] = set()
    for parent in sheet.root.all("cols"):
        for element in parent.all("col"):
            values = element.attributes
            first, last = whole(values.get("min", "")), whole(values.get("max", ""))
            if first is None or last is None:
                continue
            if values.get("hidden", "") in _TRUE or values.get("width") == "0":
                hidden.update(range(first, min(last, 16_384) + 1))
    return frozenset(hidden)


def open_workbook(path: Path, limits: Limits | None = None, *, password: str | None = None) -> Workbook:
    """Open a file of any kind that can be read; every limit is checked before anything is parsed.

    A file that is protected by a password is opened in memory; its content is what annotating needs.
    """
    path, limits = Path(path), limits or Limits()
    data = read_bytes(path, limits)
    plain = decrypted(data, password, path.name, limits) if password is not None else None
    book = _opened(path, data if plain is None else plain, limits)
    if plain is not None:
        book.was_encrypted, book.sha256 = True, hashlib.sha256(data).hexdigest()
    return book


def _opened(path: Path, data: bytes, limits: Limits) -> Workbook:
    kind = sniff_bytes(path, data, limits)
    if kind in (Kind.XLSX, Kind.XLSM):
        return PackageWorkbook(path, kind, data, limits)
    from fleetaudit.workbook import other_kinds  # noqa: PLC0415  needed for the rarer kinds only

    if kind is Kind.CSV:
        return other_kinds.TextWorkbook(path, data, limits)
    return other_kinds.CalamineWorkbook(path, kind, data, limits)
