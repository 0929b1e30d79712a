"""Fixed points spread evenly over everything that is uncertain, the same for every unit and every run.

Nothing is random: the points are those of a lattice, so that a unit's probability depends on its row alone.
"""

from __future__ import annotations

from functools import cache, lru_cache
from statistics import NormalDist

import numpy as np

from fleetaudit.facts.frame import Floats

DRAWS = 509  # a prime, so that every multiplier below gives all points
_MULTIPLIER = (
    62  # of those whose points lie farthest apart in every pair of directions, nearest to 16,381 points
)
_HALF = 0.5
_NO_WIDTH = 1e-12
NAMES = (
    "law",
    "d10",
    "uniformity",
    "density",
    "sphericity",
    "porosity",
    "form",
    "error",
    "tolerance",
    "cold",
    "warm",
    "depth",
    "room",
    "bore",
    "mesh",
    "rate",
    "rate_temperature",
)


@cache
def points() -> dict[str, Floats]:
    """One number between 0 and 1 for each draw by the name of what it stands for, ordered along "law".

    Each is an even comb by itself; together they are a Korobov lattice (Korobov, 1959, from memory,
    unverified).
    """
    order = np.arange(DRAWS)
    power, found = 1, {}
    for name in NAMES:
        column = (order * power % DRAWS + _HALF) / DRAWS
        column.setflags(write=False)
        found[name] = column
        power = power * _MULTIPLIER % DRAWS
    return found


def evenly(low: Floats, high: Floats, name: str) -> Floats:
    """Values of each row spread evenly over its range, one column for each draw."""
    return low[:, None] + (high - low)[:, None] * points()[name]


@lru_cache
def bell(name: str) -> Floats:
    """Draws of a standard normal quantity."""
    inverse = NormalDist().inv_cdf
    return np.array([inverse(share) for share in points()[name].tolist()])


def share_below(limit: Floats, slack: Floats) -> Floats:
    """Share of the even range from 1 - slack to 1 + slack that lies below a limit.

    A step where the range has no width. Works in the array of limits.
    """
    limit -= 1
    limit /= np.maximum(2 * slack, _NO_WIDTH)
    limit += _HALF
    return np.clip(limit, 0.0, 1.0, out=limit)
