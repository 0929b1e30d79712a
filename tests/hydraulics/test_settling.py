"""Falling grains against the reference library `fluids`."""

from __future__ import annotations

import numpy as np
import pytest
from fluids import v_terminal
from fluids.drag import Haider_Levenspiel

from fleetaudit.hydraulics import settling

WATER = (999.7, 1.306e-3)


@pytest.mark.parametrize("d", [2e-5, 1e-4, 5e-4, 2e-3, 1e-2])
def test_spheres_fall_as_the_library_says(d):
    """The library has the fit for spheres alone, within 4 % of the fit for all shapes at sphericity 1."""
    theirs = v_terminal(D=d, rhop=2650.0, rho=WATER[0], mu=WATER[1], Method="Haider_Levenspiel")
    assert settling.terminal_velocity(d, 2650.0, 1.0, *WATER) == pytest.approx(theirs, rel=0.04)


@pytest.mark.parametrize("psi", [0.6, 0.8, 1.0])
def test_drag_balances_weight(psi):
    """Put the velocity back into the printed drag coefficient of Haider and Levenspiel (1989)."""
    d, rho_s = 0.6e-3, 2650.0
    velocity = float(settling.terminal_velocity(d, rho_s, psi, *WATER))
    re = WATER[0] * velocity * d / WATER[1]
    a = np.exp(2.3288 - 6.4581 * psi + 2.4486 * psi**2)
    c = np.exp(4.905 - 13.8944 * psi + 18.4222 * psi**2 - 10.2599 * psi**3)
    e = np.exp(1.4681 + 12.2584 * psi - 20.7322 * psi**2 + 15.8855 * psi**3)
    drag = 24 / re * (1 + a * re ** (0.0964 + 0.5565 * psi)) + c / (1 + e / re)
    galileo = d**3 * WATER[0] * (rho_s - WATER[0]) * 9.80665 / WATER[1] ** 2
    assert 0.75 * drag * re**2 == pytest.approx(galileo, rel=1e-9)
    if psi == 1.0:
        assert drag == pytest.approx(Haider_Levenspiel(re), rel=0.04)


def test_angular_grains_fall_slower():
    fast, slow = settling.terminal_velocity(0.6e-3, 2650.0, np.array([1.0, 0.6]), *WATER)
    assert slow < fast


@pytest.mark.parametrize(
    "arguments",
    [(0.0, 2650, 1.0), (1e-3, 990, 1.0), (1e-3, 2650, 0.0), (1e-3, 2650, 1.1), (np.nan, 2650, 1.0)],
)
def test_an_impossible_grain_has_no_velocity(arguments):
    assert np.isnan(settling.terminal_velocity(*arguments, *WATER))


@pytest.mark.parametrize(
    ("reynolds", "index"), [(0.1, 4.65), (0.5, 4.35 * 0.5**-0.03), (50.0, 4.45 * 50**-0.1), (1000.0, 2.39)]
)
def test_richardson_and_zaki_by_range_of_reynolds_number(reynolds, index):
    """The four ranges of the 1954 paper (from memory, unverified), written out by hand."""
    assert settling.richardson_zaki_porosity(0.6**index, 1.0, reynolds) == pytest.approx(0.6)


def test_no_bed_is_looser_than_water_alone():
    assert settling.richardson_zaki_porosity(2.0, 1.0, 10.0) == 1.0
    assert settling.davis_porosity(2.0, 1.0, 10.0) == 1.0
    assert np.isnan(settling.richardson_zaki_porosity(0.1, 1.0, np.nan))


def test_equal_settling_is_symmetric():
    there = settling.equal_settling_ratio(1600.0, 2650.0, 999.7)
    back = settling.equal_settling_ratio(2650.0, 1600.0, 999.7)
    assert there * back == pytest.approx(1.0)
    assert np.isnan(settling.equal_settling_ratio(900.0, 2650.0, 999.7))


@pytest.mark.parametrize(
    ("re", "index"),
    [
        *((re, 4.65) for re in (0.0, 0.1, 0.15)),
        *((re, 4.35 * re**-0.03) for re in (0.22, 0.25, 0.9)),
        *((re, 4.45 * re**-0.1) for re in (1.1, 1.5, 450.0)),
        *((re, 2.39) for re in (550.0, 5_000.0)),
    ],
)
def test_index_of_richardson_and_zaki_by_regime(re, index):
    """Richardson and Zaki (1954), from memory, unverified: 4.65, 4.35 Re^-0.03, 4.45 Re^-0.1 and 2.39."""
    assert settling.richardson_zaki_porosity(0.6**index, 1.0, re) == pytest.approx(0.6, rel=1e-9)
