"""A copy hangs together: schema order (ECMA-376 part 1), counts, references, content types."""

from __future__ import annotations

import posixpath
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest
from annotation_case import columns, run
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from workbook_samples import (
    FIRST_ROW,
    LAST_ROW,
    UNITS,
    members,
    plain_workbook,
    rich_workbook,
    table_workbook,
    to_macro_workbook,
)

from fleetaudit.workbook import opened
from fleetaudit.workbook.book import open_workbook
from fleetaudit.workbook.markup import Element, parse
from fleetaudit.workbook.splice import Column

# Sequences of CT_Worksheet (18.3.1.99), CT_Workbook (18.2.27) and CT_Stylesheet (18.8.39).
WORKSHEET = [
    "sheetPr", "dimension", "sheetViews", "sheetFormatPr", "cols", "sheetData", "sheetCalcPr",
    "sheetProtection", "protectedRanges", "scenarios", "autoFilter", "sortState",
    "dataConsolidate", "customSheetViews", "mergeCells",
    "phoneticPr", "conditionalFormatting", "dataValidations", "hyperlinks", "printOptions", "pageMargins",
    "pageSetup", "headerFooter", "rowBreaks", "colBreaks", "customProperties", "cellWatches", "ignoredErrors",
    "smartTags", "drawing", "legacyDrawing", "legacyDrawingHF", "picture", "oleObjects", "controls",
    "webPublishItems", "tableParts", "extLst",
]  # fmt: skip
WORKBOOK = [
    "fileVersion", "fileSharing", "workbookPr", "workbookProtection", "bookViews", "sheets", "functionGroups",
    "externalReferences", "definedNames", "calcPr", "oleSize", "customWorkbookViews", "pivotCaches",
    "smartTagPr", "smartTagTypes", "webPublishing", "fileRecoveryPr", "webPublishObjects", "extLst",
]  # fmt: skip
STYLESHEET = [
    "numFmts", "fonts", "fills", "borders", "cellStyleXfs", "cellXfs", "cellStyles", "dxfs", "tableStyles",
    "colors", "extLst",
]  # fmt: skip


@pytest.fixture(params=[plain_workbook, rich_workbook, table_workbook], ids=["plain", "rich", "table"])
def parts(request: pytest.FixtureRequest, tmp_path: Path) -> dict[str, bytes]:
    make: Callable[[Path], Path] = request.param
    run(make(tmp_path / "fleet.xlsx"), tmp_path / "out.xlsx")
    return members(tmp_path / "out.xlsx")


def sheets(parts: dict[str, bytes]) -> dict[str, Element]:
    return {name: parse(data) for name, data in parts.items() if name.startswith("xl/worksheets/sheet")}


def in_order(root: Element, order: list[str]) -> bool:
    names = [child.name for child in root.children]
    return names == sorted(names, key=order.index)


def test_children_stand_in_the_order_of_the_schema(parts: dict[str, bytes]) -> None:
    assert in_order(parse(parts["xl/workbook.xml"]), WORKBOOK)
    assert in_order(parse(parts["xl/styles.xml"]), STYLESHEET)
    for name, root in sheets(parts).items():
        assert in_order(root, WORKSHEET), name


def test_rows_and_cells_ascend(parts: dict[str, bytes]) -> None:
    for root in sheets(parts).values():
        data = root.find("sheetData")
        assert data is not None
        numbers = [int(row.attributes["r"]) for row in data.children]
        assert numbers == sorted(set(numbers))
        for row in data.children:
            places = [
                openpyxl.utils.cell.coordinate_from_string(cell.attributes["r"]) for cell in row.children
            ]
            found = [openpyxl.utils.column_index_from_string(letters) for letters, _ in places]
            assert found == sorted(set(found)) and {number for _, number in places} <= {
                int(row.attributes["r"])
            }
            if "spans" in row.attributes and found:
                first, last = map(int, row.attributes["spans"].split(":"))
                assert first <= found[0] and found[-1] <= last


def test_style_indices_exist_and_counts_are_true(parts: dict[str, bytes]) -> None:
    styles = parse(parts["xl/styles.xml"])
    size = {child.name: len(child.children) for child in styles.children}
    for child in styles.children:
        assert child.attributes.get("count", str(len(child.children))) == str(len(child.children))
    formats = styles.find("cellXfs")
    assert formats is not None
    for xf in formats.children:
        assert int(xf.attributes["fontId"]) < size["fonts"] and int(xf.attributes["fillId"]) < size["fills"]
    for root in sheets(parts).values():
        for element in root.walk():
            if element.name == "c":
                assert int(element.attributes.get("s", "0")) < size["cellXfs"]
            if element.name == "cfRule" and "dxfId" in element.attributes:
                assert int(element.attributes["dxfId"]) < size["dxfs"]


