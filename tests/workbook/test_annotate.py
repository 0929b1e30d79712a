"""An annotated copy: ours is added, everything else is the same bytes and the same values."""

# ruff: noqa: DTZ001  the cells of a workbook know no time zone
from __future__ import annotations

import datetime as dt
import hashlib
import io
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import openpyxl
import pytest
import python_calamine
from annotation_case import HOSTILE, OWN, columns, run, sheets
from openpyxl.comments import Comment
from openpyxl.drawing.image import Image
from workbook_samples import (
    FIRST_ROW,
    HEADING_ROW,
    HEADINGS,
    LAST_ROW,
    UNITS,
    convert,
    members,
    packed_members,
    plain_workbook,
    png,
    rewrite,
    rich_workbook,
    table_workbook,
    to_macro_workbook,
    unit_row,
    without_spans,
)

from fleetaudit.errors import OutputError, WorkbookError
from fleetaudit.workbook import rows
from fleetaudit.workbook.archive import Package
from fleetaudit.workbook.book import open_workbook
from fleetaudit.workbook.markup import parse
from fleetaudit.workbook.splice import CannotSplice, Column, Sheet, Style, Styled
from fleetaudit.workbook.structure import read_relations

# openpyxl says that it would drop extensions; it only reads here.
pytestmark = pytest.mark.filterwarnings("ignore:.*extension is not supported:UserWarning")


def digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def grid(path: Path, sheet: str = "Units") -> dict[str, object]:
    """Filled cells of a sheet as openpyxl reads them, formulas as formulas."""
    rows = openpyxl.load_workbook(path)[sheet].iter_rows()
    return {cell.coordinate: cell.value for row in rows for cell in row if cell.value is not None}


def stored(path: Path, sheet: str = "Units") -> list[list[object]]:
    """Stored values of a sheet as calamine reads them."""
    book = python_calamine.CalamineWorkbook.from_path(path)
    return book.get_sheet_by_name(sheet).to_python(skip_empty_area=False)


