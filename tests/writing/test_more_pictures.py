"""Grid of wrong set-ups, cost of waiting, map, drawing of a window: each against counts made by hand."""

from __future__ import annotations

import math
import re

import pytest
from msgspec.structs import replace
from pagetree import tree
from tests_report import HOSTILE, with_figures

from fleetaudit.writing.cost_chart import cost_chart
from fleetaudit.writing.html import render
from fleetaudit.writing.map_chart import map_chart, places_of
from fleetaudit.writing.report import Span
from fleetaudit.writing.setup_chart import setup_chart
from fleetaudit.writing.window_drawing import WIDTH, drawing

#: an invented district around this point [degrees]
NORTH, EAST = 52.0, 5.0


def placed(report, step=0.05):
    """The report with its accounts on a line to the north-east."""
    report.units = [
        replace(unit, latitude=NORTH + step * (unit.index // 3), longitude=EAST + step * (unit.index // 3))
        for unit in report.units
    ]
    return report


def test_the_grid_counts_units_set_up_wrongly_of_those_that_can_be_told(report):
    chart = setup_chart(report)
    # of nine invented units one restrictor is too large, one too small, one unit not judged; thrice that
    assert chart.totals == {"wrong": 6, "units compared": 24}
    assert sum(int(re.match(r"\d+", row[1])[0]) for row in chart.rows) == 6


def test_a_finding_to_measure_first_is_in_neither_count(report):
    report.findings = [replace(finding, confidence="measure-first") for finding in report.findings]
    assert setup_chart(report) is None
    report.findings[0] = replace(report.findings[0], confidence="sure")
    assert setup_chart(report).totals == {"wrong": 1, "units compared": 24 - 5}


def test_sizes_are_classes_of_the_diameter_in_the_readers_unit(report):
    report.units = [
        replace(unit, vessel_diameter_in=(10.0, 13.0, 30.0, None)[unit.index % 4]) for unit in report.units
    ]
    assert setup_chart(report).columns[1:] == ("to 10 in", "to 13 in", "over 24 in", "size unknown")
    report.system = "metric"
    assert setup_chart(report).columns[1] == "to 254 mm"  # an inch is 25.4 mm exactly (NIST SP 811, B.8)


def test_costs_of_each_check_add_up(report):
    chart = cost_chart(report)
    expected: dict[str, float] = {}
    for finding in report.findings:
        if finding.cost_year is not None:
            expected[finding.title] = expected.get(finding.title, 0.0) + finding.cost_year.target
    assert {row[0] for row in chart.rows} == set(expected)
    for row in chart.rows:
        year = float(row[4].replace(",", ""))
        assert year == pytest.approx(expected[row[0]], rel=0.05), "two figures are within 5 %"
        assert float(row[2].replace(",", "")) == pytest.approx(year / 12, rel=0.1)
    lengths = [rect.width for rect in chart.rects]
    assert lengths == sorted(lengths, reverse=True), "the dearest first"


def test_nothing_with_a_price_is_no_picture_of_cost(report):
    report.findings = [replace(finding, cost_year=None) for finding in report.findings]
    assert cost_chart(report) is None
    report.findings = [replace(finding, cost_year=Span(None, None, None)) for finding in report.findings]
    assert cost_chart(report) is None


def test_the_map_has_each_account_with_its_gravest_verdict(report):
    places = places_of(placed(report))
    assert len(places) == 9
    # units 0, 1, 2 of the first account: to see to now, and two to plan for
    assert (places[0].name, places[0].verdict, places[0].units) == ("Invented Account 000", "now", 3)
    chart = map_chart(report)
    assert chart.units == 9 and sum(chart.totals.values()) == 9
    marks = "".join(outline for outline, kind in chart.paths if kind != "axis")
    assert len(re.findall("M", marks)) == 9
    starts = [(float(x), float(y)) for x, y in re.findall(r"M([\d.]+) ([\d.]+)m", marks)]
    assert all(0 < x < 400 and 0 < y < chart.height for x, y in starts)
    north_east, south_west = max(starts), min(starts)
    assert north_east[1] < south_west[1], "north is up"


def test_the_map_keeps_the_ratio_of_directions(report):
    """A degree of longitude is cos(latitude) of one of latitude (geometry of the sphere)."""
    chart = map_chart(placed(report))
    marks = "".join(outline for outline, kind in chart.paths if kind != "axis")
    starts = sorted((float(x), float(y)) for x, y in re.findall(r"M([\d.]+) ([\d.]+)m", marks))
    wide, high = starts[-1][0] - starts[0][0], starts[0][1] - starts[-1][1]
    assert wide / high == pytest.approx(math.cos(math.radians(NORTH + 0.2)), rel=0.02)


@pytest.mark.parametrize(("system", "unit"), [("us", "miles"), ("metric", "km")])
def test_the_scale_is_a_round_length_on_the_ground(report, system, unit):
    """Length of a degree of latitude: 6,371 km x pi/180 = 111.2 km (mean radius, IUGG 1980)."""
    report.system = system
    chart = map_chart(placed(report))
    length, word = chart.labels[-1].text.split()
    bar = float(re.search(r"h([\d.]+)", chart.paths[-1][0])[1])
    marks = "".join(outline for outline, kind in chart.paths if kind != "axis")
    heights = [float(y) for _, y in re.findall(r"M([\d.]+) ([\d.]+)m", marks)]
    km_a_pixel = 8 * 0.05 * 111.2 / (max(heights) - min(heights))
    assert word == unit
    assert bar * km_a_pixel == pytest.approx(int(length) * (1.609344 if system == "us" else 1), rel=0.02)


def test_a_slip_in_one_place_does_not_shrink_the_map(report):
    placed(report)
    report.units[-1] = replace(report.units[-1], account="Far away (invented)", latitude=-NORTH)
    chart = map_chart(report)
    assert chart.totals["too far away to draw"] == 1
    assert all(row[0] != "Far away (invented)" for row in chart.rows)


def test_without_places_there_is_no_map(report):
    assert map_chart(report) is None
    report.units[0] = replace(report.units[0], latitude=NORTH, longitude=EAST)
    assert map_chart(report) is None, "one place is no map"


def test_all_accounts_in_one_spot_still_make_a_map(report):
    assert map_chart(placed(report, step=0.0)).units == 9


def flow_finding(report, **values):
    finding = next(finding for finding in report.findings if finding.check == "restrictor-too-small")
    return with_figures(finding, **({"low_gpm": 6.0, "high_gpm": 8.0, "flow_gpm": 4.0} | values))


def test_a_window_is_drawn_to_scale_with_the_tolerance_of_the_restrictor(report):
    finding = flow_finding(report)
    unit = replace(report.units[finding.unit], drain_gpm=Span(3.6, 4.0, 4.4))
    drawn = drawing(finding, unit, "us")
    assert drawn.low / drawn.high == pytest.approx(6 / 8, abs=0.01)
    assert drawn.least / drawn.high == pytest.approx(3.6 / 8, abs=0.01)
    assert drawn.most / drawn.high == pytest.approx(4.4 / 8, abs=0.01)
    assert drawn.high < WIDTH and (drawn.low_text, drawn.high_text, drawn.flow_text) == ("6", "8", "4 gpm")
    # 1 gpm is 3.785411784 L/min (NIST SP 811, B.8)
    metric = drawing(finding, unit, "metric")
    assert (metric.low_text, metric.high_text, metric.flow_text) == ("22.7", "30.3", "15.1 L/min")


@pytest.mark.parametrize(
    "values", [{"flow_gpm": None}, {"low_gpm": None}, {"low_gpm": 9.0}, {"flow_gpm": 0.0}, {"flow_gpm": "4"}]
)
def test_what_is_no_window_is_not_drawn(report, values):
    assert drawing(flow_finding(report, **values), None, "us") is None


def test_the_page_opens_to_the_drawing_and_draws_every_picture(report):
    placed(report)
    report.findings = [
        flow_finding(report) if finding.check == "restrictor-too-small" else finding
        for finding in report.findings
    ]
    root = tree(render(report))
    drawn = [svg for svg in root.by_id("rows").all("svg") if "w" in svg.classes]
    assert len(drawn) == sum(finding.check == "restrictor-too-small" for finding in report.findings)
    assert [text.text for text in drawn[0].all("text")] == ["6", "8", "4 gpm"]
    assert len(root.all("figure")) == 6
    for figure in root.all("figure"):
        drawing_, table = figure.one("svg"), figure.one("table")
        assert drawing_.one("title").text and drawing_.one("desc").text and table.all("tr")


def test_hostile_names_of_places_stay_text(hostile):
    placed(hostile)
    hostile.units[0] = replace(hostile.units[0], account=HOSTILE + "2")
    root = tree(render(hostile))
    assert "img" not in {node.tag for node in root.walk()}
    assert root.by_id("c7-t").text == "Where are the accounts?"
