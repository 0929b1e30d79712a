"""Write fleetaudit/data/water.toml: density and viscosity of water as `chemicals` gives them.

Run `python tests/make_water.py` to make it anew; tests/hydraulics/test_water.py compares the two. Loading the
library would take longer than auditing some hundred units, hence the table.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
from chemicals.iapws import iapws95_rho
from chemicals.viscosity import mu_IAPWS
from numpy.polynomial import chebyshev

TARGET = Path(__file__).resolve().parent.parent / "fleetaudit" / "data" / "water.toml"

COLDEST_K = 273.15
WARMEST_K = 333.15
PRESSURE_PA = 101325.0
ENTRIES = 601
_DEGREE = 20  # of the polynomial through the density: below 1e-9 off over the whole range

HEAD = f"""\
# Liquid water at {PRESSURE_PA:.0f} Pa, {ENTRIES} temperatures evenly spaced from first_k to last_k.
# Density: IAPWS-95, the Helmholtz energy of Wagner and Pruss, J. Phys. Chem. Ref. Data 31 (2002) 387-535, by
# `chemicals.iapws.iapws95_rho`. Viscosity: IAPWS R12-08 (2008), by `chemicals.viscosity.mu_IAPWS`.
# Made by tests/make_water.py; change it there.
first_k = {COLDEST_K}
last_k = {WARMEST_K}
"""


def columns() -> tuple[list[float], list[float]]:
    """Densities [kg/m3] and viscosities [Pa s]."""
    middle, half = (WARMEST_K + COLDEST_K) / 2, (WARMEST_K - COLDEST_K) / 2
    places = chebyshev.chebpts1(_DEGREE + 1)
    density_at: Callable[[float, float], float] = iapws95_rho
    exact = [density_at(float(middle + half * place), PRESSURE_PA) for place in places]
    series = chebyshev.chebfit(places, exact, _DEGREE)
    kelvin = np.linspace(COLDEST_K, WARMEST_K, ENTRIES)
    density = chebyshev.chebval((kelvin - middle) / half, series)
    viscosity = [mu_IAPWS(t, rho) for t, rho in zip(kelvin, density, strict=True)]
    return [float(value) for value in density], [float(value) for value in viscosity]


def render() -> str:
    """The data file as text."""
    density, viscosity = columns()
    return HEAD + _list("density_kg_m3", density) + _list("viscosity_pa_s", viscosity)


def _list(name: str, values: list[float]) -> str:
    lines = (", ".join(map(repr, values[start : start + 5])) for start in range(0, len(values), 5))
    body = "".join(f"  {line},\n" for line in lines)
    return f"{name} = [\n{body}]\n"


if __name__ == "__main__":
    TARGET.write_text(render(), encoding="utf-8", newline="\n")
