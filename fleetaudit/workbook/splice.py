"""Annotate a copy of a workbook: bytes spliced into the parts that must change, all others copied raw."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from pathlib import Path
from types import MappingProxyType

from msgspec.structs import replace

from fleetaudit.errors import OutputError
from fleetaudit.language import say
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
from fleetaudit.workbook.archive import Limits, Package, RawMember, packed, packed_pieces, zip_chunks
from fleetaudit.workbook.atomic import refuse_existing, write_atomic
from fleetaudit.workbook.book import Workbook
from fleetaudit.workbook.cell_values import write_cells
from fleetaudit.workbook.container import Kind, read_bytes, sniff_bytes
from fleetaudit.workbook.job import CannotSplice, Column, Job
from fleetaudit.workbook.list_sheet import annotate_list
from fleetaudit.workbook.markup import Edit, NotWellFormed, escape_text, from_utf8
from fleetaudit.workbook.opened import Opened
from fleetaudit.workbook.orphans import orphans
from fleetaudit.workbook.place import Range, quoted
from fleetaudit.workbook.sheet_part import write_sheet
from fleetaudit.workbook.sheets import Link, Sheet, SheetToCome, Styled
from fleetaudit.workbook.structure import (
    Structure,
    is_signed,
    read_part,
    why_not_spliced,
)
from fleetaudit.workbook.styles import Look, Style, Styles

__all__ = ["CannotSplice", "Column", "Link", "Look", "Sheet", "SheetToCome", "Style", "Styled", "annotate"]

_TARGET_SHEET = re.compile(r"^('(?:[^']|'')*'|[^'!]+)!(.*)$")


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
    sheets: Sequence[Sheet | SheetToCome] = (),
    also: Mapping[str, Mapping[tuple[int, int], object]] = MappingProxyType({}),
    force: bool = False,
    limits: Limits | None = None,
    book: Workbook | None = None,
) -> list[str]:
    """Write a copy of a workbook with our columns beside its list and our sheets behind its own.

    Columns whose heading begins with `own_prefix` and is one of ours are replaced where they stand; sheets
    that an earlier run added under a name in `own_sheets` are replaced too. `also` holds values for single
    cells of other sheets, by sheet and (row, column). `book` is the source as it was read before: so a
    source that was saved again meanwhile, or that is encrypted, gives the copy that the values belong to,
    and nothing is scanned twice. The source is never written. Gives remarks for the user.
    """
    source, target = Path(source), Path(target)
    data = read_bytes(source, limits) if book is None else book.content
    kind = sniff_bytes(source, data, limits) if book is None else book.kind
    if kind not in (Kind.XLSX, Kind.XLSM):
        raise CannotSplice(
            say(
                "{name} is of the kind {kind}, which can be read but not annotated.",
                name=source.name,
                kind=kind.value,
            )
        )
    check_target(source, target, kind, force=force)
    if any(len(column.values) != len(rows) for column in columns):
        raise ValueError("every column needs one value for each row")
    opened = (book.opened if book is not None else None) or Opened.of(data, limits, source.name)
    structure = opened.structure
    with opened.package as package:
        why_not = why_not_spliced(package)
        if why_not is not None:
            raise CannotSplice(
                say("{name} can be read but not annotated: {why}.", name=source.name, why=say(why_not))
            )
        job = Job(
            opened=opened,
            entry=structure.sheet(sheet, source.name),
            heading_row=heading_row,
            rows=rows,
            columns=columns,
            looks=looks,
            own_prefix=own_prefix,
            styles=styles_of(package, structure),
        )
        try:
            widened = annotate_list(job)
            opened.forget(job.entry.part)
            for other, values in also.items():
                write_cells(job, structure.sheet(other, source.name), values)
            added = add_sheets(job, sheets, {*own_sheets, *(s.name for s in sheets)}, widened)
        except (NotWellFormed, UnicodeDecodeError) as error:
            raise package.damaged(say('sheet "{sheet}": {error}', sheet=sheet, error=error)) from error
        _remark_on_file(job)
        write_atomic(target, zip_chunks(members(job, added)), mode_from=source, force=force)
    return job.remarks


def check_target(source: Path, target: Path, kind: Kind, *, force: bool) -> None:
    """Raise where the copy would fall on its source, on another file, or take a wrong suffix."""
    if target.exists() and target.samefile(source):
        raise OutputError(
            say("{name} is the input itself, which is never written. Choose another name.", name=target.name)
        )
    if target.suffix.lower() != f".{kind.value}":
        raise OutputError(
            say(
                "{name} must end in .{kind}, as {other} is of that kind.",
                name=target.name,
                kind=kind.value,
                other=source.name,
            )
        )
    refuse_existing(target, force=force)


def styles_of(package: Package, structure: Structure) -> Styles:
    """Styles part of a workbook, to be added to."""
    name = structure.styles_part
    part = read_part(package, name) if name is not None else None
    try:
        return Styles(part.data if part is not None else None, strict=structure.strict)
    except NotWellFormed as error:
        raise package.damaged(say('part "{part}": {error}', part=name, error=error)) from error


def members(job: Job, added: Mapping[str, RawMember]) -> Iterator[RawMember]:
    """Every part of the new file: raw where it did not change, packed anew where it did."""
    for name in job.package.names:
        if name in job.dropped:
            continue
        if name in job.renewed:
            yield job.renewed[name]
        else:
            yield job.package.raw(name)
    yield from added.values()


def add_sheets(
    job: Job, sheets: Sequence[Sheet | SheetToCome], own_sheets: Collection[str], widened: Range | None
) -> dict[str, RawMember]:
    """Write added sheets; gives the new parts that are appended, changed ones go into the job."""
    package, structure = job.package, job.structure
    slots, unwanted = plan_slots(package, structure, [s.name for s in sheets], own_sheets)
    contents = {
        slot.part: _write_slot(job, slot, sheet, slots) for slot, sheet in zip(slots, sheets, strict=True)
    }
    for entry in unwanted:
        job.remarks.append(
            say(
                'Sheet "{sheet}" is from an earlier run and was not written this time. Delete it '
                "if it is not needed.",
                sheet=entry.name,
            )
        )
    new_parts = [(slot.part, SHEET_TYPE) for slot in slots if slot.old is None]
    added = {part: contents[part] for part, _ in new_parts}
    targets = [("worksheet", part) for part, _ in new_parts]
    styles = job.styles.result()
    if structure.styles_part is not None:
        old = read_part(package, structure.styles_part)
        if styles != old.data:
            job.renewed[old.name] = packed(old.name, from_utf8(styles, old.encoding))
    elif job.renewed or added:
        name = _free_styles_name(job)
        added[name] = packed(name, styles)
        new_parts.append((name, STYLES_TYPE))
        targets.append(("styles", name))
    job.renewed.update({slot.part: contents[slot.part] for slot in slots if slot.old is not None})
    _drop_orphans(job, slots)
    relations, relation_changes, identifiers = relation_edits(package, structure, targets)
    job.change(relations, relation_changes)
    job.change(*type_edits(package, new_parts, job.dropped))
    edits = workbook_edits(structure, slots, identifiers)
    job.change(structure.part, edits + _filter_name_edits(job, widened))
    return added


def _free_styles_name(job: Job) -> str:
    """Name for a first styles part; one that nothing leads to may lie there already."""
    folder = posixpath.dirname(job.structure.part.name)
    taken = {name.casefold() for name in job.package.names}
    name, number = posixpath.join(folder, "styles.xml"), 1
    while name.casefold() in taken:
        number += 1
        name = posixpath.join(folder, f"styles{number}.xml")
    return name


def _drop_orphans(job: Job, slots: Sequence[Slot]) -> None:
    """Leave out parts that belonged to the older sheets of ours only; say what a person had put on them."""
    replaced = {slot.part: slot.name for slot in slots if slot.old is not None}
    job.dropped, carried = orphans(job.package, replaced) if replaced else (set(), {})
    for part, words in carried.items():
        job.remarks.append(
            say(
                'Sheet "{sheet}" was written anew, without the {words} that stood on it. They '
                "are still in {label}; keep such things on a sheet of your own.",
                sheet=replaced[part],
                words=f" {say('and')} ".join(say(word) for word in words),
                label=job.package.label,
            )
        )


def _write_slot(job: Job, slot: Slot, given: Sheet | SheetToCome, slots: Sequence[Slot]) -> RawMember:
    if slot.name != slot.wanted and slot.old is None:
        job.remarks.append(
            say(
                'The workbook has a sheet "{wanted}" of its own, which was kept; ours is "{name}".',
                wanted=slot.wanted,
                name=slot.name,
            )
        )
    names = {other.wanted: other.name for other in slots}
    sheet = given.make() if isinstance(given, SheetToCome) else given
    written = write_sheet(
        replace(sheet, name=slot.name),
        job.styles,
        strict=job.structure.strict,
        epoch_1904=job.structure.epoch_1904,
        target=_retargeting(names),
    )
    slot.names.append(marker_of(slot))
    if written.filter_range is not None:
        slot.names.append(filter_name(slot.name, written.filter_range))
    if written.title_rows:
        slot.names.append(title_name(slot.name, written.title_rows))
    return packed_pieces(slot.part, written.pieces, written.about)


def _retargeting(names: Mapping[str, str]) -> Callable[[str], str]:
    """Gives where a link leads, with the present name of a sheet of ours; each sheet is looked up once."""
    starts: dict[str, str] = {}

    def leads(text: str) -> str:
        sheet, mark, place = text.rpartition("!")
        start = starts.get(sheet)
        if start is None:
            start = starts[sheet] = _retarget(sheet + mark, names)
        return start + place

    return leads


def _retarget(text: str, names: Mapping[str, str]) -> str:
    """Where a link leads, with the present name of a sheet of ours."""
    match = _TARGET_SHEET.match(text)
    if match is None:
        return text
    sheet = match[1].strip("'").replace("''", "'") if match[1].startswith("'") else match[1]
    return f"{quoted(names.get(sheet, sheet))}!{match[2]}"


def _filter_name_edits(job: Job, widened: Range | None) -> list[Edit]:
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


def _remark_on_file(job: Job) -> None:
    structure, name = job.structure, quoted(job.entry.name)
    for defined in structure.names:
        if defined.name == "_xlnm.Print_Area" and defined.position == job.entry.position:
            job.remarks.append(
                say(
                    "{name} prints only its print area ({text}); the new columns may lie outside it. "
                    "Change the print area to print them.",
                    name=name,
                    text=defined.text.strip(),
                )
            )
    if is_signed(structure):
        job.remarks.append(
            say(
                "{label} carries a digital signature; the signature of the copy is invalid. The "
                "input keeps its own.",
                label=job.package.label,
            )
        )
    if structure.lock_structure:
        job.remarks.append(
            say(
                "{label} locks its list of sheets; the copy keeps that lock and holds the added sheets.",
                label=job.package.label,
            )
        )
