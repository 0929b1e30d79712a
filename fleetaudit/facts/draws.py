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


def spread(bore_least: Floats, share_low: Floats, share_high: Floats) -> tuple[Floats, Floats]:
    """What varies about a flow itself, of each row in each draw: arguments of `share_below`.

    The bore is a share of the area from `bore_least` to 1, the flow is known to a share of itself that lies
    between `share_low` and `share_high`.
    """
    width = np.maximum(2 * evenly(share_low, share_high, "tolerance"), _NO_WIDTH)
    return evenly(bore_least, np.ones(len(bore_least)), "bore") / width, _HALF - 1 / width


def share_below(limit: Floats, reach: Floats, shift: Floats) -> Floats:
    """Share of the real flow that lies below a limit, over all draws of a row.

    The limit is given as a share of the flow that is known, for the whole area. In one draw the real flow
    lies evenly about the known one, so the share below rises from 0 to 1 over its range; it is a step where
    the range has no width. Works in the array of limits.
    """
    limit *= reach
    limit += shift
    np.clip(limit, 0.0, 1.0, out=limit)
    return np.asarray(limit.sum(axis=1) / DRAWS)
