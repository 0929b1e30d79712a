"""Further laws of the fluidised bed, for comparison: how far laws differ is the error of the model.

No window rests on them.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from fleetaudit.hydraulics import akgiray_soyer as law
from fleetaudit.hydraulics.akgiray_soyer import GRAVITY_M_S2, POROSITY_CAP
from fleetaudit.hydraulics.arrays import Floats, floats, only
from fleetaudit.hydraulics.bed import galileo

_HALVINGS = 60
_CREEPING = 0.2  # Re1 below which Dharmarajah and Cleasby use a straight line


def dharmarajah_cleasby_group(reynolds_1: ArrayLike, sphericity: ArrayLike) -> Floats:
    """Drag group of a fluidised bed, after Dharmarajah and Cleasby.

    Parameters
    ----------
    reynolds_1
        Re1 = psi d rho v / (6 mu (1 - eps)) [-].
    sphericity
        Sphericity [-].

    Returns
    -------
    A1 = eps^3 / (1 - eps)^2 (psi d)^3 rho (rho_s - rho) g / (216 mu^2) [-].

    Notes
    -----
    Equation: log A1 = 0.56543 + 1.09348 x + 0.17979 x^2 - 0.00392 x^4 - 1.5 (log psi)^2 with x = log Re1 (to
    base 10); below Re1 0.2, A1 = 3.01 Re1. Source: Dharmarajah and Cleasby, J. AWWA 78 (1986) no. 12, 66-76,
    from memory, unverified. Known bias: jumps by 28 % where its two parts meet.

    Examples
    --------
    >>> float(dharmarajah_cleasby_group(1.0, 1.0))
    3.68
    """
    re, psi = floats(reynolds_1, sphericity)
    with np.errstate(divide="ignore", invalid="ignore"):
        x = np.log10(re)
        polynomial = 0.56543 + 1.09348 * x + 0.17979 * x**2 - 0.00392 * x**4 - 1.5 * np.log10(psi) ** 2
        return only((psi > 0) & (psi <= 1), np.where(re < _CREEPING, 3.01 * re, 10**polynomial))


def dharmarajah_cleasby_porosity(
    velocity_m_s: ArrayLike,
    grain_m: ArrayLike,
    grain_density_kg_m3: ArrayLike,
    sphericity: ArrayLike,
    fluid_density_kg_m3: ArrayLike,
    viscosity_pa_s: ArrayLike,
) -> Floats:
    """Void fraction of a fluidised bed, after Dharmarajah and Cleasby.

    Parameters
    ----------
    velocity_m_s
        Superficial velocity [m/s].
    grain_m
        Grain size [m].
    grain_density_kg_m3, fluid_density_kg_m3
        Densities [kg/m3].
    sphericity
        Sphericity [-].
    viscosity_pa_s
        Dynamic viscosity [Pa s].

    Returns
    -------
    Void fraction [-], at most 0.9999.

    Notes
    -----
    Equation and source: `dharmarajah_cleasby_group`, solved by halving. Known bias: as there; at the jump one
    of two roots.

    Examples
    --------
    Resin beads as in `bed.expanded_porosity` (McCabe, Smith and Harriott, Example 7.3: 0.52):

    >>> float(dharmarajah_cleasby_porosity(5.40e-3, 1.1e-3, 1240, 1.0, 1000, 1e-3))
    0.52
    """
    v, d, rho_s, psi, rho, mu = floats(
        velocity_m_s, grain_m, grain_density_kg_m3, sphericity, fluid_density_kg_m3, viscosity_pa_s
    )
    log_g, log_k = law.logs(d, rho_s, psi, rho, mu)
    log_kv = log_k + law.log_positive(v)
    low, high = np.full(v.shape, 1e-6), np.full(v.shape, POROSITY_CAP)
    for _ in range(_HALVINGS):
        eps = (low + high) / 2
        carried = log_g + 3 * np.log(eps) - 2 * np.log(1 - eps)
        loose = carried > np.log(dharmarajah_cleasby_group(np.exp(log_kv) / (1 - eps), psi))
        low, high = np.where(loose, low, eps), np.where(loose, eps, high)
    return only(~np.isnan(log_g + log_kv), (low + high) / 2)


def crittenden_velocity_for_porosity(
    porosity: ArrayLike,
    grain_m: ArrayLike,
    grain_density_kg_m3: ArrayLike,
    fluid_density_kg_m3: ArrayLike,
    viscosity_pa_s: ArrayLike,
    viscous: ArrayLike,
    inertial: ArrayLike,
) -> Floats:
    """Velocity that holds a bed at a void fraction, by the Ergun form with fitted constants.

    Parameters
    ----------
    porosity
        Void fraction [-].
    grain_m
        Grain size [m].
    grain_density_kg_m3, fluid_density_kg_m3
        Densities [kg/m3].
    viscosity_pa_s
        Dynamic viscosity [Pa s].
    viscous, inertial
        Constants kV and kI [-]: 110 to 115 and 2.0 to 2.5 for sand, 210 to 245 and 3.5 to 5.3 for anthracite.

    Returns
    -------
    Superficial velocity [m/s].

    Notes
    -----
    Equation: Re = (sqrt(kV^2 (1 - eps)^2 + 4 kI eps^3 Ga) - kV (1 - eps)) / (2 kI). Source: Crittenden et
    al., MWH's Water Treatment, 3rd ed. (2012), eq. 11-15, from memory, unverified. Range: the media that the
    constants were fitted to. Known bias: a fixed-bed form, it under-states how a bed opens at high porosity.

    Examples
    --------
    With Ergun's own constants it starts at Ergun's incipient velocity, 1.94 mm/s for this resin:

    >>> float(1e3 * crittenden_velocity_for_porosity(0.40, 1.1e-3, 1240, 1000, 1e-3, 150, 1.75))
    1.94
    """
    eps, d, rho_s, rho, mu, k_v, k_i = floats(
        porosity, grain_m, grain_density_kg_m3, fluid_density_kg_m3, viscosity_pa_s, viscous, inertial
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        linear = k_v * (1 - eps)
        push = eps**3 * galileo(d, rho_s, rho, mu)
        reynolds = 2 * push / (linear + np.sqrt(linear**2 + 4 * k_i * push))
        return only((eps > 0) & (eps < 1) & (k_v > 0) & (k_i > 0), reynolds * mu / (rho * d))


def crittenden_porosity(
    velocity_m_s: ArrayLike,
    grain_m: ArrayLike,
    grain_density_kg_m3: ArrayLike,
    fluid_density_kg_m3: ArrayLike,
    viscosity_pa_s: ArrayLike,
    viscous: ArrayLike,
    inertial: ArrayLike,
) -> Floats:
    """Void fraction by the Ergun form, as the real root of a cubic; the inverse of the velocity above.

    Parameters
    ----------
    velocity_m_s
        Superficial velocity [m/s].
    grain_m, grain_density_kg_m3, fluid_density_kg_m3, viscosity_pa_s, viscous, inertial
        As in `crittenden_velocity_for_porosity`.

    Returns
    -------
    Void fraction [-], at most 0.9999.

    Notes
    -----
    Equation: eps^3 + 3 Y eps - 2 X = 0 with w = (rho_s - rho) g, Y = kV mu v / (3 w d^2) and
    X = (kV mu v / d^2 + kI rho v^2 / d) / (2 w); eps = cbrt(X + s) + cbrt(X - s), s = sqrt(X^2 + Y^3).
    Source: Crittenden et al. (2012), chapter 11, from memory, unverified; the algebra follows from the law
    above. Known bias: as there.

    Examples
    --------
    >>> float(crittenden_porosity(1.94e-3, 1.1e-3, 1240, 1000, 1e-3, 150, 1.75))
    0.40
    """
    v, d, rho_s, rho, mu, k_v, k_i = floats(
        velocity_m_s, grain_m, grain_density_kg_m3, fluid_density_kg_m3, viscosity_pa_s, viscous, inertial
    )
    possible = (v >= 0) & (galileo(d, rho_s, rho, mu) > 0) & (k_v > 0) & (k_i > 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        weight = (rho_s - rho) * GRAVITY_M_S2
        viscous_part = k_v * mu * v / d**2
        y = viscous_part / (3 * weight)
        x = (viscous_part + k_i * rho * v**2 / d) / (2 * weight)
        s = np.sqrt(x**2 + y**3)
        # cbrt(x - s) written as -y / cbrt(x + s), which keeps its digits where x is small.
        root = np.cbrt(x + s)
        return only(possible, np.minimum(np.where(v == 0, 0.0, root - y / root), POROSITY_CAP))
