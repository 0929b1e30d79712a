"""The probabilities against fleets whose truth follows other laws; small ones here, the figures come from the
script.
"""

from __future__ import annotations

import numpy as np
import pytest

from fleetaudit.catalogue.shipped import load
from tests.simulation.fleet import MEDIA, simulate
from tests.simulation.law_spread import deviations, media, spread
from tests.simulation.measure import Tally, reliability, tally_of, upper_limit

SEEDS = range(501, 504)
UNITS = 2500
ENOUGH = 120  # findings of a tenth from which its share means something


@pytest.fixture(scope="module", params=[True, False], ids=["documented", "as people write it"])
def tally(request: pytest.FixtureRequest) -> Tally:
    return tally_of(SEEDS, UNITS, documented=request.param)


def test_sure_findings_are_wrong_at_most_once_in_a_hundred(tally: Tally) -> None:
    sure, true = tally.all("sure"), tally.all("true")
    assert sure.sum() > 500
    assert upper_limit(int((sure & ~true).sum()), int(sure.sum())) < 0.01


def test_probabilities_mean_what_they_say(tally: Tally) -> None:
    """Each tenth with enough findings within 5 points, allowing two standard errors for its number."""
    rows = [row for row in reliability(tally.all("probability"), tally.all("true")) if row[2] >= ENOUGH]
    assert len(rows) >= 7
    for low, high, count, said, true in rows:
        noise = 2 * np.sqrt(said * (1 - said) / count)
        assert abs(true - said) < 0.05 + noise, (low, high, count, said, true)


def test_three_clear_faults_in_ten_are_sure_on_documented_units() -> None:
    tally = tally_of(SEEDS, UNITS, documented=True)
    faults, _, sure = (a + b for a, b in zip(tally.clear_small, tally.clear_large, strict=True))
    assert faults > 1000
    assert sure / faults >= 0.30


def test_simulated_truth_does_not_lean_on_one_side() -> None:
    """A simulator in which everything were wrong, or nothing, would prove nothing."""
    fleet = simulate(77, 1500)
    shares = [fleet.small.mean(), fleet.large.mean(), (~(fleet.small | fleet.large)).mean()]
    assert min(shares) > 0.05
    assert not (fleet.small & fleet.large).any()
    assert set(fleet.media) == set(MEDIA)


def test_error_of_the_model_is_what_the_settings_say() -> None:
    catalogue = load()
    assert len(media(catalogue)) >= 16
    assert spread(deviations(catalogue)) == pytest.approx(catalogue.number("law_spread"), abs=0.006)
