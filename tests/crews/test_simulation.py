"""How often crews are named rightly and wrongly on invented fleets (see simulated_fleets.py).

The bound of the fast test is theory: crews that are alike have one named at most as often as the share q of
the settings says. The slow tests hold the figures that the report states, on a seed that no rule was chosen
with.
"""

import re

import pytest
from scipy import stats

from fleetaudit.catalogue.shipped import load
from fleetaudit.crews.rules import rules_of
from fleetaudit.writing.crew_words import TRIED
from tests.crews.simulated_fleets import DESIGNS, run

SEED, FLEETS = 20261125, 2000
CREWS = (6, 15, 40)


def test_alike_crews_are_seldom_named():
    """More fleets with a crew named than this would come about once in 1,000 times at q."""
    fleets = 80
    most = stats.binom.isf(0.001, fleets, rules_of(load()).false_share)
    assert run(7, 15, fleets, **DESIGNS["match"]).with_innocent_named <= most


def test_a_crew_at_four_times_the_odds_is_mostly_found():
    """Of some 30 crews with 60 units or more; fewer than this would come once in 1,000 times at 90 %."""
    found = run(7, 15, 80, **DESIGNS["fourfold"])
    large = found.fourfold_crews["60+"]
    assert large >= 20
    assert found.found["60+"] >= stats.binom.ppf(0.001, large, 0.9)


@pytest.mark.slow
@pytest.mark.parametrize("crews", CREWS)
def test_upper_limit_of_wrong_naming(crews):
    """Upper end of the exact 95 % interval at most 3 of 100 fleets, where only the kinds of job matter."""
    assert run(SEED, crews, FLEETS, **DESIGNS["match"]).upper <= 0.03


@pytest.mark.slow
@pytest.mark.parametrize("crews", CREWS)
def test_power_for_large_crews(crews):
    """At four times the odds, at least 90 % of crews with 60 units or more are named, half from 20 on."""
    found = run(SEED, crews, FLEETS, **DESIGNS["fourfold"])
    assert found.power >= 0.90
    assert 0.4 <= found.found["20-59"] / found.fourfold_crews["20-59"] <= 0.6
    assert found.upper <= 0.03


@pytest.mark.slow
def test_hidden_differences_name_crews_as_often_as_the_report_says():
    """Conditions no column tells, of 0.3 and 0.6 on the log-odds: within 6 points of what the report says."""
    stated = [int(figure) for figure in re.findall(r"\b(\d+)(?=,| and| of)", TRIED.partition("hidden")[2])]
    measured = [
        round(100 * run(SEED, crews, FLEETS // 4, **DESIGNS[design]).share)
        for design in ("hidden 0.3", "hidden 0.6")
        for crews in CREWS
    ]
    assert len(stated) == len(measured)
    assert all(abs(said - found) <= 6 for said, found in zip(stated, measured, strict=True)), (
        stated,
        measured,
    )
