"""Exact statistics for comparing groups that did different jobs; plain functions of whole numbers.

A *stratum* is a kind of job, given as `(fleet_units, fleet_wrong, crew_units)`: how many units of that kind
the fleet has, how many of those are wrong, and how many of them the crew set up. Under the assumption that
the units of each stratum were dealt to the crews at random, a crew's count of wrong units is a sum of
independent hypergeometric counts.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from functools import lru_cache, reduce
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.float64]
Stratum: TypeAlias = tuple[int, int, int]
#: halvings of the bracket around a normal quantile: far below the spacing of floats
HALVINGS = 90
#: widest normal quantile a float can tell from certainty
FARTHEST = 40.0
#: shapes of the shrinkage tried; a free fit runs away where crews are alike
SHAPES = tuple(float(shape) for shape in np.geomspace(0.5, 200.0, 61))
#: share of z-values pulled in at each end before over-dispersion is estimated
WINSOR = 0.1


def excess_p_value(observed: int, strata: Iterable[Stratum]) -> float:
    """Chance that a crew has `observed` wrong units or more by the deal of the jobs alone.

    Exact: the distributions of all strata are convolved and their upper tail is added up. With one stratum
    this is the one-sided test of Fisher (R. A. Fisher, The Design of Experiments, 1935, chapter II).

    Parameters
    ----------
    observed : int
        Wrong units of the crew over all strata.
    strata : iterable of (fleet_units, fleet_wrong, crew_units)
        Whole numbers, with 0 <= fleet_wrong <= fleet_units and 0 <= crew_units <= fleet_units.

    Returns
    -------
    float
        P(count >= observed), relative error below 1e-12.

    Examples
    --------
    Eight cups, four of each kind, three or more of four named rightly (Fisher's tea table, 17/70):

    >>> round(excess_p_value(3, [(8, 4, 4)]), 6)
    0.242857
    """
    return upper_tail(observed, *null_distribution(strata))


def deficit_p_value(observed: int, strata: Iterable[Stratum]) -> float:
    """Chance that a crew has `observed` wrong units or fewer by the deal of the jobs alone.

    The other tail of `excess_p_value`.

    Examples
    --------
    Fisher's tea table from the other side: 1 - 1/70 for at most three of four.

    >>> round(deficit_p_value(3, [(8, 4, 4)]), 6)
    0.985714
    """
    return lower_tail(observed, *null_distribution(strata))


def null_distribution(strata: Iterable[Stratum]) -> tuple[int, Floats]:
    """Least count a float gives a chance, and the chances of it and those after it, if dealt at random.

    Examples
    --------
    >>> first, chances = null_distribution([(8, 4, 4)])
    >>> first, [round(float(chance) * 70) for chance in chances]
    (0, [1, 16, 36, 16, 1])
    """
    parts = [_hypergeometric(*stratum) for stratum in strata]
    shapes = sorted((chances for _, chances in parts), key=len)
    return sum(first for first, _ in parts), reduce(np.convolve, shapes, np.ones(1))


def upper_tail(observed: int, first: int, chances: Floats) -> float:
    """Chance of `observed` or more, of a distribution as `null_distribution` gives it."""
    return min(1.0, math.fsum(chances[max(observed - first, 0) :].tolist()))


def lower_tail(observed: int, first: int, chances: Floats) -> float:
    """Chance of `observed` or fewer, of a distribution as `null_distribution` gives it."""
    return min(1.0, math.fsum(chances[: max(observed - first + 1, 0)].tolist()))


def variance(strata: Iterable[Stratum]) -> float:
    """Variance of the crew's count if jobs were dealt at random.

    For each stratum n (X/N) (1 - X/N) (N - n)/(N - 1), the textbook variance of the hypergeometric
    distribution.

    Examples
    --------
    >>> round(variance([(8, 4, 4)]), 6)  # (0 + 16 + 0 + 16 + 0) * 1/70 + 2 * 4/70
    0.571429
    """
    total = 0.0
    for units, wrong, mine in strata:
        if units > 1:
            share = wrong / units
            total += mine * share * (1 - share) * (units - mine) / (units - 1)
    return total


def wilson_interval(wrong: int, units: int, confidence: float = 0.95) -> tuple[float, float]:
    """Score interval of a share, without continuity correction.

    Parameters
    ----------
    wrong, units : int
        Wrong units of all; 0 <= wrong <= units. Of no unit at all the share may be anything.
    confidence : float
        Between 0 and 1.

    Returns
    -------
    (low, high) : tuple of float

    Notes
    -----
    (p + z2/2n -/+ z sqrt(p (1 - p)/n + z2/4n2)) / (1 + z2/n), E. B. Wilson, J. Am. Stat. Assoc. 22 (1927)
    209.

    Examples
    --------
    81 of 263 and 0 of 20, R. G. Newcombe, Statistics in Medicine 17 (1998) 857, Table I (read as quoted
    elsewhere):

    >>> [tuple(round(end, 4) for end in wilson_interval(*row)) for row in ((81, 263), (0, 20))]
    [(0.2553, 0.3662), (0.0, 0.1611)]
    """
    if not 0 <= wrong <= units:
        raise ValueError(
            f"{wrong} wrong of {units} units: the wrong ones must lie between 0 and all of them."
        )
    if not 0 < confidence < 1:
        raise ValueError(f"Confidence {confidence} must lie between 0 and 1.")
    if units == 0:
        return 0.0, 1.0
    z = _normal_quantile((1 - confidence) / 2)
    share, room = wrong / units, z * z / units
    middle = share + room / 2
    half = z * math.sqrt(share * (1 - share) / units + room / (4 * units))
    low = 0.0 if wrong == 0 else (middle - half) / (1 + room)
    high = 1.0 if wrong == units else (middle + half) / (1 + room)
    return low, high


def benjamini_hochberg(p_values: Sequence[float]) -> list[float]:
    """Adjusted values: rejecting those up to q keeps the expected share of false rejections at q or below.

    Y. Benjamini and Y. Hochberg, J. R. Stat. Soc. B 57 (1995) 289: with the m values in order, m p(i)/i,
    made to rise.

    Examples
    --------
    >>> benjamini_hochberg([0.01, 0.5, 0.02, 0.04])
    [0.04, 0.5, 0.04, 0.05333333]
    """
    count = len(p_values)
    if not count:
        return []
    values = np.asarray(p_values, dtype=np.float64)
    falling = np.argsort(-values, kind="stable")
    raised = values[falling] * count / np.arange(count, 0, -1)
    adjusted = np.empty(count)
    adjusted[falling] = np.minimum(np.minimum.accumulate(raised), 1.0)
    return [float(value) for value in adjusted]


def one_direction_p_value(commonest: int, wrong: int) -> float:
    """Chance that one of two directions takes so many of the wrong units if both were equally likely.

    The sign test: binomial with 1/2, two-sided, exact.

    Examples
    --------
    Nine or more heads, or nine or more tails, in eleven throws: 2 * (55 + 11 + 1) / 2**11.

    >>> round(one_direction_p_value(9, 11), 6)
    0.06543
    """
    counts = np.arange(wrong, dtype=np.float64)
    chances = _from_ratios((wrong - counts) / (counts + 1), wrong // 2)
    return min(1.0, 2 * upper_tail(max(commonest, wrong - commonest), 0, chances))


def shrunken_ratios(observed: Sequence[int], expected: Sequence[float]) -> tuple[list[float], float]:
    """Ratios of observed to expected counts drawn together as far as the crews are alike, and the shape used.

    Counts are taken as Poisson with a mean of `expected` times a ratio that follows a gamma law of mean 1
    and shape a; the ratio is then estimated by (O + a)/(E + a). The shape is the likeliest on a bounded
    grid, since a free fit has no maximum where the crews are alike. D. Clayton and J. Kaldor, Biometrics 43
    (1987) 671 (from memory, unverified).

    Examples
    --------
    Of many alike, the one with 11 where 4.36 were expected stands out less than its raw 2.52:

    >>> ratios, shape = shrunken_ratios([11, 4, 5, 4, 3, 5], [4.36, 4.0, 4.5, 4.2, 4.0, 4.8])
    >>> 1.0 < ratios[0] < 2.52
    True
    """
    rows = [(count, mean) for count, mean in zip(observed, expected, strict=True) if mean > 0]
    shape = SHAPES[-1]
    if rows:
        shape = max(SHAPES, key=lambda trial: sum(_log_negative_binomial(*row, trial) for row in rows))
    ratios = [(count + shape) / (mean + shape) for count, mean in zip(observed, expected, strict=True)]
    return ratios, shape


def _log_negative_binomial(count: int, mean: float, shape: float) -> float:
    """Log chance of a Poisson count whose mean varies as a gamma law."""
    ways = math.lgamma(count + shape) - math.lgamma(shape) - math.lgamma(count + 1)
    return ways + shape * math.log(shape / (shape + mean)) + count * math.log(mean / (shape + mean))


def over_dispersion(z_values: Sequence[float]) -> float:
    """Mean square of z-values, the outermost tenth at each end pulled in; about 1 for mere chance.

    D. J. Spiegelhalter, Statistics in Medicine 24 (2005) 1185 (abstract read; the pulling-in is from
    memory, unverified).

    Examples
    --------
    >>> over_dispersion([-1.0, 1.0, -1.0, 1.0, -1.0, 1.0, -1.0, 1.0, -1.0, 30.0])
    1.0
    """
    values = np.sort(np.asarray(z_values, dtype=np.float64))
    cut = math.floor(WINSOR * len(values))
    pulled = np.clip(values, values[cut], values[len(values) - 1 - cut])
    return float(np.mean(pulled**2))


def funnel_limits(rate: float, units: int, confidence: float) -> tuple[float, float]:
    """Limits of the ratio O/E for a crew of so many units of average jobs; no saw-tooth edge.

    The ends are quantiles of the exact binomial distribution with the fleet's rate, each interpolated
    between the two counts whose distribution function brackets it, so that the limits narrow steadily as
    the units grow.

    Examples
    --------
    >>> low, high = funnel_limits(0.1, 100, 0.95)
    >>> 0.4 < low < 0.5 < 1.5 < high < 1.7
    True
    """
    if units <= 0 or not 0 < rate < 1:
        return 0.0, math.inf
    counts = np.arange(units)
    chances = _from_ratios(
        (units - counts) / (counts + 1) * rate / (1 - rate), math.floor((units + 1) * rate)
    )
    tail = (1 - confidence) / 2
    mean = units * rate
    return _quantile(chances, tail) / mean, (units - _quantile(chances[::-1], tail)) / mean


def usual_counts(first: int, chances: Floats, confidence: float) -> tuple[int, int]:
    """Least and most count that would be usual if jobs were dealt at random.

    Outside them lies a chance of at most (1 - confidence)/2 on each side.

    Examples
    --------
    >>> usual_counts(*null_distribution([(8, 4, 4)]), 0.95)
    (1, 3)
    """
    tail = (1 - confidence) / 2
    below = int(np.searchsorted(np.cumsum(chances), tail, "right"))
    above = int(np.searchsorted(np.cumsum(chances[::-1]), tail, "right"))
    return first + below, first + len(chances) - 1 - above


def _quantile(chances: Floats, tail: float) -> float:
    """Count below which `tail` lies, interpolated; 0 at least."""
    cumulated = np.cumsum(chances)
    place = int(np.searchsorted(cumulated, tail))
    if place >= len(chances):
        return float(len(chances) - 1)
    over = (cumulated[place] - tail) / chances[place]
    return max(0.0, place - float(over))


def _hypergeometric(fleet_units: int, fleet_wrong: int, crew_units: int) -> tuple[int, Floats]:
    """Least count and chances of a hypergeometric count, from the ratios of neighbouring chances."""
    units, wrong, mine = int(fleet_units), int(fleet_wrong), int(crew_units)
    if (units, wrong, mine) != (fleet_units, fleet_wrong, crew_units):
        raise ValueError(f"Stratum {(fleet_units, fleet_wrong, crew_units)} must hold whole numbers.")
    if not (0 <= wrong <= units and 0 <= mine <= units):
        raise ValueError(
            f"Stratum {(units, wrong, mine)}: wrong units and units of the crew may be neither negative "
            f"nor more than the {units} units of the fleet."
        )
    first, last = max(0, mine + wrong - units), min(mine, wrong)
    counts = np.arange(first, last, dtype=np.float64)
    ratios = (wrong - counts) * (mine - counts) / ((counts + 1) * (units - wrong - mine + counts + 1))
    chances = _from_ratios(ratios, (mine + 1) * (wrong + 1) // (units + 2) - first)
    # far out a float holds no chance at all, and the work of adding strata grows with the square of counts
    told = np.flatnonzero(chances)
    return first + int(told[0]), chances[told[0] : told[-1] + 1]


def _from_ratios(ratios: Floats, mode: int) -> Floats:
    """Chances that add up to 1, from the ratio of each to the one before, outwards from the likeliest."""
    mode = min(max(mode, 0), len(ratios))
    upward = np.cumprod(ratios[mode:])
    downward = np.cumprod(1 / ratios[:mode][::-1])[::-1]
    weights = np.concatenate([downward, np.ones(1), upward])
    return np.asarray(weights / math.fsum(weights.tolist()))


@lru_cache
def _normal_quantile(tail: float) -> float:
    """Normal deviate above which `tail` lies, by halving a bracket."""
    low, high = 0.0, FARTHEST
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        if math.erfc(middle / math.sqrt(2)) / 2 > tail:
            low = middle
        else:
            high = middle
    return (low + high) / 2
