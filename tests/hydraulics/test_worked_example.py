"""One vessel from grain to verdict.

The figures were worked out within the project before this code was written: a cross-check of the whole
chain, not a published example. Each step's own check against something printed is in `test_published`,
`test_bed` and `test_drain`.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from fleetaudit.hydraulics import restrictor, vessel
from fleetaudit.hydraulics.window import (
    Grain,
    Limit,
    Practice,
    expansion_at,
    freeboard_ceiling,
    rate_window,
    target,
)

GPM = 3.785411784e-3 / 60
INCH = 0.0254
GPM_FT2 = GPM / 0.3048**2
AREA = math.pi * (13 * INCH / 2) ** 2
CARBON = Grain(*(np.array([x]) for x in (0.65e-3, 1.60, 1430.0, 0.75, 0.48)))
COAL = Grain(*(np.array([x]) for x in (1.0e-3, 1.45, 1600.0, 0.60, 0.52)))
SAND = Grain(*(np.array([x]) for x in (0.50e-3, 1.50, 2650.0, 0.78, 0.42)))


def practice(low, high, expansions, exponent=0.76):
    least, aim, most = expansions
    columns = (low * GPM_FT2, high * GPM_FT2, 283.15, least, aim, most, exponent)
    return Practice(*(np.array([x]) for x in columns), np.array([False]))


WASH = practice(8.0, 12.0, (0.25, 0.30, 0.35))


def kelvin(celsius):
    return np.array([celsius + 273.15])


def gpm(velocity, area=AREA):
    return float(velocity[0]) * area / GPM


def ceiling(freeboard_in, round_end, celsius=5.0):
    layers = Grain(*(column[:, None] for column in CARBON.columns()))
    room = np.array([(freeboard_in - 2) * INCH])
    return freeboard_ceiling(layers, np.array([[30 * INCH]]), room, kelvin(celsius), round_end)


def test_the_window_of_the_vessel():
    window = rate_window(CARBON, WASH, kelvin(5), kelvin(18))
    assert vessel.area_m2(13 * INCH) == pytest.approx(AREA, rel=1e-12)
    assert pytest.approx(0.9218, abs=5e-5) == AREA / 0.3048**2
    assert gpm(window.low) == pytest.approx(8.61, rel=5e-3)
    assert gpm(window.high) == pytest.approx(9.87, rel=5e-3)
    assert gpm(target(window.low, window.high)) == pytest.approx(9.22, rel=5e-3)
    assert gpm(window.carry_over) == pytest.approx(25.8, rel=5e-3)
    assert (window.low_set_by[0], window.high_set_by[0]) == (Limit.RATE, Limit.RATE)
    assert gpm(ceiling(16, True)) == pytest.approx(11.53, rel=5e-3)
    assert gpm(ceiling(16, False)) == pytest.approx(9.12, rel=5e-3)
    assert gpm(ceiling(9, True)) == pytest.approx(7.68, rel=5e-3)


@pytest.mark.parametrize(("cold", "warm", "low", "high"), [(9, 13, 7.84, 10.82), (2, 25, 9.65, 9.15)])
def test_other_seasons(cold, warm, low, high):
    window = rate_window(CARBON, WASH, kelvin(cold), kelvin(warm))
    assert gpm(window.low) == pytest.approx(low, rel=5e-3)
    assert gpm(window.high) == pytest.approx(high, rel=5e-3)


def test_without_a_rate():
    window = rate_window(CARBON, practice(np.nan, np.nan, (0.25, 0.30, 0.35)), kelvin(5), kelvin(18))
    assert gpm(window.low) == pytest.approx(8.15, rel=5e-3)
    assert gpm(window.high) == pytest.approx(9.68, rel=5e-3)
    assert (window.low_set_by[0], window.high_set_by[0]) == (Limit.PHYSICS, Limit.PHYSICS)


@pytest.mark.parametrize(
    ("rating", "cold", "warm"),
    [
        (7, (31, 20), (19, 11)),
        (8, (38, 25), (24, 15)),
        (9, (46, 31), (30, 19)),
        (10, (54, 37), (36, 24)),
        (12, (70, 50), (49, 33)),
    ],
)
def test_expansion_at_each_rating(rating, cold, warm):
    """Stated in whole per cent."""
    velocity = np.array([rating * GPM / AREA])
    as_round = Grain(*CARBON.columns(round_end=True))
    for expected, celsius in ((cold, 5), (warm, 18)):
        for percent, grain in zip(expected, (CARBON, as_round), strict=True):
            assert 100 * expansion_at(velocity, grain, kelvin(celsius)) == pytest.approx(percent, abs=0.5)


def test_the_rating_to_fit():
    ratings = np.array([7, 8, 9, 10, 12]) * GPM
    window = [np.array([x]) * GPM for x in (8.61, 9.87, 9.22)]
    choice = restrictor.choose(ratings, *window, 12 * GPM, False, 25 * GPM, True, tolerance=0.1)
    assert choice.rating_m3_s / GPM == pytest.approx(9)
    assert choice.in_window[0]


def test_coal_over_sand_in_a_vessel_of_24_inches():
    area = float(vessel.area_m2(24 * INCH))
    window = rate_window(COAL, practice(12.0, 18.0, (0.20, 0.25, 0.30)), kelvin(5), kelvin(18))
    sand = rate_window(SAND, practice(12.0, 18.0, (0.20, 0.25, 0.30)), kelvin(5), kelvin(18))
    assert gpm(np.maximum(window.low, sand.low), area) == pytest.approx(44.0, rel=5e-3)
    assert gpm(np.minimum(window.high, sand.high), area) == pytest.approx(50.4, rel=5e-3)
    both = Grain(
        *(
            np.array([pair])
            for pair in zip((x[0] for x in COAL.columns()), (x[0] for x in SAND.columns()), strict=True)
        )
    )
    depth, room = np.array([[18, 12]]) * INCH, np.array([16 * INCH])
    assert gpm(freeboard_ceiling(both, depth, room, kelvin(5), True), area) == pytest.approx(82, abs=0.5)
    assert gpm(freeboard_ceiling(both, depth, room, kelvin(5), False), area) == pytest.approx(61, abs=0.5)
