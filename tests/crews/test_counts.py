"""What counts as a set-up and what as a wrong one, and that any split of the fleet counts the same."""

from datetime import date
from functools import reduce
from itertools import pairwise
from operator import add

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from fleetaudit.auditing.run import audit
from fleetaudit.catalogue.shipped import load
from fleetaudit.checks import (
    housing_too_small,
    restrictor_borderline,
    restrictor_too_large,
    restrictor_too_small,
)
from fleetaudit.checks.check import Confidence
from fleetaudit.crews import counts as own
from fleetaudit.crews.report import report
from fleetaudit.crews.rules import rules_of
from fleetaudit.facts import repeats
from tests.frames import frame_of

AS_OF = date(2026, 11, 1)
#: filter sand in 10 in needs 12 to 18 gpm/ft2 of 0.545 ft2 at 10 degC, 6.5 to 9.8 gpm (catalogue):
#: 8 gpm is right, 2 gpm far too little, 20 gpm far too much. Everything the finding rests on is given.
RIGHT = {
    "vessel_size": "10x54",
    "vessel_diameter": "10 in",
    "medium": "filter-sand",
    "mesh_stated": "yes",
    "water_cold": "48 degF",
    "water_warm": "52 degF",
    "restrictor": "8 gpm",
    "crew": "Crew Alder",
    "install_date": "2018-05-02",
}
SMALL = RIGHT | {"restrictor": "2 gpm"}
LARGE = RIGHT | {"restrictor": "20 gpm"}


def counted(*rows):
    catalogue = load()
    return own.count(audited(rows, catalogue))


def audited(rows, catalogue):
    named = [{"unit_id": f"U-{place}", **row} for place, row in enumerate(rows)]
    return audit(frame_of(named, catalogue), catalogue, AS_OF)


def whole(counts):
    return own.total(counts.jobs.values())


def test_right_small_and_large_are_told_apart():
    counts = counted(RIGHT, RIGHT, SMALL, LARGE)
    assert whole(counts) == own.Tally(units=4, wrong=2, small=1, large=1, housing=0)
    assert counts.left_out == {}


def test_a_job_is_named_by_what_it_was():
    """10 in is 254 mm; 12 gpm/ft2 is 8149 um/s (1 gpm/ft2 = 6.309020e-5 / 0.09290304 m/s, NIST SP 811)."""
    (job,) = counted(RIGHT | {"housing": "medium"}).jobs
    assert job == own.Job("Crew Alder", 254, round(12 * 6.309020e-5 / 0.09290304 * 1e6), 2018, "medium")
    (job,) = counted({key: cell for key, cell in RIGHT.items() if key != "install_date"}).jobs
    assert job.year == own.UNKNOWN
    assert job.housing == ""


def test_a_small_housing_and_its_small_restrictor_are_one_mistake():
    """Sand in 24 in takes 12 gpm/ft2 of 3.14 ft2 or more, 38 gpm; the small housing ends at 7 (catalogue)."""
    counts = counted(
        SMALL
        | {"vessel_size": "24x72", "vessel_diameter": "24 in", "housing": "small", "restrictor": "5 gpm"}
    )
    assert whole(counts) == own.Tally(units=1, wrong=1, small=1, large=0, housing=1)


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        (SMALL | {"restrictor": ""}, own.NOT_JUDGED),
        (SMALL | {"medium": "", "mesh_stated": ""}, own.NOT_JUDGED),
        (SMALL | {"media_crew": "Crew Birch"}, own.CHANGED),
        (SMALL | {"media_date": "2021-03-01"}, own.CHANGED),
        (SMALL | {"media_date": "2021-03-01", "media_crew": "Crew Birch"}, own.CHANGED),
    ],
)
def test_what_is_not_the_crews_is_left_out(row, reason):
    counts = counted(RIGHT, row)
    assert whole(counts) == own.Tally(units=1)
    assert counts.left_out == {reason: 1}


@pytest.mark.parametrize(
    "row",
    [
        SMALL | {"media_crew": "crew  alder"},
        SMALL | {"media_crew": "Crew Alder", "media_date": "2021-03-01"},
        SMALL | {"media_date": "2018-05-20"},
        SMALL | {"media_date": "2016-01-01"},
    ],
)
def test_what_the_crew_did_itself_counts(row):
    counts = counted(row)
    assert whole(counts).wrong == 1
    assert counts.left_out == {}


def test_dates_that_tell_nothing_are_said():
    assert counted(SMALL, SMALL | {"media_date": "2018-05-02"}).remarks == {own.DATES_SILENT: 1}


def test_units_out_of_service_are_not_in_sight_at_all():
    counts = counted(RIGHT, SMALL | {"status": "removed"})
    assert whole(counts) == own.Tally(units=1)
    assert counts.left_out == {}


def test_rows_that_stand_twice_count_for_nobody():
    counts = counted(RIGHT, SMALL | {"unit_id": "U-9"}, SMALL | {"unit_id": "U-9"})
    assert whole(counts) == own.Tally(units=1)
    assert counts.left_out == {own.TWICE: 2}


