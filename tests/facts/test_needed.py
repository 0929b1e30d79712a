"""Where no flow is right, the restrictor to fit is none that takes media out."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from fleetaudit.auditing.run import audit
from fleetaudit.catalogue.shipped import load
from fleetaudit.facts.needed import needed
from fleetaudit.facts.view import View
from fleetaudit.facts.window import Clash, flow_window
from fleetaudit.schema import fleet
from tests.frames import frame_of

GPM = 3.785411784e-3 / 60
BED = {"unit_id": "U-1", "vessel_diameter": "24 in", "mesh_stated": "yes", "water_temperature": "10 degC"}


def seen(*rows: dict[str, str]) -> View:
    catalogue = load()
    return audit(frame_of([BED | row for row in rows], catalogue), catalogue, date(2026, 11, 1)).view


@pytest.mark.parametrize(
    "medium", ["filter-sand", "anthracite-fine", "cation-resin", "activated-carbon-12x40"]
)
@pytest.mark.parametrize("freeboard_in", [4, 5, 6, 7, 8, 9, 10])
def test_with_too_little_freeboard_no_more_is_fitted_than_may_be_used(medium: str, freeboard_in: int) -> None:
    """Of the series on stock, the largest at or under what the room above the bed allows."""
    row = {"medium": medium, "bed_depth": "36 in", "freeboard": f"{freeboard_in} in"}
    view = seen(row)
    found, chosen = flow_window(view), needed(view)
    stock = np.array(view.catalogue.stocked_m3_s)
    if found.clash[0] == Clash.FREEBOARD and stock[0] <= found.high.value[0]:
        assert chosen.rating_m3_s[0] == stock[stock <= found.high.value[0] * (1 + 1e-9)].max()


def test_the_trials_above_hold_beds_with_too_little_room() -> None:
    rows = [{"medium": "filter-sand", "bed_depth": "36 in", "freeboard": f"{room} in"} for room in (4, 40)]
    view = seen(*rows)
    assert flow_window(view).clash.tolist() == [Clash.FREEBOARD, Clash.NONE]
    assert np.isfinite(needed(view).rating_m3_s).all()


def test_between_seasons_a_light_medium_is_washed_too_gently_and_a_heavy_one_too_hard() -> None:
    """Water of 1 to 30 degC leaves neither a flow for the year; losing sand is the lesser harm."""
    year = {"water_temperature": "", "water_cold": "1 degC", "water_warm": "30 degC"}
    view = seen({"medium": "cation-resin", **year}, {"medium": "manganese-greensand", **year})
    found, chosen = flow_window(view), needed(view).rating_m3_s
    assert found.clash.tolist() == [Clash.SEASON, Clash.SEASON]
    assert chosen[0] <= found.high.value[0] < found.low.value[0]
    assert found.high.value[1] <= chosen[1] <= found.low.value[1]


def test_a_restrictor_that_raises_nothing_stays() -> None:
    row = {"medium": "filter-sand", "restrictor": "45 gpm"}
    view = seen(row)
    assert needed(view).rating_m3_s[0] == pytest.approx(45 * GPM)
    assert view.frame.number(fleet.RESTRICTOR)[0] == pytest.approx(45 * GPM)
