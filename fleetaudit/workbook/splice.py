"""Annotate a copy of a workbook: bytes spliced into the parts that must change, all others copied raw."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from fleetaudit.errors import OutputError, WorkbookError
from fleetaudit.workbook.additions import (
    SHEET_TYPE,
    STYLES_TYPE,
    Slot,
    filter_name,
    marker_of,
    plan_slots,
    relation_edits,
    title_name,
    type_edits,
    workbook_edits,
)
from fleetaudit.workbook.archive import Limits, Package, RawMember, packed, zip_chunks
from fleetaudit.workbook.atomic import refuse_existing, write_atomic
from fleetaudit.workbook.cellmarkup import cell, column_cells
from fleetaudit.workbook.container import Kind, read_bytes, sniff_bytes
from fleetaudit.workbook.formats import GENERAL
from fleetaudit.workbook.markup import Edit, NotWellFormed, apply, escape_text, from_utf8, unescape_cell
from fleetaudit.workbook.place import LAST_COLUMN, Range, address, column_letters, parse_range, quoted
from fleetaudit.workbook.rows import Cell, SheetPart
from fleetaudit.workbook.sheetedit import SheetEdit, cell_at, last_filled_column
from fleetaudit.workbook.sheets import Link, Sheet, Styled, quoted_text, rules_markup, write_sheet
from fleetaudit.workbook.structure import (
    Part,
    SheetEntry,
    Structure,
    Table,
    is_signed,
    parse_part,
    read_part,
    read_structure,
    read_tables,
    relations_name,
)
from fleetaudit.workbook.styles import Look, Style, Styles
from fleetaudit.workbook.texts import shared_strings
from fleetaudit.workbook.widening import filter_edits, table_edits

__all__ = ["CannotSplice", "Column", "Link", "Look", "Sheet", "Style", "Styled", "annotate"]

_TARGET_SHEET = re.compile(r"^('(?:[^']|'')*'|[^'!]+)!(.*)$")


class CannotSplice(WorkbookError):
    """The file can be read but not annotated; results belong in a workbook of their own."""


@dataclass(slots=True)
class Column:
    """A result column: a heading and one value for each of the annotated rows."""

    heading: str
    values: Sequence[object]
    number_format: str | None = None
    width: float = 12


@dataclass(slots=True)
class _Job:
    """What the caller asked for, with the opened package."""

    package: Package
    structure: Structure
    entry: SheetEntry
    heading_row: int
    rows: Sequence[int]
    columns: Sequence[Column]
    looks: Sequence[tuple[str, Sequence[Look]]]
    own_prefix: str
    styles: Styles
    changed: dict[str, bytes] = field(default_factory=dict)
    dropped: set[str] = field(default_factory=set)
    remarks: list[str] = field(default_factory=list)
    known_styles: dict[str | None, int] = field(default_factory=dict)

    def style_of(self, code: str | None) -> int:
        """Style index of a number format on the audited sheet."""
        if code not in self.known_styles:
            self.known_styles[code] = self.styles.cell(Style(number_format=code or GENERAL))
        return self.known_styles[code]

    def change(self, part: Part, edits: Sequence[Edit]) -> None:
        """Note the new content of a part if it differs from the old."""
        if edits:
            new = from_utf8(apply(part.data, edits), part.encoding)
            if new != self.package.read(part.name):
                self.changed[part.name] = new


def annotate(
    source: Path,
    target: Path,
    *,
    sheet: str,
    heading_row: int,
    rows: Sequence[int],
    columns: Sequence[Column],
    looks: Sequence[tuple[str, Sequence[Look]]] = (),
    own_prefix: str,
    own_sheets: Collection[str] = (),
    sheets: Sequence[Sheet] = (),
    force: bool = False,
    limits: Limits | None = None,
) -> list[str]:
    """Write a copy of a workbook with our columns beside its list and our sheets behind its own.

    Columns whose heading begins with `own_prefix` and is one of ours are replaced where they stand; sheets
    that an earlier run added under a name in `own_sheets` are replaced too. The source is never written.
    Gives remarks for the user.
    """
    source, target = Path(source), Path(target)
    data = read_bytes(source, limits)
    kind = sniff_bytes(source, data, limits)
    if kind not in (Kind.XLSX, Kind.XLSM):
        raise CannotSplice(f"{source.name} is of the kind {kind.value}, which can be read but not annotated.")
    _check_target(source, target, kind, force=force)
    if any(len(column.values) != len(rows) for column in columns):
        raise ValueError("every column needs one value for each row")
    with Package(data, limits, label=source.name) as package:
        package.refuse_doctypes()
        structure = read_structure(package)
        if any("/revisions/" in name for name in package.names):
            raise CannotSplice(
                f"{source.name} is shared and keeps a log of changes. End sharing in your spreadsheet program to "
                f"get an annotated copy."
            )
        job = _Job(
            package=package,
            structure=structure,
            entry=structure.sheet(sheet, source.name),
            heading_row=heading_row,
            rows=rows,
            columns=columns,
            looks=looks,
            own_prefix=own_prefix,
            styles=_styles(package, structure),
        )
        try:
            widened = _annotate_sheet(job)
            added = _add_sheets(job, sheets, {*own_sheets, *(s.name for s in sheets)}, widened)
        except (NotWellFormed, UnicodeDecodeError) as error:
            raise package.damaged(f'sheet "{sheet}": {error}') from error
        _remark_on_file(job)
        write_atomic(target, zip_chunks(_members(job, added)), mode_from=source, force=force)
    return job.remarks


def _check_target(source: Path, target: Path, kind: Kind, *, force: bool) -> None:
    if target.exists() and target.samefile(source):
        raise OutputError(f"{target.name} is the input itself, which is never written. Choose another name.")
    if target.suffix.lower() != f".{kind.value}":
        raise OutputError(f"{target.name} must end in .{kind.value}, as {source.name} is of that kind.")
    refuse_existing(target, force=force)


def _styles(package: Package, structure: Structure) -> Styles:
    name = structure.styles_part
    part = read_part(package, name) if name is not None else None
    try:
        return Styles(part.data if part is not None else None, strict=structure.strict)
    except NotWellFormed as error:
        raise package.damaged(f'part "{name}": {error}') from error


def _members(job: _Job, added: Mapping[str, bytes]) -> Iterator[RawMember]:
    """Every part of the new file: raw where it did not change, packed anew where it did."""
    for name in job.package.names:
        if name in job.dropped:
            continue
        raw = job.package.raw(name)
        yield packed(name, job.changed[name]) if name in job.changed else raw
    for name, content in added.items():
        yield packed(name, content)


# The audited sheet ----------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Block:
    """Where our columns stand on the audited sheet."""

    columns: list[int]
    new: list[int]
    last_row: int
    table: Table | None
    filter: Range | None
    beside: int = 0


def _annotate_sheet(job: _Job) -> Range | None:
    """Edit the audited sheet; gives the widened filter range if the workbook part names it."""
    if not job.columns:
        return None
    part = read_part(job.package, job.entry.part)
    edit = SheetEdit(SheetPart(part.data))
    if edit.part.rows_element is None or not edit.in_order:
        raise CannotSplice(
            f"{job.package.label}: the rows of sheet {quoted(job.entry.name)} are not in order. Save it anew from "
            f"your spreadsheet program to get an annotated copy."
        )
    block = _place(job, edit)
    _write_cells(job, edit, block)
    edit.set_widths(
        {c: column.width for c, column in zip(block.columns, job.columns, strict=True) if c in block.new}
    )
    edit.extend_dimension(max(job.rows, default=job.heading_row), max(block.columns))
    _write_rules(job, edit, block)
    widened = _widen(job, edit, block)
    job.change(part, edit.edits)
    return widened


def _place(job: _Job, edit: SheetEdit) -> _Block:
    headings = _headings(job, edit)
    own = _own_columns(job, headings)
    tables = read_tables(job.package, job.entry.part)
    filters = edit.root.find("autoFilter")
    last_row = max([job.heading_row, *job.rows])
    block = _Block(
        [], [], last_row, None, parse_range(filters.attributes.get("ref", "")) if filters else None
    )
    block.table = next((t for t in tables if t.header_rows and t.range.first_row == job.heading_row), None)
    if block.table is not None:
        block.last_row = max(last_row, block.table.range.last_row)
    start = _first_free(job, edit, block, tables, max(headings, default=0))
    for column in job.columns:
        position = own.get(_folded(column.heading))
        if position is None:
            position = start + len(block.new)
            block.new.append(position)
        block.columns.append(position)
    block.beside = start - 1
    if block.new and block.new[-1] > LAST_COLUMN:
        raise CannotSplice(
            f"{job.package.label}: sheet {quoted(job.entry.name)} has no room for {len(block.new)} columns after "
            f"column {column_letters(start - 1)}. Delete what stands so far to the right."
        )
    return block


def _headings(job: _Job, edit: SheetEdit) -> dict[int, str]:
    """Texts of the heading row by column."""
    row = edit.row(job.heading_row)
    cells = [found for found in (row.cells() if row is not None else []) if found.filled]
    name = job.structure.strings_part
    needs_strings = any(found.type == "s" for found in cells)
    strings = shared_strings(read_part(job.package, name).data) if name is not None and needs_strings else []
    return {found.column: _text(found, strings) for found in cells}


def _text(found: Cell, strings: Sequence[str]) -> str:
    if (
        found.type == "s"
        and found.value is not None
        and found.value.isdigit()
        and int(found.value) < len(strings)
    ):
        return strings[int(found.value)]
    return unescape_cell(found.inline if found.inline is not None else found.value or "")


def _folded(heading: str) -> str:
    return " ".join(heading.split()).casefold()


def _own_columns(job: _Job, headings: Mapping[int, str]) -> dict[str, int]:
    """Columns of an earlier run, by heading; those that are not written any more are left alone."""
    wanted = {_folded(column.heading) for column in job.columns}
    own: dict[str, int] = {}
    for position, heading in sorted(headings.items()):
        folded = _folded(heading)
        if not folded.startswith(_folded(job.own_prefix)):
            continue
        if folded in wanted and folded not in own:
            own[folded] = position
        else:
            why = "stands there twice" if folded in own else "is not written any more"
            job.remarks.append(
                f'{quoted(job.entry.name)}!{address(job.heading_row, position)}: the column "{heading}" {why} and '
                f"was left as it is. Delete it if it is an old result."
            )
    return own


def _first_free(job: _Job, edit: SheetEdit, block: _Block, tables: Sequence[Table], last_heading: int) -> int:
    """First column right of everything that stands in the rows of the list."""
    last = max(last_heading, edit.last_filled(job.heading_row, block.last_row))
    if block.table is not None:
        last = max(last, block.table.range.last_column)
    if block.filter is not None and _holds_list(job, block.filter):
        last = max(last, block.filter.last_column)
    merges = edit.root.find("mergeCells")
    obstacles = [parse_range(m.attributes.get("ref", "")) for m in merges.children] if merges else []
    obstacles += [table.range for table in tables if table is not block.table]
    ours = Range(job.heading_row, last + 1, block.last_row, LAST_COLUMN)
    return max([last, *(o.last_column for o in obstacles if o is not None and o.meets(ours))]) + 1


def _holds_list(job: _Job, cells: Range) -> bool:
    """Tell whether a filter belongs to the list: its heading row is the list's, or the lower of two."""
    return cells.first_row in (job.heading_row, job.heading_row + 1)


