"""Spellings of the same sheet that occur in real files; the plain spelling is the measure for all others."""

from __future__ import annotations

import re
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import openpyxl
import pytest
import python_calamine
from workbook_samples import (
    MAIN,
    STRICT,
    hand_made,
    members,
    plain_workbook,
    rewrite,
    rich_workbook,
    sheet_xml,
)

from fleetaudit.workbook.archive import Limits
from fleetaudit.workbook.book import open_workbook
from fleetaudit.workbook.formats import number_format
from fleetaudit.workbook.gathering import Readings, read_rows
from fleetaudit.workbook.markup import parse
from fleetaudit.workbook.rows import SheetPart
from fleetaudit.workbook.splice import Column, Look, Sheet, annotate
from fleetaudit.workbook.values import Decoder

# openpyxl says that it uses a style of its own where a workbook has none.
pytestmark = pytest.mark.filterwarnings("ignore:Workbook contains no default style:UserWarning")

ROWS = (
    '<row r="2" spans="1:3"><c r="A2" t="inlineStr"><is><t>Unit</t></is></c>'
    '<c r="B2" t="inlineStr"><is><t>Flow</t></is></c></row>'
    '<row r="3" spans="1:3"><c r="A3" t="inlineStr"><is><t>U &amp; 1</t></is></c><c '
    'r="B3"><v>5.5</v></c></row>'
    '<row r="4" hidden="1"><c r="A4" t="inlineStr"><is><t xml:space="preserve"> U-2</t></is></c>'
    '<c r="B4"><f>A1+1</f></c></row>'
)
HEAD = '<dimension ref="A2:B4"/><cols><col min="1" max="16384" width="9.5"/></cols>'
TAIL = (
    '<mergeCells count="1"><mergeCell ref="A8:B8"/></mergeCells>'
    '<pageMargins left="1" right="1" top="1" bottom="1" header="1" footer="1"/>'
)
PLAIN = sheet_xml(ROWS, head=HEAD, tail=TAIL)


def prefixed(part: bytes) -> bytes:
    changed = re.sub(rb"<(/?)(?=[a-zA-Z])", rb"<\1x:", part)
    return changed.replace(b"xmlns=", b"xmlns:x=", 1)


def single_quotes(part: bytes) -> bytes:
    return part.replace(b'"', b"'")


def utf16(part: bytes) -> bytes:
    return ('<?xml version="1.0" encoding="UTF-16"?>' + part.decode()).encode("utf-16")


def utf16_big(part: bytes) -> bytes:
    text = '\ufeff<?xml version="1.0" encoding="UTF-16"?>' + part.decode()
    return text.encode("utf-16-be")


def without_references(part: bytes) -> bytes:
    """Cells without r, and rows without r except the first, which starts in row 2."""
    part = re.sub(rb'<c r="[A-Z]+\d+"', b"<c", part)
    return re.sub(rb'<row r="[34]"', b"<row", part)


def spread_out(part: bytes) -> bytes:
    return re.sub(rb">(?=<(?!/t|/v|/f))(?<!<t>)", b">\n  ", part)


def attributes_in_another_order(part: bytes) -> bytes:
    return re.sub(rb'<c (r="[A-Z]+\d+") (t="\w+")', rb"<c \2 \1", part)


def commented(part: bytes) -> bytes:
    return part.replace(b"<row ", b"<!-- <row r='9'> --><row ", 1).replace(b"<v>5.5", b"<v><![CDATA[5.5]]>")


def foreign_elements(part: bytes) -> bytes:
    part = part.replace(b"<worksheet ", b'<worksheet xmlns:q="urn:invented" ', 1)
    part = part.replace(b"<cols>", b'<cols><q:col min="1" max="3"/>')
    return part.replace(b"</row>", b"<q:note>no cell</q:note></row>", 1)


def empty_long_elements(part: bytes) -> bytes:
    return part.replace(b'</row><row r="4"', b'</row><row r="4"').replace(
        b'<dimension ref="A2:B4"/>', b'<dimension ref="A2:B4"></dimension>'
    )


def with_byte_order_mark(part: bytes) -> bytes:
    return b"\xef\xbb\xbf<?xml version='1.0' encoding='UTF-8' standalone='yes'?>\r\n" + part


def self_closed_rows(part: bytes) -> bytes:
    part = part.replace(b"<sheetData>", b'<sheetData><row r="1" ht="20"/>')
    return part.replace(b"</sheetData>", b'<row r="6"/><row r="7" spans="1:2"></row></sheetData>')


