"""Interval, weak supply and choice of a rating, against figures worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from fleetaudit.hydraulics import restrictor

STOCK = np.array([5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 12.0, 15.0])


def choose(
    low, high, target, *, fitted=np.nan, ok=False, limit=np.nan, loss=False, tolerance=0.1, stock=STOCK
):
    choice = restrictor.choose(
        stock, [low], [high], [target], [fitted], [ok], [limit], [loss], tolerance=tolerance
    )
    return choice.rating_m3_s[0], bool(choice.in_window[0])


def test_the_interval():
    low, high = restrictor.interval([8.0, 12.0], [0.1, 0.15])
    assert low == pytest.approx([7.2, 10.2])
    assert high == pytest.approx([8.8, 13.8])


@pytest.mark.parametrize(
    ("rating", "tolerance"), [(np.nan, 0.1), (8.0, np.nan), (0.0, 0.1), (8.0, -0.1), (8.0, 1.0)]
)
def test_an_impossible_restrictor_has_no_interval(rating, tolerance):
    assert np.isnan(restrictor.interval(rating, tolerance)).all()


@pytest.mark.parametrize(
    ("psi", "share"), [(60, 1.0), (15, 1.0), (15 / 4, 0.5), (15 / 9, 1 / 3), (0, 0.0), (-5, 0.0)]
)
def test_flow_falls_with_the_square_root_below_15_psi(psi, share):
    assert restrictor.flow_at_pressure(10.0, psi * 6894.757) == pytest.approx(10 * share, rel=1e-6)


def test_unknown_pressure_gives_unknown_flow():
    assert np.isnan(restrictor.flow_at_pressure(10.0, np.nan))
    assert np.isnan(restrictor.flow_at_pressure(np.nan, 1e5))


def test_a_fitted_rating_that_may_stay_is_kept_even_when_it_is_not_in_stock():
    assert choose(6.0, 12.0, 8.5, fitted=6.5, ok=True) == (6.5, True)
    assert choose(6.0, 12.0, 8.5, fitted=12.5, ok=True) == (12.5, False)
    assert choose(6.0, 12.0, 8.4, fitted=np.nan, ok=True) == (8.0, True)


@pytest.mark.parametrize(
    ("fitted", "inside"), [(6 - 1e-11, True), (6 - 1e-6, False), (12 + 1e-11, True), (12 + 1e-6, False)]
)
def test_a_kept_rating_is_inside_up_to_what_arithmetic_loses(fitted: float, inside: bool):
    assert choose(6.0, 12.0, 8.5, fitted=fitted, ok=True) == (fitted, inside)


def test_the_whole_interval_inside_comes_before_nearness():
    """10 is nearer to the target of 10.4, but only 9 keeps both ends (8.1 to 9.9) inside 8 to 10.8."""
    assert choose(8.0, 10.8, 10.4) == (9.0, True)


@pytest.mark.parametrize("unit", [1.0, 6.309e-5])
def test_nearness_counts_on_a_scale_of_ratios(unit: float):
    """Between 8 and 10 the middle is 8.944, not 9, in whatever unit flows are given."""
    stock = unit * np.array([8.0, 10.0])
    for target, nearest in ((8.94, 0), (8.95, 1)):
        assert choose(5.0 * unit, 20.0 * unit, target * unit, stock=stock) == (stock[nearest], True)


def test_what_the_housing_takes_comes_before_all_else():
    """7 sticks out of 6.9 to 12 at its low end, yet it is the only one inside that a housing for 7 takes."""
    assert choose(6.9, 12.0, 9.0, limit=7.0) == (7.0, True)
    assert choose(6.9, 12.0, 9.0, limit=25.0) == (9.0, True)
    assert choose(6.9, 12.0, 9.0, limit=5.0) == (9.0, True)


def test_where_no_whole_interval_fits_the_nearest_nominal_is_taken():
    assert choose(7.9, 9.1, 8.9) == (9.0, True)


def test_both_ends_of_the_window_belong_to_it():
    assert choose(10.0, 11.0, 10.5) == (10.0, True)
    assert choose(9.5, 10.0, 9.7) == (10.0, True)
    assert choose(10.0 * (1 + 1e-6), 11.0, 10.5)[1] is False


@pytest.mark.parametrize(
    ("low", "high", "target", "loss", "rating"),
    [
        (10.2, 11.8, 11.0, True, 10.0),
        (10.2, 11.8, 11.0, False, 12.0),
        (2.0, 3.0, 2.5, True, 5.0),
        (20.0, 30.0, 25.0, False, 15.0),
        (9.65, 9.15, 9.15, True, 9.0),
        (11.0, 9.5, 10.0, True, 10.0),
        (11.0, 9.5, 10.0, False, 10.0),
    ],
)
def test_with_nothing_inside_the_safe_side_is_taken(low, high, target, loss, rating):
    assert choose(low, high, target, loss=loss) == (rating, False)


@pytest.mark.parametrize("place", range(3))
def test_an_unknown_window_has_no_rating(place):
    window = [8.0, 10.8, 9.3]
    window[place] = np.nan
    rating, inside = choose(*window)
    assert np.isnan(rating) and not inside


def test_no_rating_is_near_to_no_flow_at_all():
    assert choose(4.0, 12.0, 0.0) == (5.0, False)


def test_many_units_are_chosen_as_each_alone():
    target = np.linspace(4.0, 16.0, 120_001)
    choice = restrictor.choose(
        STOCK, target * 0.8, target * 1.25, target, np.nan, False, np.nan, True, tolerance=0.05
    )
    for place in (0, 49_999, 50_000, 100_000, 120_000):
        alone = choose(target[place] * 0.8, target[place] * 1.25, target[place], loss=True, tolerance=0.05)
        assert (choice.rating_m3_s[place], bool(choice.in_window[place])) == alone
