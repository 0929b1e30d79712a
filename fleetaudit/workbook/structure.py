"""The workbook part and its relations: sheets, names, epoch, and what else the file carries."""

from __future__ import annotations

import posixpath
import re

from msgspec import Struct, field

from fleetaudit.errors import WorkbookError
from fleetaudit.language import later, say
from fleetaudit.workbook.archive import Package
from fleetaudit.workbook.markup import STRICT_MAIN, Element, NotWellFormed, parse, to_utf8, whole
from fleetaudit.workbook.place import Range, parse_range

_TRUE = {"1", "true", "on"}


class Part(Struct, frozen=True):
    """One XML part as UTF-8, with the encoding it came in."""

    name: str
    data: bytes
    encoding: str


class Relation(Struct, frozen=True):
    """One relationship of a part; `target` is the full name of the other part."""

    identifier: str
    type: str
    target: str
    external: bool


class SheetEntry(Struct, frozen=True):
    """One sheet in the order of the workbook part; `position` is what local names refer to."""

    name: str
    position: int
    relation: str
    part: str
    hidden: bool
    is_worksheet: bool


class DefinedName(Struct, frozen=True):
    """A name of the workbook, or of one sheet if `position` is set."""

    name: str
    position: int | None
    text: str
    element: Element


class Structure(Struct):
    """All that the workbook part and its relations say."""

    part: Part
    root: Element
    strict: bool
    sheets: tuple[SheetEntry, ...]
    names: tuple[DefinedName, ...]
    relations: dict[str, Relation]
    epoch_1904: bool
    styles_part: str | None
    strings_part: str | None
    lock_structure: bool = False
    features: tuple[str, ...] = field(default=())

    def sheet(self, name: str, label: str) -> SheetEntry:
        """Entry of a worksheet by its name."""
        for entry in self.sheets:
            if entry.name == name and entry.is_worksheet:
                return entry
        there = ", ".join(f'"{entry.name}"' for entry in self.sheets if entry.is_worksheet)
        raise WorkbookError(
            say(
                '{label} has no sheet "{sheet}". Its sheets are {there}.',
                label=label,
                sheet=name,
                there=there or say("none"),
            )
        )


def read_part(package: Package, name: str) -> Part:
    """One part as UTF-8."""
    if name not in package:
        raise package.damaged(say('part "{part}" is missing', part=name))
    try:
        data, encoding = to_utf8(package.read(name))
    except NotWellFormed as error:
        raise package.damaged(say('part "{part}": {error}', part=name, error=error)) from error
    return Part(name, data, encoding)


def parse_part(package: Package, part: Part) -> Element:
    """Tree of one part."""
    try:
        return parse(part.data)
    except NotWellFormed as error:
        raise package.damaged(say('part "{part}": {error}', part=part.name, error=error)) from error


def relations_name(part: str) -> str:
    """Name of the part that holds another part's relationships."""
    folder, file = posixpath.split(part)
    return posixpath.join(folder, "_rels", f"{file}.rels")


def read_relations(package: Package, part: str) -> dict[str, Relation]:
    """Relationships of a part by their identifiers; none if it has none."""
    name = relations_name(part)
    if name not in package:
        return {}
    relations = {}
    for element in parse_part(package, read_part(package, name)).all("Relationship"):
        values = element.attributes
        external = values.get("TargetMode") == "External"
        target = values.get("Target", "")
        relations[values.get("Id", "")] = Relation(
            identifier=values.get("Id", ""),
            type=values.get("Type", "").rsplit("/", 1)[-1],
            target=target if external else _resolve(package, part, target),
            external=external,
        )
    return relations


def _resolve(package: Package, part: str, target: str) -> str:
    """Full name of a relationship's target as the zip spells it."""
    joined = target if target.startswith("/") else posixpath.join(posixpath.dirname(part), target)
    name = posixpath.normpath(joined).lstrip("/")
    if name in package:
        return name
    if "%" in name:
        from urllib.parse import unquote  # noqa: PLC0415  few programs name parts so that it is needed

        name = unquote(name)
    folded = name.casefold()
    return next((other for other in package.names if other.casefold() == folded), name)


def read_structure(package: Package) -> Structure:
    """Read the workbook part of a package."""
    main = next((r.target for r in read_relations(package, "").values() if r.type == "officeDocument"), None)
    if main is None or main not in package:
        raise package.damaged("cannot read the sheet list")
    part = read_part(package, main)
    root = parse_part(package, part)
    relations = read_relations(package, main)
    sheets = _sheets(package, root, relations)
    if root.name != "workbook" or not any(entry.is_worksheet for entry in sheets):
        raise package.damaged("cannot read the sheet list")
    properties, protection = root.find("workbookPr"), root.find("workbookProtection")
    by_type = {relation.type: relation.target for relation in relations.values() if not relation.external}
    return Structure(
        part=part,
        root=root,
        strict=STRICT_MAIN.encode() in part.data,
        sheets=sheets,
        names=_names(root),
        relations=relations,
        epoch_1904=properties is not None and properties.attributes.get("date1904", "") in _TRUE,
        styles_part=_present(package, by_type.get("styles")),
        strings_part=_present(package, by_type.get("sharedStrings")),
        lock_structure=protection is not None and protection.attributes.get("lockStructure", "") in _TRUE,
        features=features(package.names),
    )


