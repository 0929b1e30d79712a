"""The resting bed: what flow through it costs in pressure, and when it starts to float by laws of fixed beds.

These laws stand beside those of `bed` for comparison and for clean-bed head loss; no window rests on them.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from fleetaudit.hydraulics.akgiray_soyer import GRAVITY_M_S2
from fleetaudit.hydraulics.arrays import Floats, floats, only
from fleetaudit.hydraulics.bed import galileo

KOZENY = 5.0
_GPM_FT2_M_S = 2.44475 / 3600  # one US gallon a minute on a square foot
_LB_FT3_KG_M3 = 16.018463


def ergun_pressure_gradient_pa_m(
    velocity_m_s: ArrayLike,
    grain_m: ArrayLike,
    porosity: ArrayLike,
    sphericity: ArrayLike,
    fluid_density_kg_m3: ArrayLike,
    viscosity_pa_s: ArrayLike,
) -> Floats:
    """Pressure drop per depth of a resting bed, after Ergun.

    Parameters
    ----------
    velocity_m_s
        Superficial velocity [m/s].
    grain_m
        Grain size [m].
    porosity, sphericity
        Of the bed and of its grains [-].
    fluid_density_kg_m3
        Density of the water [kg/m3].
    viscosity_pa_s
        Dynamic viscosity [Pa s].

    Returns
    -------
    Pressure gradient [Pa/m].

    Notes
    -----
    Equation: dp/L = 150 mu (1 - eps)^2 v / (eps^3 psi^2 d^2) + 1.75 rho (1 - eps) v^2 / (eps^3 psi d).
    Source: Ergun, Chem. Eng. Prog. 48 (1952) 89-94, as in the AguaClara open textbook. Range: Re / (1 - eps)
    1 to 2,500 (from memory, unverified). Known bias: low for very angular grains.

    Examples
    --------
    The example that the reference library `fluids` prints for its own Ergun equation, 1338.87 Pa:

    >>> float(ergun_pressure_gradient_pa_m(1e-3, 8e-4, 0.4, 1.0, 1e3, 1e-3))
    1338.87
    """
    v, d, eps, psi, rho, mu = floats(
        velocity_m_s, grain_m, porosity, sphericity, fluid_density_kg_m3, viscosity_pa_s
    )
    possible = (v >= 0) & (d > 0) & (eps > 0) & (eps < 1) & (psi > 0) & (psi <= 1) & (rho > 0) & (mu > 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        viscous = 150 * mu * (1 - eps) ** 2 * v / (eps**3 * (psi * d) ** 2)
        inertial = 1.75 * rho * (1 - eps) * v**2 / (eps**3 * psi * d)
        return only(possible, viscous + inertial)


def carman_kozeny_head_gradient(
    velocity_m_s: ArrayLike,
    grain_m: ArrayLike,
    porosity: ArrayLike,
    fluid_density_kg_m3: ArrayLike,
    viscosity_pa_s: ArrayLike,
    kozeny: ArrayLike = KOZENY,
) -> Floats:
    """Head loss per depth of a clean resting bed in slow flow, after Carman and Kozeny.

    Parameters
    ----------
    velocity_m_s
        Superficial velocity [m/s].
    grain_m
        Grain size [m].
    porosity
        Of the bed [-].
    fluid_density_kg_m3
        Density of the water [kg/m3].
    viscosity_pa_s
        Dynamic viscosity [Pa s].
    kozeny
        Kozeny's constant k [-], 5 for grains at rest.

    Returns
    -------
    Head gradient, metres of water per metre of bed [-].

    Notes
    -----
    Equation: h/L = 36 k (1 - eps)^2 / eps^3 nu v / (g d^2). Source: AguaClara open textbook, Filtration
    Derivations. Range: Re below 6. Known bias: none for spheres; for others d stands for psi d.

    Examples
    --------
    0.2 m of 0.5 mm sand at 1.833 mm/s, in cm (AguaClara: 15.2 cm):

    >>> float(20 * carman_kozeny_head_gradient(1.833e-3, 0.5e-3, 0.4, 998.2, 1.002e-3))
    15.2
    """
    v, d, eps, rho, mu, k = floats(
        velocity_m_s, grain_m, porosity, fluid_density_kg_m3, viscosity_pa_s, kozeny
    )
    possible = (v >= 0) & (d > 0) & (eps > 0) & (eps < 1) & (rho > 0) & (mu > 0) & (k > 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        return only(possible, 36 * k * (1 - eps) ** 2 / eps**3 * mu / rho * v / (GRAVITY_M_S2 * d**2))


def ergun_incipient_velocity(
    grain_m: ArrayLike,
    grain_density_kg_m3: ArrayLike,
    porosity: ArrayLike,
    sphericity: ArrayLike,
    fluid_density_kg_m3: ArrayLike,
    viscosity_pa_s: ArrayLike,
) -> Floats:
    """Velocity at which Ergun's pressure drop carries the bed.

    Parameters
    ----------
    grain_m
        Grain size [m].
    grain_density_kg_m3, fluid_density_kg_m3
        Densities [kg/m3].
    porosity, sphericity
        Of the settled bed and of its grains [-].
    viscosity_pa_s
        Dynamic viscosity [Pa s].

    Returns
    -------
    Superficial velocity [m/s].

    Notes
    -----
    Equation: 1.75 Re^2 / (eps^3 psi) + 150 (1 - eps) Re / (eps^3 psi^2) = Ga. Source: Ergun (1952), in any
    text on fluidisation, from memory, unverified. Range: Re / (1 - eps) 1 to 2,500. Known bias: as strong as
    that of the porosity put in, about three times its relative error.

    Examples
    --------
    Resin of 1.1 mm, 1240 kg/m3, porosity 0.40, in mm/s (McCabe, Smith and Harriott, Example 7.3, from memory,
    unverified: 1.94):

    >>> float(1e3 * ergun_incipient_velocity(1.1e-3, 1240, 0.40, 1.0, 1000, 1e-3))
    1.94
    """
    d, rho_s, eps, psi, rho, mu = floats(
        grain_m, grain_density_kg_m3, porosity, sphericity, fluid_density_kg_m3, viscosity_pa_s
    )
    possible = (eps > 0) & (eps < 1) & (psi > 0) & (psi <= 1)
    with np.errstate(divide="ignore", invalid="ignore"):
        quadratic, linear = 1.75 / (eps**3 * psi), 150 * (1 - eps) / (eps**3 * psi**2)
        ga = galileo(d, rho_s, rho, mu)
        # The form of the root that does not take a small difference of two large numbers.
        reynolds = 2 * ga / (linear + np.sqrt(linear**2 + 4 * quadratic * ga))
        return only(possible, reynolds * mu / (rho * d))


def kozeny_incipient_velocity(
    grain_m: ArrayLike,
    grain_density_kg_m3: ArrayLike,
    porosity: ArrayLike,
    fluid_density_kg_m3: ArrayLike,
    viscosity_pa_s: ArrayLike,
    kozeny: ArrayLike = KOZENY,
) -> Floats:
    """Velocity at which the head loss of Carman and Kozeny carries the bed.

    Parameters
    ----------
    grain_m
        Grain size [m].
    grain_density_kg_m3, fluid_density_kg_m3
        Densities [kg/m3].
    porosity
        Of the settled bed [-].
    viscosity_pa_s
        Dynamic viscosity [Pa s].
    kozeny
        Kozeny's constant k [-].

    Returns
    -------
    Superficial velocity [m/s].

    Notes
    -----
    Equation: v = eps^3 g d^2 (rho_s / rho - 1) / (36 k nu (1 - eps)). Source: AguaClara open textbook,
    Filtration Derivations. Range: Re below 6. Known bias: reads high for coarser grains, since inertia is
    left out.

    Examples
    --------
    Sand of 0.8 mm at porosity 0.4 and 20 C, in mm/s (AguaClara: 6.1):

    >>> float(1e3 * kozeny_incipient_velocity(0.8e-3, 2650, 0.4, 998.2, 1.002e-3))
    6.1
    """
    d, rho_s, eps, rho, mu, k = floats(
        grain_m, grain_density_kg_m3, porosity, fluid_density_kg_m3, viscosity_pa_s, kozeny
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        reynolds = eps**3 * galileo(d, rho_s, rho, mu) / (36 * k * (1 - eps))
        return only((eps > 0) & (eps < 1) & (k > 0), reynolds * mu / (rho * d))


def amirtharajah_cleasby_incipient_velocity(
    grain_m: ArrayLike,
    grain_density_kg_m3: ArrayLike,
    fluid_density_kg_m3: ArrayLike,
    viscosity_pa_s: ArrayLike,
) -> Floats:
    """Velocity at which filter media start to float, after Amirtharajah and Cleasby.

    Parameters
    ----------
    grain_m
        d60 of the medium [m].
    grain_density_kg_m3, fluid_density_kg_m3
        Densities [kg/m3].
    viscosity_pa_s
        Dynamic viscosity [Pa s].

    Returns
    -------
    Superficial velocity [m/s].

    Notes
    -----
    Equation: v = 0.00381 d^1.82 (w (s - w))^0.94 / mu^0.88, with v in gpm/ft2, d in mm, specific weights s
    and w in lb/ft3 and mu in cP; where its Reynolds number exceeds 10, times 1.775 Re^-0.272. Source:
    Hendricks (2011), pp. 365-366, after Amirtharajah and Cleasby, J. AWWA 64 (1972) 52-59; the correction is
    from memory, unverified. Range: Re up to 300. Known bias: fitted to sand, coal and garnet of one porosity
    each.

    Examples
    --------
    Sand of 0.736 mm, specific gravity 2.655, 20 C, in m/h (Hendricks (2011), Example 12.9: 20.1):

    >>> float(3600 * amirtharajah_cleasby_incipient_velocity(0.736e-3, 2650, 998.2, 1.002e-3))
    20.
    """
    d, rho_s, rho, mu = floats(grain_m, grain_density_kg_m3, fluid_density_kg_m3, viscosity_pa_s)
    possible = galileo(d, rho_s, rho, mu) > 0
    with np.errstate(divide="ignore", invalid="ignore"):
        weights = rho * (rho_s - rho) / _LB_FT3_KG_M3**2
        slow = _GPM_FT2_M_S * 0.00381 * (1e3 * d) ** 1.82 * weights**0.94 / (1e3 * mu) ** 0.88
        reynolds = rho * slow * d / mu
        return only(possible, slow * np.where(reynolds > 10, 1.775 * reynolds**-0.272, 1.0))
