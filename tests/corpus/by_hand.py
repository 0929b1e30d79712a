"""Workbooks made by hand: spellings and parts that the libraries at hand do not write.

Each starts from a list that a library wrote; the parts put in are invented and only as large as they must be.
"""

from __future__ import annotations

import codecs
import re
import struct
import zipfile
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from workbook_samples import (
    MAIN,
    STRICT,
    binary_cell,
    binary_row,
    binary_workbook,
    hand_made,
    members,
    rewrite,
    sheet_xml,
    to_macro_workbook,
    wide,
)

from . import by_openpyxl, by_xlsxwriter
from .case import HAND, HEADINGS, Build, Case, units, usual
from .office import Office

SHEET, BOOK, TYPES = "xl/worksheets/sheet1.xml", "xl/workbook.xml", "[Content_Types].xml"
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
RELATIONS = "http://schemas.openxmlformats.org/package/2006/relationships"
VENDOR = "http://schemas.microsoft.com/office"
STRICT_RELATIONS = "http://purl.oclc.org/ooxml/officeDocument/relationships"

Change = Callable[[bytes], bytes]


def based_on(source: Build, changes: Mapping[str, Change | bytes | None]) -> Build:
    """Build a workbook and change, add or take away parts of it."""

    def build(path: Path, office: Office) -> Path:
        source(path, office)
        content = members(path)
        return rewrite(
            path,
            {name: change(content[name]) if callable(change) else change for name, change in changes.items()},
        )

    return build


STRINGS_APART = by_xlsxwriter.book_of()
IN_LINE = by_xlsxwriter.book_of(constant_memory=True)
DECORATED = by_openpyxl.book_of(by_openpyxl.fleet(), by_openpyxl._decorate)


def inside(before: str, markup: str) -> Change:
    """Put markup before the first place where some text stands."""
    return lambda part: part.replace(before.encode(), markup.encode() + before.encode(), 1)


def typed(*parts: tuple[str, str]) -> Change:
    """Declare the content type of parts."""
    marks = "".join(f'<Override PartName="/{name}" ContentType="{kind}"/>' for name, kind in parts)
    return inside("</Types>", marks)


def related(name: str, *links: tuple[str, str, str]) -> dict[str, bytes]:
    """Relationships of a part, made anew: identifier, type, target."""
    folder, _, file = name.rpartition("/")
    marks = "".join(f'<Relationship Id="{i}" Type="{kind}" Target="{target}"/>' for i, kind, target in links)
    return {
        f"{folder}/_rels/{file}.rels": f'<Relationships xmlns="{RELATIONS}">{marks}</Relationships>'.encode()
    }


def strict(content: Mapping[str, bytes]) -> dict[str, bytes]:
    """Every part in the namespaces of the strict kind."""
    pairs = ((MAIN, STRICT), (OFFICE, STRICT_RELATIONS))
    changed = {}
    for name, part in content.items():
        changed[name] = part
        for old, new in pairs:
            changed[name] = changed[name].replace(old.encode(), new.encode())
    return changed


def _strict(path: Path, office: Office) -> Path:
    STRINGS_APART(path, office)
    return rewrite(path, dict(strict(members(path))))


def _prefix(part: bytes) -> bytes:
    changed = re.sub(rb"<(/?)(?![a-z]+:)(?=[a-zA-Z])", rb"<\1x:", part)
    return changed.replace(b" xmlns=", b" xmlns:x=", 1)


def _utf16(part: bytes) -> bytes:
    text = re.sub(r'encoding="UTF-8"', 'encoding="UTF-16"', part.decode())
    return codecs.BOM_UTF16_LE + text.encode("utf-16-le")


def _unreferenced(part: bytes) -> bytes:
    return re.sub(rb'<row r="\d+"', b"<row", re.sub(rb'<c r="[A-Z]+\d+"', b"<c", part))


