"""Sheets added to a workbook: the workbook part, its relationships, the content types, local names.

A sheet of ours is recognised by a hidden name local to it whose text is "<first name>:<present name>". A copy
that the user made of it, or one that the user renamed to keep, no longer carries its present name there and
is left alone. Names survive saving in spreadsheet programs, which part names and extra markup do not.
"""

from __future__ import annotations

import posixpath
from collections.abc import Collection, Sequence

from msgspec import Struct, field

from fleetaudit.workbook.archive import Package
from fleetaudit.workbook.markup import (
    RELATIONSHIPS,
    STRICT_RELATIONSHIPS,
    Edit,
    append_child,
    escape_attribute,
    escape_text,
    prefixed,
    whole,
)
from fleetaudit.workbook.place import Range, quoted
from fleetaudit.workbook.sheet_part import quoted_text
from fleetaudit.workbook.structure import Part, SheetEntry, Structure, parse_part, read_part, relations_name

MARKER = "fleetaudit_sheet"
_SHEET_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"
_OUR_NAMES = {MARKER, "_xlnm._FilterDatabase", "_xlnm.Print_Titles"}
_BEFORE_NAMES = {"sheets", "functionGroups", "externalReferences"}
_LONGEST_NAME = 31


class Slot(Struct):
    """Where an added sheet goes: over an older one of ours, or at the end."""

    wanted: str
    name: str
    part: str
    position: int
    old: SheetEntry | None
    names: list[tuple[str, str]] = field(default_factory=list)


def own_entries(structure: Structure, own_sheets: Collection[str]) -> dict[str, SheetEntry]:
    """Sheets of ours that the workbook already holds, by the name they were first given."""
    found: dict[str, SheetEntry] = {}
    for name in structure.names:
        if name.name != MARKER or name.position is None or name.position >= len(structure.sheets):
            continue
        entry = structure.sheets[name.position]
        first, _, present = name.text.strip().strip('"').replace('""', '"').partition(":")
        if first in own_sheets and present == entry.name and entry.is_worksheet:
            found.setdefault(first, entry)
    return found


def plan_slots(
    package: Package, structure: Structure, names: Sequence[str], own_sheets: Collection[str]
) -> tuple[list[Slot], list[SheetEntry]]:
    """A slot for each wanted sheet, and the sheets of ours that are no longer wanted."""
    own = own_entries(structure, own_sheets)
    taken = {entry.name.casefold() for entry in structure.sheets}
    parts = {name.casefold() for name in package.names}
    folder = posixpath.dirname(structure.part.name)
    slots, position, number = [], len(structure.sheets), 1
    for wanted in names:
        old = own.get(wanted)
        if old is not None:
            slots.append(Slot(wanted, old.name, old.part, old.position, old))
            continue
        name = _free_name(wanted, taken)
        taken.add(name.casefold())
        part = ""
        while not part or part.casefold() in parts:
            part = posixpath.join(folder, "worksheets", f"sheet{number}.xml")
            number += 1
        parts.add(part.casefold())
        slots.append(Slot(wanted, name, part, position, None))
        position += 1
    return slots, [entry for first, entry in own.items() if first not in names]


def _free_name(wanted: str, taken: Collection[str]) -> str:
    name, number = wanted, 1
    while name.casefold() in taken:
        number += 1
        ending = f" {number}"
        name = wanted[: _LONGEST_NAME - len(ending)] + ending
    return name


def marker_of(slot: Slot) -> tuple[str, str]:
    """Name and text that mark a sheet as ours."""
    return MARKER, quoted_text(f"{slot.wanted}:{slot.name}")


def filter_name(sheet: str, cells: Range) -> tuple[str, str]:
    """Hidden name that belongs to a filter on a sheet."""
    return "_xlnm._FilterDatabase", f"{quoted(sheet)}!{cells.absolute()}"


def title_name(sheet: str, rows: int) -> tuple[str, str]:
    """Name of the rows printed on top of every page."""
    return "_xlnm.Print_Titles", f"{quoted(sheet)}!$1:${rows}"