def _present(package: Package, name: str | None) -> str | None:
    return name if name is not None and name in package else None


def _sheets(package: Package, root: Element, relations: dict[str, Relation]) -> tuple[SheetEntry, ...]:
    parent = root.find("sheets")
    entries = []
    for position, element in enumerate(parent.all("sheet") if parent is not None else []):
        values = element.attributes
        relation = relations.get(values.get("r:id", ""))
        there = relation is not None and relation.target in package
        entries.append(
            SheetEntry(
                name=values.get("name", ""),
                position=position,
                relation=values.get("r:id", ""),
                part=relation.target if relation is not None else "",
                hidden=values.get("state", "visible") != "visible",
                is_worksheet=there and relation is not None and relation.type == "worksheet",
            )
        )
    return tuple(entries)


def _names(root: Element) -> tuple[DefinedName, ...]:
    parent = root.find("definedNames")
    names = []
    for element in parent.all("definedName") if parent is not None else []:
        position = whole(element.attributes.get("localSheetId", ""))
        names.append(DefinedName(element.attributes.get("name", ""), position, element.text, element))
    return tuple(names)


_COUNTED = (
    (re.compile(r"/charts/chart(?:ex)?\d*\.xml$", re.I), "chart", "charts"),
    (re.compile(r"/pivottables/[^/]+\.xml$", re.I), "pivot table", "pivot tables"),
    (re.compile(r"/media/[^/]+$", re.I), "picture", "pictures"),
    (re.compile(r"/slicers/[^/]+\.xml$", re.I), "slicer part", "slicer parts"),
    (re.compile(r"/timelines/[^/]+\.xml$", re.I), "timeline part", "timeline parts"),
    (re.compile(r"/externallinks/[^/]+\.xml$", re.I), "link to another workbook", "links to other workbooks"),
    (re.compile(r"/embeddings/[^/]+$", re.I), "embedded object", "embedded objects"),
    (re.compile(r"/activex/activex\d*\.xml$", re.I), "control", "controls"),
    (re.compile(r"/ctrlprops/[^/]+\.xml$", re.I), "form control", "form controls"),
)
_PRESENT = (
    (re.compile(r"vbaproject\.bin$", re.I), "macros"),
    (re.compile(r"/threadedcomments/", re.I), "threaded comments"),
    (re.compile(r"/comments[^/]*\.xml$", re.I), "comments"),
    (re.compile(r"/connections\.xml$", re.I), "data connections"),
    (re.compile(r"/querytables/", re.I), "query tables"),
    (re.compile(r"^customxml/item", re.I), "custom data"),
    (re.compile(r"^_xmlsignatures/", re.I), "a digital signature"),
)
SIGNATURE = "a digital signature"


def features(names: tuple[str, ...]) -> tuple[str, ...]:
    """What a package carries besides cells, in words; told from the names of its parts alone."""
    found = [word for pattern, word in _PRESENT if any(pattern.search(name) for name in names)]
    for pattern, one, many in _COUNTED:
        count = sum(bool(pattern.search(name)) for name in names)
        if count:
            found.append(f"{count} {one if count == 1 else many}")
    return tuple(found)


def why_not_spliced(package: Package) -> str | None:
    """Reason for which a readable workbook of the right kind cannot be annotated; None when it can."""
    if any(re.search(r"/revisions/", name, re.I) for name in package.names):
        return later("it is shared and keeps a log of changes; end sharing in your spreadsheet program")
    types = package.read("[Content_Types].xml").replace(b"\0", b"")
    if re.search(rb"(?:template|addin)(?:\.macroEnabled)?\.main\+xml", types):
        return later("it is a template or an add-in; save it as a workbook in your spreadsheet program")
    return None


def is_signed(structure: Structure) -> bool:
    """Tell whether the workbook carries a digital signature."""
    return SIGNATURE in structure.features


class Table(Struct, frozen=True):
    """A table of a sheet; heading and totals rows belong to its range."""

    name: str
    range: Range
    header_rows: int
    totals_rows: int
    columns: tuple[str, ...]
    part: str = ""
    has_query: bool = False


def _count(values: dict[str, str], name: str, usual: int) -> int:
    number = whole(values.get(name, ""))
    return usual if number is None else number


def read_tables(package: Package, sheet_part: str) -> tuple[Table, ...]:
    """Tables of a sheet, from its relationships."""
    tables = []
    for relation in read_relations(package, sheet_part).values():
        if relation.type != "table" or relation.target not in package:
            continue
        root = parse_part(package, read_part(package, relation.target))
        values = root.attributes
        cells = parse_range(values.get("ref", ""))
        if cells is None:
            continue
        columns = root.find("tableColumns")
        query = any(r.type == "queryTable" for r in read_relations(package, relation.target).values())
        tables.append(
            Table(
                name=values.get("displayName", values.get("name", "")),
                range=cells,
                header_rows=_count(values, "headerRowCount", 1),
                totals_rows=_count(values, "totalsRowCount", 0),
                columns=tuple(c.attributes.get("name", "") for c in columns.children) if columns else (),
                part=relation.target,
                has_query=query or values.get("tableType") == "queryTable",
            )
        )
    return tuple(sorted(tables, key=lambda table: (table.range.first_row, table.range.first_column)))
