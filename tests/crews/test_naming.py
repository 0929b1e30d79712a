"""Gates, standings, direction, names and codes, chart; with a worked example reckoned outside this code."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace
from scipy import stats

from fleetaudit.catalogue.shipped import load
from fleetaudit.crews import naming as own
from fleetaudit.crews.counts import Job, SetUpCounts, Tally
from fleetaudit.crews.naming import Direction, Standing
from fleetaudit.crews.report import report
from fleetaudit.crews.rules import rules_of

RULES = rules_of(load())


def wrong_units(units, wrong, small=None):
    """A tally whose mistakes are restrictors that are too small, or so many of them."""
    small = wrong if small is None else small
    return Tally(units, wrong, small, wrong - small, 0)


def example(others=3):
    """Two crews with easy and hard jobs, and the rest of 400 + 250 + 150 units shared out to others.

    Wrong 20, 30 and 45. The figures below were worked out with scipy.stats.hypergeom and in rational
    arithmetic.
    """
    table = {
        "Crew A": {0: wrong_units(10, 1), 1: wrong_units(12, 2), 2: wrong_units(40, 12)},
        "Crew B": {0: wrong_units(50, 7), 1: wrong_units(8, 3), 2: wrong_units(3, 1)},
    }
    rest = {0: (340, 12), 1: (230, 25), 2: (107, 32)}
    for number in range(others):
        table[f"Other {number}"] = {
            place: wrong_units(
                units // others + (number < units % others), wrong // others + (number < wrong % others)
            )
            for place, (units, wrong) in rest.items()
        }
    return table


def named(table, name, rules=RULES):
    return next(group for group in own.compared(table, rules) if group.name == name)


def test_worked_example_to_the_digits_shown():
    a, b = (named(example(), name) for name in ("Crew A", "Crew B"))
    assert (a.expected, a.ratio) == pytest.approx((13.94, 1.08), abs=0.005)
    assert (b.expected, b.ratio) == pytest.approx((4.36, 2.52), abs=0.005)
    assert (a.expected_by_others, a.ratio_to_others) == pytest.approx((13.899, 1.079), abs=0.0005)
    assert (b.expected_by_others, b.ratio_to_others) == pytest.approx((3.648, 3.016), abs=0.0006)
    assert (a.excess, b.excess) == pytest.approx((1.10, 7.35), abs=0.005)
    assert (a.p_more, b.p_more) == pytest.approx((0.41392, 0.0016618), abs=5e-6)
    assert (a.share, b.share) == pytest.approx((0.242, 0.180), abs=0.0005)
    assert a.standing is Standing.USUAL
    assert b.standing is Standing.DIFFERENT


def test_the_same_crew_among_many_is_not_named():
    """q is the smallest p times the number of crews: 0.0016618 x 21 is below 3.5 %, x 22 above."""
    assert RULES.false_share == pytest.approx(0.035)
    assert named(example(others=19), "Crew B").q_more == pytest.approx(0.0016618 * 21, abs=1e-5)
    assert named(example(others=19), "Crew B").standing is Standing.DIFFERENT
    assert named(example(others=20), "Crew B").standing is Standing.USUAL


@pytest.mark.parametrize(
    ("change", "standing"),
    [
        ({}, Standing.DIFFERENT),
        ({"false_share": 0.001}, Standing.USUAL),
        ({"least_ratio": 3.1}, Standing.USUAL),
        ({"least_excess": 7.4}, Standing.USUAL),
        ({"least_units": 62}, Standing.TOO_FEW),
        ({"least_units": 61}, Standing.DIFFERENT),
    ],
)
def test_each_gate_holds_by_itself(change, standing):
    assert named(example(), "Crew B", replace(RULES, **change)).standing is standing


def test_nine_units_are_too_few_whatever_was_found():
    table = {"Few": {0: wrong_units(9, 9)}, "Many": {0: wrong_units(300, 6)}}
    group = named(table, "Few")
    assert group.p_more < 1e-9
    assert group.standing is Standing.TOO_FEW
    assert np.isnan(group.q_more)


def test_jobs_nobody_else_did_tell_nothing():
    """The crew that alone sets up the largest vessels cannot be held against others there."""
    table = {"Alone": {0: wrong_units(60, 50), 1: wrong_units(8, 4)}, "Rest": {1: wrong_units(200, 10)}}
    group = named(table, "Alone")
    assert (group.comparable_units, group.comparable_wrong) == (8, 4)
    assert group.standing is Standing.TOO_FEW


def test_a_crew_better_than_its_jobs_is_said():
    table = {name: {0: wrong_units(120, 24 + place)} for place, name in enumerate("BCDEF")}
    groups = own.compared({"A": {0: wrong_units(120, 4)}, **table}, RULES)
    assert [group.standing for group in groups] == [Standing.BETTER] + [Standing.USUAL] * 5
    assert groups[0].p_fewer == pytest.approx(stats.hypergeom.cdf(4, 720, 134, 120), rel=1e-9)


def test_nothing_wrong_anywhere_says_nothing():
    groups = own.compared({"A": {0: wrong_units(50, 0)}, "B": {0: wrong_units(60, 0)}}, RULES)
    assert {group.standing for group in groups} == {Standing.USUAL}
    assert all(np.isnan(group.ratio) for group in groups)
    assert own.compared({}, RULES) == ()


TABLES = st.dictionaries(
    st.sampled_from("ABCDEFGH"),
    st.dictionaries(
        st.integers(0, 3),
        st.integers(1, 60).flatmap(
            lambda units: st.integers(0, units).flatmap(
                lambda wrong: st.integers(0, wrong).map(lambda small: wrong_units(units, wrong, small))
            )
        ),
        min_size=1,
    ),
    min_size=1,
)


@given(TABLES)
@settings(max_examples=80, deadline=None)
def test_groups_add_up_and_are_said_by_name(table):
    """Expected counts add up to the wrong units of the fleet; the order is that of the names."""
    groups = own.compared(table, RULES)
    assert [group.name for group in groups] == sorted(table)
    assert sum(group.expected for group in groups) == pytest.approx(
        sum(group.tally.wrong for group in groups)
    )
    for group in groups:
        assert group.usual[0] >= group.far[0]
        assert group.usual[1] <= group.far[1]
        if group.standing is Standing.DIFFERENT:
            assert group.comparable_wrong > group.expected_by_others
            assert group.q_more <= RULES.false_share
        if group.standing is Standing.BETTER:
            assert group.comparable_wrong < group.expected_by_others


@given(TABLES, st.sampled_from("ABCDEFGH"))
@settings(max_examples=60, deadline=None)
def test_one_more_wrong_unit_never_makes_a_crew_look_better(table, name):
    """Raising a crew's own count raises the chance of fewer and lowers that of more."""
    if name not in table:
        return
    place, tally = next(iter(table[name].items()))
    if tally.wrong == tally.units:
        return
    worse = table | {name: table[name] | {place: wrong_units(tally.units, tally.wrong + 1, tally.small + 1)}}
    before, after = named(table, name), named(worse, name)
    assert after.p_more <= before.p_more * (1 + 1e-9)
    assert after.p_fewer >= before.p_fewer * (1 - 1e-9)
    assert after.expected_by_others == pytest.approx(before.expected_by_others)


