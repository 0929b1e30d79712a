"""What a copy lost of its source: part by part in bytes, element by element, value by value.

Read with the XML reader of the standard library, with openpyxl and with calamine, never with our own.
"""

from __future__ import annotations

import datetime as dt
import posixpath
import re
import struct
import xml.etree.ElementTree as Tree
import zipfile
from collections.abc import Iterator
from pathlib import Path

import openpyxl
import python_calamine
from openpyxl.utils.escape import unescape

#: attributes that may change because cells were added to the right or parts to a list
GROWS = {
    ("dimension", "ref"),
    ("row", "spans"),
    ("autoFilter", "ref"),
    ("sortState", "ref"),
    ("table", "ref"),
    ("tableColumns", "count"),
    ("numFmts", "count"),
    ("fonts", "count"),
    ("fills", "count"),
    ("borders", "count"),
    ("cellXfs", "count"),
    ("dxfs", "count"),
}
#: lists of the styles part that are referred to by position, so that nothing may be put in between
BY_POSITION = {"fonts", "fills", "borders", "cellXfs", "cellStyleXfs", "dxfs"}


def local(tag: str) -> str:
    """Name of an element without its namespace."""
    return tag.rpartition("}")[2]


def parts(path: Path) -> dict[str, bytes]:
    """Content of every part."""
    with zipfile.ZipFile(path) as package:
        return {info.filename: package.read(info) for info in package.infolist()}


def packed(path: Path) -> dict[str, bytes]:
    """Compressed bytes of every part as they lie in the file."""
    data, found = path.read_bytes(), {}
    with zipfile.ZipFile(path) as package:
        for info in package.infolist():
            name, extra = struct.unpack_from("<2H", data, info.header_offset + 26)
            start = info.header_offset + 30 + name + extra
            found[info.filename] = data[start : start + info.compress_size]
    return found


def _targets(content: dict[str, bytes], part: str) -> Iterator[tuple[str, str, str]]:
    """Identifier, last word of the type and full name of each related part."""
    folder, _, file = part.rpartition("/")
    name = posixpath.join(folder, "_rels", f"{file}.rels")
    for relation in Tree.fromstring(content[name]) if name in content else ():
        target = relation.get("Target", "").replace("%20", " ")
        full = (
            target.lstrip("/")
            if target.startswith("/")
            else posixpath.normpath(posixpath.join(folder, target))
        )
        yield relation.get("Id", ""), relation.get("Type", "").rpartition("/")[2], full


def book_part(content: dict[str, bytes]) -> str:
    """Name of the workbook part."""
    return next(target for _, kind, target in _targets(content, "") if kind == "officeDocument")


def sheet_part(content: dict[str, bytes], sheet: str) -> str:
    """Name of the part of a sheet."""
    book = book_part(content)
    by_id = {identifier: target for identifier, _, target in _targets(content, book)}
    for element in Tree.fromstring(content[book]).iter():
        if local(element.tag) == "sheet" and element.get("name") == sheet:
            return by_id[next(value for key, value in element.items() if local(key) == "id" and key != "id")]
    raise AssertionError(f"no sheet {sheet}")


def sheet_names(content: dict[str, bytes]) -> list[str]:
    """Names of all sheets."""
    book = Tree.fromstring(content[book_part(content)])
    return [element.get("name", "") for element in book.iter() if local(element.tag) == "sheet"]


def may_change(content: dict[str, bytes], sheet: str) -> set[str]:
    """Names of the parts that an annotation may change."""
    book, audited = book_part(content), sheet_part(content, sheet)
    folder, _, file = book.rpartition("/")
    tables = {target for _, kind, target in _targets(content, audited) if kind == "table"}
    styles = {target for _, kind, target in _targets(content, book) if kind == "styles"}
    return (
        {"[Content_Types].xml", book, posixpath.join(folder, "_rels", f"{file}.rels"), audited}
        | tables
        | styles
    )