def test_every_sheet_has_its_relation_part_and_type(parts: dict[str, bytes]) -> None:
    book, types = parse(parts["xl/workbook.xml"]), parse(parts["[Content_Types].xml"])
    relations = parse(parts["xl/_rels/workbook.xml.rels"])
    targets = {r.attributes["Id"]: r.attributes["Target"] for r in relations.children}
    assert len(targets) == len(relations.children)
    listed = book.find("sheets")
    assert listed is not None
    names = [sheet.attributes["name"].casefold() for sheet in listed.children]
    identifiers = [sheet.attributes["sheetId"] for sheet in listed.children]
    assert len(set(names)) == len(names) and len(set(identifiers)) == len(identifiers)
    overrides = [t.attributes["PartName"] for t in types.children if t.name == "Override"]
    assert len({name.casefold() for name in overrides}) == len(overrides)
    for sheet in listed.children:
        target = targets[sheet.attributes["r:id"]]
        part = target.lstrip("/") if target.startswith("/") else posixpath.join("xl", target)
        assert part in parts and f"/{part}" in overrides


def test_only_one_sheet_is_selected_and_names_point_at_sheets(parts: dict[str, bytes]) -> None:
    selected = [
        name
        for name, root in sheets(parts).items()
        if any(element.attributes.get("tabSelected") in ("1", "true") for element in root.walk())
    ]
    assert set(selected) <= {"xl/worksheets/sheet1.xml"}
    book = parse(parts["xl/workbook.xml"])
    listed, named = book.find("sheets"), book.find("definedNames")
    assert listed is not None and named is not None
    keys = [(n.attributes["name"], n.attributes.get("localSheetId")) for n in named.children]
    assert len(set(keys)) == len(keys)
    assert all(local is None or int(local) < len(listed.children) for _, local in keys)


def test_macro_workbooks_hold_together_too(tmp_path: Path) -> None:
    source = to_macro_workbook(rich_workbook(tmp_path / "a.xlsx"), tmp_path / "fleet.xlsm")
    run(source, tmp_path / "out.xlsm")
    assert b"sheet.macroEnabled.main+xml" in members(tmp_path / "out.xlsm")["[Content_Types].xml"]
    test_every_sheet_has_its_relation_part_and_type(members(tmp_path / "out.xlsm"))


@pytest.mark.parametrize("make", [plain_workbook, rich_workbook])
def test_a_long_sheet_is_unpacked_again_for_its_copy(
    make: Callable[[Path], Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    source, copies = make(tmp_path / "fleet.xlsx"), [tmp_path / "held.xlsx", tmp_path / "again.xlsx"]
    for copy, most_held in zip(copies, (1 << 20, 0), strict=True):
        monkeypatch.setattr(opened, "_MOST_HELD", most_held)
        book = open_workbook(source)
        book.read("Units")
        assert book.opened is not None and bool(book.opened.scanned) is (most_held > 0)
        run(source, copy, book=book)
    assert copies[0].read_bytes() == copies[1].read_bytes()


PRINTABLE = st.text(
    st.characters(exclude_categories=["Cs", "Cc"], exclude_characters="\ufffe\uffff"), max_size=30
)
AWKWARD = st.sampled_from(
    ["_x0041_", "_x0041_x0042_", "__x005F_", "a\nb", "\t", "&lt;", "]]>", "<v>", "'", '"', "\r"]
)
TEXTS = st.lists(st.builds(str.__add__, PRINTABLE, AWKWARD | st.just("")), min_size=UNITS, max_size=UNITS)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(texts=TEXTS)
def test_any_text_comes_back_as_it_was(texts: list[str], tmp_path: Path) -> None:
    source, target = tmp_path / "fleet.xlsx", tmp_path / "out.xlsx"
    if not source.exists():
        plain_workbook(source)
    run(source, target, columns=[Column("Audit: verdict", texts)], force=True)
    found = open_workbook(target).read("Units")
    assert found.columns[6][FIRST_ROW - 1 : LAST_ROW] == [text or None for text in texts]
    sheet = openpyxl.load_workbook(target)["Units"]
    cells = [sheet.cell(row, 7) for row in range(FIRST_ROW, LAST_ROW + 1)]
    assert all(cell.data_type in ("s", "inlineStr", "n") for cell in cells)
    assert [cell.value for cell in cells if cell.data_type == "n"] == [None] * texts.count("")


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(numbers=st.lists(st.floats() | st.integers(-(10**15), 10**15), min_size=UNITS, max_size=UNITS))
def test_any_number_comes_back_as_it_was(numbers: list[float], tmp_path: Path) -> None:
    source, target = tmp_path / "fleet.xlsx", tmp_path / "out.xlsx"
    if not source.exists():
        plain_workbook(source)
    run(source, target, columns=[columns()[0], Column("Audit: low", numbers)], force=True)
    found = open_workbook(target).read("Units").columns[7][FIRST_ROW - 1 :]
    expected = [number if abs(number) < float("inf") else None for number in numbers]
    assert list(found) + [None] * (UNITS - len(found)) == expected
