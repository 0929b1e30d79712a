"""The window's rules one by one; expected sides come from `bed` and plain arithmetic."""

from __future__ import annotations

import numpy as np
import pytest

from fleetaudit.hydraulics import bed, grading, settling, water, window
from fleetaudit.hydraulics.window import Grain, Limit, Practice

SAND = (0.50e-3, 1.50, 2650.0, 0.78, 0.42)
CARBON = (0.65e-3, 1.60, 1430.0, 0.75, 0.48)
ORE = (0.95e-3, 1.50, 3900.0, 0.70, 0.48)
COLD, WARM, STATED = 278.15, 291.15, 283.15


def grains(*rows):
    return Grain(*(np.array(column) for column in zip(*rows, strict=True)))


def practices(
    count=1, *, low=8e-3, high=12e-3, stated=STATED, expansions=(0.2, 0.25, 0.3), exponent=0.72, partial=False
):
    columns = (low, high, stated, *expansions, exponent)
    return Practice(*(np.full(count, x) for x in columns), np.full(count, partial))


def test_a_rate_is_carried_by_the_ratio_of_velocities_for_the_target():
    found = window.rate_window(grains(SAND), practices(), [COLD], [WARM])
    at = {kelvin: bed.velocity_for_expansion(0.25, *SAND, kelvin) for kelvin in (COLD, STATED, WARM)}
    assert found.low == pytest.approx(8e-3 * at[WARM] / at[STATED], rel=1e-6)
    assert found.high == pytest.approx(12e-3 * at[COLD] / at[STATED], rel=1e-6)


@pytest.mark.parametrize("medium", [SAND, CARBON, ORE], ids=["sand", "carbon", "ore"])
def test_reading_off_between_temperatures_costs_less_than_a_twentieth_of_a_per_cent(medium):
    kelvin = np.linspace(273.15, 333.15, 977)
    one = Grain(*(np.full(kelvin.size, x) for x in medium))
    factor = window.temperature_factor(one, practices(kelvin.size), kelvin)
    exact = bed.velocity_for_expansion(0.25, *medium, kelvin) / bed.velocity_for_expansion(
        0.25, *medium, STATED
    )
    assert factor == pytest.approx(exact, rel=5e-5)


def test_at_the_stated_temperature_nothing_changes():
    assert window.temperature_factor(grains(SAND), practices(stated=284.37), [284.37]) == 1.0


@pytest.mark.parametrize("missing", range(5))
def test_without_grain_data_viscosity_and_the_exponent_decide(missing):
    row = list(SAND)
    row[missing] = np.nan
    factor = window.temperature_factor(grains(row), practices(exponent=0.9), [COLD])
    ratio = water.viscosity_pa_s(STATED) / water.viscosity_pa_s(COLD)
    assert factor == pytest.approx(ratio**0.9, rel=1e-12)


def test_without_grain_data_there_is_no_floor_and_no_carry_over_but_a_window():
    found = window.rate_window(grains([np.nan] * 5), practices(), [COLD], [WARM])
    assert np.isnan(found.floor[0]) and np.isnan(found.carry_over[0])
    assert found.low > 8e-3 and found.high < 12e-3
    assert (found.low_set_by[0], found.high_set_by[0]) == (Limit.RATE, Limit.RATE)


@pytest.mark.parametrize("change", [{"exponent": np.nan}, {"stated": np.nan}])
def test_what_cannot_be_known_stays_unknown(change):
    found = window.rate_window(grains([np.nan] * 5), practices(**change), [COLD], [WARM])
    assert np.isnan(found.low[0]) and np.isnan(found.high[0])
    assert (found.low_set_by[0], found.high_set_by[0]) == (Limit.UNKNOWN, Limit.UNKNOWN)


@pytest.mark.parametrize(("cold", "warm"), [(np.nan, WARM), (COLD, np.nan), (400.0, WARM)])
def test_an_unknown_temperature_blanks_its_own_side_only(cold, warm):
    found = window.rate_window(grains(SAND), practices(), [cold], [warm])
    assert np.isnan(found.high[0]) == (cold != COLD)
    assert np.isnan(found.low[0]) == (warm != WARM)


def test_one_rate_may_be_known_without_the_other():
    found = window.rate_window(grains(SAND), practices(low=np.nan), [COLD], [WARM])
    assert (found.low_set_by[0], found.high_set_by[0]) == (Limit.PHYSICS, Limit.RATE)
    assert found.low == pytest.approx(bed.velocity_for_expansion(0.2, *SAND, WARM), rel=1e-4)
    found = window.rate_window(grains(SAND), practices(high=np.nan), [COLD], [WARM])
    half_round = (*SAND[:3], (1 + SAND[3]) / 2, SAND[4])
    assert found.high == pytest.approx(bed.velocity_for_expansion(0.3, *half_round, COLD), rel=1e-4)
    assert found.high_set_by[0] == Limit.PHYSICS