def lost_parts(source: Path, copy: Path, sheet: str) -> list[str]:
    """Parts that are missing, or changed though they may not be; by their compressed bytes."""
    old, new, before = packed(source), packed(copy), parts(source)
    allowed = may_change(before, sheet)
    after = parts(copy)
    gone = [f"{name} is missing" for name in old if name not in new]
    changed = [
        f"{name} has other bytes"
        for name in old
        if name in new and name not in allowed and old[name] != new[name]
    ]
    stray = [
        name
        for name in after
        if name not in before and not re.search(r"worksheets/sheet\d+\.xml$|styles\.xml$", name)
    ]
    order = [name for name in after if name in before] != list(before)
    return gone + changed + [f"{name} was added" for name in stray] + ["parts in another order"] * order


def lost_elements(source: Path, copy: Path, sheet: str) -> list[str]:
    """Elements, attributes and texts of the changed parts that the copy no longer has."""
    before, after = parts(source), parts(copy)
    found: list[str] = []
    for name in may_change(before, sheet):
        if name in before and before[name] != after[name]:
            found += [
                f"{name}: {what}"
                for what in _lost(Tree.fromstring(before[name]), Tree.fromstring(after[name]))
            ]
    return found + lost_cells(before, after, sheet)


def _lost(old: Tree.Element, new: Tree.Element) -> list[str]:
    name = local(old.tag)
    if old.tag != new.tag:
        return [f"<{name}> became <{local(new.tag)}>"]
    losses = [
        f"<{name} {local(key)}> {value!r} became {new.get(key)!r}"
        for key, value in old.items()
        if new.get(key) != value and (name, local(key)) not in GROWS
    ]
    losses += [f"<{name}> got {key}" for key in set(new.keys()) - set(old.keys()) if (name, key) not in GROWS]
    filtered = name == "definedName" and old.get("name") == "_xlnm._FilterDatabase"
    if (old.text or "").strip() != (new.text or "").strip() and not filtered:
        losses.append(f"<{name}> text {old.text!r} became {new.text!r}")
    if name == "cols":
        return losses + _lost_columns(old, new)
    return losses + _lost_children(old, new)


def _lost_children(old: Tree.Element, new: Tree.Element) -> list[str]:
    losses: list[str] = []
    children, place = list(new), 0
    for number, child in enumerate(old):
        if local(old.tag) in BY_POSITION:
            losses += _lost(child, children[number])
            continue
        best: list[str] | None = None
        for at in range(place, len(children)):
            if children[at].tag != child.tag or children[at].get("r") != child.get("r"):
                continue
            found = _lost(child, children[at])
            if not found:
                best, place = [], at + 1
                break
            best = best or found
            if local(child.tag) in ("row", "c", "sheetData"):
                break
        losses += [f"<{local(child.tag)}> is missing"] if best is None else best
    return losses


def _lost_columns(old: Tree.Element, new: Tree.Element) -> list[str]:
    """Widths, styles and hiding of columns, span by span, where a span lies left of the first new column."""

    def by_column(parent: Tree.Element) -> dict[int, dict[str, str]]:
        spans = [one for one in parent if local(one.tag) == "col" and one.get("min")]
        return {
            column: {key: value for key, value in one.items() if key not in ("min", "max")}
            for one in spans
            for column in range(int(one.get("min", "1")), min(int(one.get("max", "1")), 200) + 1)
        }

    first, second = by_column(old), by_column(new)
    changed = [column for column, says in first.items() if second.get(column) != says]
    ours = {column for column in second if "customWidth" in second[column]} | set(range(7, 60))
    return [f"column {column} changed" for column in changed if column not in ours]


_CELL = re.compile(rb"<(?:x:)?c(?:\s[^>]*)?(?:/>|(?<!/)>.*?</(?:x:)?c>)", re.S)