def _write_cells(job: _Job, edit: SheetEdit, block: _Block) -> None:
    prefix, epoch = edit.prefix, job.structure.epoch_1904
    cells: dict[int, dict[int, str]] = {number: {} for number in (job.heading_row, *job.rows)}
    neighbour = cell_at(edit.row(job.heading_row), block.beside)
    heading_style = neighbour.style if neighbour is not None else 0
    for position, column in zip(block.columns, job.columns, strict=True):
        letters = column_letters(position)
        if position in block.new:
            where = f"{letters}{job.heading_row}"
            cells[job.heading_row][position] = cell(where, column.heading, heading_style, prefix)
        markups = column_cells(
            letters, job.rows, column.values, job.style_of, column.number_format, prefix, epoch_1904=epoch
        )
        for number, markup in zip(job.rows, markups, strict=True):
            cells[number][position] = markup
    edit.write(cells, _stale(job, edit, block))


def _stale(job: _Job, edit: SheetEdit, block: _Block) -> dict[int, list[int]]:
    """Cells of an earlier run in rows that are not audited now; formulas there are the user's and stay."""
    ours = set(block.columns) - set(block.new)
    if not ours:
        return {}
    audited, stale = {job.heading_row, *job.rows}, {}
    for row in edit.rows:
        if row.number <= job.heading_row or row.number in audited:
            continue
        if last_filled_column(row) < min(ours):
            continue
        filled = [found for found in row.cells() if found.filled]
        alone = all(found.column in ours for found in filled)
        if row.number <= block.last_row or alone:
            columns = [found.column for found in filled if found.column in ours and not found.has_formula]
            if columns:
                stale[row.number] = columns
    return stale