DIALECTS: list[Callable[[bytes], bytes]] = [
    prefixed, single_quotes, utf16, utf16_big, without_references, spread_out,
    attributes_in_another_order, commented, foreign_elements, empty_long_elements, self_closed_rows,
    with_byte_order_mark,
]  # fmt: skip


def strict_sheet() -> bytes:
    return sheet_xml(ROWS, head=HEAD, tail=TAIL, namespace=STRICT)


def facts(path: Path) -> tuple[object, ...]:
    found = open_workbook(path).read("Units")
    return found.columns, found.hidden_rows, found.unstored, found.merged, found.errors


def annotated(source: Path, target: Path) -> Path:
    annotate(
        source, target, sheet="Units", heading_row=2, rows=[3, 4, 6], own_prefix="Audit: ",
        columns=[Column("Audit: verdict", ["plan", "clean", None]), Column("Audit: low", [1.5, 2, 3], "0.0")],
        looks=[("Audit: verdict", [Look("plan", "F8CBAD", "7F1D1D")])], own_sheets=["Summary"],
        sheets=[Sheet("Summary", [["x"]], freeze_rows=1)], force=True,
    )  # fmt: skip
    return target


@pytest.fixture
def plain_facts(tmp_path: Path) -> tuple[object, ...]:
    return facts(hand_made(tmp_path / "plain.xlsx", PLAIN))


def test_the_plain_spelling_reads_as_openpyxl_and_calamine_read_it(tmp_path: Path) -> None:
    path = hand_made(tmp_path / "plain.xlsx", PLAIN)
    found = open_workbook(path).read("Units")
    sheet = openpyxl.load_workbook(path, data_only=True)["Units"]
    for row in range(1, 5):
        assert [found.value(row, 1), found.value(row, 2)] == [
            sheet.cell(row, 1).value,
            sheet.cell(row, 2).value,
        ]
    rows = (
        python_calamine.CalamineWorkbook.from_path(path)
        .get_sheet_by_index(0)
        .to_python(skip_empty_area=False)
    )
    assert [[v if v is not None else "" for v in row] for row in zip(*found.columns, strict=True)] == rows


@pytest.mark.parametrize("spell", DIALECTS, ids=lambda spell: spell.__name__)
def test_dialects_read_the_same(
    spell: Callable[[bytes], bytes], plain_facts: tuple[object, ...], tmp_path: Path
) -> None:
    path = hand_made(tmp_path / "dialect.xlsx", spell(PLAIN))
    assert facts(path) == plain_facts


@pytest.mark.parametrize("spell", DIALECTS, ids=lambda spell: spell.__name__)
def test_dialects_are_annotated_alike_and_repeat(spell: Callable[[bytes], bytes], tmp_path: Path) -> None:
    source = hand_made(tmp_path / "dialect.xlsx", spell(PLAIN))
    first, second = annotated(source, tmp_path / "1.xlsx"), tmp_path / "2.xlsx"
    found = open_workbook(first).read("Units")
    assert found.columns[2][:4] == [None, "Audit: verdict", "plan", "clean"]
    assert found.columns[3] == [None, "Audit: low", 1.5, 2, None, 3]
    assert [column[:4] for column in found.columns[:2]] == facts(source)[0]
    annotated(first, second)
    assert members(first) == members(second)
    sheet = members(first)["xl/worksheets/sheet1.xml"]
    root = (
        parse(sheet) if b"\0" not in sheet else parse(sheet.decode("utf-16").removeprefix("\ufeff").encode())
    )
    order = [child.name for child in root.children]
    assert order == ["dimension", "cols", "sheetData", "mergeCells", "conditionalFormatting", "pageMargins"]
    dimension = root.find("dimension")
    assert dimension is not None and dimension.attributes["ref"] == "A2:D6"


