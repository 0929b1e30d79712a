"""What is open is measured before it is acted on, and stands after what is certain: page, sheet, screen."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import openpyxl
import pytest
from msgspec.structs import replace
from pagetree import tree
from tests_report import make_finding, make_report, make_unit

from fleetaudit.cli.main import main
from fleetaudit.workbook.sheets import Styled
from fleetaudit.writing.across import Audited, first_of_all
from fleetaudit.writing.added_sheets import added_sheets
from fleetaudit.writing.first import leading, step
from fleetaudit.writing.html import render
from fleetaudit.writing.register import lines

OPEN = "Measure first: the rating on the restrictor that is in there; the drain flow with bucket and watch."
DAY = date(2026, 11, 1)


@pytest.fixture
def mixed():
    """The dearest finding of the tier now is open, the next one certain; so in the tier plan."""
    report = make_report(0)
    for number, (tier, confidence) in enumerate(
        [
            ("now", "measure-first"),
            ("now", "sure"),
            ("plan", "measure-first"),
            ("plan", "likely"),
            ("note", "sure"),
        ]
    ):
        unit = make_unit(number, tier, ())
        report.units.append(unit)
        finding = make_finding(unit, "restrictor-too-large", tier)
        said = {"confidence": confidence, "fix": f"Fit number {number}.", "once": "", "account": "One"}
        report.findings.append(replace(finding, **said))
    return report


def test_in_a_tier_what_is_certain_comes_first_and_no_tier_passes_another(mixed):
    assert [line.finding.fix[-2] for line in leading(lines(mixed))] == ["1", "0", "3", "2"]


def test_only_what_is_open_is_to_be_measured(mixed):
    assert [step(finding).startswith(OPEN) for finding in mixed.findings] == [True, False, True, False, False]
    assert (
        step(mixed.findings[0]).endswith("holds: Fit number 0.")
        and step(mixed.findings[1]) == "Fit number 1."
    )


def test_what_no_check_names_a_measure_for_goes_back_to_the_cell(mixed):
    finding = replace(mixed.findings[0], check="data-implausible")
    assert step(finding).startswith("Measure first: what the cell should say. If it holds: ")


def test_page_and_page_over_all_lead_with_measuring(mixed):
    page = " ".join(tree(render(mixed)).text.split())
    places = [page.index(f"Fit number {number}.") for number in (1, 0, 3, 2)]
    assert places == sorted(places)
    first = page[: page.index("Fit number 2.")]
    assert first.count(OPEN) == 2
    found = first_of_all([Audited(mixed, Path("a.html"))], Path("all.html"))
    assert [one.fix for one in found] == [step(line.finding) for line in leading(lines(mixed))]


def test_summary_sheet_leads_with_measuring(mixed):
    texts = [
        cell.value
        for row in added_sheets(mixed)[0].make().rows
        for cell in row
        if isinstance(cell, Styled) and "Fit number" in str(cell.value)
    ]
    assert texts == [step(line.finding) for line in leading(lines(mixed))]


def test_terminal_and_summary_sheet_of_an_audit_lead_with_measuring(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    """A drain flow of ten times what the bed takes may be a slip of the pen: nobody fits anything before."""
    book = openpyxl.Workbook()
    page = book.worksheets[0]
    page.title = "Units"
    headings = ("Unit ID", "Account", "Vessel size", "Medium", "Mesh", "Restrictor (gpm)")
    page.append([*headings, "Coldest water (F)", "Warmest water (F)", "Connections"])
    page.append(["U-1", "One", "13x54", "activated carbon", "12x40", 90, 41, 64, "right"])
    page.append(["U-2", "Two", "13x54", "activated carbon", "12x40", 9, 41, 64, "reversed"])
    book.save(tmp_path / "fleet.xlsx")
    with pytest.raises(SystemExit) as ended:
        main(["audit", str(tmp_path / "fleet.xlsx"), "--as-of", DAY.isoformat()])
    assert ended.value.code == 0
    out = " ".join(capsys.readouterr().out.split())
    assert out.index("now U-2 (Two): Inlet and outlet") < out.index(
        "now U-1 (One): Measure first: the rating"
    )
    copy = openpyxl.load_workbook(tmp_path / "fleet.audited.xlsx")
    said = [cell.value for row in copy["Audit summary"].iter_rows() for cell in row if cell.value]
    assert any(
        re.match(r"Measure first: the rating .* If it holds: Fit a restrictor", str(text)) for text in said
    )