def _write_rules(job: _Job, edit: SheetEdit, block: _Block) -> None:
    words = {quoted_text(look.equals) for _, looks in job.looks for look in looks}
    ours = set(block.columns) - set(block.new)
    priority = edit.remove_rules(ours, words) + 1
    markups = []
    by_heading = {
        _folded(column.heading): position for column, position in zip(job.columns, block.columns, strict=True)
    }
    for heading, looks in job.looks:
        if not job.rows or not looks:
            continue
        letters = column_letters(by_heading[_folded(heading)])
        cells = f"{letters}{min(job.rows)}:{letters}{max(job.rows)}"
        markups.append(rules_markup(cells, looks, job.styles, priority))
        priority += len(looks)
    if markups:
        edit.add_rules("".join(markups), ours, words)


def _widen(job: _Job, edit: SheetEdit, block: _Block) -> Range | None:
    """Widen the table or the filter to our columns, or say why that cannot be."""
    if not block.new:
        return None
    last, name = block.new[-1], quoted(job.entry.name)
    if block.table is not None:
        _widen_table(job, block, block.table)
        return None
    cells = block.filter
    if cells is None or not _holds_list(job, cells):
        return None
    if cells.last_column != block.beside:
        job.remarks.append(
            f"{name}: the filter {cells} ends before column {column_letters(block.beside)}, so the new columns are "
            f"outside it. Sorting by the filter does not move them; the unit is repeated among them."
        )
        return None
    element = edit.root.find("autoFilter")
    assert element is not None
    edit.edits += filter_edits(edit.data, element, last)
    return cells.up_to_column(last)


