"""Sharing of work between rows must never show in the results."""

from __future__ import annotations

import numpy as np
import pytest

from fleetaudit.hydraulics import arrays, grading, water, window


def test_rows_that_share_a_fingerprint_are_still_told_apart(monkeypatch):
    monkeypatch.setattr(arrays, "fingerprints", lambda columns: np.zeros(columns[0].size, dtype=np.uint64))
    column = np.array([1.0, 2.0, np.nan, 1.0])
    found = arrays.once_per_row(lambda x: x * 10, column)
    np.testing.assert_array_equal(found, [10.0, 20.0, np.nan, 10.0])


def test_each_kind_is_worked_out_once():
    seen = []

    def double(x, y):
        seen.append(x.size)
        return x + y

    one, other = np.array([1.0, 1.0, np.nan, np.nan, -0.0, 0.0]), np.array([2.0, 2.0, 3.0, 3.0, 4.0, 4.0])
    np.testing.assert_array_equal(
        arrays.once_per_row(double, one, other), [3.0, 3.0, np.nan, np.nan, 4.0, 4.0]
    )
    assert seen == [3]


def test_what_is_not_known_is_alike_however_it_came_about():
    """Processors and numpy write what is no number with either sign."""
    first, kind = arrays.distinct_rows([np.array([np.nan, 1.0, -np.nan, 1.0])])
    np.testing.assert_array_equal(first, [0, 1])
    np.testing.assert_array_equal(kind, [0, 1, 0, 1])


@pytest.mark.parametrize("kinds", [1, 3, 40, 3000])
def test_the_first_row_of_each_kind_stands_for_it(kinds: int):
    """As numpy's `unique`, in the order in which kinds first come."""
    column = np.random.default_rng(kinds).integers(0, kinds, 2000) * 0.1
    _, expected = np.unique(column, return_index=True)
    first, kind = arrays.distinct_rows([column])
    np.testing.assert_array_equal(first, np.sort(expected))
    np.testing.assert_array_equal(column[first][kind], column)


@pytest.mark.parametrize("many", [0, 1, 17, 100, 101, 150])
@pytest.mark.parametrize("after_same", [False, True])
def test_places_among_few_numbers_are_those_of_a_search(many: int, after_same: bool):
    few = np.arange(many) * 1.0
    values = np.array([-1.0, 0.0, 0.5, 16.0, 16.5, 99.0, 100.0, 1e9, np.inf, np.nan])
    expected = np.searchsorted(few, values, side="right" if after_same else "left")
    np.testing.assert_array_equal(arrays.place_among(few, values, after_same=after_same), expected)


def test_what_is_kept_for_all_cannot_be_changed_by_one():
    for kept in (grading.quantiles(10), *water._table()):
        with pytest.raises(ValueError, match="read-only"):
            kept[0] = 0.0


def test_no_rows_give_no_results():
    nothing = np.array([])
    assert arrays.once_per_row(lambda x: x, nothing).shape == (0,)
    grain, wash = window.Grain(*[nothing] * 5), window.Practice(*[nothing] * 7, nothing.astype(bool))
    found = window.rate_window(grain, wash, nothing, nothing)
    assert found.low.shape == found.low_set_by.shape == (0,)


def test_a_fleet_of_all_different_media_gives_the_same_as_each_alone():
    """Past a certain size distinct media and temperatures are found by sorting instead of marking."""
    draw = np.random.default_rng(3)
    count = 3000
    grain = window.Grain(
        *(
            draw.uniform(*ends, count)
            for ends in ((3e-4, 1e-3), (1.2, 2), (1100, 4500), (0.5, 1), (0.38, 0.55))
        )
    )
    steady = (8e-3, 12e-3, 283.15, 0.2, 0.25, 0.3, 0.7)
    wash = window.Practice(*(np.full(count, x) for x in steady), np.zeros(count, dtype=bool))
    kelvin = draw.uniform(274, 300, count)
    together = window.temperature_factor(grain, wash, kelvin)
    for place in (0, 1234, 2999):
        one = window.Grain(*(column[place : place + 1] for column in grain.columns()))
        alone = window.temperature_factor(
            one, window.Practice(*([x] for x in steady), [False]), [kelvin[place]]
        )
        assert together[place] == pytest.approx(alone[0], rel=1e-13)
