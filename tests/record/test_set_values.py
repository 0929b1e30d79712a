"""Single cells set in a copy: nothing else moves, looks stay, formulas that rest on them are named."""

from __future__ import annotations

import datetime as dt
import zipfile
from pathlib import Path

import openpyxl
import pytest
from openpyxl.worksheet.formula import ArrayFormula
from python_calamine import CalamineWorkbook

from fleetaudit.errors import OutputError, WorkbookError
from fleetaudit.workbook.place import address
from fleetaudit.workbook.setting import set_values, why_not_set
from fleetaudit.workbook.sheets import Sheet
from tests.record.fleets import moment
from tests.workbook_samples import members, packed_members, rich_workbook, table_workbook

# the reading library does not know the newest extensions; they are in the file all the same
pytestmark = pytest.mark.filterwarnings("ignore:.*xtension is not supported:UserWarning")
SHEET = "xl/worksheets/sheet1.xml"


@pytest.fixture(params=[rich_workbook, table_workbook], ids=["rich", "table"])
def source(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    return request.param(tmp_path / "fleet.xlsx")


def first_free_of_formula(path: Path) -> tuple[str, int, int]:
    """A filled cell of the first sheet that holds a plain number."""
    page = openpyxl.load_workbook(path).worksheets[0]
    for row in page.iter_rows(min_row=5):
        for cell in row:
            if isinstance(cell.value, int | float) and not isinstance(cell.value, bool):
                return page.title, cell.row, cell.column
    raise AssertionError("the sample has no number")


def test_all_bytes_but_those_of_the_cell_stay(source: Path, tmp_path: Path) -> None:
    sheet, row, column = first_free_of_formula(source)
    target = tmp_path / "copy.xlsx"
    set_values(source, target, sheet, {(row, column): 4321})
    before, after = packed_members(source), packed_members(target)
    assert list(before) == list(after)
    changed = [name for name in before if before[name] != after[name]]
    assert len(changed) == 1 and changed[0].startswith("xl/worksheets/")
    old, new = members(source)[changed[0]], members(target)[changed[0]]
    here = f'r="{address(row, column)}"'.encode()
    start = old.index(b"<c " + here)
    end = old.index(b"</c>", start) + len(b"</c>")
    assert new.startswith(old[:start]) and new.endswith(old[end:])
    assert b"<v>4321</v>" in new[start : len(new) - len(old[end:])]


def test_two_other_readers_see_the_new_value_and_every_old_one(source: Path, tmp_path: Path) -> None:
    sheet, row, column = first_free_of_formula(source)
    target = tmp_path / "copy.xlsx"
    set_values(source, target, sheet, {(row, column): 4321})
    old, new = (openpyxl.load_workbook(path)[sheet] for path in (source, target))
    for line in old.iter_rows():
        for cell in line:
            there = new[cell.coordinate]
            assert there.value == (4321 if (cell.row, cell.column) == (row, column) else cell.value)
            assert there.number_format == cell.number_format and repr(there.font) == repr(cell.font)
    page = CalamineWorkbook.from_path(target).get_sheet_by_name(sheet).to_python(skip_empty_area=False)
    assert page[row - 1][column - 1] == 4321


def fleet(path: Path) -> Path:
    book = openpyxl.Workbook()
    page = book.worksheets[0]
    page.title = "Units"
    page.append(["Unit", "Flow", "Date", "Text"])
    for number in range(1, 6):
        page.append([f"U-{number}", number, dt.date(2025, 1, number), f"word {number}"])
        page.cell(number + 1, 2).number_format = '0.0" gpm"'
    page["B4"].value = None
    page["F2"], page["F3"] = "=B2*2", "=F2+1"
    page["F4"], page["F5"], page["F6"] = "=SUM(B:B)", '="B2"', "=C2"
    page["G2"] = ArrayFormula("G2:G3", "=B2:B3*2")
    page.merge_cells("D5:D6")
    other = book.create_sheet("Own words")
    other["A1"], other["A2"], other["A3"] = "=Units!$B$2", "=B2", "=first+1"
    book.defined_names["first"] = openpyxl.workbook.defined_name.DefinedName("first", attr_text="Units!$B$2")
    book.save(path)
    return path


def test_formulas_that_rest_on_the_cell_are_named_straight_and_through_others(tmp_path: Path) -> None:
    source = fleet(tmp_path / "fleet.xlsx")
    said = " ".join(set_values(source, tmp_path / "copy.xlsx", "Units", {(2, 2): 9}))
    # worked out by hand: F2 and F4 hold B2, F3 holds F2, G2 spans it, the other sheet points at it twice
    assert "6 formulas show" in said
    for cell in ("Units!F2", "Units!G2", "Units!F3", "Units!F4"):
        assert cell in said
    assert "Units!F5" not in said and "Units!F6" not in said
    said = " ".join(set_values(source, tmp_path / "two.xlsx", "Units", {(3, 4): "new"}))
    assert said == ""


def test_a_shared_formula_is_followed_to_where_it_was_copied(tmp_path: Path) -> None:
    """ECMA-376 part 1, 18.3.1.40: a shared formula is written once, others move its references."""
    source = fleet(tmp_path / "plain.xlsx")
    shared = tmp_path / "fleet.xlsx"
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(shared, "w") as new:
        for name in old.namelist():
            data = old.read(name)
            if name == SHEET:
                data = data.replace(b"<f>B2*2</f>", b'<f t="shared" ref="F2:F3" si="0">B2*2</f>').replace(
                    b"<f>F2+1</f>", b'<f t="shared" si="0"/>'
                )
                assert data.count(b'si="0"') == 2
            new.writestr(name, data)
    said = " ".join(set_values(shared, tmp_path / "copy.xlsx", "Units", {(3, 2): 9}))
    assert "Units!F3" in said and "Units!F2" not in said


def test_cells_that_must_not_be_set_say_why(tmp_path: Path) -> None:
    source = fleet(tmp_path / "fleet.xlsx")
    found = why_not_set(source, "Units", [(2, 6), (3, 7), (5, 4), (6, 4), (2, 2), (40, 40)])
    assert set(found) == {(2, 6), (3, 7), (5, 4), (6, 4)}
    assert found[2, 6] == "it holds a formula" and "result of a formula" in found[3, 7]
    assert "D5:D6" in found[5, 4]


def test_a_blank_cell_takes_the_look_of_its_column_and_dates_look_like_dates(tmp_path: Path) -> None:
    source, target = fleet(tmp_path / "fleet.xlsx"), tmp_path / "copy.xlsx"
    day = dt.date(2026, 11, 20)
    set_values(
        source, target, "Units", {(4, 2): 7, (4, 3): day, (3, 2): day, (2, 3): 5, (9, 1): "new", (6, 2): None}
    )
    page = openpyxl.load_workbook(target)["Units"]
    assert page["B4"].value == 7 and page["B4"].number_format == '0.0" gpm"'
    assert page["C4"].value == moment(2026, 11, 20)
    assert page["B3"].value == moment(2026, 11, 20) and page["B3"].is_date
    assert page["C2"].value == 5 and not page["C2"].is_date
    assert page["A9"].value == "new"
    assert page["B6"].value is None and page["B6"].number_format == '0.0" gpm"'


def test_text_is_never_a_formula_and_comes_back_as_it_was(tmp_path: Path) -> None:
    source, target = fleet(tmp_path / "fleet.xlsx"), tmp_path / "copy.xlsx"
    texts = ["=1+1", "<b>&", " two  blanks ", "a_x000D_b", "ü\n2"]
    set_values(source, target, "Units", {(20 + n, 1): text for n, text in enumerate(texts)})
    page = openpyxl.load_workbook(target)["Units"]
    rows = CalamineWorkbook.from_path(target).get_sheet_by_name("Units").to_python(skip_empty_area=False)
    for number, text in enumerate(texts):
        assert page.cell(20 + number, 1).data_type in ("s", "inlineStr")
        assert rows[19 + number][0] == text


def test_other_sheets_and_added_ones_in_the_same_copy(tmp_path: Path) -> None:
    source, target = fleet(tmp_path / "fleet.xlsx"), tmp_path / "copy.xlsx"
    set_values(
        source,
        target,
        "Units",
        {(2, 2): 8},
        also={"Own words": {(9, 2): "seen"}},
        sheets=[Sheet("History", [["a", 1]])],
    )
    book = openpyxl.load_workbook(target)
    assert book.sheetnames == ["Units", "Own words", "History"]
    assert book["Own words"]["B9"].value == "seen" and book["History"]["B1"].value == 1


def test_the_source_and_what_is_there_already_are_never_written(tmp_path: Path) -> None:
    source = fleet(tmp_path / "fleet.xlsx")
    before = source.read_bytes()
    with pytest.raises(OutputError):
        set_values(source, source, "Units", {(2, 2): 8}, force=True)
    (tmp_path / "copy.xlsx").write_text("mine")
    with pytest.raises(OutputError):
        set_values(source, tmp_path / "copy.xlsx", "Units", {(2, 2): 8})
    with pytest.raises(WorkbookError, match="no sheet"):
        set_values(source, tmp_path / "other.xlsx", "Unit", {(2, 2): 8})
    assert source.read_bytes() == before and (tmp_path / "copy.xlsx").read_text() == "mine"
    assert not (tmp_path / "other.xlsx").exists()
