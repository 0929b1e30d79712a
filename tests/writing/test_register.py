"""Which findings share a line, and how cells are named."""

from __future__ import annotations

import pytest
from msgspec.structs import replace
from tests_report import make_finding, make_report, make_unit

from fleetaudit.writing.register import compact, in_order, lines, part_totals, slug
from fleetaudit.writing.report import PartLine


def findings(once: str, *cells: str, accounts: tuple[str, ...] = ("one", "one", "two")):
    report = make_report(0)
    for number, (cell, account) in enumerate(zip(cells, accounts, strict=True)):
        finding = make_finding(make_unit(number, "note", ()), "data-unreadable", "note")
        report.findings.append(
            replace(finding, once=once, columns=(cell[0],), row=int(cell[1:]), account=account)
        )
    return report


@pytest.mark.parametrize(("once", "sizes"), [("", [1, 1, 1]), ("account", [2, 1]), ("column", [1, 2])])
def test_findings_share_a_line_only_as_their_check_says(once, sizes):
    report = findings(once, "H7", "F9", "F12")
    assert [1 + len(line.more) for line in lines(report)] == sizes
    together = [f for line in lines(report) for f in (line.finding, *line.more)]
    assert sorted(f.unit for f in together) == [0, 1, 2], "nothing is lost"


def test_units_without_an_account_are_not_thrown_together():
    assert len(lines(findings("account", "H7", "H8", "H9", accounts=("", "", "two")))) == 3


def test_the_same_check_in_two_tiers_stays_apart():
    report = findings("account", "H7", "H8", "H9", accounts=("one", "one", "one"))
    report.findings[0] = replace(report.findings[0], tier="plan")
    assert [line.finding.tier for line in lines(report)] == ["plan", "note"]


def test_every_cell_is_named_once_and_with_its_sheet():
    report = findings("account", "H7", "H8", "H9", accounts=("one", "one", "one"))
    report.findings[1] = replace(report.findings[1], columns=("F", "H"))
    assert lines(report)[0].cells == (
        "'Filter list'!H7", "'Filter list'!H8", "'Filter list'!F8", "'Filter list'!H9",
    )  # fmt: skip


@pytest.mark.parametrize(("cells", "home", "said"), [
    ((), "", ""),
    (("Units!F7",), "", "Units!F7"),
    (("Units!F7", "Units!F8", "Units!F9"), "", "Units!F7:F9"),
    (("Units!F7", "Units!F9"), "", "Units!F7, F9"),
    (("Units!F7", "Media!F8"), "", "Units!F7, Media!F8"),
    (("Units!F7", "Media!F8"), "Units", "F7, Media!F8"),
    (("'My units'!F7", "'My units'!F8"), "My units", "F7:F8"),
    (("F7", "Units row 9"), "", "F7, Units row 9"),
    (("'a!b'!F7", "'a!b'!G7"), "", "'a!b'!F7, G7"),
])  # fmt: skip
def test_cells_are_written_short(cells, home, said):
    assert compact(cells, home) == said


def test_units_not_checked_come_before_the_notes_also_where_there_are_none():
    report = make_report(27)
    report.findings = [finding for finding in report.findings if finding.tier != "note"]
    assert [type(line).__name__ for line in in_order(report)][-3:] == ["Unjudged"] * 3


def test_totals_of_parts_are_in_the_order_of_their_sizes():
    parts = [
        PartLine("a", "u", 1, "Restrictor", size, quantity, "pieces", "")
        for size, quantity in (("12 gpm", 1.0), ("2.5 gpm", 2.0), ("12 gpm", 3.0), ("9 gpm", 1.0))
    ]
    assert part_totals(parts) == [
        ("Restrictor", "2.5 gpm", 2.0, "pieces"), ("Restrictor", "9 gpm", 1.0, "pieces"),
        ("Restrictor", "12 gpm", 4.0, "pieces"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "piece"), [("Units", "units"), ("Señal 3/4", "senal-3-4"), ("東京", "sheet"), ("", "sheet")]
)
def test_slugs(text, piece):
    assert slug(text) == piece
