"""Geometry of the charts against what can be worked out by hand."""

from __future__ import annotations

from datetime import date

import pytest
from msgspec.structs import replace
from tests_report import make_report, make_unit

from fleetaudit.writing import charts
from fleetaudit.writing.charts import age_chart, check_chart, window_chart
from fleetaudit.writing.report import Span


def fleet(*flows: float | None, low: float = 4.0, high: float = 8.0):
    report = make_report(0)
    unit = make_unit(0, "clean", ())
    report.units = [replace(unit, needed_gpm=Span(low, 6.0, high), restrictor_gpm=flow) for flow in flows]
    return report


@pytest.mark.parametrize(
    ("flow", "where"), [(3.99, "below"), (4.0, "inside"), (8.0, "inside"), (8.01, "above")]
)
def test_a_restrictor_at_a_limit_is_inside(flow, where):
    chart = window_chart(fleet(flow))
    assert chart is not None
    assert chart.totals == {"below": 0, "inside": 0, "above": 0} | {where: 1}


def test_each_block_stands_where_its_flow_says():
    """Half the least sits at the left end, double the most at the right end, the middle in the middle."""
    chart = window_chart(fleet(2.0, 6.0, 16.0))
    assert chart is not None
    blocks = [rect for rect in chart.rects if rect.kind != "in"]
    step = (charts.RIGHT - charts.LEFT) / 20
    assert [round((rect.x - 1 - charts.LEFT) / step) for rect in blocks] == [0, 10, 19]
    ground = next(rect for rect in chart.rects if rect.kind == "in")
    assert ground.x == pytest.approx(charts.LEFT + 6 * step) and ground.width == pytest.approx(8 * step)


def test_extremes_and_odd_windows_stay_inside_the_drawing():
    report = fleet(0.001, 900.0, 4.0)
    report.units.append(replace(report.units[0], needed_gpm=Span(5.0, 5.0, 5.0), restrictor_gpm=5.0))
    chart = window_chart(report)
    assert chart is not None and chart.units == 4
    for rect in chart.rects:
        assert rect.x >= charts.LEFT and rect.x + rect.width <= charts.RIGHT + 1e-9 and rect.height > 0
        assert rect.y + rect.height <= chart.height


def test_units_without_a_window_or_a_restrictor_are_not_drawn():
    report = fleet(None, 5.0)
    report.units.append(replace(report.units[1], needed_gpm=Span(None, None, None)))
    report.units.append(replace(report.units[1], needed_gpm=Span(8.0, 6.0, 4.0)))
    chart = window_chart(report)
    assert chart is not None and chart.units == 1
    assert window_chart(fleet(None)) is None


def test_tables_hold_the_same_numbers_as_the_drawings(report):
    for chart in (window_chart(report), check_chart(report)):
        assert chart is not None
        assert sum(int(row[-1]) for row in chart.rows) == chart.units == sum(chart.totals.values())
    ages = age_chart(report)
    assert ages is not None and sum(int(row[1]) for row in ages.rows) == ages.units == sum(
        ages.totals.values()
    )


def test_age_is_told_as_a_share_of_life():
    """Laid 2022-11-25 to last until 2030-11-25: half its life is over on 2026-11-25."""
    report = make_report(0)
    unit = replace(make_unit(0, "clean", ()), media_date=date(2022, 11, 25), media_due=date(2030, 11, 25))
    report.units = [
        unit,
        replace(unit, media_due=date(2026, 11, 24)),
        replace(unit, media_due=date(2026, 12, 25)),
        replace(unit, media_date=None),
        replace(unit, media_due=date(2020, 1, 1)),
    ]
    chart = age_chart(report)
    assert chart is not None
    assert chart.totals == {"past": 1, "soon": 1, "fine": 1}
    fine = next(dot for dot in chart.dots if dot.kind == "f-ok")
    assert (fine.x - charts.LEFT) / (charts.RIGHT - charts.LEFT) * 200 == pytest.approx(50, abs=5)
    assert chart.rows == ((unit.media, 3, 1, 1, 100),)


def test_bars_are_as_long_as_their_counts(report):
    chart = check_chart(report)
    assert chart is not None
    lengths: dict[float, float] = {}
    for rect in chart.rects:
        lengths[rect.y] = lengths.get(rect.y, 0.0) + rect.width
    counts = [int(row[-1]) for row in chart.rows]
    longest = max(lengths.values())
    assert [length / longest for _, length in sorted(lengths.items())] == pytest.approx(
        [n / max(counts) for n in counts]
    )
    assert counts == sorted(counts, reverse=True)


def test_nothing_found_no_chart():
    report = make_report(0)
    assert (window_chart(report), age_chart(report), check_chart(report)) == (None, None, None)
