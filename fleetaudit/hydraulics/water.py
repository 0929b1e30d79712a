"""Density and viscosity of water from its temperature.

Both come from the `chemicals` package, tabulated in data/water.toml, and are read off by straight lines.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleetaudit.assets import read_table

Floats = NDArray[np.float64]

COLDEST_K = 273.15
WARMEST_K = 333.15
_SLACK_K = 1e-6  # what a conversion from Fahrenheit may lose at either end


@cache
def _table() -> tuple[Floats, Floats, Floats]:
    """Temperatures [K], densities [kg/m3] and viscosities [Pa s] of the table, each read-only."""
    held = read_table("data/water.toml")
    density, viscosity = (np.array(held[name]) for name in ("density_kg_m3", "viscosity_pa_s"))
    temperature_k = np.linspace(held["first_k"], held["last_k"], len(density))
    for column in (temperature_k, density, viscosity):
        column.setflags(write=False)
    return temperature_k, density, viscosity


def _read_off(temperature_k: ArrayLike, column: int) -> Floats:
    table = _table()
    wanted = np.asarray(temperature_k, dtype=np.float64)
    inside = (wanted >= COLDEST_K - _SLACK_K) & (wanted <= WARMEST_K + _SLACK_K)
    return np.where(inside, np.interp(wanted, table[0], table[column]), np.nan)[()]


def density_kg_m3(temperature_k: ArrayLike) -> Floats:
    """Density of pure liquid water at one atmosphere.

    Parameters
    ----------
    temperature_k
        Water temperature [K], 273.15 to 333.15 (0 to 60 C); NaN outside.

    Returns
    -------
    Density [kg/m3].

    Notes
    -----
    Equation: IAPWS-95, the Helmholtz energy of Wagner and Pruss, J. Phys. Chem. Ref. Data 31 (2002) 387-535,
    as evaluated by `chemicals.iapws.iapws95_rho`. The table adds less than 1e-5. Dissolved salts are left
    out: 1 g/L of them adds about 0.08 % (from memory, unverified).

    Examples
    --------
    >>> float(density_kg_m3(283.15))
    999.702
    """
    return _read_off(temperature_k, 1)


def viscosity_pa_s(temperature_k: ArrayLike) -> Floats:
    """Dynamic viscosity of pure liquid water at one atmosphere.

    Parameters
    ----------
    temperature_k
        Water temperature [K], 273.15 to 333.15 (0 to 60 C); NaN outside.

    Returns
    -------
    Viscosity [Pa s].

    Notes
    -----
    Equation: IAPWS R12-08 (2008), as evaluated by `chemicals.viscosity.mu_IAPWS` at the density of
    `density_kg_m3`. The release states 1 % for the liquid; the table adds less than 1e-5.

    Examples
    --------
    >>> float(viscosity_pa_s(283.15))
    0.0013059
    """
    return _read_off(temperature_k, 2)
