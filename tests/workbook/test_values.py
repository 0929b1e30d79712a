"""What a cell holds: openpyxl and calamine are the reference where they read all of it, else the standard."""

# ruff: noqa: DTZ001  the cells of a workbook know no time zone
from __future__ import annotations

import datetime as dt
import struct
from pathlib import Path

import openpyxl
import pytest
import python_calamine
import xlsxwriter
from openpyxl.styles.numbers import BUILTIN_FORMATS, is_date_format, is_timedelta_format
from workbook_samples import (
    MAIN,
    binary_cell,
    binary_row,
    binary_workbook,
    convert,
    hand_made,
    members,
    rewrite,
    rich_workbook,
    sheet_xml,
    table_workbook,
    wide,
)

from fleetaudit.errors import WorkbookError
from fleetaudit.workbook.book import open_workbook
from fleetaudit.workbook.container import Kind
from fleetaudit.workbook.formats import BUILT_IN, number_format
from fleetaudit.workbook.place import Range


def test_built_in_codes_agree_with_openpyxl() -> None:
    """openpyxl copies the table of ECMA-376 18.8.30 too; 37 and 38 differ there in blanks only."""
    for number, code in BUILT_IN.items():
        assert code.replace(" ", "") == BUILTIN_FORMATS[number].replace(" ", "").replace("_)", "").replace(
            "_(", ""
        )


CODES = [
    "General", "0", "0.00", "#,##0", "00000", "0%", '0.0" gpm"', '0 "days"', "mmm-yy",
    "d-mmm", "yyyy-mm-dd;@",
    "[$-409]d/m/yy", "h:mm", "h:mm:ss AM/PM", "mm:ss", "0.00E+00", "@",
    "#,##0_);[Red](#,##0)", '"md"0', "\\d0",
    "[Red]0.0", "[Blue][>5]0", "m/d/yy h:mm", "dddd", "[$€-407]0.00",
]  # fmt: skip


@pytest.mark.parametrize("code", CODES)
def test_dates_are_told_from_the_code_as_openpyxl_does(code: str) -> None:
    assert (number_format(code).shows != "number") == is_date_format(code)


@pytest.mark.parametrize("code", ["[h]:mm", "[hh]:mm:ss", "[mm]:ss", "[s]"])
def test_durations_are_told_from_the_code_as_openpyxl_does(code: str) -> None:
    assert is_timedelta_format(code) and number_format(code).shows == "duration"


@pytest.mark.parametrize(("code", "plain"), [
    ("General", True), ("0", True), ("0.0", True), ("#,##0.00", True), ("@", True), ("[Red]0.0", True),
    ("#,##0_);[Red](#,##0)", True), ("00000", False), ("000-00", False), ("0%", False), ('0.0" gpm"', False),
    ("0.0 [$ft3]", False), ('0 "days"', False), ("d-mmm", False), ("$#,##0", False), ('0"; "0', False),
])  # fmt: skip
def test_only_codes_that_say_nothing_of_the_value_are_plain(code: str, plain: bool) -> None:
    assert number_format(code).plain is plain


MESSY = [
    ("text", "U-1", None), ("blank text", "", None), ("spaces", "  x\u00a0", None), ("integer", 12, None),
    ("decimal", 2.4, None), ("percent", 0.62, "0%"), ("padded", 123, "00000"), ("flow", 5.0, '0.0" gpm"'),
    ("date", dt.date(2021, 4, 5), "d-mmm-yy"), ("month", dt.date(1954, 10, 1), "mmm-yy"),
    ("moment", dt.datetime(2021, 4, 5, 6, 30), "m/d/yy h:mm"), ("time", dt.time(6, 30), "h:mm"),
    ("duration", dt.timedelta(hours=36, minutes=15), "[h]:mm"), ("true", True, None), ("no", False, None),
    ("not a value", "NA", None), ("none", "None", None), ("formula text", "'=1+1", None),
    ("marks", "<&>\"'", None),
    ("lines", "one\ntwo", None), ("escape", "a_x000D_b", None), ("wide", "Ünïté 单位 🙂", None),
]  # fmt: skip


