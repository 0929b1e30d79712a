"""Drain lines against Colebrook solved here, Hagen-Poiseuille, and figures worked out beforehand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from fluids import friction_factor

from fleetaudit.hydraulics import drain, water

GPM = 3.785411784e-3 / 60
PSI = 6894.757
HUNDRED_FEET = 30.48


def colebrook(re, relative_roughness):
    """Fixed-point iteration of 1/sqrt(f) = -2 log10(e/3.7 + 2.51/(Re sqrt(f)))."""
    root = 8.0
    for _ in range(100):
        root = -2 * math.log10(relative_roughness / 3.7 + 2.51 * root / re)
    return root**-2


@pytest.mark.parametrize("re", [5e3, 2.345e4, 1e5, 7.7e5, 1e7])
@pytest.mark.parametrize("relative_roughness", [0.0, 1e-4, 5e-3])
def test_turbulent_friction_solves_colebrook(re, relative_roughness):
    """The library solves the same equation in closed form; only the table lies between."""
    found = drain.darcy_friction_factor(re, relative_roughness)
    assert found == pytest.approx(colebrook(re, relative_roughness), rel=1e-4)


def test_the_table_costs_less_than_a_ten_thousandth():
    reynolds = np.geomspace(2100, 9e7, 333)
    exact = [friction_factor(Re=float(re), eD=0.0) for re in reynolds]
    assert drain.darcy_friction_factor(reynolds) == pytest.approx(exact, rel=1e-4)


def test_slow_flow_follows_hagen_and_poiseuille():
    """dp = 128 mu L q / (pi D^4)."""
    flow, bore, length, kelvin = 1e-6, 0.02, 3.0, 293.15
    exact = 128 * float(water.viscosity_pa_s(kelvin)) * length * flow / (math.pi * bore**4)
    assert drain.pipe_pressure_drop(flow, bore, length, kelvin) == pytest.approx(exact, rel=1e-9)


@pytest.mark.parametrize(
    ("bore_mm", "gpm", "psi", "digit"),
    [
        (13.8, 5, 18, 1),
        (13.8, 10, 62, 1),
        (19.9, 5, 3.2, 0.1),
        (19.9, 10, 10.7, 0.1),
        (19.9, 15, 22, 1),
        (26.0, 10, 3.0, 0.1),
        (26.0, 25, 15.3, 0.3),
        (38.1, 50, 8.4, 0.1),
    ],
)
def test_smooth_pipe_at_10_c(bore_mm, gpm, psi, digit):
    """Drop per 100 ft, worked out within the project beforehand: a cross-check, not published."""
    found = drain.pipe_pressure_drop(gpm * GPM, bore_mm * 1e-3, HUNDRED_FEET, 283.15) / PSI
    assert found == pytest.approx(psi, abs=digit)


def test_fittings_add_velocity_heads():
    flow, bore, kelvin = 6e-4, 0.0199, 283.15
    head = float(water.density_kg_m3(kelvin)) * (flow / (math.pi / 4 * bore**2)) ** 2 / 2
    straight = drain.pipe_pressure_drop(flow, bore, 5.0, kelvin)
    assert drain.pipe_pressure_drop(
        flow, bore, 5.0, kelvin, loss_coefficient=3.0
    ) - straight == pytest.approx(3 * head)


def test_still_water_costs_only_its_rise():
    assert drain.pipe_pressure_drop(0.0, 0.02, 5.0, 283.15) == 0.0
    assert drain.rise_pressure(1.0, 277.13) == pytest.approx(9806.4, rel=1e-4)  # 999.975 kg/m3 x 9.80665
    assert drain.rise_pressure(-1.0, 277.13) == -drain.rise_pressure(1.0, 277.13)


@pytest.mark.parametrize("place", range(5))
def test_unknown_gives_unknown(place):
    arguments = [6e-4, 0.02, 5.0, 283.15, 0.0]
    arguments[place] = np.nan
    assert np.isnan(drain.pipe_pressure_drop(*arguments))
    assert np.isnan(drain.rise_pressure(1.0, np.nan))


@pytest.mark.parametrize("change", [(0, -1e-4), (1, 0.0), (2, -1.0), (4, -1.0)])
def test_impossible_pipes_have_no_drop(change):
    arguments = [6e-4, 0.02, 5.0, 283.15, 0.0]
    arguments[change[0]] = change[1]
    assert np.isnan(drain.pipe_pressure_drop(*arguments))
    assert np.isnan(drain.darcy_friction_factor(-1.0))
