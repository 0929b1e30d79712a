"""The comparison of crews where people meet it: on the page, as a picture, on a sheet of either workbook."""

from __future__ import annotations

import io
import re
from itertools import pairwise

import openpyxl
import pytest
from msgspec.structs import replace
from pagetree import tree
from test_annotated_copy import user_book
from tests_report import HOSTILE, make_report

from fleetaudit.catalogue.shipped import load
from fleetaudit.crews.counts import Job, SetUpCounts, Tally
from fleetaudit.crews.report import report as compare
from fleetaudit.crews.rules import rules_of
from fleetaudit.schema import results
from fleetaudit.writing import crew_words, report_workbook
from fleetaudit.writing.annotate import annotate_copy
from fleetaudit.writing.crew_chart import funnel_chart
from fleetaudit.writing.html import render

#: an invented fleet in which the crew "Birch" fits too small a restrictor every third time
UNITS, WRONG = 36, {"Alder": 1, "Birch": 13, "Cedar": 1, "Dogwood": 2, "Elm": 0}
FEW = {"Fir": (4, 0)}


def job(crew):
    return Job(crew, 254, 6800, 2021, "small")


@pytest.fixture(scope="module")
def crews():
    jobs = {job(crew): Tally(UNITS, wrong, wrong, 0, 0) for crew, wrong in WRONG.items()}
    jobs |= {job(crew): Tally(units, wrong, wrong, 0, 0) for crew, (units, wrong) in FEW.items()}
    return compare(SetUpCounts(jobs), rules_of(load()))


@pytest.fixture
def shown(report, crews):
    report.crews = crews
    return report


def test_every_crew_has_a_dot_where_its_counts_put_it(crews):
    chart = funnel_chart(crews)
    assert len(chart.dots) == len(crews.funnel.points) == 6
    by_expected = sorted(crews.funnel.points, key=lambda point: point.expected)
    assert [dot.x for dot in chart.dots] == sorted(dot.x for dot in chart.dots)
    # all jobs alike: 17 wrong of 184 give 36 * 17/184 = 3.3 to be expected; Birch has 13, 3.9 times as many
    birch = next(dot for dot, point in zip(chart.dots, by_expected, strict=True) if point.name == "Birch")
    assert birch.y == min(dot.y for dot in chart.dots) and birch.kind == "f-plan"
    assert [label.text for label in chart.labels if label.text in WRONG] == ["Birch"]
    row = next(row for row in chart.rows if row[0] == "Birch")
    assert (row[1], row[2], row[3], row[4]) == ("36", "13", "3.3", "3.91")
    assert chart.totals == {"different from expected": 1, "within normal variation": 4, "too few to tell": 1}


def test_limits_narrow_towards_one_and_stay_on_the_drawing(crews):
    chart = funnel_chart(crews)
    band = next(outline for outline, kind in chart.paths if kind == "in")
    places = [(float(x), float(y)) for x, y in re.findall(r"([\d.]+) ([\d.]+)", band)]
    upper = places[: len(places) // 2]
    assert all(after[1] >= before[1] for before, after in pairwise(upper)), "the upper edge comes down"
    assert all(0 <= x <= 400 and 0 <= y <= chart.height for x, y in places)
    assert all(0 <= dot.x <= 400 and 0 <= dot.y <= chart.height for dot in chart.dots)


def test_names_of_crews_close_together_stand_under_each_other(crews):
    points = crews.funnel.points
    birch = next(point for point in points if point.name == "Birch")
    near = replace(birch, name="Birch two", ratio=birch.ratio - 0.02)
    both = replace(crews, funnel=replace(crews.funnel, points=(*points, near)))
    heights = [label.y for label in funnel_chart(both).labels if label.text.startswith("Birch")]
    assert len(heights) == 2 and heights[1] - heights[0] >= 13, "13 pixels is the size of the letters"


def test_nothing_wrong_anywhere_is_no_picture():
    fleet = {job(crew): Tally(20, 0, 0, 0, 0) for crew in ("Alder", "Birch")}
    assert funnel_chart(compare(SetUpCounts(fleet), rules_of(load()))) is None
    assert funnel_chart(None) is None


def test_the_page_says_what_differs_first_and_keeps_the_order_of_names(shown):
    root = tree(render(shown))
    text = root.text
    assert root.by_id("by-crew").tag == "h2" and root.by_id("c4-t").text == "Do set-ups differ between crews?"
    assert "Birch set up 36 units that can be compared" in text and "13 were found" in text
    assert any(link.get("href") == "#crew=Birch" for link in root.all("a"))
    others = next(d for d in root.all("details") if d.one("summary").text == "The other crews, by name")
    said = [entry.text.split(" set up")[0] for entry in others.all("li")]
    assert said == ["Alder", "Cedar", "Dogwood", "Elm", "Fir"]
    assert all(question in text for question in crew_words.QUESTIONS)
    assert all(line in text for line in crew_words.method(shown.crews))


def test_a_page_without_a_comparison_has_no_room_for_it(report):
    assert report.crews is None
    root = tree(render(report))
    assert not [node for node in root.walk() if node.get("id") == "by-crew"]
    assert not [link for link in root.all("a") if link.get("href") == "#by-crew"]


def test_hostile_names_of_crews_stay_text(report):
    jobs = {job(HOSTILE): Tally(36, 13, 13, 0, 0)}
    jobs |= {job(name): Tally(90, 2, 2, 0, 0) for name in ("Alder", "Elm")}
    report.crews = compare(SetUpCounts(jobs), rules_of(load()))
    page = render(report)
    root = tree(page)
    assert "img" not in {node.tag for node in root.walk()} and page.count("<script") == 1
    assert "\u202e" not in page and "</td></script>" in root.text


def test_both_workbooks_have_the_sheet_with_numbers_as_numbers(shown, tmp_path):
    source = user_book(shown, tmp_path / "fleet.xlsx")
    copy, _ = annotate_copy(shown, source, tmp_path / "fleet.audited.xlsx", 4, False)
    alone = openpyxl.load_workbook(io.BytesIO(report_workbook.workbook_bytes(shown)))
    for book in (openpyxl.load_workbook(copy), alone):
        page = book[results.SHEET_CREWS]
        rows = {row[0]: row for row in page.iter_rows(values_only=True) if row[0]}
        heading = rows["Name"]
        birch = dict(zip(heading, rows["Birch"], strict=True))
        assert (birch["Units"], birch["Wrong"], birch["Too small"]) == (36, 13, 13)
        assert birch["Expected"] == pytest.approx(36 * 17 / 184, abs=0.05)
        assert birch["What it says"] == "different from expected"
        assert birch["In words"].startswith("Birch set up 36 units")
        names = [row[0] for row in page.iter_rows(values_only=True) if row[0] in {*WRONG, *FEW}]
        assert names == sorted(names), "by name, never by result"
        links = [cell.value for row in book[results.SHEET_SUMMARY].iter_rows() for cell in row]
        assert results.SHEET_CREWS in links


def test_a_report_of_one_account_has_no_such_sheet(report, tmp_path):
    source = user_book(make_report(), tmp_path / "fleet.xlsx")
    copy, _ = annotate_copy(report, source, tmp_path / "fleet.audited.xlsx", 4, False)
    book = openpyxl.load_workbook(copy)
    assert results.SHEET_CREWS not in book.sheetnames
    links = [cell.value for row in book[results.SHEET_SUMMARY].iter_rows() for cell in row]
    assert results.SHEET_CREWS not in links
