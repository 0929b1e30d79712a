"""The statistics against published numbers, exact rational arithmetic and scipy."""

from fractions import Fraction
from itertools import pairwise, product
from math import comb, inf

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import stats

from fleetaudit.crews import statistics as own

#: wrong of units in three kinds of job, 95 of 800 in all; two crews that did different jobs. The
#: probabilities were worked out twice outside this code: with scipy.stats.hypergeom and numpy.convolve, and
#: in rational arithmetic as below
FLEET = ((400, 20), (250, 30), (150, 45))
CREW_A, CREW_B = (10, 12, 40), (50, 8, 3)
#: Y. Benjamini and Y. Hochberg, J. R. Stat. Soc. B 57 (1995) 289, Table 1, as quoted in several public test
#: suites
TABLE_1 = (
    0.0001,
    0.0004,
    0.0019,
    0.0095,
    0.0201,
    0.0278,
    0.0298,
    0.0344,
    0.0459,
    0.3240,
    0.4262,
    0.5719,
    0.6528,
    0.7590,
    1.0,
)


def strata_of(units):
    return [(fleet, wrong, mine) for (fleet, wrong), mine in zip(FLEET, units, strict=True)]


def exact_tail(observed, strata):
    """Upper tail as a fraction: every way to deal the jobs, counted with whole numbers."""
    ways = {0: 1}
    for units, wrong, mine in strata:
        found = {}
        for (before, count), more in product(ways.items(), range(mine + 1)):
            here = comb(wrong, more) * comb(units - wrong, mine - more)
            if here:
                found[before + more] = found.get(before + more, 0) + count * here
        ways = found
    return Fraction(sum(count for total, count in ways.items() if total >= observed), sum(ways.values()))


@st.composite
def stratum(draw, least=0, most=60):
    units = draw(st.integers(least, most))
    return units, draw(st.integers(0, units)), draw(st.integers(0, units))


strata_lists = st.lists(stratum(), max_size=5)


def test_a_crew_with_hard_jobs_is_within_chance():
    """15 of 62 is twice the fleet's share, yet by kind of job what anybody would have."""
    assert own.excess_p_value(15, strata_of(CREW_A)) == pytest.approx(0.41392, abs=5e-6)
    assert own.excess_p_value(15, [(800, 95, 62)]) == pytest.approx(0.00359, abs=5e-6)
    crude = stats.fisher_exact([[15, 47], [80, 658]], alternative="greater").pvalue
    assert own.excess_p_value(15, [(800, 95, 62)]) == pytest.approx(crude, rel=1e-9)


def test_a_crew_with_easy_jobs_is_not():
    assert own.excess_p_value(11, strata_of(CREW_B)) == pytest.approx(0.0016618, abs=5e-8)
    assert own.excess_p_value(11, [(800, 95, 61)]) == pytest.approx(0.0943, abs=5e-5)
    crude = stats.fisher_exact([[11, 50], [84, 655]], alternative="greater").pvalue
    assert own.excess_p_value(11, [(800, 95, 61)]) == pytest.approx(crude, rel=1e-9)


def test_tea_table():
    """R. A. Fisher, The Design of Experiments, 1935, chapter II: [[3, 1], [1, 3]], 17 of 70 in the tail."""
    assert own.excess_p_value(3, [(8, 4, 4)]) == pytest.approx(17 / 70, rel=1e-14)


@given(strata_lists, st.integers(-2, 60))
@settings(max_examples=150, deadline=None)
def test_tail_is_exact(strata, observed):
    """Against whole-number arithmetic, to the 1e-12 the docstring states."""
    truth = exact_tail(observed, strata)
    assert own.excess_p_value(observed, strata) == pytest.approx(float(truth), rel=1e-12, abs=0)
    assert own.deficit_p_value(observed - 1, strata) == pytest.approx(float(1 - truth), rel=1e-12, abs=1e-300)


@pytest.mark.parametrize(
    ("observed", "strata"),
    [
        (260, [(20_000, 2_000, 1_500), (9_000, 1_500, 300)]),
        (40, [(5_000, 60, 700)]),
        (33, [(200, 100, 33)]),
    ],
)
def test_large_fleets_stay_exact(observed, strata):
    assert own.excess_p_value(observed, strata) == pytest.approx(
        float(exact_tail(observed, strata)), rel=1e-12
    )


@given(stratum(least=4, most=400), st.integers(0, 400))
@settings(max_examples=100, deadline=None)
def test_one_stratum_is_hypergeometric(one, observed):
    units, wrong, mine = one
    assert own.excess_p_value(observed, [one]) == pytest.approx(
        stats.hypergeom.sf(observed - 1, units, wrong, mine), rel=1e-8, abs=1e-13
    )
    if 0 < wrong < units and 0 < mine < units:  # scipy warns of a division where nothing varies
        assert own.variance([one]) == pytest.approx(stats.hypergeom.var(units, wrong, mine), rel=1e-9)
    else:
        assert own.variance([one]) == 0