def _self_closed(part: bytes) -> bytes:
    part = re.sub(rb"<sheetFormatPr[^>]*/>", rb"\g<0><cols/>", part)
    return part.replace(
        b"</sheetData>", b'<row r="8" ht="20" customHeight="1"/><row r="9"></row></sheetData>'
    )


def _foreign(part: bytes) -> bytes:
    part = part.replace(
        b"<worksheet ",
        b'<worksheet xmlns:mc="http://schemas.openxmlformats.org/markup-compatibility/2006" '
        b'mc:Ignorable="q xr" xmlns:q="urn:invented" xmlns:xr="urn:invented-revision" xr:uid="{1}" ',
        1,
    )
    part = part.replace(b'<row r="3"', b'<row xr:rid="7" q:mark="1" r="3"')
    return part.replace(
        b"</worksheet>",
        b'<extLst><ext uri="{invented}"><q:kept a="1"><q:deep>x</q:deep></q:kept></ext></extLst></worksheet>',
    )


def _alternate(part: bytes) -> bytes:
    markup = (
        b'<mc:AlternateContent xmlns:mc="http://schemas.openxmlformats.org/markup-compatibility/2006">'
        b'<mc:Choice xmlns:q="urn:invented" Requires="q"><controls/></mc:Choice></mc:AlternateContent>'
    )
    return part.replace(b"</worksheet>", markup + b"</worksheet>")


def _comments_and_data(part: bytes) -> bytes:
    part = part.replace(b"<sheetData>", b"<!-- <row r='99'> --><sheetData>")
    return re.sub(rb"<v>8</v>", b"<v><![CDATA[8]]></v>", part, count=1)


def _single_quotes(part: bytes) -> bytes:
    return part.replace(b'"', b"'")


def _phonetic(part: bytes) -> bytes:
    return part.replace(
        b"<t>U-001</t>",
        b"<r><rPr><b/></rPr><t>U-</t></r><r><t>001</t></r>"
        b'<rPh sb="0" eb="1"><t>read aloud</t></rPh><phoneticPr fontId="0"/>',
    )


def _slicer(part: bytes) -> bytes:
    ext = (
        '<extLst><ext uri="{A8765BA9-456A-4dab-B4F3-ACF838C121DE}" '
        'xmlns:x14="http://schemas.microsoft.com/office/spreadsheetml/2009/9/main">'
        '<x14:slicerList><x14:slicer r:id="rId90"/></x14:slicerList></ext></extLst>'
    )
    return part.replace(b"</worksheet>", ext.encode() + b"</worksheet>")


SLICER = "application/vnd.ms-excel.slicer+xml"
THREADED = "application/vnd.ms-excel.threadedcomments+xml"
PERSON = "application/vnd.ms-excel.person+xml"
THREAD = b'<ThreadedComments xmlns="urn:invented"><a>why?</a></ThreadedComments>'


def _zip_again(path: Path, office: Office) -> Path:
    """Write the package as some programs do: parts stored, sizes after the data, extra fields, a comment."""
    STRINGS_APART(path, office)
    content = members(path)
    with path.open("wb") as raw, zipfile.ZipFile(_Unseekable(raw), "w") as package:
        package.comment = b"made by hand"
        for number, (name, data) in enumerate(content.items()):
            info = zipfile.ZipInfo(name, (2021, 2, 3, 4, 5, 6))
            info.compress_type = zipfile.ZIP_STORED if number % 2 else zipfile.ZIP_DEFLATED
            info.extra = struct.pack("<HH4s", 0x6E69, 4, b"none")
            package.writestr(info, data)
    return path


class _Unseekable:
    """A stream that cannot go back, so that sizes are written after each part."""

    def __init__(self, raw: Any) -> None:
        self._raw = raw
        self.write, self.flush = raw.write, raw.flush


