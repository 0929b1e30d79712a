"""Which restrictor housing takes which rating."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleetaudit.hydraulics.arrays import Flags, floats, place_among

_SAME = 1e-9  # relative: two flows that differ by the rounding of a unit conversion only


def smallest_housing(rating_m3_s: ArrayLike, limits_m3_s: ArrayLike) -> NDArray[np.int64]:
    """Smallest of a series of housings that takes a rating.

    Parameters
    ----------
    rating_m3_s
        Rated flow [m3/s].
    limits_m3_s
        Largest rating of each housing [m3/s], rising.

    Returns
    -------
    Position in the series; its length where no housing takes the rating (flow control outside the valve is
    needed), -1 where the rating is unknown.

    Notes
    -----
    Equation: the first limit that is not below the rating. Source: common practice, no source; the limit
    itself is allowed.

    Examples
    --------
    >>> smallest_housing([7.0, 7.5, 60.0], [7, 25, 45])
    array([0, 1, 3])
    """
    (rating,) = floats(rating_m3_s)
    (limits,) = floats(limits_m3_s)
    place = place_among(limits, rating * (1 - _SAME))
    return np.where(np.isnan(rating), -1, place)[()]


def fits(rating_m3_s: ArrayLike, limit_m3_s: ArrayLike) -> Flags:
    """Whether a housing takes a rating.

    Parameters
    ----------
    rating_m3_s
        Rated flow [m3/s].
    limit_m3_s
        Largest rating of the housing [m3/s].

    Returns
    -------
    True up to and at the limit; False also where either is unknown.

    Notes
    -----
    Equation: rating <= limit. Source: common practice, no source.

    Examples
    --------
    >>> fits([7.0, 7.1], 7.0)
    array([ True, False])
    """
    rating, limit = floats(rating_m3_s, limit_m3_s)
    return rating * (1 - _SAME) <= limit