@pytest.mark.parametrize("spell", DIALECTS, ids=lambda spell: spell.__name__)
def test_bytes_around_our_pieces_stay(spell: Callable[[bytes], bytes], tmp_path: Path) -> None:
    """Every original byte occurs in the copy in its order; only marked attributes and columns change."""
    source = hand_made(tmp_path / "dialect.xlsx", spell(PLAIN))
    name = "xl/worksheets/sheet1.xml"
    before, after = members(source)[name], members(annotated(source, tmp_path / "1.xlsx"))[name]
    start = before.find(b"sheetData") if b"\0" not in before else before.find("sheetData".encode("utf-16-le"))
    pieces = re.split(rb"(?<=>)|(?<=>\0)|(?=<)", before[max(start, 0) :])
    position = 0
    for piece in pieces:
        if b"spans" in piece.replace(b"\0", b"") or b"/>" in piece.replace(b"\0", b""):
            continue
        found = after.find(piece, position)
        assert found >= 0, piece
        position = found


def test_strict_workbooks_read_and_annotate(plain_facts: tuple[object, ...], tmp_path: Path) -> None:
    source = hand_made(tmp_path / "strict.xlsx", strict_sheet(), strict=True)
    assert facts(source) == plain_facts
    first = annotated(source, tmp_path / "1.xlsx")
    content = members(first)
    assert STRICT.encode() in content["xl/worksheets/sheet2.xml"]
    assert (
        b"http://purl.oclc.org/ooxml/officeDocument/relationships/worksheet"
        in content["xl/_rels/workbook.xml.rels"]
    )
    assert all(MAIN.encode() not in content[part] for part in content if part.startswith("xl/"))
    assert open_workbook(first).read("Summary").columns == [["x"]]
    annotated(first, tmp_path / "2.xlsx")
    assert members(tmp_path / "2.xlsx") == content


def test_prefixes_in_the_workbook_and_its_relations(tmp_path: Path) -> None:
    source = hand_made(tmp_path / "a.xlsx", prefixed(PLAIN))
    content = members(source)
    changed = {
        name: prefixed(content[name]).replace(b"xmlns:r=", b"xmlns:rel=").replace(b" r:id=", b" rel:id=")
        for name in ("xl/workbook.xml", "xl/_rels/workbook.xml.rels", "[Content_Types].xml")
    }
    rewrite(source, changed)  # type: ignore[arg-type]  # members that are replaced are bytes
    first = annotated(source, tmp_path / "1.xlsx")
    assert openpyxl.load_workbook(first).sheetnames == ["Units", "Summary"]
    assert b'rel:id="' in members(first)["xl/workbook.xml"].split(b"Summary")[1]
    annotated(first, tmp_path / "2.xlsx")
    assert members(first) == members(tmp_path / "2.xlsx")


def test_a_workbook_without_styles_gets_a_styles_part(tmp_path: Path) -> None:
    first = annotated(hand_made(tmp_path / "a.xlsx", PLAIN), tmp_path / "1.xlsx")
    sheet = openpyxl.load_workbook(first)["Units"]
    assert sheet["D3"].number_format == "0.0"
    assert "xl/styles.xml" in members(first)


@pytest.mark.parametrize("styles", [
    f'<styleSheet xmlns="{MAIN}"/>',
    f'<styleSheet xmlns="{MAIN}"></styleSheet>',
    f'<styleSheet xmlns="{MAIN}"><cellXfs/><extLst/></styleSheet>',
    f'<s:styleSheet xmlns:s="{MAIN}"><s:fonts count="1"><s:font><s:sz val="9"/><s:name '
    f'val="Arial"/></s:font></s:fonts>'
    f"<s:dxfs count='0'/></s:styleSheet>",
])  # fmt: skip
def test_parents_missing_from_the_styles_are_made_in_order(styles: str, tmp_path: Path) -> None:
    source = hand_made(tmp_path / "a.xlsx", PLAIN, styles=styles.encode())
    first = annotated(source, tmp_path / "1.xlsx")
    root = parse(members(first)["xl/styles.xml"])
    order = [
        "numFmts",
        "fonts",
        "fills",
        "borders",
        "cellStyleXfs",
        "cellXfs",
        "cellStyles",
        "dxfs",
        "extLst",
    ]
    names = [child.name for child in root.children]
    assert names == sorted(names, key=order.index)
    assert all(
        int(child.attributes["count"]) == len(child.children) for child in root.children if child.children
    )
    assert openpyxl.load_workbook(first)["Units"]["D3"].number_format == "0.0"
    annotated(first, tmp_path / "2.xlsx")
    assert members(first) == members(tmp_path / "2.xlsx")