def test_a_floor_above_the_least_rate_takes_its_place_unless_the_bed_may_lie_partly_still():
    d10, uc, rho_s, psi, eps0 = ORE
    floor = bed.incipient_velocity_porous(*ORE, WARM)
    assert floor == pytest.approx(
        bed.velocity_for_porosity(
            eps0, d10 * uc, rho_s, psi, water.density_kg_m3(WARM), water.viscosity_pa_s(WARM)
        )
    )
    for partial in (False, True):
        found = window.rate_window(grains(ORE), practices(partial=partial), [COLD], [WARM])
        assert found.floor == pytest.approx(floor, rel=1e-4)
        assert (found.low == found.floor)[0] == (not partial)
        assert found.low_set_by[0] == (Limit.RATE if partial else Limit.FLOOR)


def test_carry_over_cuts_a_rate_that_would_take_the_finest_grains():
    found = window.rate_window(grains(SAND), practices(high=0.2), [COLD], [WARM])
    finest = grading.size_at(0.01, SAND[0], SAND[1])
    settling_out = settling.terminal_velocity(
        finest, SAND[2], SAND[3], water.density_kg_m3(COLD), water.viscosity_pa_s(COLD)
    )
    assert found.high == pytest.approx(settling_out, rel=1e-4)
    assert found.high_set_by[0] == Limit.CARRY_OVER


def test_the_round_end_lies_half_way_to_a_sphere():
    assert grains(SAND).columns(round_end=True)[3] == pytest.approx((1 + 0.78) / 2)
    room, depth, kelvin = np.array([0.3]), np.array([[0.6]]), np.array([COLD])
    stacked = Grain(*(column[:, None] for column in grains(SAND).columns()))
    hard = window.freeboard_ceiling(stacked, depth, room, kelvin, round_end=True)
    caution = window.freeboard_ceiling(stacked, depth, room, kelvin, round_end=False)
    assert caution < hard
    assert caution == pytest.approx(bed.velocity_for_expansion(0.5, *SAND, COLD), rel=1e-9)


def test_repeated_and_unknown_rows_of_the_ceiling_keep_their_places():
    rows = grains(SAND, CARBON, SAND, [np.nan] * 5, SAND)
    stacked = Grain(*(column[:, None] for column in rows.columns()))
    room = np.array([0.3, 0.3, 0.3, 0.3, np.nan])
    found = window.freeboard_ceiling(stacked, np.full((5, 1), 0.6), room, np.full(5, COLD), round_end=False)
    assert found[0] == found[2] == pytest.approx(bed.velocity_for_expansion(0.5, *SAND, COLD), rel=1e-9)
    assert found[1] == pytest.approx(bed.velocity_for_expansion(0.5, *CARBON, COLD), rel=1e-9)
    assert found[3] == np.inf
    assert np.isnan(found[4])


def test_layers_sort_by_the_density_of_what_floats():
    """Coal stays on sand, sand put on coal sinks through it (common practice, no source)."""
    coal, sand = Grain(1.0e-3, 1.45, 1600, 0.60, 0.52), Grain(*SAND)
    assert window.layers_stratify(coal, sand, 288.15, 40 / 3600) == 1
    assert window.layers_stratify(sand, coal, 288.15, 40 / 3600) == 0
    assert np.isnan(window.layers_stratify(coal, sand, np.nan, 40 / 3600))


def test_the_margin_is_the_difference_of_bulk_densities():
    coal, sand = Grain(1.0e-3, 1.45, 1600, 0.60, 0.52), Grain(*SAND)
    rho, mu = water.density_kg_m3(288.15), water.viscosity_pa_s(288.15)
    coarse = grading.size_at(0.9, 1.0e-3, 1.45)
    above = max(float(bed.expanded_porosity(0.011, coarse, 1600, 0.60, rho, mu)), 0.52)
    below = max(float(bed.expanded_porosity(0.011, 0.5e-3, 2650, 0.78, rho, mu)), 0.42)
    expected = below * rho + (1 - below) * 2650 - above * rho - (1 - above) * 1600
    assert window.mixing_margin_kg_m3(coal, sand, 288.15, 0.011) == pytest.approx(expected)