def _widen_table(job: _Job, block: _Block, table: Table) -> None:
    if table.range.last_column != block.beside or table.has_query or not table.part:
        why = "it is filled by a query" if table.has_query else "other cells stand at its right"
        job.remarks.append(
            f'{quoted(job.entry.name)}: the table "{table.name}" could not be widened ({why}). Sorting it does not '
            f"move the new columns; the unit is repeated among them."
        )
        return
    part = read_part(job.package, table.part)
    headings = [c.heading for p, c in zip(block.columns, job.columns, strict=True) if p in block.new]
    job.change(part, table_edits(part.data, parse_part(job.package, part), headings))


# Added sheets and the workbook part -----------------------------------------------------------------------


def _add_sheets(
    job: _Job, sheets: Sequence[Sheet], own_sheets: Collection[str], widened: Range | None
) -> dict[str, bytes]:
    """Write added sheets; gives the new parts that are appended, changed ones go into the job."""
    package, structure = job.package, job.structure
    slots, unwanted = plan_slots(package, structure, [s.name for s in sheets], own_sheets)
    contents = {
        slot.part: _write_slot(job, slot, sheet, slots) for slot, sheet in zip(slots, sheets, strict=True)
    }
    for entry in unwanted:
        job.remarks.append(
            f'Sheet "{entry.name}" is from an earlier run and was not written this time. Delete it if it is not needed.'
        )
    new_parts = [(slot.part, SHEET_TYPE) for slot in slots if slot.old is None]
    added = {part: contents[part] for part, _ in new_parts}
    targets = [("worksheet", part) for part, _ in new_parts]
    styles = job.styles.result()
    if structure.styles_part is not None:
        old = read_part(package, structure.styles_part)
        if styles != old.data:
            job.changed[old.name] = from_utf8(styles, old.encoding)
    elif any(job.changed) or added:
        name = posixpath.join(posixpath.dirname(structure.part.name), "styles.xml")
        added[name] = styles
        new_parts.append((name, STYLES_TYPE))
        targets.append(("styles", name))
    for slot in slots:
        if slot.old is not None:
            job.changed[slot.part] = contents[slot.part]
            job.dropped.add(relations_name(slot.part))
    relations, relation_changes, identifiers = relation_edits(package, structure, targets)
    job.change(relations, relation_changes)
    job.change(*type_edits(package, new_parts))
    edits = workbook_edits(structure, slots, identifiers)
    job.change(structure.part, edits + _filter_name_edits(job, widened))
    return added