@pytest.mark.parametrize(
    ("tally", "direction", "count"),
    [
        (Tally(40, 11, 9, 2, 0), Direction.SMALL, 9),
        (Tally(40, 11, 1, 10, 0), Direction.LARGE, 10),
        (Tally(40, 11, 6, 5, 0), Direction.NONE, 0),
        (Tally(40, 9, 1, 0, 8), Direction.HOUSING, 8),
        (Tally(40, 9, 8, 1, 8), Direction.SMALL, 8),
        (Tally(40, 2, 2, 0, 0), Direction.NONE, 0),
    ],
)
def test_direction_is_said_where_most_mistakes_share_it(tally, direction, count):
    group = named({"A": {0: tally}, "B": {0: Tally(200, 4, 2, 2, 0)}}, "A")
    assert (group.direction, group.in_direction) == (direction, count)
    assert not group.others_alike


def test_direction_everybody_shares_is_said_too():
    """The two-sided sign test of 9 against 2 is scipy's."""
    group = named({"A": {0: Tally(40, 11, 9, 2, 0)}, "B": {0: Tally(200, 10, 8, 2, 0)}}, "A")
    assert group.others_alike
    assert group.direction_p == pytest.approx(stats.binomtest(9, 11).pvalue)


def set_ups(**units):
    """Counts of crews that did the same jobs: name -> (units, wrong)."""
    return SetUpCounts(
        {
            Job(name, 254, 5432, 2019, "small"): wrong_units(count, wrong)
            for name, (count, wrong) in units.items()
        }
    )


def test_one_rating_on_most_wrong_units_is_said():
    counts = set_ups(A=(40, 12), B=(200, 6))
    counts.ratings.update({("A", 315451): 9, ("A", 126180): 3, ("B", 315451): 3})
    a, b = report(counts, RULES).crews
    assert a.with_one_rating == 9
    assert a.one_rating_m3_s == pytest.approx(5 * 6.309020e-5, rel=1e-5)  # 5 gpm, NIST SP 811
    assert b.with_one_rating == 0


