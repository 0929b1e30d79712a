"""What a flow restrictor delivers, as an interval, and which rating of a stocked series to fit."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from fleetaudit.hydraulics.arrays import Flags, Floats, Positions, floats, only, place_among

FULL_CONTROL_PA = 103421.359  # 15 psi
_SAME = 1e-9  # relative: two flows that differ by the rounding of a unit conversion only


class Interval(NamedTuple):
    """Least and most flow that a restrictor may deliver [m3/s]."""

    low: Floats
    high: Floats


class Choice(NamedTuple):
    """Rating to fit [m3/s] (NaN where none can be named) and whether it lies inside the window."""

    rating_m3_s: Floats
    in_window: Flags


def interval(rating_m3_s: ArrayLike, tolerance: ArrayLike) -> Interval:
    """Flows that a restrictor of a rating may deliver.

    Parameters
    ----------
    rating_m3_s
        Rated flow [m3/s].
    tolerance
        Tolerance as a fraction of the rating [-].

    Returns
    -------
    Both ends [m3/s].

    Notes
    -----
    Equation: rating (1 -/+ tolerance). Source: definition; rubber washers hold 10 to 15 % between some 15 to
    30 and 125 psi (from memory, unverified). Known bias: worn, scaled or hot washers drift out of it.

    Examples
    --------
    >>> low, high = interval(10.0, 0.1)
    >>> float(low), float(high)
    (9.0, 11.0)
    """
    rating, share = floats(rating_m3_s, tolerance)
    possible = (rating > 0) & (share >= 0) & (share < 1)
    return Interval(only(possible, rating * (1 - share)), only(possible, rating * (1 + share)))


def flow_at_pressure(
    rating_m3_s: ArrayLike, pressure_drop_pa: ArrayLike, full_control_pa: ArrayLike = FULL_CONTROL_PA
) -> Floats:
    """Flow through a restrictor that may have too little pressure to hold its rating.

    Parameters
    ----------
    rating_m3_s
        Rated flow [m3/s].
    pressure_drop_pa
        Pressure across the restrictor [Pa]; no flow at or below zero.
    full_control_pa
        Pressure from which the restrictor holds its rating [Pa], 15 psi.

    Returns
    -------
    Flow [m3/s].

    Notes
    -----
    Equation: q = rating sqrt(min(dp / dp_full, 1)), a fixed opening below the controlled range. Source: the
    square root is the orifice equation of any text; 15 psi is from memory, unverified.

    Examples
    --------
    A quarter of the pressure leaves half of the flow:

    >>> float(flow_at_pressure(10.0, FULL_CONTROL_PA / 4))
    5.0
    """
    rating, drop, full = floats(rating_m3_s, pressure_drop_pa, full_control_pa)
    with np.errstate(divide="ignore", invalid="ignore"):
        return only((rating > 0) & (full > 0), rating * np.sqrt(np.clip(drop / full, 0.0, 1.0)))


def choose(
    ratings_m3_s: ArrayLike,
    low_m3_s: ArrayLike,
    high_m3_s: ArrayLike,
    target_m3_s: ArrayLike,
    fitted_m3_s: ArrayLike,
    fitted_ok: ArrayLike,
    housing_limit_m3_s: ArrayLike,
    loss_sensitive: ArrayLike,
    *,
    tolerance: float,
) -> Choice:
    """Rating to fit, out of a stocked series.

    Parameters
    ----------
    ratings_m3_s
        Stocked ratings [m3/s], rising.
    low_m3_s, high_m3_s, target_m3_s
        Window of each unit and the flow to aim for [m3/s]. Where low lies above high nothing is inside; pass
        the two swapped to choose between seasons.
    fitted_m3_s
        Rating that is fitted now [m3/s], NaN where unknown.
    fitted_ok
        True where the fitted rating may stay.
    housing_limit_m3_s
        Largest rating that the fitted housing takes [m3/s], NaN where unknown.
    loss_sensitive
        True where losing media is worse than washing too gently.
    tolerance
        Tolerance as a fraction of the rating [-], below 1.

    Returns
    -------
    Rating [m3/s] and whether it is inside the window.

    Notes
    -----
    Equation: none; an order of preference. A fitted rating that may stay is kept. Of stocked ratings inside
    the window those come first that the housing takes, then those whose whole interval is inside, then the
    nearest to the target on a scale of ratios, the smaller of two as near. Where none is inside: the nearest
    at or below the target for loss-sensitive media, at or above it for the others, or the last of the series
    on that side. Source: this project's own choice.

    Examples
    --------
    Ratings of 7 to 12 against a window of 8.61 to 9.87:

    >>> choice = choose([7, 8, 9, 10, 12], [8.61], [9.87], [9.22], [12], [False], [25], [True], tolerance=0.1)
    >>> choice.rating_m3_s, choice.in_window
    (array([9.]), array([ True]))
    """
    ratings = np.atleast_1d(np.asarray(ratings_m3_s, dtype=np.float64))
    columns = floats(
        low_m3_s, high_m3_s, target_m3_s, fitted_m3_s, np.asarray(fitted_ok, dtype=np.float64),
        housing_limit_m3_s, np.asarray(loss_sensitive, dtype=np.float64),
    )  # fmt: skip
    whole, *_ = columns
    low, high, target, fitted, fitted_ok, *more = (column.ravel() for column in columns)
    keep = (fitted_ok > 0) & ~np.isnan(fitted)
    rating = np.where(keep, fitted, np.nan)
    least, most = low * (1 - _SAME), high * (1 + _SAME)
    inside = np.asarray((fitted >= least) & (fitted <= most))
    some = np.flatnonzero(~keep)
    asked = (row[some] for row in (least, most, target, *more))
    rating[some], inside[some] = _choose(ratings, tolerance, *asked)
    return Choice(rating.reshape(whole.shape), inside.reshape(whole.shape))


def _choose(
    ratings: Floats,
    tolerance: float,
    least: Floats,
    most: Floats,
    target: Floats,
    limit: Floats,
    loss_sensitive: Floats,
) -> tuple[Floats, Flags]:
    known = ~(np.isnan(least) | np.isnan(most) | np.isnan(target))
    # Ratings rise, so those that meet a condition are a run of them, from one place to before another.
    begin = place_among(ratings, least)
    end = np.where(known & (target > 0), place_among(ratings, most, after_same=True), 0)
    taken = place_among(ratings, limit * (1 + _SAME), after_same=True)  # all where the limit is NaN
    within = place_among(ratings * (1 - tolerance), least)
    within_end = place_among(ratings * (1 + tolerance), most, after_same=True)
    any_inside = end > begin
    for preferred, preferred_end in ((begin, taken), (within, within_end)):
        first, last = np.maximum(begin, preferred), np.minimum(end, preferred_end)
        some = last > first
        begin, end = np.where(some, first, begin), np.where(some, last, end)
    best = _nearest(ratings, target, begin, np.maximum(end, begin + 1))

    below = place_among(ratings, target * (1 + _SAME), after_same=True) - 1
    above = place_among(ratings, target * (1 - _SAME))
    nearest = np.clip(np.where(loss_sensitive > 0, below, above), 0, ratings.size - 1)
    rating = np.where(any_inside, best, np.where(known, ratings[nearest], np.nan))
    return rating, any_inside


def _nearest(ratings: Floats, target: Floats, begin: Positions, end: Positions) -> Floats:
    """Rating nearest to a target on a scale of ratios, from one place to before another; of two the less."""
    place, last = place_among(ratings, target), np.minimum(end, ratings.size) - 1
    below, above = (ratings[np.clip(side, np.minimum(begin, last), last)] for side in (place - 1, place))
    with np.errstate(divide="ignore", invalid="ignore"):
        aim = np.log(np.where(target > 0, target, np.nan))
        return np.where(aim - np.log(below) <= np.log(above) - aim, below, above)
