"""Plain numbers for a funnel chart: ratio against expected count, limits around 1, and its table."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from msgspec import Struct

from fleetaudit.crews import statistics
from fleetaudit.crews.naming import FAR, USUAL, Group, Standing
from fleetaudit.crews.rules import Rules

#: sizes of crew for which limits are worked out
STEPS = 48


class FunnelPoint(Struct, frozen=True):
    """One crew: where it stands on the chart, and the counts that would be usual for the jobs it did."""

    name: str
    units: int
    wrong: int
    expected: float
    ratio: float
    usual: tuple[int, int]
    far: tuple[int, int]
    standing: Standing


class FunnelLimit(Struct, frozen=True):
    """Limits of the ratio at one expected count, for a crew with the fleet's mix of jobs."""

    expected: float
    usual_low: float
    usual_high: float
    far_low: float
    far_high: float


class Funnel(Struct, frozen=True):
    """Points and limits by expected count; `widened` is the factor real differences put on the limits.

    The chart shows, it does not decide: a point outside a line is no finding, and one that is said to
    differ may lie inside, since the jobs of a crew are not those of the fleet.
    """

    points: tuple[FunnelPoint, ...] = ()
    limits: tuple[FunnelLimit, ...] = ()
    widened: float = 1.0


def funnel(groups: Sequence[Group], rules: Rules) -> Funnel:
    """The chart of the groups; empty where nothing is wrong anywhere."""
    shown = sorted(
        (group for group in groups if group.expected > 0), key=lambda group: (group.expected, group.name)
    )
    units, wrong = (sum(getattr(group.tally, name) for group in groups) for name in ("units", "wrong"))
    if not shown or wrong == units:
        return Funnel()
    widened = _widened(shown, rules)
    points = tuple(
        FunnelPoint(
            group.name,
            group.tally.units,
            group.tally.wrong,
            group.expected,
            group.ratio,
            group.usual,
            group.far,
            group.standing,
        )
        for group in shown
    )
    rate = wrong / units
    most = math.ceil(max(group.expected for group in shown) / rate)
    sizes = sorted({round(size) for size in np.geomspace(1, max(most, 2), STEPS)})
    return Funnel(points, tuple(_limit(rate, size, widened) for size in sizes), widened)


def _widened(groups: Sequence[Group], rules: Rules) -> float:
    """Factor on the distance of the limits from 1: the root of the over-dispersion, if it can be told."""
    z_values = [
        (group.tally.wrong - group.expected) / math.sqrt(group.variance)
        for group in groups
        if group.variance > 0
    ]
    if len(z_values) < rules.dispersion_from:
        return 1.0
    return math.sqrt(max(1.0, statistics.over_dispersion(z_values)))


def _limit(rate: float, units: int, widened: float) -> FunnelLimit:
    ends = (*statistics.funnel_limits(rate, units, USUAL), *statistics.funnel_limits(rate, units, FAR))
    wide = [max(0.0, 1 + (end - 1) * widened) for end in ends]
    return FunnelLimit(units * rate, *wide)
