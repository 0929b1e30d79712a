"""Kinds of job put together until large enough: nothing lost, nothing too small, sizes alone decide."""

from hypothesis import given, settings
from hypothesis import strategies as st

from fleetaudit.catalogue.shipped import load
from fleetaudit.crews.counts import LAYERED, UNKNOWN, Job
from fleetaudit.crews.rules import rules_of
from fleetaudit.crews.strata import Kind, kind_of, merged

LEAST = 20
FLEETS = st.dictionaries(
    st.builds(Kind, st.integers(-1, 3), st.integers(-1, 4), st.integers(400, 405)),
    st.integers(1, 40),
    max_size=40,
)


def sizes(parts, units):
    return [sum(units[kind] for kind in part) for part in parts]


@given(FLEETS)
@settings(max_examples=200, deadline=None)
def test_every_kind_is_in_one_stratum_of_twenty_or_more(units):
    parts = merged(units, LEAST)
    assert sorted(kind for part in parts for kind in part) == sorted(units)
    if sum(units.values()) >= LEAST:
        assert all(size >= LEAST for size in sizes(parts, units))
    else:
        assert len(parts) <= 1


@given(FLEETS)
@settings(max_examples=100, deadline=None)
def test_order_of_the_kinds_does_not_matter(units):
    turned = dict(reversed(units.items()))
    assert merged(turned, LEAST) == merged(units, LEAST)


@given(FLEETS)
@settings(max_examples=100, deadline=None)
def test_large_classes_of_vessel_are_never_put_together(units):
    by_vessel = {}
    for kind, count in units.items():
        by_vessel[kind.vessel] = by_vessel.get(kind.vessel, 0) + count
    if all(count >= LEAST for count in by_vessel.values()):
        for part in merged(units, LEAST):
            assert len({kind.vessel for kind in part}) == 1


def test_large_kinds_stay_apart_and_years_join_first():
    units = {
        Kind(0, 1, 403): 25,
        Kind(0, 1, 404): 12,
        Kind(0, 1, 405): 9,
        Kind(0, 2, 403): 30,
        Kind(1, 2, 403): 6,
        Kind(1, 1, 404): 15,
    }
    assert merged(units, LEAST) == [
        (Kind(0, 1, 403),),
        (Kind(0, 1, 404), Kind(0, 1, 405)),
        (Kind(0, 2, 403),),
        (Kind(1, 1, 404), Kind(1, 2, 403)),
    ]


def test_media_too_few_by_themselves_join_the_smallest_stratum_of_their_vessels():
    units = {Kind(0, 0, 403): 8, Kind(0, 1, 403): 90, Kind(0, 2, 403): 30}
    assert merged(units, LEAST) == [(Kind(0, 1, 403),), (Kind(0, 0, 403), Kind(0, 2, 403))]


def test_edges_of_the_settings_part_the_jobs():
    """10 and 12 in, 18 and 24 in lie on either side of the edges; 1 gpm/ft2 is 679 um/s (NIST SP 811)."""
    rules = rules_of(load())
    by_diameter = [kind_of(Job("", mm, 5000, 2019, ""), rules).vessel for mm in (254, 305, 457, 610, UNKNOWN)]
    assert by_diameter == [0, 1, 2, 3, UNKNOWN]
    by_rate = [
        kind_of(Job("", 254, rate, 2019, ""), rules).medium
        for rate in (
            round(4 * 679.1),
            round(8 * 679.1),
            round(12 * 679.1),
            round(25 * 679.1),
            LAYERED,
            UNKNOWN,
        )
    ]
    assert by_rate == [0, 1, 2, 3, 4, UNKNOWN]
    years = [kind_of(Job("", 254, 5000, year, ""), rules).years for year in (2014, 2015, 2019, 2020, UNKNOWN)]
    assert years == [402, 403, 403, 404, UNKNOWN]
    assert kind_of(Job("", 254, 5000, 2015, ""), rules, with_years=False).years == UNKNOWN
