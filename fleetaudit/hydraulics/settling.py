"""Single grains falling in water: the flow that carries them away, and laws built on how fast they fall."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleetaudit.hydraulics.akgiray_soyer import GRAVITY_M_S2
from fleetaudit.hydraulics.arrays import floats, only

Floats = NDArray[np.float64]

_STEPS = 60
_RICHARDSON_ZAKI_ENDS = (0.2, 1.0, 500.0)  # Reynolds numbers between the ranges of their law


def terminal_velocity(
    grain_m: ArrayLike,
    grain_density_kg_m3: ArrayLike,
    sphericity: ArrayLike,
    fluid_density_kg_m3: ArrayLike,
    viscosity_pa_s: ArrayLike,
) -> Floats:
    """Velocity at which a single grain neither falls nor rises, after Haider and Levenspiel.

    Parameters
    ----------
    grain_m
        Size of the sphere of equal volume [m].
    grain_density_kg_m3, fluid_density_kg_m3
        Densities [kg/m3].
    sphericity
        Sphericity [-].
    viscosity_pa_s
        Dynamic viscosity [Pa s].

    Returns
    -------
    Velocity [m/s].

    Notes
    -----
    Equation: 0.75 CD Re^2 = Ga with CD = 24/Re (1 + A Re^B) + C / (1 + D / Re),
    A = exp(2.3288 - 6.4581 psi + 2.4486 psi^2), B = 0.0964 + 0.5565 psi,
    C = exp(4.905 - 13.8944 psi + 18.4222 psi^2 - 10.2599 psi^3),
    D = exp(1.4681 + 12.2584 psi - 20.7322 psi^2 + 15.8855 psi^3). Source: Haider and Levenspiel, Powder
    Technol. 58 (1989) 63-70, from memory, unverified. Range: sphericity 0.67 to 1, Re up to 25,000 or more.
    Known bias: about 3 % for spheres, 15 % and more for irregular grains; below sphericity 0.67 it is carried
    beyond its data.

    Examples
    --------
    A sphere of 70 um, 2600 kg/m3, in water, in mm/s; the mean of newer drag laws for spheres is near 4.1:

    >>> float(1e3 * terminal_velocity(70e-6, 2600, 1.0, 1000, 1e-3))
    4.0
    """
    d, rho_s, psi, rho, mu = floats(
        grain_m, grain_density_kg_m3, sphericity, fluid_density_kg_m3, viscosity_pa_s
    )
    possible = (d > 0) & (rho_s > rho) & (psi > 0) & (psi <= 1) & (rho > 0) & (mu > 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        log_ga = np.log(np.where(possible, d**3 * rho * (rho_s - rho) * GRAVITY_M_S2 / mu**2, np.nan))
        psi = np.where(possible, psi, np.nan)
        a = np.exp(2.3288 - 6.4581 * psi + 2.4486 * psi**2)
        b = 0.0964 + 0.5565 * psi
        c = np.exp(4.905 - 13.8944 * psi + 18.4222 * psi**2 - 10.2599 * psi**3)
        d_term = np.exp(1.4681 + 12.2584 * psi - 20.7322 * psi**2 + 15.8855 * psi**3)
        # The drag exceeds that of slow flow and rises with Re, so the root lies below Ga / 18; halve the way
        # to it.
        high = log_ga - np.log(18.0)
        low = np.minimum(high, 0.0) - 30.0
        for _ in range(_STEPS):
            middle = (low + high) / 2
            re = np.exp(middle)
            heavy = 18 * re * (1 + a * re**b) + 0.75 * c * re**3 / (re + d_term) > np.exp(log_ga)
            low, high = np.where(heavy, low, middle), np.where(heavy, middle, high)
        return only(possible, np.exp((low + high) / 2) * mu / (rho * d))


def richardson_zaki_porosity(
    velocity_m_s: ArrayLike, terminal_velocity_m_s: ArrayLike, terminal_reynolds: ArrayLike
) -> Floats:
    """Void fraction of a fluidised bed of spheres, after Richardson and Zaki; for comparison only.

    Parameters
    ----------
    velocity_m_s
        Superficial velocity [m/s].
    terminal_velocity_m_s
        Terminal velocity of one grain [m/s].
    terminal_reynolds
        Reynolds number of that grain at its terminal velocity [-].

    Returns
    -------
    Void fraction [-], at most 1.

    Notes
    -----
    Equation: v = vt eps^n, n = 4.65 up to Re 0.2, 4.35 Re^-0.03 up to 1, 4.45 Re^-0.1 up to 500, 2.39 beyond.
    Source: Richardson and Zaki, Trans. Inst. Chem. Eng. 32 (1954) 35-53, from memory, unverified; wall effect
    left out. Range: spheres. Known bias: gives crushed media 50 to 100 % too much velocity, so no verdict
    uses it.

    Examples
    --------
    >>> float(richardson_zaki_porosity(0.5**4.65, 1.0, 0.1))
    0.5
    """
    v, vt, re = floats(velocity_m_s, terminal_velocity_m_s, terminal_reynolds)
    with np.errstate(divide="ignore", invalid="ignore"):
        by_range = (np.full(re.shape, 4.65), 4.35 * re**-0.03, 4.45 * re**-0.1, np.full(re.shape, 2.39))
        index = np.choose(np.searchsorted(_RICHARDSON_ZAKI_ENDS, re, side="right"), by_range)
        return only((v >= 0) & (vt > 0) & (re >= 0), np.minimum((v / vt) ** (1 / index), 1.0))


def davis_porosity(
    velocity_m_s: ArrayLike, settling_velocity_m_s: ArrayLike, settling_reynolds: ArrayLike
) -> Floats:
    """Void fraction of a fluidised bed in the form textbooks give for filter design; for comparison only.

    Parameters
    ----------
    velocity_m_s
        Superficial velocity [m/s].
    settling_velocity_m_s
        Settling velocity of one grain [m/s].
    settling_reynolds
        Reynolds number of that grain as it settles [-].

    Returns
    -------
    Void fraction [-], at most 1.

    Notes
    -----
    Equation: eps = (v / vs)^(0.2247 Re^0.1). Source: Davis (2010), Example 11-3, after Richardson and Zaki.
    Range: grains taken as spheres. Known bias: as `richardson_zaki_porosity`.

    Examples
    --------
    A sand of 0.505 mm at 1 cm/s (Davis (2010), Example 11-3):

    >>> float(davis_porosity(0.01, 0.072715, 28.10))
    0.537
    """
    v, vs, re = floats(velocity_m_s, settling_velocity_m_s, settling_reynolds)
    with np.errstate(divide="ignore", invalid="ignore"):
        return only((v >= 0) & (vs > 0) & (re >= 0), np.minimum((v / vs) ** (0.2247 * re**0.1), 1.0))


def equal_settling_ratio(
    grain_density_kg_m3: ArrayLike, other_density_kg_m3: ArrayLike, fluid_density_kg_m3: ArrayLike
) -> Floats:
    """Size of a grain over the size of another that settles as fast.

    Parameters
    ----------
    grain_density_kg_m3, other_density_kg_m3, fluid_density_kg_m3
        Densities [kg/m3].

    Returns
    -------
    Ratio of sizes [-].

    Notes
    -----
    Equation: d1 / d2 = ((rho_2 - rho) / (rho_1 - rho))^0.667. Source: general texts on filter design, from
    memory, unverified. Range: filter media in wash water, between slow and fast settling.

    Examples
    --------
    Coal of 1600 may be 2 times as large as sand of 2650:

    >>> float(equal_settling_ratio(1600, 2650, 1000))
    1.96
    """
    rho_1, rho_2, rho = floats(grain_density_kg_m3, other_density_kg_m3, fluid_density_kg_m3)
    with np.errstate(divide="ignore", invalid="ignore"):
        return only((rho_1 > rho) & (rho_2 > rho), ((rho_2 - rho) / (rho_1 - rho)) ** 0.667)
