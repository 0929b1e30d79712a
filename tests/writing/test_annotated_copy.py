"""The annotated copy and the stand-alone report, read back by openpyxl, which did not write the copy."""

from __future__ import annotations

import io
import zipfile
from datetime import date, datetime
from pathlib import Path

import openpyxl
import pytest
from msgspec.structs import replace
from tests_report import HOSTILE, make_report

from fleetaudit.errors import OutputError
from fleetaudit.schema import results
from fleetaudit.workbook.place import parse_range
from fleetaudit.writing import report_workbook
from fleetaudit.writing.annotate import annotate_copy

GOLDEN = Path(__file__).parent / "golden" / "workbook.txt"
USERS = ("Unit", "Account", "Crew", "Medium", "Vessel", "Media date", "Note", "DLFC gpm")


def user_book(report, path: Path) -> Path:
    """A list as a manager keeps it: title above the headings in row 4, a filter, a second sheet."""
    book = openpyxl.Workbook()
    page = book.active
    page.title = "Filter list"
    page["A1"] = "Invented list"
    for column, heading in enumerate(USERS, start=1):
        page.cell(4, column, heading)
    for unit in report.units:
        values = (
            unit.unit_id,
            unit.account,
            unit.crew,
            unit.media,
            unit.vessel,
            unit.media_date,
            None,
            unit.restrictor_gpm,
        )
        for column, value in enumerate(values, start=1):
            page.cell(unit.row, column, value)
    page.auto_filter.ref = f"A4:H{report.units[-1].row}"
    book.create_sheet("Notes")["B2"] = "keep me"
    book.save(path)
    return path


@pytest.fixture
def annotated(tmp_path, report):
    source = user_book(report, tmp_path / "fleet.xlsx")
    _, remarks = annotate_copy(report, source, tmp_path / "fleet.audited.xlsx", 4, False)
    assert remarks == []
    return openpyxl.load_workbook(tmp_path / "fleet.audited.xlsx")


def own(page) -> dict[str, int]:
    return {str(cell.value): cell.column for cell in page[4] if str(cell.value).startswith("Audit: ")}


def test_our_columns_stand_beside_the_rows_with_their_units(annotated, report):
    page = annotated["Filter list"]
    columns = own(page)
    assert list(columns) == [
        "Audit: verdict",
        "Audit: backwash needs at least (gpm)",
        "Audit: best backwash flow (gpm)",
        "Audit: backwash at most (gpm)",
        "Audit: fitted restrictor (gpm)",
        "Audit: restrictor to fit (gpm)",
        "Audit: housing to fit",
        "Audit: expansion in coldest water (%)",
        "Audit: expansion in warmest water (%)",
        "Audit: media due",
        "Audit: findings",
        "Audit: unit",
    ]
    assert list(columns.values()) == list(range(9, 21)), "no blank column between the list and ours"
    for unit in report.units:
        row = {heading: page.cell(unit.row, column).value for heading, column in columns.items()}
        assert row["Audit: verdict"] == unit.verdict and row["Audit: unit"] == unit.unit_id
        assert row["Audit: backwash needs at least (gpm)"] == pytest.approx(unit.needed_gpm.low, abs=5e-4)
        due = row["Audit: media due"]
        assert (due.date() if isinstance(due, datetime) else due) == unit.media_due
        assert page.cell(unit.row, 1).value == unit.unit_id, "the row of the user is the row of the result"
    assert page.auto_filter.ref == f"A4:T{report.units[-1].row}"


def test_findings_are_short_words_and_a_unit_not_checked_says_why(annotated, report):
    page = annotated["Filter list"]
    column = own(page)["Audit: findings"]
    words = {unit.verdict: page.cell(unit.row, column).value for unit in report.units}
    assert words["now"] == "restrictor too large"
    assert words["not-checked"] == "not checked: the restrictor is blank (column H)"
    assert words["not-judged"] == "spare" and words["clean"] is None
    assert not any(cell.alignment.wrap_text for row in page.iter_rows() for cell in row)


def test_metric_flows_are_litres_a_minute(tmp_path, report):
    """1 gpm is 3.785411784 L/min exactly (US gallon of 231 cubic inches, NIST SP 811, appendix B.8)."""
    report.system = "metric"
    annotate_copy(report, user_book(report, tmp_path / "m.xlsx"), tmp_path / "m.audited.xlsx", 4, False)
    page = openpyxl.load_workbook(tmp_path / "m.audited.xlsx")["Filter list"]
    column = own(page)["Audit: restrictor to fit (L/min)"]
    assert page.cell(report.units[0].row, column).value == pytest.approx(5 * 3.785411784, abs=6e-4)