def _other_names(path: Path, office: Office) -> Path:
    """Parts under other names and folders, with targets from the root."""
    STRINGS_APART(path, office)
    moved = {SHEET: "xl/tabellen/blatt-1.xml"}
    content = members(path)
    for old, new in moved.items():
        content[new] = content.pop(old)
    for name in (TYPES, "xl/_rels/workbook.xml.rels"):
        text = content[name].decode()
        for old, new in moved.items():
            target = old.removeprefix("xl/")
            text = text.replace(f'"{target}"', f'"/{new}"').replace(f'"/{old}"', f'"/{new}"')
        content[name] = text.encode()
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as package:
        for name, data in content.items():
            package.writestr(name, data)
    return path


def _macro(path: Path, office: Office) -> Path:
    plain = STRINGS_APART(path.with_suffix(".made.xlsx"), office)
    to_macro_workbook(plain, path)
    plain.unlink()
    return path


def _binary(path: Path, _office: Office) -> Path:
    rows = binary_row(0)
    for column, heading in enumerate(HEADINGS):
        rows += binary_cell(column, 6, wide(heading))
    for number, values in enumerate(units(), 1):
        rows += binary_row(number)
        for column, value in enumerate(values):
            if isinstance(value, str):
                rows += binary_cell(column, 6, wide(value))
            elif isinstance(value, int):
                rows += binary_cell(column, 5, struct.pack("<d", value))
    return binary_workbook(path, rows)


def text_table(text: str, encoding: str = "utf-8") -> Build:
    """Build a table of text."""

    def build(path: Path, _office: Office) -> Path:
        path.write_bytes(text.encode(encoding))
        return path

    return build


def _text(mark: str, decimal: str = ".") -> str:
    lines = [mark.join(HEADINGS)]
    for values in units():
        cells = [
            f"{value:.1f}".replace(".", decimal) if isinstance(value, int) else str(value) for value in values
        ]
        lines.append(mark.join(cells))
    return "\r\n".join(lines) + "\r\n"


def _least(namespace: str = MAIN) -> Build:
    """Build the least workbook there can be: no styles, no strings, no dimension, no views."""

    def build(path: Path, _office: Office) -> Path:
        rows = []
        for number, values in enumerate([list(HEADINGS[:4]), *(row[:4] for row in units())], 1):
            cells = "".join(
                f"<c><v>{value}</v></c>"
                if isinstance(value, int)
                else f'<c t="inlineStr"><is><t>{value}</t></is></c>'
                for value in values
            )
            rows.append(f'<row r="{number}">{cells}</row>')
        return hand_made(path, sheet_xml("".join(rows), namespace=namespace), strict=namespace == STRICT)

    return build


def case(name: str, shows: Sequence[str], build: Build, **more: Any) -> Case:
    """One case with what sound units say, unless told otherwise."""
    return Case(name, HAND, tuple(shows), build, **{"reads": usual(), **more})


FLOWS = {key: value for key, value in usual().items() if key[1] != "media_date_day"}