def test_codes_are_steady_and_do_not_follow_the_alphabet():
    names = [f"Crew {letter}" for letter in "ABCDEFGHIJ"]
    code = own.codes([*names, "Crew A", ""], "salt")
    assert sorted(code.values()) == sorted(["", *(f"crew {number}" for number in range(1, 11))])
    assert code == own.codes(reversed(names), "salt") | {"": ""}
    assert [code[name] for name in names] != [f"crew {number}" for number in range(1, 11)]
    assert code != own.codes(names, "pepper") | {"": ""}


def test_hidden_report_tells_no_name():
    counts = set_ups(**{"Crew Alder": (40, 12), "crew alder": (30, 2), "Crew Birch": (80, 6)})
    counts.ratings.update({("Crew Alder", 315451): 12})
    shown = report(counts, RULES)
    assert shown.alike == (("Crew Alder", "crew alder"),)
    hidden = shown.hidden(own.codes(group.name for group in shown.crews))
    assert "lder" not in repr(hidden)
    assert "irch" not in repr(hidden)
    assert [group.name for group in hidden.crews] == ["crew 1", "crew 2", "crew 3"]
    assert sorted(group.tally for group in hidden.crews) == sorted(group.tally for group in shown.crews)


def test_report_for_one_crew_compares_it_with_all():
    shown = report(set_ups(A=(40, 12), B=(200, 6)), RULES)
    only = shown.only("a")
    assert only.crews == (shown.crews[0],)
    assert [point.name for point in only.funnel.points] == ["A"]
    assert only.fleet == shown.fleet


def test_rows_without_a_crew_are_compared_by_year_and_housing_only():
    shown = report(set_ups(**{"A": (40, 4), "": (25, 3), "B": (30, 3)}), RULES)
    assert [group.name for group in shown.crews] == ["A", "B"]
    assert shown.no_crew == 25
    assert [(group.name, group.tally.units) for group in shown.years] == [("2019", 95)]
    assert [(group.name, group.tally.units) for group in shown.housings] == [("small", 95)]


def test_years_are_compared_within_vessels_and_media():
    """A year with hard jobs only is no bad year: its jobs were as often wrong in every other year."""
    jobs = {}
    for year in range(2012, 2018):
        easy, hard = (100, 30) if year < 2017 else (10, 120)
        jobs[Job("A", 254, 5432, year, "")] = wrong_units(easy, easy // 20)
        jobs[Job("A", 762, 5432, year, "")] = wrong_units(hard, hard * 3 // 10)
    years = report(SetUpCounts(jobs), RULES).years
    assert [group.standing for group in years] == [Standing.USUAL] * 6
    assert years[-1].share > 2 * years[0].share


def test_a_year_is_compared_with_all_other_years():
    """Years far apart, each alone in its run of years, are still held against each other."""
    jobs = {Job("A", 254, 5432, year, ""): wrong_units(80, 5) for year in (2002, 2007, 2012, 2017)}
    jobs[Job("A", 254, 5432, 2022, "")] = wrong_units(80, 24)
    years = report(SetUpCounts(jobs), RULES).years
    assert [group.standing for group in years] == [Standing.USUAL] * 4 + [Standing.DIFFERENT]
    assert years[-1].comparable_units == 80


def test_chart_holds_the_points_and_limits_that_narrow():
    counts = set_ups(**{f"Crew {number:02}": (10 + 12 * number, 1 + number) for number in range(12)})
    chart = report(counts, RULES).funnel
    assert [point.name for point in chart.points] == [f"Crew {number:02}" for number in range(12)]
    for point in chart.points:
        assert point.ratio == pytest.approx(point.wrong / point.expected)
    assert chart.widened == 1.0
    for limit in chart.limits:
        assert limit.far_low <= limit.usual_low < 1 < limit.usual_high <= limit.far_high
    assert all(before.expected < after.expected for before, after in pairwise(chart.limits))
    assert chart.limits[-1].expected >= max(point.expected for point in chart.points)


def test_limits_allow_for_real_differences_with_crews_enough():
    """Sixteen crews that differ by far more than chance widen the limits; eight are too few to tell."""
    rough = {f"Crew {number:02}": (60, 2 if number % 2 else 22) for number in range(16)}
    assert report(set_ups(**rough), RULES).funnel.widened > 2
    few = dict(list(rough.items())[:8])
    assert report(set_ups(**few), RULES).funnel.widened == 1.0


def test_nothing_to_draw_where_nothing_is_wrong():
    assert report(set_ups(A=(40, 0), B=(30, 0)), RULES).funnel.points == ()
    assert report(SetUpCounts(), RULES).crews == ()
