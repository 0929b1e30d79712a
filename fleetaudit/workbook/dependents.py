"""Which formulas of a workbook rest on cells that were changed, so that their stored results are old."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping

from msgspec import Struct, field

from fleetaudit.workbook.archive import Package
from fleetaudit.workbook.markup import feed, make_parser, split_name, whole
from fleetaudit.workbook.place import LAST_COLUMN, LAST_ROW, Range, address, column_number, quoted
from fleetaudit.workbook.structure import Structure, Table, read_part, read_tables

Cells = set[tuple[int, int]]

_TEXTS = re.compile(r'"(?:[^"]|"")*"')
_SHEET = r"(?:(?P<sheet>'(?:[^']|'')+'|[^\W\d][\w.]*)!)?"
_CELL = r"\$?[A-Za-z]{1,3}\$?[0-9]{1,7}"
_REFERENCE = re.compile(
    rf"{_SHEET}(?:(?P<cells>{_CELL}(?::{_CELL})?)|(?P<columns>\$?[A-Za-z]{{1,3}}:\$?[A-Za-z]{{1,3}})"
    r"|(?P<rows>\$?[0-9]{1,7}:\$?[0-9]{1,7}))(?![\w(])"
)
_CORNER = re.compile(r"(\$?)([A-Za-z]{1,3})(\$?)([0-9]{1,7})")
_WORD = re.compile(r"(?<![\w.'!])[^\W\d][\w.]*(?![\w.(!])")
_ANYTHING = re.compile(r"\b(?:INDIRECT|OFFSET)\s*\(", re.I)
_SELF_TABLE = re.compile(r"(?<![\w\]])\[")


class _Formula(Struct):
    """One formula cell: where it stands and what it refers to, by sheet."""

    sheet: str
    row: int
    column: int
    ranges: list[tuple[str, Range]] = field(default_factory=list)
    anything: bool = False

    def rests_on(self, changed: Mapping[str, Cells]) -> bool:
        """Tell whether a changed cell lies in what the formula refers to."""
        if self.anything:
            return True
        return any(
            place in cells for sheet, cells in self.ranges for place in changed.get(sheet.casefold(), ())
        )


def stale_formulas(
    package: Package, structure: Structure, changed: Mapping[str, Iterable[tuple[int, int]]]
) -> list[str]:
    """Addresses of formulas that rest on changed cells, straight or through other formulas."""
    fresh: dict[str, Cells] = {sheet.casefold(): set(cells) for sheet, cells in changed.items()}
    waiting = list(_formulas(package, structure))
    stale: list[_Formula] = []
    while waiting and any(fresh.values()):
        hit = [formula for formula in waiting if formula.rests_on(fresh)]
        waiting = [formula for formula in waiting if formula not in hit] if hit else waiting
        stale += hit
        fresh = {}
        for formula in hit:
            fresh.setdefault(formula.sheet.casefold(), set()).add((formula.row, formula.column))
    order = {entry.name: entry.position for entry in structure.sheets}
    stale.sort(key=lambda formula: (order[formula.sheet], formula.row, formula.column))
    return [f"{quoted(formula.sheet)}!{address(formula.row, formula.column)}" for formula in stale]


def _formulas(package: Package, structure: Structure) -> Iterator[_Formula]:
    names = {
        name.name.casefold(): [
            (_sheet_of(match["sheet"], ""), cells)
            for match in _REFERENCE.finditer(name.text)
            if (cells := _range(match, 0, 0)) is not None
        ]
        for name in structure.names
    }
    tables: dict[str, list[Table]] = {
        entry.name: list(read_tables(package, entry.part)) for entry in structure.sheets if entry.is_worksheet
    }
    by_name = {
        table.name.casefold(): (sheet, table.range) for sheet, several in tables.items() for table in several
    }
    for entry in structure.sheets:
        if not entry.is_worksheet:
            continue
        data = read_part(package, entry.part).data
        if b"<f" not in data and b":f" not in data:
            continue
        for row, column, text, down, right in _Reader(data).formulas():
            formula = _Formula(entry.name, row, column)
            bare = _TEXTS.sub('""', text)
            formula.anything = _ANYTHING.search(bare) is not None
            for match in _REFERENCE.finditer(bare):
                cells = _range(match, down, right)
                if cells is not None:
                    formula.ranges.append((_sheet_of(match["sheet"], entry.name), cells))
            for word in _WORD.findall(bare):
                formula.ranges += names.get(word.casefold(), [])
                if word.casefold() in by_name:
                    formula.ranges.append(by_name[word.casefold()])
            if _SELF_TABLE.search(bare):
                formula.ranges += [
                    (entry.name, t.range) for t in tables[entry.name] if (row, column) in t.range
                ]
            yield formula


def _sheet_of(text: str | None, home: str) -> str:
    if not text:
        return home
    return text[1:-1].replace("''", "'") if text.startswith("'") else text


def _range(match: re.Match[str], down: int, right: int) -> Range | None:
    """Range of a reference, its relative ends moved as a shared formula moves them."""
    if match["columns"]:
        first, last = sorted(column_number(end.strip("$")) for end in match["columns"].split(":"))
        return Range(1, first, LAST_ROW, last) if last <= LAST_COLUMN else None
    if match["rows"]:
        first, last = sorted(int(end.strip("$")) for end in match["rows"].split(":"))
        return Range(first, 1, last, LAST_COLUMN)
    corners = []
    for fixed_column, letters, fixed_row, row in _CORNER.findall(match["cells"]):
        corners.append(
            (
                int(row) + (0 if fixed_row else down),
                column_number(letters) + (0 if fixed_column else right),
            )
        )
    rows, columns = [row for row, _ in corners], [column for _, column in corners]
    if max(columns) > LAST_COLUMN or max(rows) > LAST_ROW:
        return None
    return Range(min(rows), min(columns), max(rows), max(columns))


class _Reader:
    """Formulas of a sheet part with the cells they stand in."""

    def __init__(self, data: bytes) -> None:
        self._data = data
        self._path: list[str] = []
        self._row, self._column = 0, 0
        self._kind: dict[str, str] | None = None
        self._text: list[str] = []
        self._found: list[tuple[int, int, str, int, int]] = []
        self._shared: dict[str, tuple[int, int, str]] = {}

    def formulas(self) -> list[tuple[int, int, str, int, int]]:
        """Row, column, text and how far a shared text is moved, of every formula."""
        parser = make_parser()
        parser.StartElementHandler = self._open
        parser.EndElementHandler = self._close
        parser.CharacterDataHandler = self._characters
        feed(parser, self._data, True)
        return self._found

    def _open(self, qualified: str, attributes: dict[str, str]) -> None:
        name = split_name(qualified)[1]
        self._path.append(name)
        if name == "row":
            self._row = whole(attributes.get("r", "")) or self._row + 1
            self._column = 0
        elif name == "c":
            where = _CORNER.fullmatch(attributes.get("r", ""))
            self._column = column_number(where[2]) if where else self._column + 1
        elif name == "f" and self._path[-2:-1] == ["c"]:
            self._kind, self._text = attributes, []

    def _close(self, _qualified: str) -> None:
        if self._path.pop() != "f" or self._kind is None:
            return
        text, shared = (
            "".join(self._text),
            self._kind.get("si", "") if self._kind.get("t") == "shared" else "",
        )
        down = right = 0
        if shared and text:
            self._shared[shared] = (self._row, self._column, text)
        elif shared and shared in self._shared:
            row, column, text = self._shared[shared]
            down, right = self._row - row, self._column - column
        self._found.append((self._row, self._column, text, down, right))
        self._kind = None

    def _characters(self, text: str) -> None:
        if self._kind is not None:
            self._text.append(text)