def messy_workbook(path: Path) -> Path:
    """One row per kind of value, written by XlsxWriter."""
    book = xlsxwriter.Workbook(str(path))
    sheet = book.add_worksheet("Messy")
    for row, (name, value, code) in enumerate(MESSY):
        style = book.add_format({"num_format": code}) if code else None
        sheet.write_string(row, 0, name)
        if isinstance(value, str):
            sheet.write_string(row, 2, value)
        elif isinstance(value, bool):
            sheet.write_boolean(row, 2, value)
        elif isinstance(value, int | float):
            sheet.write_number(row, 2, value, style)
        else:
            sheet.write_datetime(row, 2, value, style)
    book.close()
    return path


def test_messy_cells_read_as_they_were_written(tmp_path: Path) -> None:
    found = open_workbook(messy_workbook(tmp_path / "a.xlsx")).read("Messy")
    for row, (name, value, code) in enumerate(MESSY, start=1):
        expected = value if value != "" else None
        got = found.value(row, 3)
        assert got == expected and type(got) in (type(expected), int), name
        assert found.formats.get((row, 3)) == code, name
    assert found.columns[1] == [None] * len(MESSY)


def test_messy_cells_read_as_calamine_reads_them(tmp_path: Path) -> None:
    path = messy_workbook(tmp_path / "a.xlsx")
    found = open_workbook(path).read("Messy")
    rows = (
        python_calamine.CalamineWorkbook.from_path(path)
        .get_sheet_by_index(0)
        .to_python(skip_empty_area=False)
    )
    assert [row[2] if row[2] != "" else None for row in rows] == found.columns[2]


@pytest.mark.parametrize("error", ["#N/A", "#DIV/0!", "#VALUE!", "#REF!", "#NAME?"])
def test_errors_are_no_blanks(error: str, tmp_path: Path) -> None:
    rows = f'<row r="2"><c r="B2" t="e"><f>1/0</f><v>{error}</v></c><c r="C2" t="e"><v>{error}</v></c></row>'
    found = open_workbook(hand_made(tmp_path / "a.xlsx", sheet_xml(rows))).read("Units")
    assert found.errors == {(2, 2): error, (2, 3): error}
    assert found.value(2, 2) is None and found.n_columns == 3


def test_formulas_without_a_stored_value_are_told_from_blanks(tmp_path: Path) -> None:
    """A workbook saved by openpyxl stores no results; an empty text is a result."""
    path = tmp_path / "a.xlsx"
    book = openpyxl.Workbook()
    book.active["A1"], book.active["B2"] = "=1+1", "=A1"
    book.save(path)
    found = open_workbook(path).read("Sheet")
    assert found.unstored == {(1, 1), (2, 2)}
    rows = '<row r="1"><c r="A1" t="str"><f>""</f><v></v></c><c r="B1"><f>1</f><v>1</v></c></row>'
    found = open_workbook(hand_made(path, sheet_xml(rows))).read("Units")
    assert (found.unstored, found.value(1, 2)) == (set(), 1)


def test_serials_outside_the_calendar_stay_numbers(tmp_path: Path) -> None:
    formats = '<xf numFmtId="0"/><xf numFmtId="14"/>'
    styles = f'<styleSheet xmlns="{MAIN}"><cellXfs count="2">{formats}</cellXfs></styleSheet>'
    values = ["-1", "2958466", "3000000", "1e300", "60", "59", "1", "0", "44291.0"]
    cells = "".join(f'<c r="{"ABCDEFGHI"[n]}1" s="1"><v>{value}</v></c>' for n, value in enumerate(values))
    path = hand_made(tmp_path / "a.xlsx", sheet_xml(f'<row r="1">{cells}</row>'), styles=styles.encode())
    found = [column[0] for column in open_workbook(path).read("Units").columns]
    assert found[:4] == [-1, 2958466, 3000000, 1e300]
    assert found[4:] == [
        dt.date(1900, 2, 28), dt.date(1900, 2, 28), dt.date(1900, 1, 1), dt.time(0), dt.date(2021, 4, 5),
    ]  # fmt: skip