@pytest.mark.parametrize(("cols", "hidden"), [
    ('<cols><col min="1" max="2" width="9"/><col min="3" max="16384" width="0" hidden="1"/></cols>', [3]),
    ("<cols/>", []),
    ("<cols></cols>", []),
    ("", []),
    ('<cols><col min="3" max="3" width="5" style="0" customWidth="1"></col></cols>', []),
])  # fmt: skip
def test_our_columns_are_visible_and_spans_are_split(cols: str, hidden: list[int], tmp_path: Path) -> None:
    source = hand_made(tmp_path / "a.xlsx", sheet_xml(ROWS, head=cols))
    assert sorted(open_workbook(source).read("Units").hidden_columns)[:1] == hidden
    first = annotated(source, tmp_path / "1.xlsx")
    found = open_workbook(first).read("Units").hidden_columns
    assert not found & {3, 4} and (not hidden or 5 in found)
    spans = parse(members(first)["xl/worksheets/sheet1.xml"]).find("cols")
    assert spans is not None
    bounds = [(int(c.attributes["min"]), int(c.attributes["max"])) for c in spans.children]
    assert all(before[1] < after[0] for before, after in pairwise(bounds))
    assert {(3, 3), (4, 4)} <= set(bounds)


def readings(data: bytes, strings: list[str], *, canonical: bool) -> Readings:
    part = SheetPart(data)
    assert part.canonical
    part.canonical = canonical
    formats = [
        number_format("General"),
        number_format("yyyy-mm-dd"),
        number_format('0.0" gpm"'),
        number_format("0.0"),
    ]
    found = read_rows(part, Decoder(strings, formats, False, Limits(), "a.xlsx"))
    assert part.canonical is canonical
    return found


@pytest.mark.parametrize("make", [plain_workbook, rich_workbook])
def test_both_ways_of_reading_give_the_same(make: Callable[[Path], Path], tmp_path: Path) -> None:
    part = members(make(tmp_path / "a.xlsx"))["xl/worksheets/sheet1.xml"]
    strings = [f"text {number}" for number in range(200)]
    by_pattern, parsed = (readings(part, strings, canonical=way) for way in (True, False))
    assert by_pattern.hidden_rows == parsed.hidden_rows
    assert by_pattern.cells.values() == parsed.cells.values()
    assert by_pattern.cells.special() == parsed.cells.special()


@pytest.mark.parametrize("make", [plain_workbook, rich_workbook])
def test_both_ways_of_finding_cells_give_the_same(make: Callable[[Path], Path], tmp_path: Path) -> None:
    part = SheetPart(members(make(tmp_path / "a.xlsx"))["xl/worksheets/sheet1.xml"])
    fast, slow = list(part.rows(canonical=True)), list(part.rows(canonical=False))
    for one, other in zip(fast, slow, strict=True):
        assert (one.number, one.hidden, one.start, one.open_end, one.close, one.end) == (
            other.number, other.hidden, other.start, other.open_end, other.close, other.end,
        )  # fmt: skip
        assert one.cells() == other.cells()


def test_a_target_with_an_escaped_blank_is_found(tmp_path: Path) -> None:
    """Relationships hold addresses, in which a blank is escaped; some programs name the part with it."""
    path = plain_workbook(tmp_path / "fleet.xlsx")
    plain = open_workbook(path).read("Units").columns
    content = members(path)
    sheet = content["xl/worksheets/sheet1.xml"]
    links = content["xl/_rels/workbook.xml.rels"].replace(
        b"worksheets/sheet1.xml", b"worksheets/my%20sheet.xml"
    )
    changes = {"xl/worksheets/sheet1.xml": None, "xl/worksheets/my sheet.xml": sheet}
    rewrite(path, {**changes, "xl/_rels/workbook.xml.rels": links})
    assert open_workbook(path).read("Units").columns == plain


def test_a_styles_part_that_nothing_leads_to_is_not_overwritten(tmp_path: Path) -> None:
    source, target = plain_workbook(tmp_path / "fleet.xlsx"), tmp_path / "out.xlsx"
    content = members(source)
    links = re.sub(rb"<Relationship [^>]*styles[^>]*/>", b"", content["xl/_rels/workbook.xml.rels"])
    rewrite(source, {"xl/_rels/workbook.xml.rels": links, "xl/styles.xml": b"<lost/>"})
    annotated(source, target)
    after = members(target)
    assert after["xl/styles.xml"] == b"<lost/>" and b"cellXfs" in after["xl/styles2.xml"]
    assert b"styles2.xml" in after["xl/_rels/workbook.xml.rels"]