@given(strata_lists, st.integers(0, 40))
@settings(max_examples=60, deadline=None)
def test_tail_falls_with_the_count_and_order_of_strata_does_not_matter(strata, observed):
    p = own.excess_p_value(observed, strata)
    assert 0 <= own.excess_p_value(observed + 1, strata) <= p <= 1
    assert own.excess_p_value(observed, strata[::-1]) == pytest.approx(p, rel=1e-12)
    assert own.excess_p_value(observed, [*strata, (7, 3, 0), (5, 0, 5)]) == pytest.approx(p, rel=1e-12)


def test_edges_of_the_tail():
    assert own.excess_p_value(0, []) == 1
    assert own.excess_p_value(1, []) == 0
    assert own.excess_p_value(0, FLEET_ALL := [(10, 4, 10)]) == 1
    assert own.excess_p_value(4, FLEET_ALL) == 1
    assert own.excess_p_value(5, FLEET_ALL) == 0


def test_a_stratum_of_a_million_is_held_as_far_as_a_float_tells_its_chances():
    units, wrong, mine = 1_000_000, 150_000, 300_000
    truth = stats.hypergeom(units, wrong, mine)
    first, chances = own.null_distribution([(units, wrong, mine)])
    assert len(chances) < 80 * truth.std() < mine / 10
    for far in (-5, -1, 0, 1, 5):
        observed = round(truth.mean() + far * truth.std())
        assert own.upper_tail(observed, first, chances) == pytest.approx(truth.sf(observed - 1), rel=1e-6)
        assert own.lower_tail(observed, first, chances) == pytest.approx(truth.cdf(observed), rel=1e-6)
    assert own.upper_tail(0, first, chances) == own.lower_tail(mine, first, chances) == 1.0
    assert own.upper_tail(mine, first, chances) == own.lower_tail(0, first, chances) == 0.0


@pytest.mark.parametrize(
    "bad", [(10, 11, 2), (10, 2, 11), (10, -1, 2), (10, 2, -1), (-1, 0, 0), (10, 2.5, 3)]
)
def test_impossible_strata_are_refused(bad):
    with pytest.raises(ValueError, match="Stratum"):
        own.excess_p_value(1, [bad])


@pytest.mark.parametrize(
    ("wrong", "units", "low", "high"),
    [
        # R. G. Newcombe, Statistics in Medicine 17 (1998) 857, Table I, as quoted in a public test suite
        (81, 263, 0.2553, 0.3662),
        (0, 20, 0.0, 0.1611),
        # worked out with scipy.stats.binomtest(...).proportion_ci(method="wilson")
        (0, 8, 0.0, 0.3244),
        (7, 50, 0.0695, 0.2619),
        (15, 62, 0.1525, 0.3615),
        (11, 61, 0.1038, 0.2947),
    ],
)
def test_wilson_as_published(wrong, units, low, high):
    found = own.wilson_interval(wrong, units)
    # 15 of 62 ends at 0.361525, which tables show as 0.3615 or 0.3616
    assert found == pytest.approx((low, high), abs=6e-5)


@given(
    st.integers(1, 3000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))), st.floats(0.5, 0.999)
)
@settings(max_examples=150, deadline=None)
def test_wilson_as_scipy_has_it(row, confidence):
    found = own.wilson_interval(*row, confidence)
    truth = stats.binomtest(*row).proportion_ci(confidence, method="wilson")
    assert found == pytest.approx((truth.low, truth.high), abs=1e-12)


def test_wilson_edges():
    assert own.wilson_interval(0, 0) == (0.0, 1.0)
    assert own.wilson_interval(5, 5)[1] == 1.0
    for bad in ((3, 2), (-1, 4)):
        with pytest.raises(ValueError, match="must lie between"):
            own.wilson_interval(*bad)
    with pytest.raises(ValueError, match="Confidence"):
        own.wilson_interval(1, 4, 1.0)


def test_benjamini_hochberg_as_published():
    """At 5 % the first four of the fifteen are rejected, where Bonferroni's rule rejects three."""
    adjusted = own.benjamini_hochberg(TABLE_1)
    assert sum(value <= 0.05 for value in adjusted) == 4
    assert sum(value * len(TABLE_1) <= 0.05 for value in TABLE_1) == 3
    assert adjusted == pytest.approx(
        [
            0.0015,
            0.0030,
            0.0095,
            0.03562,
            0.0603,
            0.06386,
            0.06386,
            0.0645,
            0.0765,
            0.486,
            0.58118,
            0.71487,
            0.75323,
            0.81321,
            1.0,
        ],
        abs=6e-6,
    )