def test_1904_epoch_shifts_dates_but_no_plain_numbers(tmp_path: Path) -> None:
    """42829 in the 1904 system is 5 April 2021: 44291 less 1462 days."""
    path = tmp_path / "a.xlsx"
    book = xlsxwriter.Workbook(str(path), {"date_1904": True})
    sheet = book.add_worksheet("Units")
    sheet.write_datetime(0, 0, dt.datetime(2021, 4, 5), book.add_format({"num_format": "yyyy-mm-dd"}))
    sheet.write_number(1, 0, 42829)
    book.close()
    opened = open_workbook(path)
    assert opened.epoch_1904
    assert opened.read("Units").columns == [[dt.date(2021, 4, 5), 42829]]
    from fleetaudit.workbook.splice import Column, annotate  # noqa: PLC0415  only this test writes

    annotate(path, tmp_path / "b.xlsx", sheet="Units", heading_row=1, rows=[2], own_prefix="A: ",
             columns=[Column("A: due", [dt.date(2021, 4, 5)])])  # fmt: skip
    assert openpyxl.load_workbook(tmp_path / "b.xlsx")["Units"]["B2"].value == dt.datetime(2021, 4, 5)


def test_long_identifiers_keep_the_digits_that_are_stored(tmp_path: Path) -> None:
    texts = ["12345678901234567", "1_000", "nan"]
    cells = "".join(f'<c r="{"ABC"[n]}1"><v>{text}</v></c>' for n, text in enumerate(texts))
    rows = f'<row r="1">{cells}</row>'
    found = open_workbook(hand_made(tmp_path / "a.xlsx", sheet_xml(rows))).read("Units")
    assert [column[0] for column in found.columns] == [12345678901234567, "1_000", "nan"]


def test_rich_and_phonetic_texts(tmp_path: Path) -> None:
    strings = (
        f'<sst xmlns="{MAIN}"><si><t>plain</t></si><si><r><rPr><b/></rPr><t>bo</t></r><r><t '
        f'xml:space="preserve">ld '
        f'&amp;</t></r></si><si><t>kanji</t><rPh sb="0" eb="1"><t>hint</t></rPh></si><si/><si><t/></si></sst>'
    )
    cells = "".join(f'<c r="{"ABCDE"[n]}1" t="s"><v>{n}</v></c>' for n in range(5))
    expected = ["plain", "bold &", "kanji"]
    for content in (
        strings,
        strings.replace("<si>", "<!-- --><si>", 1),
        strings.replace('"preserve"', "'preserve'"),
    ):
        path = hand_made(
            tmp_path / "a.xlsx", sheet_xml(f'<row r="1">{cells}</row>'), strings=content.encode()
        )
        found = open_workbook(path).read("Units")
        assert [column[0] for column in found.columns][:3] == expected
        sheet = openpyxl.load_workbook(path)["Units"] if content is strings else None
        assert sheet is None or [sheet.cell(1, n).value for n in (1, 2, 3)] == expected


def test_structure_beside_the_values(tmp_path: Path) -> None:
    book = open_workbook(rich_workbook(tmp_path / "a.xlsx"))
    assert [sheet.name for sheet in book.sheets] == ["Units", "Lists", "With local name"]
    found = book.read("Units")
    assert str(found.autofilter) == "A3:F15" and found.merged == (Range(1, 1, 1, 6),)
    assert found.formats[4, 4] == '0.0" gpm"' and found.formats[4, 5] == "d-mmm-yy"
    assert book.extent("Lists") == (3, 1)
    table = book.read("With local name").tables[0]
    assert (table.name, str(table.range), table.totals_rows) == ("Stock", "D1:F4", 1)
    assert table.columns == ("Part", "Rated", "Count")
    assert {"1 chart", "1 picture", "comments", "custom data"} <= set(book.features)
    with pytest.raises(WorkbookError, match='has no sheet "Unit"'):
        book.read("Unit")


def test_hidden_sheets_and_chart_sheets(tmp_path: Path) -> None:
    path = tmp_path / "a.xlsx"
    book = xlsxwriter.Workbook(str(path))
    book.add_worksheet("Units").write(0, 0, 1)
    chart = book.add_chart({"type": "line"})
    chart.add_series({"values": "=Units!$A$1:$A$1"})
    book.add_chartsheet("Picture").set_chart(chart)
    book.add_worksheet("Old").very_hidden()
    book.close()
    assert [(sheet.name, sheet.hidden) for sheet in open_workbook(path).sheets] == [
        ("Units", False),
        ("Old", True),
    ]