def lost_cells(before: dict[str, bytes], after: dict[str, bytes], sheet: str) -> list[str]:
    """Cells of the sheet whose bytes the copy does not have in the same order."""
    name = sheet_part(before, sheet)
    if before[name][:2] in (b"\xff\xfe", b"\xfe\xff"):
        return []
    place, losses = 0, []
    for cell in _CELL.findall(before[name]):
        found = after[name].find(cell, place)
        if found < 0:
            losses.append(f"cell {cell[:80]!r} is missing")
        else:
            place = found + len(cell)
    return losses


def lost_values(source: Path, copy: Path) -> list[str]:
    """Values and formulas that two independent readers read from the source and not from the copy."""
    losses, seen = [], 0
    theirs, ours = (python_calamine.CalamineWorkbook.from_path(path) for path in (source, copy))
    kept = [name for name in ours.sheet_names if name in theirs.sheet_names]
    if kept != theirs.sheet_names:
        losses.append(f"sheets {theirs.sheet_names} became {ours.sheet_names}")
    for sheet in theirs.sheets_metadata:
        if "WorkSheet" not in str(sheet.typ):
            continue
        old, new = (
            book.get_sheet_by_name(sheet.name).to_python(skip_empty_area=False) for book in (theirs, ours)
        )
        for row, cells in enumerate(old):
            for column, value in enumerate(cells):
                there = new[row][column] if row < len(new) and column < len(new[row]) else ""
                seen += value != ""
                if value not in ("", there):
                    losses.append(
                        f"{sheet.name} row {row + 1} column {column + 1}: {value!r} became {there!r}"
                    )
    if _is_strict(source):  # openpyxl takes the strict kind for a workbook without sheets
        return losses if seen else ["nothing could be read"]
    for stored in (True, False):
        old_book, new_book = (openpyxl.load_workbook(path, data_only=stored) for path in (source, copy))
        for page in old_book.worksheets:
            other = new_book[page.title]
            for cell in (cell for cells in page.iter_rows(max_row=min(page.max_row, 500)) for cell in cells):
                twin = other[cell.coordinate]
                same = _plain(cell.value) == _plain(twin.value) and cell.number_format == twin.number_format
                seen += cell.value is not None
                if cell.value is not None and not same:
                    losses.append(f"{page.title}!{cell.coordinate}: {cell.value!r} became {twin.value!r}")
    return losses if seen else ["nothing could be read"]


def _is_strict(path: Path) -> bool:
    content = parts(path)
    return b"purl.oclc.org" in content[book_part(content)]


def _plain(value: object) -> str:
    """Value as text; a formula over several cells by its text and its range."""
    return f"{getattr(value, 'text', value)} {getattr(value, 'ref', '')}"


def filled(path: Path, sheet: str) -> dict[tuple[int, int], object]:
    """Values of a sheet by row and column: by openpyxl, or by calamine where that one sees no sheet."""
    if _is_strict(path):
        book = python_calamine.CalamineWorkbook.from_path(path)
        rows = book.get_sheet_by_name(sheet).to_python(skip_empty_area=False)
        cells = {
            (r, c): value for r, row in enumerate(rows, 1) for c, value in enumerate(row, 1) if value != ""
        }
        return {place: _midnight(value) for place, value in cells.items()}
    page = openpyxl.load_workbook(path, data_only=True)[sheet]
    return {
        (c.row, c.column): _unescaped(c.value) for row in page.iter_rows() for c in row if c.value is not None
    }


def _unescaped(value: object) -> object:
    """Text as a spreadsheet program shows it; openpyxl leaves the escapes of the file in it."""
    return unescape(value) if isinstance(value, str) else value


def _midnight(value: object) -> object:
    """A date as openpyxl gives it: with the time of its beginning."""
    plain = isinstance(value, dt.date) and not isinstance(value, dt.datetime)
    return dt.datetime.combine(value, dt.time()) if plain else value