@pytest.fixture(params=[plain_workbook, rich_workbook, table_workbook], ids=["plain", "rich", "table"])
def source(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    make: Callable[[Path], Path] = request.param
    return make(tmp_path / "fleet.xlsx")


def test_input_is_not_written(source: Path, tmp_path: Path) -> None:
    before = digest(source)
    run(source, tmp_path / "out.xlsx")
    assert digest(source) == before


def test_only_the_named_parts_change(source: Path, tmp_path: Path) -> None:
    target = tmp_path / "out.xlsx"
    run(source, target)
    before, after = packed_members(source), packed_members(target)
    changed = {name for name in before if before[name] != after[name]}
    may_change = {
        "[Content_Types].xml", "xl/workbook.xml", "xl/_rels/workbook.xml.rels", "xl/styles.xml",
        "xl/worksheets/sheet1.xml", "xl/tables/table1.xml",
    }  # fmt: skip
    assert changed <= may_change
    assert "xl/worksheets/sheet1.xml" in changed
    assert all(re.fullmatch(r"xl/worksheets/sheet\d+\.xml", name) for name in set(after) - set(before))
    assert len(set(after) - set(before)) == 2
    assert list(before) == [name for name in after if name in before]


def test_without_our_pieces_the_sheet_is_the_same_bytes(source: Path, tmp_path: Path) -> None:
    target = tmp_path / "out.xlsx"
    run(source, target)
    name = "xl/worksheets/sheet1.xml"
    before, after = members(source)[name].decode(), members(target)[name].decode()
    after = re.sub(r'<c r="(?:G|H|I|J)\d+"[^>]*>(?:<v>[^<]*</v>|<is>.*?</is>)</c>', "", after)
    after = re.sub(
        r'<conditionalFormatting sqref="G4:G15"><cfRule type="cellIs".*?</conditionalFormatting>', "", after
    )
    cols = re.compile(r"<cols>.*?</cols>")
    filters = re.compile(r'<autoFilter ref="A3:[FJ]15"')
    assert filters.sub("", cols.sub("", without_spans(after))) == filters.sub(
        "", cols.sub("", without_spans(before))
    )


def test_original_values_read_the_same_by_two_readers(source: Path, tmp_path: Path) -> None:
    target = tmp_path / "out.xlsx"
    run(source, target)
    before, after = grid(source), grid(target)
    assert {key: after[key] for key in before} == before
    old, new = stored(source), stored(target)
    assert [row[: len(old[0])] for row in new] == old
    for name in openpyxl.load_workbook(source).sheetnames[1:]:
        assert grid(source, name) == grid(target, name)


def test_results_stand_beside_their_rows(source: Path, tmp_path: Path) -> None:
    target = tmp_path / "out.xlsx"
    run(source, target)
    sheet = openpyxl.load_workbook(target)["Units"]
    assert [sheet.cell(HEADING_ROW, column).value for column in range(1, 11)] == HEADINGS + OWN
    for index in range(UNITS):
        found = [sheet.cell(FIRST_ROW + index, column).value for column in (1, 7, 8, 9, 10)]
        due = dt.datetime(2027, 1, 1) + dt.timedelta(days=index)
        low = None if index == 5 else 4.25 + index
        assert found == [f"U-{index + 101}", "plan" if index % 3 else "clean", low, due, f"U-{index + 101}"]
    assert sheet["H4"].number_format == "0.0"
    assert sheet["I4"].number_format == "yyyy-mm-dd"
    assert sheet.column_dimensions["G"].width == 10


def test_colours_hang_on_the_words_and_come_after_the_users_rules(source: Path, tmp_path: Path) -> None:
    target = tmp_path / "out.xlsx"
    run(source, target)
    rules = {
        str(cells.sqref): [(rule.priority, rule.operator, rule.formula) for rule in cells.rules]
        for cells in openpyxl.load_workbook(target)["Units"].conditional_formatting
    }
    ours = rules.pop("G4:G15")
    others = [priority for found in rules.values() for priority, *_ in found]
    assert [rule[1:] for rule in ours] == [("equal", ['"plan"']), ("equal", ['"clean"'])]
    assert [rule[0] for rule in ours] == [max(others, default=0) + 1, max(others, default=0) + 2]


def test_added_sheets_hold_text_as_text(source: Path, tmp_path: Path) -> None:
    target = tmp_path / "out.xlsx"
    run(source, target)
    book = openpyxl.load_workbook(target)
    assert book.sheetnames[-2:] == ["Summary", "Findings"]
    assert book.sheetnames[:-2] == openpyxl.load_workbook(source).sheetnames
    sheet = book["Findings"]
    kinds = {sheet.cell(row, 1).data_type for row in range(2, len(HOSTILE) + 2)}
    assert kinds <= {"s", "inlineStr"}
    texts = [row[0] for row in stored(target, "Findings")[1:]]
    assert texts == [text.replace("\x07", "\ufffd") for text in HOSTILE]
    assert sheet["C2"].hyperlink.location == "Units!A4"
    assert sheet.auto_filter.ref == "A1:C10" and sheet.freeze_panes == "A2"
    assert book["Summary"]["A3"].value == dt.datetime(2026, 1, 2) and book["Summary"]["B3"].value is True
    assert book["Summary"].row_dimensions[2].height > 15


def test_three_runs_give_the_same_bytes(source: Path, tmp_path: Path) -> None:
    first, second, third = (tmp_path / f"out{number}.xlsx" for number in (1, 2, 3))
    run(source, first)
    run(first, second)
    run(second, third)
    assert digest(first) == digest(second) == digest(third)


def test_two_runs_from_the_same_input_give_the_same_bytes(source: Path, tmp_path: Path) -> None:
    run(source, tmp_path / "out1.xlsx")
    run(source, tmp_path / "out2.xlsx")
    assert digest(tmp_path / "out1.xlsx") == digest(tmp_path / "out2.xlsx")


def test_new_results_replace_the_old_ones(source: Path, tmp_path: Path) -> None:
    first, second = tmp_path / "out1.xlsx", tmp_path / "out2.xlsx"
    run(source, first)
    changed = columns()
    changed[0] = Column("Audit: verdict", ["clean"] * UNITS)
    run(first, second, columns=changed, sheets=[sheets()[0], Sheet("Findings", [["none"]])])
    sheet = openpyxl.load_workbook(second)["Units"]
    assert {sheet.cell(row, 7).value for row in range(FIRST_ROW, LAST_ROW + 1)} == {"clean"}
    assert sheet.max_column == openpyxl.load_workbook(first)["Units"].max_column
    book = openpyxl.load_workbook(second)
    assert book["Findings"]["A1"].value == "none" and book["Findings"]["A2"].value is None
    assert len(book.sheetnames) == len(openpyxl.load_workbook(first).sheetnames)
    assert members(first)["xl/styles.xml"] == members(second)["xl/styles.xml"]


def test_own_columns_are_found_after_the_user_moved_and_deleted_some(tmp_path: Path) -> None:
    """A person opens the annotated copy, moves one own column, deletes another and saves."""
    source, first, moved, second = (tmp_path / f"{name}.xlsx" for name in ("fleet", "one", "moved", "two"))
    run(plain_workbook(source), first)
    book = openpyxl.load_workbook(first)
    sheet = book["Units"]
    sheet.delete_cols(8)
    sheet.insert_cols(2)
    for row in range(1, LAST_ROW + 1):
        sheet.cell(row, 2).value = sheet.cell(row, 8).value
    sheet.delete_cols(8)
    book.save(moved)
    before = [sheet.cell(HEADING_ROW, column).value for column in range(1, 10)]
    assert before == ["Unit", "Audit: verdict", *HEADINGS[1:], "Audit: due", "Audit: unit"]
    run(moved, second)
    after = openpyxl.load_workbook(second)["Units"]
    assert [after.cell(HEADING_ROW, c).value for c in range(1, 12)] == [*before, "Audit: low", None]
    assert [after.cell(FIRST_ROW, c).value for c in (1, 2, 10)] == ["U-101", "clean", 4.25]


def test_own_columns_follow_a_sorted_list(tmp_path: Path) -> None:
    source, first, second = (tmp_path / f"{name}.xlsx" for name in ("fleet", "one", "two"))
    run(plain_workbook(source), first)
    book = openpyxl.load_workbook(first)
    sheet = book["Units"]
    rows = [[cell.value for cell in row[:10]] for row in sheet.iter_rows(FIRST_ROW, LAST_ROW)]
    for number, values in enumerate(reversed(rows), start=FIRST_ROW):
        for column, value in enumerate(values, start=1):
            sheet.cell(number, column).value = value
    book.save(first)
    names = [row[0] for row in reversed(rows)]
    changed = [Column("Audit: unit", names), Column("Audit: verdict", ["clean"] * UNITS)]
    run(first, second, columns=changed)
    after = openpyxl.load_workbook(second)["Units"]
    assert all(
        after.cell(row, 1).value == after.cell(row, 10).value for row in range(FIRST_ROW, LAST_ROW + 1)
    )


def test_results_of_units_that_are_gone_are_cleared_but_formulas_below_stay(tmp_path: Path) -> None:
    source, first, second = (tmp_path / f"{name}.xlsx" for name in ("fleet", "one", "two"))
    run(plain_workbook(source), first)
    book = openpyxl.load_workbook(first)
    sheet = book["Units"]
    for column in range(1, 7):
        sheet.cell(LAST_ROW, column).value = None
    sheet.cell(LAST_ROW + 2, 8).value = "=SUM(H4:H15)"
    book.save(first)
    short = [Column(column.heading, list(column.values)[:-1], column.number_format) for column in columns()]
    run(first, second, columns=short, rows=range(FIRST_ROW, LAST_ROW))
    after = openpyxl.load_workbook(second)["Units"]
    assert [after.cell(LAST_ROW, column).value for column in range(7, 11)] == [None] * 4
    assert after.cell(LAST_ROW + 2, 8).value == "=SUM(H4:H15)"


def test_what_the_user_put_under_our_columns_stays_in_later_runs(tmp_path: Path) -> None:
    """Figures and words below the list, and a note in a blank row of it, are none of our results."""
    source, first, second = (tmp_path / f"{name}.xlsx" for name in ("fleet", "one", "two"))
    plain_workbook(source)
    book = openpyxl.load_workbook(source)
    below = {"G20": 7.5, "H20": "call first", "I21": dt.datetime(2026, 5, 4), "H16": 12, "J30": True}
    for place, value in below.items():
        book["Units"][place] = value
    book.save(source)
    run(source, first)
    book = openpyxl.load_workbook(first)
    for column in range(1, 11):
        book["Units"].cell(LAST_ROW, column).value = None
    book["Units"].cell(LAST_ROW, 8).value = "nobody there"
    book.save(first)
    short = [Column(column.heading, list(column.values)[:-1], column.number_format) for column in columns()]
    run(first, second, columns=short, rows=range(FIRST_ROW, LAST_ROW))
    after = openpyxl.load_workbook(second)["Units"]
    assert {place: after[place].value for place in below} == below
    assert after.cell(LAST_ROW, 8).value == "nobody there"


def test_foreign_column_with_our_prefix_is_left_alone(tmp_path: Path) -> None:
    source = plain_workbook(tmp_path / "fleet.xlsx")
    book = openpyxl.load_workbook(source)
    book["Units"].cell(HEADING_ROW, 7).value = "Audit: paid"
    book["Units"].cell(FIRST_ROW, 7).value = "yes"
    book.save(source)
    remarks = run(source, tmp_path / "out.xlsx")
    sheet = openpyxl.load_workbook(tmp_path / "out.xlsx")["Units"]
    assert sheet.cell(FIRST_ROW, 7).value == "yes"
    assert sheet.cell(HEADING_ROW, 8).value == "Audit: verdict"
    assert any("Units!G3" in remark and "Audit: paid" in remark for remark in remarks)


def test_sheets_the_user_made_are_never_replaced(tmp_path: Path) -> None:
    source, first, second = (tmp_path / f"{name}.xlsx" for name in ("fleet", "one", "two"))
    plain_workbook(source)
    book = openpyxl.load_workbook(source)
    book.create_sheet("summary")["A1"] = "mine"
    book.save(source)
    remarks = run(source, first)
    names = openpyxl.load_workbook(first).sheetnames
    assert names == ["Units", "Notes", "summary", "Summary 2", "Findings"]
    assert any('ours is "Summary 2"' in remark for remark in remarks)
    run(first, second)
    assert digest(first) == digest(second)
    assert openpyxl.load_workbook(second)["summary"]["A1"].value == "mine"


def test_parts_that_our_old_sheets_had_got_do_not_stay_behind(tmp_path: Path) -> None:
    """Programs hang printer settings, notes and pictures on a sheet of ours; the sheet is written anew."""
    source, first, second = (tmp_path / f"{name}.xlsx" for name in ("fleet", "one", "two"))
    run(plain_workbook(source), first)
    book = openpyxl.load_workbook(first)
    book["Findings"]["A2"].comment = Comment("look here", "nobody")
    for name in ("Findings", "Notes"):
        book[name].add_image(Image(io.BytesIO(png())))
    book.save(first)
    before = members(first)
    settings = "xl/printerSettings/printerSettings9.bin"
    relations = next(name for name in before if name.endswith("sheet4.xml.rels"))
    kind = "http://schemas.openxmlformats.org/officeDocument/2006/relationships/printerSettings"
    link = f'<Relationship Id="rIdP" Type="{kind}" Target="/{settings}"/></Relationships>'.encode()
    rewrite(first, {settings: b"\0", relations: before[relations].replace(b"</Relationships>", link)})
    before = members(first)
    remarks = run(first, second)
    after = members(second)
    gone = before.keys() - after.keys()
    assert settings in gone and relations in gone and sum("drawing" in name for name in gone) >= 2
    assert any(
        'Sheet "Findings" was written anew, without' in remark and "notes" in remark for remark in remarks
    )
    assert len(openpyxl.load_workbook(second)["Notes"]._images) == 1
    types = parse(after["[Content_Types].xml"])
    named = [one.attributes["PartName"].lstrip("/") for one in types.children if "PartName" in one.attributes]
    assert set(named) <= after.keys()
    targets = {one.target for name in after if name.startswith("xl/worksheets/sheet")
               for one in read_relations(Package(second), name).values() if not one.external}  # fmt: skip
    assert targets <= after.keys()


def test_a_renamed_or_copied_sheet_of_ours_is_kept(tmp_path: Path) -> None:
    source, first, second = (tmp_path / f"{name}.xlsx" for name in ("fleet", "one", "two"))
    run(plain_workbook(source), first)
    book = openpyxl.load_workbook(first)
    copy = book.copy_worksheet(book["Findings"])
    copy.title = "Findings (2)"
    for name, defined in book["Findings"].defined_names.items():
        copy.defined_names[name] = openpyxl.workbook.defined_name.DefinedName(
            name, attr_text=defined.attr_text
        )
    book["Summary"].title = "Summary of last year"
    book.save(first)
    run(first, second)
    assert openpyxl.load_workbook(second).sheetnames == [
        "Units", "Notes", "Summary of last year", "Findings", "Findings (2)", "Summary",
    ]  # fmt: skip


def test_local_names_still_point_at_their_sheets(tmp_path: Path) -> None:
    source, target = rich_workbook(tmp_path / "fleet.xlsx"), tmp_path / "out.xlsx"
    run(source, target)
    before, after = openpyxl.load_workbook(source), openpyxl.load_workbook(target)
    assert set(before.defined_names) == set(after.defined_names)
    assert after["With local name"].defined_names["Local"].attr_text == "'With local name'!$B$2"
    assert after["Units"].print_area == before["Units"].print_area
    assert after["Units"].print_title_rows == before["Units"].print_title_rows


def test_filter_and_its_hidden_name_are_widened(tmp_path: Path) -> None:
    source, target = rich_workbook(tmp_path / "fleet.xlsx"), tmp_path / "out.xlsx"
    assert b"Units!$A$3:$F$15</definedName>" in members(source)["xl/workbook.xml"]
    run(source, target)
    assert openpyxl.load_workbook(target)["Units"].auto_filter.ref == "A3:J15"
    workbook = members(target)["xl/workbook.xml"]
    assert (
        b'name="_xlnm._FilterDatabase" localSheetId="0" hidden="1">Units!$A$3:$J$15</definedName>' in workbook
    )


def test_protection_hidden_rows_and_columns_stay(tmp_path: Path) -> None:
    source, target = rich_workbook(tmp_path / "fleet.xlsx"), tmp_path / "out.xlsx"
    run(source, target)
    sheet = openpyxl.load_workbook(target)["Units"]
    assert sheet.protection.sheet
    assert sheet.row_dimensions[8].hidden and sheet.column_dimensions["E"].hidden
    found = open_workbook(target).read("Units")
    assert found.protected and found.hidden_rows == {8} and found.hidden_columns == {5}
    widths = re.search(rb"<cols>.*</cols>", members(target)["xl/worksheets/sheet1.xml"])
    assert widths is not None and b'<col min="11" max="16384"' in widths[0]


def test_print_area_signature_and_locked_structure_are_reported(tmp_path: Path) -> None:
    source = rich_workbook(tmp_path / "fleet.xlsx")
    book = members(source)["xl/workbook.xml"].replace(
        b"<bookViews>", b'<workbookProtection lockStructure="1"/><bookViews>'
    )
    rewrite(source, {"xl/workbook.xml": book, "_xmlsignatures/sig1.xml": b"<Signature/>"})
    remarks = " ".join(run(source, tmp_path / "out.xlsx"))
    assert "Units!$A$1:$F$15" in remarks
    assert "signature of the copy is invalid" in remarks
    assert "locks its list of sheets" in remarks


def test_macro_workbook_keeps_its_macros_and_suffix(tmp_path: Path) -> None:
    source = to_macro_workbook(plain_workbook(tmp_path / "a.xlsx"), tmp_path / "fleet.xlsm")
    assert "macros" in open_workbook(source).features
    with pytest.raises(OutputError, match=r"must end in \.xlsm"):
        run(source, tmp_path / "out.xlsx")
    run(source, tmp_path / "out.xlsm")
    assert (
        packed_members(source)["xl/vbaProject.bin"]
        == packed_members(tmp_path / "out.xlsm")["xl/vbaProject.bin"]
    )


def test_output_never_lands_on_the_input_or_unasked_on_another_file(tmp_path: Path) -> None:
    source = plain_workbook(tmp_path / "fleet.xlsx")
    with pytest.raises(OutputError, match="never written"):
        run(source, source, force=True)
    link = tmp_path / "link.xlsx"
    link.hardlink_to(source)
    with pytest.raises(OutputError, match="never written"):
        run(source, link, force=True)
    (tmp_path / "out.xlsx").write_bytes(b"old")
    with pytest.raises(OutputError, match="--force"):
        run(source, tmp_path / "out.xlsx")
    assert (tmp_path / "out.xlsx").read_bytes() == b"old"
    run(source, tmp_path / "out.xlsx", force=True)
    assert (tmp_path / "out.xlsx").read_bytes()[:2] == b"PK"


def test_damaged_part_elsewhere_is_not_passed_on(tmp_path: Path) -> None:
    source = rich_workbook(tmp_path / "fleet.xlsx")
    data, packed = bytearray(source.read_bytes()), packed_members(source)
    picture = next(name for name in packed if name.startswith("xl/media/"))
    at = bytes(data).index(packed[picture])
    data[at + len(packed[picture]) // 2] ^= 0xFF
    source.write_bytes(data)
    with pytest.raises(WorkbookError, match="damaged"):
        run(source, tmp_path / "out.xlsx")
    assert sorted(entry.name for entry in tmp_path.iterdir()) == ["fleet.xlsx"]


def test_shared_workbook_with_a_log_cannot_be_spliced(tmp_path: Path) -> None:
    source = plain_workbook(tmp_path / "fleet.xlsx")
    rewrite(source, {"xl/revisions/revisionHeaders.xml": b"<headers/>"})
    book = open_workbook(source)
    assert not book.can_annotate and book.why_not is not None and "log of changes" in book.why_not
    assert book.read("Units").n_rows == LAST_ROW
    with pytest.raises(CannotSplice, match="end sharing"):
        run(source, tmp_path / "out.xlsx")


def test_templates_are_read_but_not_spliced(tmp_path: Path) -> None:
    source = plain_workbook(tmp_path / "fleet.xlsx")
    types = members(source)["[Content_Types].xml"].replace(b"sheet.main+xml", b"template.main+xml")
    rewrite(source, {"[Content_Types].xml": types})
    assert open_workbook(source).read("Units").n_rows == LAST_ROW
    with pytest.raises(CannotSplice, match="template"):
        run(source, tmp_path / "out.xlsx")


def test_our_columns_are_in_no_group_of_columns(tmp_path: Path) -> None:
    source, target = plain_workbook(tmp_path / "fleet.xlsx"), tmp_path / "out.xlsx"
    book = openpyxl.load_workbook(source)
    book["Units"].column_dimensions.group("F", "Z", outline_level=1, hidden=True)
    book.save(source)
    run(source, target)
    spans = parse(members(target)["xl/worksheets/sheet1.xml"]).find("cols")
    assert spans is not None
    levels = {span.attributes["min"]: span.attributes.get("outlineLevel") for span in spans.children}
    assert [levels[str(column)] for column in (6, 7, 8, 9, 10, 11)] == ["1", None, None, None, None, "1"]


def test_no_room_at_the_right(tmp_path: Path) -> None:
    source = plain_workbook(tmp_path / "fleet.xlsx")
    book = openpyxl.load_workbook(source)
    book["Units"]["XFC5"] = "far away"
    book.save(source)
    with pytest.raises(CannotSplice, match="no room for 4 columns after column XFC"):
        run(source, tmp_path / "out.xlsx")


def test_styles_of_our_own_and_plain_columns_of_text(tmp_path: Path) -> None:
    source, target = plain_workbook(tmp_path / "fleet.xlsx"), tmp_path / "out.xlsx"
    own = Style(number_format='0.0" gpm"', bold=True, fill="FFEEAA")
    run(source, target, sheets=[Sheet("Parts", [[Styled(4.5, own), Styled(None, own)]])])
    found = openpyxl.load_workbook(target)["Parts"]["A1"]
    assert (found.value, found.number_format, found.font.bold, found.fill.fgColor.rgb) == (
        4.5, '0.0" gpm"', True, "FFFFEEAA",
    )  # fmt: skip
    assert openpyxl.load_workbook(target)["Units"]["J4"].style_id == 0


def test_array_elements_and_odd_numbers(tmp_path: Path) -> None:
    source, target = plain_workbook(tmp_path / "fleet.xlsx"), tmp_path / "out.xlsx"
    values = [np.float64(1.5), np.int64(3), np.bool_(True), np.str_("text"), np.nan, float("inf"),
              np.float32(0.5), np.datetime64("2026-05-04", "ns"), dt.time(6, 30), dt.timedelta(hours=30), "",
              10**20]  # fmt: skip
    run(source, target, columns=[Column("Audit: verdict", values)], sheets=[Sheet("Summary", [values[:7]])])
    sheet = openpyxl.load_workbook(target)["Units"]
    found = [sheet.cell(row, 7).value for row in range(FIRST_ROW, LAST_ROW + 1)]
    assert found == [1.5, 3, True, "text", None, None, 0.5, dt.datetime(2026, 5, 4), dt.time(6, 30),
                     dt.timedelta(hours=30), None, 10**20]  # fmt: skip
    assert [cell.value for cell in openpyxl.load_workbook(target)["Summary"][1]] == [
        1.5,
        3,
        True,
        "text",
        None,
        None,
        0.5,
    ]


@pytest.mark.parametrize("make", [plain_workbook, rich_workbook, table_workbook])
def test_libreoffice_opens_the_copy(make: Callable[[Path], Path], tmp_path: Path) -> None:
    source, target = make(tmp_path / "fleet.xlsx"), tmp_path / "out.xlsx"
    run(source, target)
    book = openpyxl.load_workbook(convert(target, "xlsx", tmp_path))
    assert book.sheetnames[-2:] == ["Summary", "Findings"]
    sheet = book["Units"]
    assert [sheet.cell(HEADING_ROW, column).value for column in range(7, 11)] == OWN
    assert [sheet.cell(FIRST_ROW, column).value for column in (1, 7, 8)] == [unit_row(0)[0], "clean", 4.25]
    assert book["Findings"]["A2"].value == HOSTILE[0]


def test_charts_over_our_columns_are_reported(tmp_path: Path) -> None:
    remarks = run(rich_workbook(tmp_path / "fleet.xlsx"), tmp_path / "out.xlsx")
    assert any("over the new columns (at H2:" in remark for remark in remarks)
    assert not any("over the new" in r for r in run(plain_workbook(tmp_path / "b.xlsx"), tmp_path / "c.xlsx"))


def test_names_that_the_user_gave_to_our_sheets_stay(tmp_path: Path) -> None:
    source, first, second = (tmp_path / f"{name}.xlsx" for name in ("fleet", "one", "two"))
    run(plain_workbook(source), first)
    book = openpyxl.load_workbook(first)
    book["Findings"].print_area = "A1:B5"
    book.save(first)
    run(first, second)
    assert openpyxl.load_workbook(second)["Findings"].print_area == "'Findings'!$A$1:$B$5"


def test_lines_of_a_text_make_its_row_higher(tmp_path: Path) -> None:
    source, target = plain_workbook(tmp_path / "fleet.xlsx"), tmp_path / "out.xlsx"
    run(source, target, sheets=[Sheet("Summary", [["one\ntwo\nthree"], ["one"]])])
    rows = openpyxl.load_workbook(target)["Summary"].row_dimensions
    assert rows[1].height == 45 and rows[2].height is None


def test_the_parser_annotates_to_the_same_bytes_as_the_patterns(
    source: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run(source, tmp_path / "fast.xlsx")
    usual = rows._skeleton
    monkeypatch.setattr(rows, "_skeleton", lambda data: (*usual(data)[:2], False))
    run(source, tmp_path / "slow.xlsx")
    run(tmp_path / "slow.xlsx", tmp_path / "again.xlsx")
    assert digest(tmp_path / "fast.xlsx") == digest(tmp_path / "slow.xlsx") == digest(tmp_path / "again.xlsx")


@pytest.mark.parametrize("make", [plain_workbook, rich_workbook, table_workbook])
def test_ours_is_recognised_after_libreoffice_saved_the_copy(
    make: Callable[[Path], Path], tmp_path: Path
) -> None:
    source, first, second = make(tmp_path / "fleet.xlsx"), tmp_path / "out.xlsx", tmp_path / "again.xlsx"
    run(source, first)
    saved = convert(first, "xlsx", tmp_path)
    remarks = run(saved, second)
    book = openpyxl.load_workbook(second)
    assert book.sheetnames == openpyxl.load_workbook(first).sheetnames, remarks
    sheet = book["Units"]
    assert [sheet.cell(HEADING_ROW, column).value for column in range(1, 12)] == [*HEADINGS, *OWN, None]
    ours = [cells for cells in sheet.conditional_formatting if str(cells.sqref).startswith("G4")]
    assert len(ours) == 1 and len(ours[0].rules) == 2
    run(second, tmp_path / "third.xlsx")
    assert digest(second) == digest(tmp_path / "third.xlsx")
