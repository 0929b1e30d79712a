"""A wash rate that leaves the coarser grains lying says that grain or rate of the medium is wrong.

The law is solved the slow way (`tests.hydraulics.plain`), with water by IAPWS-95 from a reference library.
"""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from iapws import IAPWS95

from fleetaudit.auditing.result import State
from fleetaudit.auditing.run import audit
from fleetaudit.catalogue.model import Catalogue
from fleetaudit.catalogue.overrides import OverrideRow, apply
from fleetaudit.catalogue.shipped import load
from fleetaudit.checks.check import Tier
from fleetaudit.facts.media import grain, practice
from fleetaudit.hydraulics.window import Limit, rate_window
from fleetaudit.schema import fleet
from tests.frames import frame_of
from tests.hydraulics import plain

ROW = {
    "vessel_diameter": "10 in",
    "medium": "filter-sand",
    "mesh_stated": "yes",
    "water_temperature": "10 degC",
    "restrictor": "8 gpm",
}
LAYERED = ROW | {"layers": "anthracite-coarse 18 in; filter-sand 12 in"}
#: 1 gpm/ft2 in m/s, from the definitions of gallon, minute and foot
GPM_FT2 = 3.785411784e-3 / 60 / 0.3048**2


def changed(**figures: object) -> Catalogue:
    rows = [OverrideRow("Media!A2", {"medium": "filter-sand", **figures}, "ours.xlsx")]
    return apply(load(), {"Media": rows})


def found(catalogue: Catalogue, row: dict[str, str] = ROW) -> tuple[State, Tier, int, list[str]]:
    result = audit(frame_of([row], catalogue), catalogue, date(2026, 11, 1))
    item = next(one for one in result.checks if one.check.slug == "data-implausible")
    cell = item.outcome.cell
    assert cell is not None
    said = [words.of(0) for words in item.outcome.words.values()]
    return State(int(item.state[0])), Tier(int(item.tier[0])), int(cell[0]), said


def lies_still(d60_mm: float, rate_gpm_ft2: float) -> bool:
    """Whether grains of sand as shipped (2650 kg/m3, sphericity 0.78, porosity 0.42) stay settled at 10 C."""
    water = IAPWS95(T=283.15, P=0.101325)
    eps = plain.porosity(rate_gpm_ft2 * GPM_FT2, d60_mm * 1e-3, 2650, 0.78, water.rho, water.mu)
    return bool(eps < 0.42)


@pytest.mark.parametrize(
    ("d10", "least", "most"), [(0.50, 12, 18), (0.60, 12, 40), (0.75, 12, 40), (0.75, 26, 40), (0.90, 12, 60)]
)
def test_a_rate_that_does_not_lift_the_d60_grain_is_named(d10: float, least: float, most: float) -> None:
    """With uniformity 1.5, as shipped, d60 is 1.5 times d10; the window stays open up to the most rate."""
    state, tier, cell, said = found(changed(d10=d10, rate_low=least, rate_high=most))
    assert (state is State.FOUND) == lies_still(1.5 * d10, least)
    if state is State.FOUND:
        assert tier is Tier.NOTE
        assert cell == fleet.COLUMNS.index(fleet.MEDIUM)
        assert "ours.xlsx, Media, row 2" in said
        assert not any("no flow suits" in phrase for phrase in said)


def test_the_trials_above_hold_both_answers() -> None:
    assert not lies_still(0.75, 12)
    assert lies_still(1.125, 12)
    assert not lies_still(1.125, 26)


def test_a_medium_that_may_be_washed_in_part_is_left_alone() -> None:
    state, *_ = found(changed(d10=0.75, rate_low=12, rate_high=40, partial_ok="yes"))
    assert state is State.CLEAN


def test_a_layer_that_lies_still_points_at_the_layers() -> None:
    state, _, cell, said = found(changed(d10=0.90, rate_low=12, rate_high=60), LAYERED)
    assert state is State.FOUND
    assert cell == fleet.COLUMNS.index(fleet.LAYERS)
    assert any("leaves its coarser grains lying" in phrase for phrase in said)
    assert found(load(), LAYERED)[0] is State.CLEAN


def test_no_shipped_rate_leaves_its_medium_lying_unless_the_catalogue_says_so() -> None:
    catalogue = load()
    every = np.arange(len(catalogue.media))
    for celsius in (0, 5, 10, 15, 20, 25, 30, 35):
        water = np.full(every.size, 273.15 + celsius)
        sides = rate_window(grain(catalogue, every), practice(catalogue, every), water, water)
        assert not (sides.low_set_by == Limit.FLOOR).any()