def test_a_restrictor_at_the_edge_is_no_mistake():
    """Among ratings from too small to too large some are borderline; none of those counts as wrong."""
    catalogue = load()
    rows = [RIGHT | {"restrictor": f"{tenths / 10} gpm"} for tenths in range(40, 130)]
    result = audited(rows, catalogue)
    state = {item.check.slug: item.state == own.State.FOUND for item in result.checks}
    edge = state[restrictor_borderline.CHECK.slug]
    beyond = state[restrictor_too_small.CHECK.slug] | state[restrictor_too_large.CHECK.slug]
    assert edge.sum() > 3
    assert not (edge & beyond).any()
    assert whole(own.count(result)).wrong <= beyond.sum()
    only = own.count(audited([row for row, at_edge in zip(rows, edge, strict=True) if at_edge], catalogue))
    assert whole(only) == own.Tally(units=int(edge.sum()))


def _with_confidence(result, slug, confidence):
    return replace(
        result,
        checks=tuple(
            replace(item, confidence=np.full_like(item.confidence, int(confidence)))
            if item.check.slug == slug
            else item
            for item in result.checks
        ),
    )


@pytest.mark.parametrize("confidence", list(Confidence))
def test_only_sure_and_likely_findings_are_held_against_a_crew(confidence):
    """What has to be measured first is neither wrong nor right."""
    result = _with_confidence(audited([SMALL, RIGHT], load()), restrictor_too_small.CHECK.slug, confidence)
    counts = own.count(result)
    if confidence is Confidence.MEASURE_FIRST:
        assert whole(counts) == own.Tally(units=1)
        assert counts.left_out == {own.UNSETTLED: 1}
    else:
        assert whole(counts).wrong == 1
        assert counts.left_out == {}


def test_cells_that_contradict_each_other_are_held_against_nobody():
    """A 20 gpm restrictor does not go into the small housing, which ends at 7 gpm: one cell is wrong."""
    counts = counted(LARGE | {"housing": "small"})
    assert whole(counts) == own.NOTHING
    assert counts.left_out == {own.UNSETTLED: 1}


def test_housing_alone_makes_a_unit_wrong():
    result = audited([RIGHT | {"housing": "small"}], load())
    forced = replace(
        result,
        checks=tuple(
            replace(
                item,
                state=np.full_like(item.state, int(own.State.FOUND)),
                confidence=np.zeros_like(item.confidence),
                outcome=replace(item.outcome, doubt=None),
            )
            if item.check.slug == housing_too_small.CHECK.slug
            else item
            for item in result.checks
        ),
    )
    assert whole(own.count(forced)) == own.Tally(units=1, wrong=1, housing=1)


def test_ratings_of_wrong_units_are_counted():
    """2 gpm is 126180 mm3/s (NIST SP 811: 6.309020e-5 m3/s)."""
    assert counted(SMALL, SMALL, RIGHT).ratings == {("Crew Alder", 126180): 2}


CELLS = st.fixed_dictionaries(
    {
        "crew": st.sampled_from(["Crew Alder", "Crew Birch", "crew alder", ""]),
        "restrictor": st.sampled_from(["2 gpm", "5 gpm", "8 gpm", "9 gpm", "20 gpm", ""]),
        "vessel_diameter": st.sampled_from(["10 in", "12 in", "24 in"]),
        "medium": st.sampled_from(["filter-sand", "activated-carbon-12x40", "cation-resin"]),
        "install_date": st.sampled_from(["2012-01-01", "2018-05-02", "2024-10-10", ""]),
        "media_date": st.sampled_from(["2012-01-01", "2023-05-02", ""]),
        "media_crew": st.sampled_from(["Crew Birch", "", ""]),
        "housing": st.sampled_from(["small", "medium", ""]),
        "unit_id": st.sampled_from([f"U-{place}" for place in range(12)]),
    }
)


@given(st.lists(CELLS, min_size=1, max_size=14), st.lists(st.integers(0, 14), max_size=3))
@settings(max_examples=40, deadline=None)
def test_any_split_counts_the_same(rows, cuts):
    catalogue = load()
    frame = frame_of([RIGHT | row for row in rows], catalogue)
    fleetwide = repeats.report(repeats.count(frame, catalogue))
    ends = [0, *sorted(min(cut, len(rows)) for cut in cuts), len(rows)]
    parts = [
        own.count(audit(frame.part(first, last), catalogue, AS_OF, fleetwide))
        for first, last in pairwise(ends)
        if first < last
    ]
    together = own.count(audit(frame, catalogue, AS_OF, fleetwide))
    rules = rules_of(catalogue)
    assert reduce(add, parts) == together
    assert reduce(add, parts[::-1]) == together
    # NaN differs from itself, so the reports are compared as they print
    assert repr(report(reduce(add, parts[::-1]), rules)) == repr(report(together, rules))