def test_every_verdict_has_a_rule_that_reads_its_word(annotated):
    rules = [
        rule
        for ranges in annotated["Filter list"].conditional_formatting
        for rule in ranges.rules
        if rule.formula
    ]
    said = " ".join(str(rule.formula) for rule in rules)
    assert len(rules) == 6
    for verdict in ("now", "plan", "not-checked", "note", "clean", "not-judged"):
        assert f'"{verdict}"' in said


def test_sheets_come_last_and_the_users_own_stay(annotated):
    assert annotated.sheetnames == ["Filter list", "Notes", *results.OWN_SHEETS[:10]]
    assert annotated["Notes"]["B2"].value == "keep me"


def check_findings_sheet(page, report, sheet_names):
    heading = [cell.value for cell in page[1]]
    first = dict(zip(heading, [cell.value for cell in page[2]], strict=True))
    finding = report.findings[0]
    assert (first["Tier"], first["Confidence"], first["Unit"]) == (
        finding.tier,
        finding.confidence,
        finding.unit_id,
    )
    assert (first["What was found"], first["Why it matters"], first["What to do"]) == (
        finding.message,
        finding.why,
        finding.fix,
    )
    assert first["Cost a year, middle"] == 120 and first["Source"] == finding.source
    assert "4.4 to 6.1 gpm" in first["Numbers"] and first["Cell"] == finding.cells[-1]
    assert page.freeze_panes == "A2" and page.auto_filter.ref.startswith("A1:")
    assert page.max_row == 1 + len(report.findings)
    for cell in (row[heading.index("Cell")] for row in page.iter_rows(min_row=2)):
        if cell.hyperlink:
            sheet, _, where = cell.hyperlink.location.rpartition("!")
            assert sheet.strip("'") in sheet_names and parse_range(where)
    return first


def test_findings_sheet_holds_one_row_a_finding_with_a_link_to_its_cell(annotated, report):
    page = annotated[results.SHEET_FINDINGS]
    check_findings_sheet(page, report, annotated.sheetnames)
    assert page["E2"].hyperlink.location == f"'Filter list'!H{report.findings[0].row}"


def test_parts_are_totalled_and_listed_by_unit(annotated):
    rows = [[cell.value for cell in row] for row in annotated[results.SHEET_PARTS].iter_rows()]
    assert rows[1][:6] == ["total", None, "Restrictor", "5 gpm", 2, "piece"]
    assert rows[2][:6] == ["total", None, "Activated carbon", "12x40", 1.5, "ft3"]
    assert rows[-1] == [
        "Invented Account 003",
        "U-0010",
        "Activated carbon",
        "12x40",
        1.5,
        "ft3",
        15,
        "weigh it",
        None,
        None,
        None,
        None,
        None,
    ]


def test_the_other_sheets_say_what_they_are_for(annotated, report):
    def said(name):
        return "\n".join(
            str(cell.value) for row in annotated[name].iter_rows() for cell in row if cell.value is not None
        )

    assert report.sha256 in said(results.SHEET_SUMMARY) and "2026-11-25" in said(results.SHEET_SUMMARY)
    assert "10 by tall" in said(results.SHEET_PROBLEMS) and "5 gpm" in said(results.SHEET_PROBLEMS)
    assert annotated[results.SHEET_NOT_CHECKED].max_row == 1 + len(report.not_checked)
    assert report.sources[0].source in said(results.SHEET_BASIS) and report.cautions[0] in said(
        results.SHEET_BASIS
    )


def test_a_second_run_over_the_copy_replaces_our_columns_and_sheets(tmp_path, report):
    source = user_book(report, tmp_path / "fleet.xlsx")
    first, second = tmp_path / "fleet.audited.xlsx", tmp_path / "again.xlsx"
    annotate_copy(report, source, first, 4, False)
    annotate_copy(report, first, second, 4, False)
    one, two = (openpyxl.load_workbook(path) for path in (first, second))
    assert two.sheetnames == one.sheetnames
    assert [cell.value for cell in two["Filter list"][4]] == [cell.value for cell in one["Filter list"][4]]


def test_an_older_copy_is_not_replaced_unasked(tmp_path, report):
    source = user_book(report, tmp_path / "fleet.xlsx")
    target = tmp_path / "fleet.audited.xlsx"
    target.write_bytes(b"older")
    with pytest.raises(OutputError, match="--force"):
        annotate_copy(report, source, target, 4, False)
    assert target.read_bytes() == b"older"


