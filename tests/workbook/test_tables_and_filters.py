"""Tables and filters grow with the list where that is safe, and say so where it is not."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import xlsxwriter
from annotation_case import OWN, columns, run
from workbook_samples import (
    FIRST_ROW,
    HEADING_ROW,
    HEADINGS,
    LAST_ROW,
    UNITS,
    members,
    plain_workbook,
    rewrite,
    table_workbook,
    unit_row,
)

from fleetaudit.workbook.book import open_workbook
from fleetaudit.workbook.markup import parse


def table_of(path: Path) -> openpyxl.worksheet.table.Table:
    return openpyxl.load_workbook(path)["Units"].tables["Fleet"]


def test_table_with_totals_is_widened(tmp_path: Path) -> None:
    source, target = table_workbook(tmp_path / "fleet.xlsx"), tmp_path / "out.xlsx"
    run(source, target)
    table = table_of(target)
    assert table.ref == "A3:J16" and table.autoFilter.ref == "A3:J15"
    assert [column.name for column in table.tableColumns] == HEADINGS + OWN
    assert len({column.id for column in table.tableColumns}) == 10
    root = parse(members(target)["xl/tables/table1.xml"])
    counted = root.find("tableColumns")
    assert counted is not None and counted.attributes["count"] == "10"
    sheet = openpyxl.load_workbook(target)["Units"]
    assert [sheet.cell(HEADING_ROW, column).value for column in range(1, 11)] == HEADINGS + OWN
    assert [sheet.cell(LAST_ROW + 1, column).value for column in range(7, 11)] == [None] * 4
    found = open_workbook(target).read("Units").tables[0]
    assert (str(found.range), found.totals_rows, found.columns) == ("A3:J16", 1, tuple(HEADINGS + OWN))


def test_table_with_a_cell_at_its_right_is_left_as_it_is(tmp_path: Path) -> None:
    source, target = table_workbook(tmp_path / "fleet.xlsx", beside=True), tmp_path / "out.xlsx"
    remarks = run(source, target)
    assert members(source)["xl/tables/table1.xml"] == members(target)["xl/tables/table1.xml"]
    sheet = openpyxl.load_workbook(target)["Units"]
    assert sheet["G6"].value == "looked at twice" and sheet.cell(HEADING_ROW, 8).value == OWN[0]
    assert any('the table "Fleet" could not be widened' in remark for remark in remarks)


def test_a_cell_below_the_table_is_no_obstacle(tmp_path: Path) -> None:
    source, target = table_workbook(tmp_path / "fleet.xlsx", below=True), tmp_path / "out.xlsx"
    assert run(source, target) == []
    assert table_of(target).ref == "A3:J16"
    assert openpyxl.load_workbook(target)["Units"].cell(LAST_ROW + 4 + 1, 7).value == "not in the list"


def test_table_filled_by_a_query_is_left_as_it_is(tmp_path: Path) -> None:
    source, target = table_workbook(tmp_path / "fleet.xlsx"), tmp_path / "out.xlsx"
    name = "xl/tables/table1.xml"
    content = members(source)[name].replace(b"<table ", b'<table tableType="queryTable" ')
    rewrite(source, {name: content})
    remarks = run(source, target)
    assert members(target)[name] == content
    assert any("filled by a query" in remark for remark in remarks)


def two_tables(path: Path) -> Path:
    """The list as a table with another table two columns to its right, in the same rows."""
    book = xlsxwriter.Workbook(str(path))
    sheet = book.add_worksheet("Units")
    rows = [unit_row(index)[:4] for index in range(UNITS)]
    heads = [{"header": heading} for heading in HEADINGS[:4]]
    sheet.add_table(
        HEADING_ROW - 1, 0, HEADING_ROW - 1 + UNITS, 3, {"name": "Fleet", "data": rows, "columns": heads}
    )
    sheet.add_table("H4:I6", {"name": "Stock", "columns": [{"header": "Part"}, {"header": "Count"}]})
    book.close()
    return path


def test_a_table_beside_the_table_is_not_overwritten(tmp_path: Path) -> None:
    source, target = two_tables(tmp_path / "fleet.xlsx"), tmp_path / "out.xlsx"
    remarks = run(source, target)
    sheet = openpyxl.load_workbook(target)["Units"]
    assert sheet.tables["Fleet"].ref == "A3:D15" and sheet.tables["Stock"].ref == "H4:I6"
    assert sheet["J3"].value == OWN[0] and sheet["H4"].value == "Part"
    assert any("could not be widened" in remark for remark in remarks)


def test_data_apart_from_the_list_keeps_its_place_and_stops_the_filter(tmp_path: Path) -> None:
    source, target = plain_workbook(tmp_path / "fleet.xlsx"), tmp_path / "out.xlsx"
    book = openpyxl.load_workbook(source)
    sheet = book["Units"]
    sheet.auto_filter.ref = "A3:F15"
    for row in range(FIRST_ROW, LAST_ROW):
        for column in range(14, 17):
            sheet.cell(row, column).value = row * column
    book.save(source)
    remarks = run(source, target)
    after = openpyxl.load_workbook(target)["Units"]
    assert after.auto_filter.ref == "A3:F15"
    assert after["N4"].value == 56 and after["Q3"].value == OWN[0]
    assert any("the filter A3:F15" in remark and "outside it" in remark for remark in remarks)


def test_no_blank_column_between_the_list_and_ours(tmp_path: Path) -> None:
    """Cells that are only formatted do not push our columns away, and are replaced where ours stand."""
    source, target = plain_workbook(tmp_path / "fleet.xlsx"), tmp_path / "out.xlsx"
    book = openpyxl.load_workbook(source)
    fill = openpyxl.styles.PatternFill("solid", fgColor="FFFF00")
    for row in range(1, 30):
        book["Units"].cell(row, 7).fill = fill
        book["Units"].cell(row, 20).fill = fill
    book.save(source)
    run(source, target)
    sheet = openpyxl.load_workbook(target)["Units"]
    assert [sheet.cell(HEADING_ROW, column).value for column in range(6, 9)] == [HEADINGS[-1], *OWN[:2]]
    assert sheet["T10"].fill.fgColor.rgb == "00FFFF00" and sheet["G20"].fill.fgColor.rgb == "00FFFF00"


def test_a_merge_across_our_place_pushes_us_to_its_right(tmp_path: Path) -> None:
    source, target = plain_workbook(tmp_path / "fleet.xlsx"), tmp_path / "out.xlsx"
    book = openpyxl.load_workbook(source)
    book["Units"].merge_cells("H8:I9")
    book["Units"].merge_cells("A1:Z1")
    book.save(source)
    run(source, target)
    sheet = openpyxl.load_workbook(target)["Units"]
    assert sheet.cell(HEADING_ROW, 10).value == OWN[0]
    assert sorted(str(cells) for cells in sheet.merged_cells.ranges) == ["A1:Z1", "H8:I9"]


def test_sort_state_inside_the_filter_grows_with_it(tmp_path: Path) -> None:
    source, target = plain_workbook(tmp_path / "fleet.xlsx"), tmp_path / "out.xlsx"
    book = openpyxl.load_workbook(source)
    book["Units"].auto_filter.ref = "A3:F15"
    book["Units"].auto_filter.add_sort_condition("B4:B15")
    book.save(source)
    run(source, target)
    part = members(target)["xl/worksheets/sheet1.xml"]
    assert b'<autoFilter ref="A3:J15">' in part
    state = parse(part).find("autoFilter")
    assert state is not None and state.children[0].attributes["ref"] in ("A3:J15", "A4:J15", "B4:B15")


def test_filter_of_the_lower_of_two_heading_rows_is_widened(tmp_path: Path) -> None:
    source, target = plain_workbook(tmp_path / "fleet.xlsx"), tmp_path / "out.xlsx"
    book = openpyxl.load_workbook(source)
    book["Units"].auto_filter.ref = "A4:F15"
    book.save(source)
    short = [type(c)(c.heading, list(c.values)[1:], c.number_format) for c in columns()]
    run(source, target, rows=range(FIRST_ROW + 1, LAST_ROW + 1), columns=short)
    assert openpyxl.load_workbook(target)["Units"].auto_filter.ref == "A4:J15"


def test_a_second_run_does_not_widen_again(tmp_path: Path) -> None:
    source, first, second = (tmp_path / f"{name}.xlsx" for name in ("fleet", "one", "two"))
    run(table_workbook(source), first)
    assert run(first, second) == []
    assert members(first)["xl/tables/table1.xml"] == members(second)["xl/tables/table1.xml"]