@given(st.lists(st.floats(0, 1), min_size=1, max_size=40))
@settings(deadline=None)
def test_benjamini_hochberg_as_scipy_has_it(p_values):
    found = own.benjamini_hochberg(p_values)
    assert found == pytest.approx(list(stats.false_discovery_control(p_values)), abs=1e-12)
    assert own.benjamini_hochberg(p_values[::-1]) == pytest.approx(found[::-1])


@given(st.integers(0, 300).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
@settings(max_examples=80, deadline=None)
def test_one_direction_is_the_sign_test(row):
    expected = stats.binomtest(*row, 0.5).pvalue if row[1] else 1.0
    assert own.one_direction_p_value(*row) == pytest.approx(expected, rel=1e-9)


def test_the_sign_test_of_a_large_fleet():
    assert own.one_direction_p_value(501_500, 1_000_000) == pytest.approx(
        stats.binomtest(501_500, 1_000_000).pvalue, rel=1e-6
    )


@given(
    st.lists(st.tuples(st.integers(0, 60), st.floats(0.2, 40)), min_size=2, max_size=25),
)
@settings(max_examples=40, deadline=None)
def test_shrinking_pulls_towards_the_fleet(rows):
    """Every ratio lies between its raw value and 1; by scipy's negative binomial no shape is likelier."""
    observed, expected = [row[0] for row in rows], [row[1] for row in rows]
    ratios, shape = own.shrunken_ratios(observed, expected)
    for ratio, count, mean in zip(ratios, observed, expected, strict=True):
        low, high = sorted((1.0, count / mean))
        assert low - 1e-12 <= ratio <= high + 1e-12
    likelihood = {
        trial: stats.nbinom.logpmf(observed, trial, trial / (trial + np.array(expected))).sum()
        for trial in own.SHAPES
    }
    assert likelihood[shape] == pytest.approx(max(likelihood.values()), abs=1e-9)


def test_alike_crews_are_drawn_together_and_unlike_ones_are_not():
    _, alike = own.shrunken_ratios([10] * 20, [10.0] * 20)
    _, unlike = own.shrunken_ratios([0, 40] * 10, [10.0] * 20)
    assert alike == max(own.SHAPES)
    assert unlike < 2
    assert own.shrunken_ratios([0, 0], [0.0, 0.0])[0] == [1.0, 1.0]


@pytest.mark.parametrize("rate", [0.02, 0.12, 0.4])
@pytest.mark.parametrize("confidence", [0.95, 0.998])
def test_funnel_holds_the_share_it_says(rate, confidence):
    """Interpolated ends lie within one count of scipy's binomial quantiles, and narrow steadily."""
    ends = []
    for units in range(20, 400, 7):
        low, high = (end * units * rate for end in own.funnel_limits(rate, units, confidence))
        tail = (1 - confidence) / 2
        assert stats.binom.ppf(tail, units, rate) - 1 <= low <= stats.binom.ppf(tail, units, rate)
        assert stats.binom.ppf(1 - tail, units, rate) <= high <= stats.binom.ppf(1 - tail, units, rate) + 1
        ends.append(own.funnel_limits(rate, units, confidence))
    highs = [high for _, high in ends]
    assert all(later < earlier * 1.02 for earlier, later in pairwise(highs))
    assert highs[-1] < highs[0]


def test_funnel_of_nothing_is_no_limit():
    assert own.funnel_limits(0.0, 20, 0.95) == (0.0, inf)
    assert own.funnel_limits(0.2, 0, 0.95) == (0.0, inf)


@given(strata_lists, st.sampled_from([0.8, 0.95, 0.998]))
@settings(max_examples=80, deadline=None)
def test_usual_counts_leave_out_no_more_than_they_may(strata, confidence):
    low, high = own.usual_counts(*own.null_distribution(strata), confidence)
    assert low <= high
    assert own.deficit_p_value(low - 1, strata) <= (1 - confidence) / 2 + 1e-12
    assert own.excess_p_value(high + 1, strata) <= (1 - confidence) / 2 + 1e-12


@given(st.lists(st.floats(-6, 6), min_size=10, max_size=40))
@settings(max_examples=60, deadline=None)
def test_over_dispersion_as_scipy_winsorises(z_values):
    assume(len(set(z_values)) == len(z_values))
    truth = np.mean(
        np.asarray(stats.mstats.winsorize(np.array(z_values), limits=(own.WINSOR, own.WINSOR))) ** 2
    )
    assert own.over_dispersion(z_values) == pytest.approx(float(truth), rel=1e-12)
