"""Neighbouring statistics with printed values, worked out beside ours: what they say has to fit together.

None of them is in the product: an exact interval and one with continuity correction are wider than what a
report needs, and the asymptotic test of a common odds ratio leans on counts that small crews do not have. So
they are worked out here, held against print, and used to check the statistics that are.
"""

from __future__ import annotations

import math

import pytest
from scipy import stats

from fleetaudit.crews import statistics as own

#: wrong of units; Wilson's interval, the same with continuity correction, and the exact one of Clopper and
#: Pearson. First two rows of the first two: R. G. Newcombe, Statistics in Medicine 17 (1998) 857, Table I, as
#: quoted in a public test suite; exact one of 1 in 3, to three digits: D. Robinson, varianceexplained.org;
#: that of 7 in 50: documentation of scipy.stats.binomtest. The others were worked out with scipy 1.17.
INTERVALS = {
    (81, 263): ((0.2553, 0.3662), (0.2535, 0.3682), (0.2527, 0.3676)),
    (0, 20): ((0.0, 0.1611), (0.0, 0.2005), (0.0, 0.1684)),
    (7, 50): ((0.0695, 0.2619), (0.0628, 0.2736), (0.0582, 0.2674)),
    (1, 3): ((0.0615, 0.7923), (0.0177, 0.8747), (0.0084, 0.9057)),
}
#: the two crews of the worked example (see test_statistics.py): units of each kind of job of the fleet and
#: wrong ones, then the crew's; odds ratio and two-sided p of Mantel and Haenszel as statsmodels 0.15
#: (StratifiedTable) gives them, with and without continuity correction
FLEET = ((400, 20), (250, 30), (150, 45))
A, B = ((10, 1), (12, 2), (40, 12)), ((50, 7), (8, 3), (3, 1))


def clopper_pearson(wrong: int, units: int, tail: float) -> tuple[float, float]:
    """Ends at which the binomial tail beyond what was seen is just `tail`, by halving."""

    def end(beyond: object, low: float, high: float) -> float:
        for _ in range(60):
            middle = (low + high) / 2
            low, high = (middle, high) if beyond(middle) < tail else (low, middle)  # type: ignore[operator]
        return middle

    def at_least(share: float) -> float:
        return math.fsum(
            math.comb(units, n) * share**n * (1 - share) ** (units - n) for n in range(wrong, units + 1)
        )

    def at_most(share: float) -> float:
        return math.fsum(
            math.comb(units, n) * share**n * (1 - share) ** (units - n) for n in range(wrong + 1)
        )

    low = end(at_least, 0.0, 1.0) if wrong else 0.0
    high = 1 - end(lambda share: at_most(1 - share), 0.0, 1.0) if wrong < units else 1.0
    return low, high


@pytest.mark.parametrize("row", INTERVALS)
def test_wilsons_interval_is_the_narrowest_of_three_that_are_in_print(row: tuple[int, int]) -> None:
    wilson, corrected, exact = INTERVALS[row]
    assert own.wilson_interval(*row) == pytest.approx(wilson, abs=6e-5)
    assert clopper_pearson(*row, 0.025) == pytest.approx(exact, abs=6e-5)
    truth = stats.binomtest(*row).proportion_ci(method="wilsoncc")
    assert (truth.low, truth.high) == pytest.approx(corrected, abs=6e-5)
    low, high = own.wilson_interval(*row)
    for wider in (corrected, exact):
        assert wider[0] <= low + 6e-5 and high <= wider[1] + 6e-5


def test_the_interval_of_the_simulation_is_the_exact_one() -> None:
    for row, (_, _, exact) in INTERVALS.items():
        found = stats.binomtest(*row).proportion_ci(0.95, method="exact")
        assert (found.low, found.high) == pytest.approx(exact, abs=6e-5)


@pytest.mark.parametrize(
    ("crew", "ratio", "corrected", "plain", "times"),
    [(A, 1.1375, None, None, 1.0), (B, 3.6306, 0.00108, 0.00041, 0.0016618 / (0.00108 / 2))],
)
def test_the_exact_test_lies_beside_that_of_mantel_and_haenszel(
    crew: tuple[tuple[int, int], ...],
    ratio: float,
    corrected: float | None,
    plain: float | None,
    times: float,
) -> None:
    """Their chi-square uses the count expected and the variance that the exact test's distribution has."""
    strata = [(units, wrong, mine) for (units, wrong), (mine, _) in zip(FLEET, crew, strict=True)]
    seen = [count for _, count in crew]
    pairs = list(zip(strata, seen, strict=True))
    same = sum(x * (units - wrong - mine + x) / units for (units, wrong, mine), x in pairs)
    other = sum((wrong - x) * (mine - x) / units for (units, wrong, mine), x in pairs)
    assert same / other == pytest.approx(ratio, abs=5e-5)
    first, chances = own.null_distribution(strata)
    mean = math.fsum((first + n) * float(chance) for n, chance in enumerate(chances))
    over = sum(seen) - mean
    tails = [stats.chi2.sf((over - less) ** 2 / own.variance(strata), 1) for less in (0.5, 0.0)]
    if corrected is not None and plain is not None:
        assert tails == [pytest.approx(corrected, abs=5e-6), pytest.approx(plain, abs=5e-6)]
    # one side of the corrected chi-square is the normal stand-in for the exact tail: fair where 14 wrong ones
    # are expected, three times too small where 4 are, which is why the product does not use it
    assert own.excess_p_value(sum(seen), strata) / (tails[0] / 2) == pytest.approx(times, rel=0.02)
