"""Findings by route day: read from the plan's own sheet, grouped on the page, hidden with the crews."""

from __future__ import annotations

from datetime import date, datetime

import pytest
import xlsxwriter
from pagetree import tree

from fleetaudit.audit_file import Request, audit_file

AS_OF = date(2026, 11, 1)
#: the third unit is in no visit; U-2 is visited twice
VISITS = [
    ("V1", datetime(2026, 12, 2), "Crew Alder", "U-1, U-2"),  # noqa: DTZ001 - a cell has no zone
    ("V2", datetime(2026, 11, 30), "Crew Elm", "u-2"),  # noqa: DTZ001 - a cell has no zone
    ("V3", "after the holidays", "Crew Elm", "U-4"),
]


@pytest.fixture
def fleet(tmp_path):
    path = tmp_path / "fleet.xlsx"
    with xlsxwriter.Workbook(str(path)) as book:
        units, route = book.add_worksheet("Units"), book.add_worksheet("Route")
        units.write_row(0, 0, ["Unit ID", "Account", "Tank size", "Media", "DLFC (gpm)", "Crew"])
        for row in range(1, 5):
            units.write_row(
                row, 0, [f"U-{row}", f"Invented Account {row}", "10x54", "filter sand", 1, "Crew Oak"]
            )
        route.write_row(0, 0, ["Visit", "Day", "Crew", "Lock", "Units"])
        days = book.add_format({"num_format": "yyyy-mm-dd"})
        for row, (visit, day, crew, listed) in enumerate(VISITS, start=1):
            route.write_row(row, 0, [visit, None, crew, None, listed])
            if isinstance(day, datetime):
                route.write_datetime(row, 1, day, days)
            else:
                route.write_string(row, 1, day)
    return path


def page_of(fleet, **asked):
    written = audit_file(Request(fleet, AS_OF, force=True, **asked))
    return tree(written.summary_path.read_text(encoding="utf-8"))


def test_lines_stand_under_the_first_day_their_unit_is_visited(fleet):
    root = page_of(fleet)
    cells = {row.all("td")[2].text: row.all("td")[8].text.strip() for row in root.by_id("rows").all("tr")[1:]}
    assert cells["U-1"] == "2026-12-02, Crew Alder" and cells["U-2"] == "2026-11-30, Crew Elm"
    assert cells["U-3"] == cells["U-4"] == ""
    days = [table for table in root.all("table") if table.get("data-field") == "day"]
    names = [row.all("td")[0].text for row in days[0].all("tr")[1:]]
    assert names == ["2026-11-30, Crew Elm", "2026-12-02, Crew Alder"], "the next day first"


def test_days_are_written_as_the_reader_writes_them_and_crews_can_be_hidden(fleet):
    text = page_of(fleet, dates="dotted", hide_crew_names=True).text
    assert "30.11.2026" in text and "Crew Elm" not in text and "Crew Alder" not in text


def test_without_a_plan_nothing_is_said_of_days(tmp_path):
    path = tmp_path / "fleet.xlsx"
    with xlsxwriter.Workbook(str(path)) as book:
        units = book.add_worksheet("Units")
        units.write_row(0, 0, ["Unit ID", "Account", "Tank size", "Media", "DLFC (gpm)"])
        units.write_row(1, 0, ["U-1", "Invented Account", "10x54", "filter sand", 1])
    assert not page_of(path).by_id("rows").all("th")[8:]