# Other kinds ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["ods", "xls"])
def test_other_workbooks_read_the_same_values(kind: str, tmp_path: Path) -> None:
    source = table_workbook(tmp_path / "a.xlsx")
    book = open_workbook(convert(source, kind, tmp_path))
    assert book.kind is Kind(kind) and not book.can_annotate and book.why_not is not None
    found, expected = book.read("Units"), open_workbook(source).read("Units")
    for row in range(1, 16):
        for column in range(1, 7):
            assert found.value(row, column) == expected.value(row, column), (row, column)


def test_long_durations_in_an_open_document(tmp_path: Path) -> None:
    source = tmp_path / "a.xlsx"
    book = openpyxl.Workbook()
    book.active["A1"] = dt.timedelta(hours=30, minutes=5)
    book.save(source)
    assert open_workbook(convert(source, "ods", tmp_path)).read("Sheet").columns == [
        [dt.timedelta(hours=30, minutes=5)]
    ]


def test_errors_merges_and_hidden_rows_of_an_open_document(tmp_path: Path) -> None:
    """The reader behind gives blanks for all of them; what openpyxl wrote is the measure."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Units"
    for row in (
        ["Unit", "Flow", "Medium"],
        ["U-1", "=1/0", "sand"],
        ["U-2", "=NA()", None],
        ["U-3", "=1+1", "x"],
    ):
        sheet.append(row)
    sheet["E7"] = "=1/0"
    sheet.merge_cells("C2:C3")
    sheet.row_dimensions[4].hidden = True
    book.save(tmp_path / "fleet.xlsx")
    found = open_workbook(convert(tmp_path / "fleet.xlsx", "ods", tmp_path)).read("Units")
    assert found.errors == {(2, 2): "#DIV/0!", (3, 2): "#N/A", (7, 5): "#DIV/0!"}
    assert [str(one) for one in found.merged] == ["C2:C3"] and found.hidden_rows == {4}
    assert (found.n_rows, found.n_columns) == (7, 5) and found.columns[1][:4] == ["Flow", None, None, 2.0]
    assert all(len(column) == 7 for column in found.columns) and "number formats" in found.blind


def test_errors_of_a_binary_workbook(tmp_path: Path) -> None:
    """Codes by MS-XLSB 2.5.97.2; one cell holds an error, the other a formula that gives one."""
    rows = (
        binary_row(0)
        + binary_cell(0, 6, wide("Flow"))
        + binary_row(1)
        + binary_cell(0, 3, b"\x2a")
        + binary_row(2)
        + binary_cell(0, 11, b"\x07" + bytes(10))
    )
    found = open_workbook(binary_workbook(tmp_path / "a.xlsb", rows)).read("Units")
    assert found.errors == {(2, 1): "#N/A", (3, 1): "#DIV/0!"}


def test_far_cell_in_an_open_document(tmp_path: Path) -> None:
    source = tmp_path / "a.xlsx"
    book = openpyxl.Workbook()
    book.active["A1"], book.active["XFD1048576"] = 1, 2
    book.save(source)
    path = convert(source, "ods", tmp_path)
    with pytest.raises(WorkbookError, match=r"sheet Sheet reaches to XFD1048576"):
        open_workbook(path)


def test_entity_in_an_open_document(tmp_path: Path) -> None:
    path = convert(table_workbook(tmp_path / "a.xlsx"), "ods", tmp_path)
    content = members(path)["content.xml"]
    at = content.index(b"<office:document-content")
    rewrite(path, {"content.xml": content[:at] + b"<!DOCTYPE x [<!ENTITY e 'x'>]>" + content[at:]})
    with pytest.raises(WorkbookError, match="document type declaration"):
        open_workbook(path)


@pytest.mark.parametrize(("content", "rows"), [
    (b"Unit,Flow\nU-1,5\n", [["Unit", "Flow"], ["U-1", "5"]]),
    ("\ufeffUnit;Flow\r\nU-1;5,5\r\n".encode(), [["Unit", "Flow"], ["U-1", "5,5"]]),
    ("Unité\tDébit\nU-1\t5\n".encode("cp1252"), [["Unité", "Débit"], ["U-1", "5"]]),
    ("Unit\tFlow\nU-1\t5\n".encode("utf-16"), [["Unit", "Flow"], ["U-1", "5"]]),
    (b'Unit,Note\n"U-1","a, b\nc"\n\nU-2,\n',
     [["Unit", "Note"], ["U-1", "a, b\nc"], [None, None], ["U-2", None]]),
    (b"Unit\nU-1\n", [["Unit"], ["U-1"]]),
])  # fmt: skip
def test_tables_of_text(content: bytes, rows: list[list[str | None]], tmp_path: Path) -> None:
    path = tmp_path / "fleet.csv"
    path.write_bytes(content)
    book = open_workbook(path)
    assert book.kind is Kind.CSV and [sheet.name for sheet in book.sheets] == ["fleet"]
    found = book.read("fleet")
    assert [list(row) for row in zip(*found.columns, strict=True)] == rows


def test_binary_workbooks_are_read(tmp_path: Path) -> None:
    rows = (
        binary_row(1)
        + binary_cell(1, 6, wide("Flow"))
        + binary_row(3)
        + binary_cell(1, 5, struct.pack("<d", 2.5))
    )
    book = open_workbook(binary_workbook(tmp_path / "a.xlsb", rows))
    assert book.kind is Kind.XLSB and [sheet.name for sheet in book.sheets] == ["Units"]
    assert book.read("Units").columns == [[None] * 4, [None, "Flow", None, 2.5]]


def test_far_cell_in_a_binary_workbook_is_refused_before_it_is_read(tmp_path: Path) -> None:
    """Cells that are only styled (1) do not count, cells with a number (5) do."""
    near = binary_row(0) + binary_cell(0, 5, struct.pack("<d", 1.0))
    styled = near + binary_row(900_000) + binary_cell(16_000, 1)
    assert open_workbook(binary_workbook(tmp_path / "a.xlsb", styled)).read("Units").columns == [[1]]
    far = near + binary_row(1_048_575) + binary_cell(16_383, 5, struct.pack("<d", 1.0))
    book = open_workbook(binary_workbook(tmp_path / "b.xlsb", far))
    with pytest.raises(WorkbookError, match="reaches to XFD1048576"):
        book.read("Units")


def test_dates_stored_as_text_by_the_standard(tmp_path: Path) -> None:
    """Cell type d of ECMA-376 18.18.11 holds an ISO 8601 date."""
    texts = ["2021-04-05", "2021-04-05T06:30:00", "06:30:00", "soon"]
    cells = "".join(f'<c r="{"ABCD"[n]}1" t="d"><v>{text}</v></c>' for n, text in enumerate(texts))
    found = open_workbook(hand_made(tmp_path / "a.xlsx", sheet_xml(f'<row r="1">{cells}</row>'))).read(
        "Units"
    )
    moment = dt.datetime(2021, 4, 5, 6, 30)
    assert [column[0] for column in found.columns] == [dt.date(2021, 4, 5), moment, dt.time(6, 30), "soon"]


def test_rows_that_occur_twice_are_read_together_but_not_annotated(tmp_path: Path) -> None:
    from fleetaudit.workbook.splice import CannotSplice, Column, annotate  # noqa: PLC0415  only this test writes

    rows = '<row r="2"><c r="A2"><v>1</v></c></row><row r="2"><c r="C2"><v>3</v></c></row>'
    path = hand_made(tmp_path / "a.xlsx", sheet_xml(rows))
    assert open_workbook(path).read("Units").columns == [[None, 1], [None, None], [None, 3]]
    with pytest.raises(CannotSplice, match="rows of sheet Units are not in order"):
        annotate(path, tmp_path / "b.xlsx", sheet="Units", heading_row=2, rows=[], own_prefix="A: ",
                 columns=[Column("A: x", [])])  # fmt: skip