def workbook_edits(structure: Structure, slots: Sequence[Slot], relations: dict[str, str]) -> list[Edit]:
    """Edits of the workbook part: new sheet entries and the local names of all our sheets."""
    data, root = structure.part.data, structure.root
    edits: list[Edit] = []
    sheets = root.find("sheets")
    assert sheets is not None
    identifiers = [
        number for e in sheets.children if (number := whole(e.attributes.get("sheetId", ""))) is not None
    ]
    next_identifier = max(identifiers, default=0) + 1
    prefix, attribute = _relation_attribute(structure)
    entries = []
    for slot in slots:
        if slot.old is None:
            entries.append(
                f'<sheet name="{escape_attribute(slot.name)}" sheetId="{next_identifier}"{prefix} '
                f'{attribute}="{relations[slot.part]}"/>'
            )
            next_identifier += 1
    if entries:
        edits += append_child(data, sheets, prefixed("".join(entries), root.prefix))
    return edits + _name_edits(structure, slots)


def _relation_attribute(structure: Structure) -> tuple[str, str]:
    """How the workbook part spells the relationship attribute; declared anew where it has no prefix."""
    sheets = structure.root.find("sheets")
    first = sheets.children[0] if sheets is not None and sheets.children else None
    if first is not None:
        tag = structure.part.data[first.start : first.open_end].decode("utf-8")
        identifier = escape_attribute(first.attributes.get("r:id", ""))
        for piece in tag.split():
            name, _, value = piece.partition("=")
            declared_above = f"xmlns:{name.split(':')[0]}=" not in tag
            if name.endswith(":id") and value.strip("/>\"'") == identifier and declared_above:
                return "", name
    namespace = STRICT_RELATIONSHIPS if structure.strict else RELATIONSHIPS
    return f' xmlns:r="{namespace}"', "r:id"


def _name_edits(structure: Structure, slots: Sequence[Slot]) -> list[Edit]:
    data, root = structure.part.data, structure.root
    ours = {slot.position for slot in slots if slot.old is not None}
    edits = [
        Edit(name.element.start, name.element.end, b"")
        for name in structure.names
        if name.position in ours and name.name in _OUR_NAMES
    ]
    markups = []
    for slot in slots:
        for name, text in slot.names:
            hidden = "" if name == "_xlnm.Print_Titles" else ' hidden="1"'
            markups.append(
                f'<definedName name="{name}" '
                f'localSheetId="{slot.position}"{hidden}>{escape_text(text)}</definedName>'
            )
    if not markups:
        return edits
    markup, parent = prefixed("".join(markups), root.prefix), root.find("definedNames")
    if parent is not None:
        return edits + append_child(data, parent, markup)
    before = [child for child in root.children if child.name in _BEFORE_NAMES]
    position = before[-1].end
    whole = prefixed("<definedNames>", root.prefix) + markup + prefixed("</definedNames>", root.prefix)
    return [*edits, Edit(position, position, whole)]


def relation_edits(
    package: Package, structure: Structure, targets: Sequence[tuple[str, str]]
) -> tuple[Part, list[Edit], dict[str, str]]:
    """Edits of the workbook's relationships for new parts of a type; also their new identifiers."""
    part = read_part(package, relations_name(structure.part.name))
    root = parse_part(package, part)
    taken = {element.attributes.get("Id", "") for element in root.children}
    base = STRICT_RELATIONSHIPS if structure.strict else RELATIONSHIPS
    folder = posixpath.dirname(structure.part.name)
    identifiers, markups, number = {}, [], 1
    for kind, target in targets:
        while f"rId{number}" in taken:
            number += 1
        identifiers[target] = f"rId{number}"
        taken.add(f"rId{number}")
        relative = posixpath.relpath(target, folder or ".")
        markups.append(f'<Relationship Id="rId{number}" Type="{base}/{kind}" Target="{relative}"/>')
    edits = append_child(part.data, root, prefixed("".join(markups), root.prefix)) if markups else []
    return part, edits, identifiers


def type_edits(
    package: Package, parts: Sequence[tuple[str, str]], dropped: Collection[str] = ()
) -> tuple[Part, list[Edit]]:
    """Edits of the content types for new parts, each with its type, and without those of dropped parts."""
    types = read_part(package, "[Content_Types].xml")
    root = parse_part(package, types)
    markup = "".join(f'<Override PartName="/{name}" ContentType="{kind}"/>' for name, kind in parts)
    edits = append_child(types.data, root, prefixed(markup, root.prefix)) if markup else []
    gone = {f"/{name}" for name in dropped}
    edits += [
        Edit(one.start, one.end, b"") for one in root.children if one.attributes.get("PartName") in gone
    ]
    return types, edits


SHEET_TYPE = _SHEET_TYPE
STYLES_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.styles+xml"