def _write_slot(job: _Job, slot: Slot, sheet: Sheet, slots: Sequence[Slot]) -> bytes:
    if slot.name != slot.wanted and slot.old is None:
        job.remarks.append(
            f'The workbook has a sheet "{slot.wanted}" of its own, which was kept; ours is "{slot.name}".'
        )
    names = {other.wanted: other.name for other in slots}
    written = write_sheet(
        replace(sheet, name=slot.name),
        job.styles,
        strict=job.structure.strict,
        epoch_1904=job.structure.epoch_1904,
        target=lambda text: _retarget(text, names),
    )
    slot.names.append(marker_of(slot))
    if written.filter_range is not None:
        slot.names.append(filter_name(slot.name, written.filter_range))
    if written.title_rows:
        slot.names.append(title_name(slot.name, written.title_rows))
    return written.markup


def _retarget(text: str, names: Mapping[str, str]) -> str:
    """Where a link leads, with the present name of a sheet of ours."""
    match = _TARGET_SHEET.match(text)
    if match is None:
        return text
    sheet = match[1].strip("'").replace("''", "'") if match[1].startswith("'") else match[1]
    return f"{quoted(names.get(sheet, sheet))}!{match[2]}"


def _filter_name_edits(job: _Job, widened: Range | None) -> list[Edit]:
    """Widen the hidden name that goes with the filter of the audited sheet."""
    if widened is None:
        return []
    edits = []
    for name in job.structure.names:
        if name.name == "_xlnm._FilterDatabase" and name.position == job.entry.position:
            text = f"{quoted(job.entry.name)}!{widened.absolute()}"
            sheet, _, _ = name.text.rpartition("!")
            text = f"{sheet}!{widened.absolute()}" if sheet else text
            edits.append(Edit(name.element.open_end, name.element.close, escape_text(text).encode("utf-8")))
    return edits


def _remark_on_file(job: _Job) -> None:
    structure, name = job.structure, quoted(job.entry.name)
    for defined in structure.names:
        if defined.name == "_xlnm.Print_Area" and defined.position == job.entry.position:
            job.remarks.append(
                f"{name} prints only its print area ({defined.text.strip()}); the new columns may lie outside it. "
                f"Change the print area to print them."
            )
    if is_signed(structure):
        job.remarks.append(
            f"{job.package.label} carries a digital signature; the signature of the copy is invalid. The input keeps its own."
        )
    if structure.lock_structure:
        job.remarks.append(
            f"{job.package.label} locks its list of sheets; the copy keeps that lock and holds the added sheets."
        )
