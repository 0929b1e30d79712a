"""What would change the findings of a unit: against figures worked out by hand and against audits of changed
rows.
"""

from __future__ import annotations

from datetime import date

import pytest

from fleetaudit.auditing.run import audit
from fleetaudit.catalogue.shipped import load
from fleetaudit.schema import fleet
from fleetaudit.what_if import WhatIf, what_if
from tests.frames import frame_of

GPM = 3.785411784e-3 / 60
INCH = 0.0254
CARBON = {
    "vessel_diameter": "13 in",
    "medium": "activated-carbon-12x40",
    "mesh_stated": "yes",
    "bed_depth": "30 in",
    "freeboard": "16 in",
    "water_cold": "5 degC",
    "water_warm": "18 degC",
}


def asked(**cells: str) -> WhatIf:
    catalogue = load()
    rows = [{"unit_id": "other", **CARBON}, {"unit_id": "U-1", **CARBON, **cells}]
    return what_if(audit(frame_of(rows, catalogue), catalogue, date(2026, 11, 1)), 1)


def flip(found: WhatIf, column, upward: bool):
    return next((one for one in found.flips if one.column is column and one.upward is upward), None)


def test_a_restrictor_too_large_flips_where_the_worked_example_says() -> None:
    """12 gpm against 8.61 to 9.87: 10.8 > 9.87. From 9.87 / 0.9 = 10.97 gpm down the interval reaches in."""
    found = asked(restrictor="12 gpm")
    assert found.now.found == ("restrictor-too-large",)
    assert found.now.verdict == "now"
    down = flip(found, fleet.RESTRICTOR, False)
    # over the hard ceiling of 11.53 gpm media is lost: that is the first change, from now to plan
    assert down.value / GPM == pytest.approx(11.53, rel=0.01)
    assert down.outcome.verdict == "plan"


def test_a_right_restrictor_stays_right_within_the_window() -> None:
    """9 gpm in 8.61 to 9.87: an edge from just under 8.61 and from just over 9.87."""
    found = asked(restrictor="9 gpm")
    assert found.now.found == ()
    assert flip(found, fleet.RESTRICTOR, False).value / GPM == pytest.approx(8.61, rel=0.01)
    assert flip(found, fleet.RESTRICTOR, True).value / GPM == pytest.approx(9.87, rel=0.01)
    assert flip(found, fleet.RESTRICTOR, True).outcome.found == ("restrictor-borderline",)
    assert [round(rating / GPM, 3) for rating in found.right] == [9]


def test_temperature_that_flips_a_right_restrictor() -> None:
    """9 gpm is 8 gpm/ft2 x f x 0.9218 at f = 1.2205: with v(18) / v(10) = 1.1675 that is at some 20 degC."""
    up = flip(asked(restrictor="9 gpm"), fleet.WARM, True)
    assert 19.5 < up.value - 273.15 < 21.5
    assert up.outcome.found == ("restrictor-borderline", "restrictor-not-stocked")  # 9 was the only one


def test_freeboard_that_flips() -> None:
    """With 9 in the ceiling is 7.68 gpm and with 16 in 11.53: between them it falls to 9 gpm and to 8.61."""
    down = flip(asked(restrictor="9 gpm"), fleet.FREEBOARD, False)
    assert 9 < down.value / INCH < 13
    assert down.outcome.found != ()


def test_every_flip_is_what_an_audit_of_the_changed_row_says() -> None:
    catalogue = load()
    found = asked(restrictor="10 gpm")
    assert len(found.flips) >= 4
    for one in found.flips:
        row = {
            "unit_id": "U-1",
            **CARBON,
            "restrictor": "10 gpm",
            one.column.name: repr(one.value),
        }  # bare: SI
        result = audit(frame_of([row], catalogue), catalogue, date(2026, 11, 1))
        slugs = {item.check.slug for item in result.checks if item.state[0] == 3}
        assert set(one.outcome.found) <= slugs


def test_a_measured_flow_is_that_of_the_old_washer() -> None:
    """Measured 12 gpm on a 9 gpm washer: with a new 9 gpm washer nothing is found about the wash."""
    found = asked(restrictor="9 gpm", measured_flow="12 gpm")
    assert "restrictor-too-large" in found.now.found
    assert [round(rating / GPM, 3) for rating in found.right] == [9]


def test_nothing_is_told_where_the_window_is_not_known() -> None:
    found = asked(medium="", restrictor="9 gpm")
    assert (found.flips, found.right) == ((), ())
