"""Density and viscosity against the IAPWS formulation as coded by an independent library."""

from __future__ import annotations

import make_water
import numpy as np
import pytest
from chemicals.iapws import iapws95_rho
from iapws import IAPWS95

from fleetaudit.hydraulics import water

CELSIUS = (0.5, 4.05, 9.97, 15.02, 20.55, 31.3, 44.44, 59.9)


@pytest.mark.parametrize("celsius", CELSIUS)
def test_between_the_entries_of_the_table_too(celsius):
    oracle = IAPWS95(T=celsius + 273.15, P=0.101325)
    assert water.density_kg_m3(celsius + 273.15) == pytest.approx(oracle.rho, rel=1e-6)
    assert water.viscosity_pa_s(celsius + 273.15) == pytest.approx(oracle.mu, rel=1e-5)


def test_the_table_holds_what_the_library_gives():
    """Every entry against `chemicals`; the slack is for other versions of it."""
    _, density, viscosity = water._table()
    library_density, library_viscosity = make_water.columns()
    np.testing.assert_allclose(density, library_density, rtol=1e-9)
    np.testing.assert_allclose(viscosity, library_viscosity, rtol=1e-9)
    kelvin, direct = 291.35, iapws95_rho(291.35, 101325.0)
    assert water.density_kg_m3(kelvin) == pytest.approx(direct, rel=1e-7)


def test_the_density_of_water_is_highest_at_4_c():
    """Maximum density at 3.98 C: general knowledge, e.g. Kell (1975)."""
    kelvin = np.linspace(273.15, 283.15, 1001)
    assert kelvin[np.argmax(water.density_kg_m3(kelvin))] - 273.15 == pytest.approx(3.98, abs=0.1)


@pytest.mark.parametrize("kelvin", [273.14, 333.16, -1.0, np.nan, np.inf])
def test_outside_the_range_nothing_is_claimed(kelvin):
    assert np.isnan(water.density_kg_m3(kelvin))
    assert np.isnan(water.viscosity_pa_s(kelvin))


def test_both_ends_of_the_range_belong_to_it_after_conversion_from_fahrenheit():
    for fahrenheit in (32.0, 140.0):
        assert np.isfinite(water.viscosity_pa_s((fahrenheit - 32) / 1.8 + 273.15))


def test_the_shape_of_the_input_is_kept():
    assert water.density_kg_m3(np.full((2, 3), 283.15)).shape == (2, 3)
    assert np.ndim(water.density_kg_m3(283.15)) == 0