def test_a_text_file_gets_a_report_workbook_with_the_key_columns(tmp_path, report):
    source = tmp_path / "fleet.csv"
    source.write_text("Unit,DLFC\nU-0001,5\n")
    target = tmp_path / "fleet.audited.xlsx"
    written, remarks = annotate_copy(report, source, target, 1, False)
    assert written == target
    assert len(remarks) == 1 and "fleet.csv" in remarks[0] and target.name in remarks[0]
    book = openpyxl.load_workbook(target)
    assert book.sheetnames == [results.SHEET_UNITS, *results.OWN_SHEETS[:10]]
    page = book[results.SHEET_UNITS]
    heading = [cell.value for cell in page[1]]
    row = dict(zip(heading, [cell.value for cell in page[2]], strict=True))
    assert (
        row["Unit"] == "U-0000"
        and row["Row"] == 5
        and row["verdict"] == "now"
        and row["restrictor to fit (gpm)"] == 5
    )
    assert page.max_row == 1 + len(report.units) and page.freeze_panes == "A2"
    check_findings_sheet(book[results.SHEET_FINDINGS], report, book.sheetnames)
    with pytest.raises(OutputError, match="--force"):
        annotate_copy(report, source, target, 1, False)


def test_report_workbook_is_the_same_bytes_every_time(report):
    assert report_workbook.workbook_bytes(report) == report_workbook.workbook_bytes(make_report())


def test_hostile_text_becomes_neither_formula_nor_link_nor_damage(tmp_path, hostile):
    book = openpyxl.load_workbook(io.BytesIO(report_workbook.workbook_bytes(hostile)))
    texts = 0
    for page in book:
        for row in page.iter_rows():
            for cell in row:
                assert cell.data_type != "f", cell.coordinate
                texts += isinstance(cell.value, str) and HOSTILE[:20] in cell.value
                assert cell.hyperlink is None or parse_range(cell.hyperlink.location.rpartition("!")[2])
    assert texts > 100


def test_text_that_begins_like_a_formula_stays_text_in_both_writers(tmp_path, report):
    report.findings[0] = replace(report.findings[0], message="=1+1", fix="@SUM(1)", crew="+cmd", account="-2")
    alone = openpyxl.load_workbook(io.BytesIO(report_workbook.workbook_bytes(report)))
    annotate_copy(report, user_book(report, tmp_path / "f.xlsx"), tmp_path / "f.audited.xlsx", 4, False)
    for book in (alone, openpyxl.load_workbook(tmp_path / "f.audited.xlsx")):
        cells = [cell for row in book[results.SHEET_FINDINGS].iter_rows(min_row=2, max_row=2) for cell in row]
        assert {"=1+1", "@SUM(1)", "+cmd", "-2"} <= {cell.value for cell in cells}
        assert not [cell for cell in cells if cell.data_type == "f"]


def test_copy_matches_the_golden_dump(annotated, update_golden):
    """Guards against changes nobody meant: values, formats, widths and what is frozen, sheet by sheet."""
    lines = []
    for page in annotated:
        lines.append(f"## {page.title} frozen={page.freeze_panes} filter={page.auto_filter.ref}")
        lines.append(
            "widths " + " ".join(f"{k}={d.width:g}" for k, d in sorted(page.column_dimensions.items()))
        )
        for row in page.iter_rows():
            cells = [
                f"{cell.coordinate}={cell.value.date() if isinstance(cell.value, datetime) else cell.value!r}"
                + (f" [{cell.number_format}]" if cell.number_format != "General" else "")
                for cell in row
                if cell.value is not None
            ]
            if cells:
                lines.append(" | ".join(cells))
    dump = "\n".join(lines) + "\n"
    if update_golden:
        GOLDEN.write_text(dump, encoding="utf-8")
    assert dump == GOLDEN.read_text(encoding="utf-8")


def test_fitted_dates_are_dates_in_the_stand_alone_report(report):
    book = openpyxl.load_workbook(io.BytesIO(report_workbook.workbook_bytes(report)))
    page = book[results.SHEET_UNITS]
    column = [cell.value for cell in page[1]].index("media due") + 1
    value = page.cell(2, column).value
    assert isinstance(value, datetime | date) and page.cell(2, column).number_format == "yyyy-mm-dd"


def test_members_of_the_stand_alone_report_carry_no_clock(report):
    with zipfile.ZipFile(io.BytesIO(report_workbook.workbook_bytes(report))) as package:
        assert {info.date_time for info in package.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        assert b"2026-11-25T00:00:00Z" in package.read("docProps/core.xml")
