"""Vessels against tabulated areas and plain geometry."""

from __future__ import annotations

import numpy as np
import pytest

from fleetaudit.hydraulics import vessel

INCH = 0.0254
FT2 = 0.3048**2


@pytest.mark.parametrize(
    ("inches", "square_feet"),
    [(6, 0.19635), (10, 0.54542), (13, 0.92175), (24, 3.1416), (48, 12.566), (63, 21.648)],
)
def test_area(inches, square_feet):
    """Areas of circles: pi (D/2)^2 with D in feet."""
    assert vessel.area_m2(inches * INCH) / FT2 == pytest.approx(square_feet, rel=1e-4)
    assert vessel.diameter_m(vessel.area_m2(inches * INCH)) == pytest.approx(inches * INCH, rel=1e-12)


def test_volume_and_depth_undo_each_other():
    """2 ft3 in a 13-inch vessel stand 26.0 in deep: 2 / 0.9218 ft."""
    area = vessel.area_m2(13 * INCH)
    depth = vessel.depth_from_volume_m(2 * 0.3048**3, area)
    assert depth / INCH == pytest.approx(26.03, abs=0.01)
    assert vessel.bed_volume_m3(area, depth) == pytest.approx(2 * 0.3048**3, rel=1e-12)


def test_flow_and_rise_rate_undo_each_other():
    assert vessel.rise_rate_m_s(vessel.flow_m3_s(0.01, 0.4), 0.4) == pytest.approx(0.01)


def test_freeboard_from_the_size_of_the_vessel():
    """54 - 13 / 4 - 3 - 30 - 4 = 13.75 in; an overfull vessel comes out negative rather than at zero."""
    sizes = [x * INCH for x in (54, 13, 30, 4)]
    assert vessel.derived_freeboard_m(*sizes, 0.25, 3 * INCH) / INCH == pytest.approx(13.75)
    assert vessel.derived_freeboard_m(54 * INCH, 13 * INCH, 60 * INCH, 0.0, 0.25, 3 * INCH) < 0


def test_freeboard_follows_what_domes_and_distributor_take():
    """54 - 0.3 x 13 - 5 - 30 - 4 = 11.1 in."""
    sizes = [x * INCH for x in (54, 13, 30, 4)]
    assert vessel.derived_freeboard_m(*sizes, 0.30, 5 * INCH) / INCH == pytest.approx(11.1)


def test_fill_fraction():
    assert vessel.fill_fraction(vessel.area_m2(0.4) * 1.35, 0.4, 1.5) == pytest.approx(0.9)


@pytest.mark.parametrize(
    ("function", "arguments"),
    [
        (vessel.area_m2, (1.0,)),
        (vessel.diameter_m, (1.0,)),
        (vessel.bed_volume_m3, (1.0, 1.0)),
        (vessel.depth_from_volume_m, (1.0, 1.0)),
        (vessel.flow_m3_s, (1.0, 1.0)),
        (vessel.rise_rate_m_s, (1.0, 1.0)),
        (vessel.derived_freeboard_m, (2.0, 1.0, 0.2, 0.1, 0.25, 0.1)),
        (vessel.fill_fraction, (1.0, 1.0, 1.0)),
    ],
)
def test_unknown_or_negative_sizes_give_no_answer(function, arguments):
    assert np.isfinite(function(*arguments))
    for place in range(len(arguments)):
        for bad in (np.nan, -1.0):
            assert np.isnan(function(*arguments[:place], bad, *arguments[place + 1 :]))