CASES = (
    case("strict", ["strict", "shared strings"], _strict),
    case("strict and least", ["strict", "inline strings"], _least(STRICT), reads=FLOWS),
    case("least of all", ["transitional", "inline strings"], _least(), reads=FLOWS),
    case(
        "prefix for every element of the sheet",
        ["prefixed namespaces"],
        based_on(STRINGS_APART, {SHEET: _prefix}),
    ),
    case(
        "prefix in sheet, styles and workbook",
        ["prefixed namespaces"],
        based_on(STRINGS_APART, {SHEET: _prefix, "xl/styles.xml": _prefix, BOOK: _prefix}),
        office_opens=True,
    ),
    case("sheet in sixteen bits", ["transitional"], based_on(IN_LINE, {SHEET: _utf16})),
    case(
        "cells and rows without addresses", ["transitional"], based_on(STRINGS_APART, {SHEET: _unreferenced})
    ),
    case("closed columns and rows", ["transitional"], based_on(STRINGS_APART, {SHEET: _self_closed})),
    case("attributes and elements of others", ["extension elements"], based_on(DECORATED, {SHEET: _foreign})),
    case("alternate content", ["extension elements"], based_on(STRINGS_APART, {SHEET: _alternate})),
    case(
        "comments and literal sections",
        ["transitional"],
        based_on(STRINGS_APART, {SHEET: _comments_and_data}),
    ),
    case("single quotes", ["transitional"], based_on(STRINGS_APART, {SHEET: _single_quotes})),
    case(
        "runs and phonetic hints",
        ["shared strings"],
        based_on(STRINGS_APART, {"xl/sharedStrings.xml": _phonetic}),
    ),
    case(
        "slicer",
        ["slicer", "extension elements"],
        based_on(
            by_xlsxwriter.book_of(by_xlsxwriter.table(totals=False), table=True),
            {
                SHEET: _slicer,
                "xl/slicers/slicer1.xml": b'<slicers xmlns="urn:invented"/>',
                "xl/slicerCaches/slicerCache1.xml": b'<slicerCacheDefinition xmlns="urn:invented"/>',
                TYPES: typed(("xl/slicers/slicer1.xml", SLICER)),
                "xl/worksheets/_rels/sheet1.xml.rels": inside(
                    "</Relationships>",
                    (
                        f'<Relationship Id="rId90" Type="{VENDOR}/2007/relationships/slicer" '
                        'Target="../slicers/slicer1.xml"/>'
                    ),
                ),
            },
        ),
    ),
    case(
        "threaded comments",
        ["threaded comments"],
        based_on(
            DECORATED,
            {
                "xl/threadedComments/threadedComment1.xml": THREAD,
                "xl/persons/person.xml": b'<personList xmlns="urn:invented"/>',
                TYPES: typed(
                    ("xl/threadedComments/threadedComment1.xml", THREADED), ("xl/persons/person.xml", PERSON)
                ),
                "xl/worksheets/_rels/sheet1.xml.rels": inside(
                    "</Relationships>",
                    (
                        f'<Relationship Id="rId91" Type="{VENDOR}/2017/10/relationships/threadedComment" '
                        'Target="../threadedComments/threadedComment1.xml"/>'
                    ),
                ),
            },
        ),
    ),
    case(
        "signed",
        ["signed"],
        based_on(
            STRINGS_APART,
            {
                "_xmlsignatures/origin.sigs": b"",
                "_xmlsignatures/sig1.xml": b'<Signature xmlns="urn:invented"/>',
            },
        ),
        told=("signature",),
    ),
    case(
        "custom data, label, links to other workbooks",
        ["workbook"],
        based_on(
            STRINGS_APART,
            {
                "customXml/item1.xml": b"<data xmlns='urn:invented'>kept</data>",
                "docMetadata/LabelInfo.xml": b"<labels xmlns='urn:invented'/>",
                "xl/externalLinks/externalLink1.xml": f'<externalLink xmlns="{MAIN}"/>'.encode(),
                "odd \u00e9.bin": b"\0\1\2",
            },
        ),
    ),
    case("macro workbook", ["macro workbook"], _macro, suffix=".xlsm", told=("macros",)),
    case("package written in one pass", ["workbook"], _zip_again),
    case("parts under other names", ["workbook"], _other_names),
    case(
        "text with semicolons and decimal commas",
        ["csv", "decimal comma"],
        text_table(_text(";", ",")),
        suffix=".csv",
        spliced=False,
        sheet="",
    ),
    case(
        "text with tabs in sixteen bits",
        ["csv"],
        text_table(_text("\t"), "utf-16"),
        suffix=".csv",
        spliced=False,
        sheet="",
    ),
    case(
        "text of an old program",
        ["csv"],
        text_table(_text(",").replace("U-001", "U-\u00e9"), "cp1252"),
        suffix=".csv",
        spliced=False,
        sheet="",
        reads={(2, "unit_id"): "U-\u00e9"},
    ),
    case("binary workbook", ["xlsb"], _binary, suffix=".xlsb", spliced=False, reads=FLOWS),
)
