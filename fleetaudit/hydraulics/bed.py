"""The bed at rest and lifted by the wash: when it starts to move and how far it expands.

The primary law is that of Akgiray and Soyer, applied to ten layers of equal mass; the law of Wen and Yu
stands beside it as an independent second opinion. Laws used for comparison only are in `fixed_bed` and
`other_laws`.

Superficial velocity [m/s] is flow divided by the empty area of the vessel. A grain's density is that of the
grain with its pores full of water. Anything that is not a possible grain (size or density excess not
positive, sphericity not above 0 and at most 1, porosity not between 0 and 1) gives NaN, as do NaN inputs.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleetaudit.hydraulics import akgiray_soyer as law
from fleetaudit.hydraulics import water
from fleetaudit.hydraulics.akgiray_soyer import GRAVITY_M_S2
from fleetaudit.hydraulics.arrays import floats, only
from fleetaudit.hydraulics.grading import LAYERS, layer_sizes, log_spread, quantiles, size_at
from fleetaudit.hydraulics.settling import terminal_velocity

__all__ = [
    "bed_expansion",
    "expanded_porosity",
    "expansion_from_porosity",
    "fluidised_pressure_drop_pa",
    "galileo",
    "incipient_velocity_porous",
    "layer_sizes",
    "minimum_fluidisation_velocity",
    "porosity_from_expansion",
    "terminal_velocity",
    "velocity_filling_room",
    "velocity_for_expansion",
    "velocity_for_porosity",
    "wen_yu_porosity",
]

Floats = NDArray[np.float64]

_ROWS_AT_ONCE = 2048  # rows solved together, so that ten layers of them stay in the processor's cache


def expansion_from_porosity(porosity: ArrayLike, settled_porosity: ArrayLike) -> Floats:
    """Expansion of a bed whose solids are conserved.

    Parameters
    ----------
    porosity, settled_porosity
        Void fraction of the expanded and of the settled bed [-].

    Returns
    -------
    Expansion as a fraction of the settled depth [-].

    Notes
    -----
    Equation: E = (1 - eps0) / (1 - eps) - 1. Source: Davis, Water and Wastewater Engineering (2010), eqs.
    11-11 and 11-12; Hendricks, Fundamentals of Water Treatment Unit Processes (2011), eq. 12.55. Exact for
    any bed of one porosity.

    Examples
    --------
    >>> float(expansion_from_porosity(0.70, 0.40))
    1.0
    """
    eps, eps0 = floats(porosity, settled_porosity)
    with np.errstate(divide="ignore", invalid="ignore"):
        return only((eps > 0) & (eps < 1) & (eps0 > 0) & (eps0 < 1), (1 - eps0) / (1 - eps) - 1)


def porosity_from_expansion(expansion: ArrayLike, settled_porosity: ArrayLike) -> Floats:
    """Void fraction of a bed expanded by a given fraction; the inverse of `expansion_from_porosity`.

    Parameters
    ----------
    expansion
        Fraction of the settled depth [-].
    settled_porosity
        Void fraction of the settled bed [-].

    Returns
    -------
    Void fraction [-].

    Notes
    -----
    Equation: eps = 1 - (1 - eps0) / (1 + E). Source: as `expansion_from_porosity`.

    Examples
    --------
    >>> float(porosity_from_expansion(1.0, 0.40))
    0.7
    """
    rise, eps0 = floats(expansion, settled_porosity)
    with np.errstate(divide="ignore", invalid="ignore"):
        return only((rise > -1) & (eps0 > 0) & (eps0 < 1), 1 - (1 - eps0) / (1 + rise))


def fluidised_pressure_drop_pa(
    depth_m: ArrayLike,
    settled_porosity: ArrayLike,
    grain_density_kg_m3: ArrayLike,
    fluid_density_kg_m3: ArrayLike,
) -> Floats:
    """Pressure it takes to carry a fluidised bed, whatever the flow.

    Parameters
    ----------
    depth_m
        Settled depth [m].
    settled_porosity
        Void fraction of the settled bed [-].
    grain_density_kg_m3, fluid_density_kg_m3
        Densities [kg/m3].

    Returns
    -------
    Pressure drop beyond the static head [Pa].

    Notes
    -----
    Equation: dp = L0 (1 - eps0) (rho_s - rho) g, the buoyant weight over the area. Source: AguaClara open
    textbook, Filtration Derivations. Holds from incipient fluidisation upwards; below it the drop is smaller.

    Examples
    --------
    >>> float(fluidised_pressure_drop_pa(0.475, 0.3498, 2590, 1000))
    4815.6
    """
    depth, eps0, rho_s, rho = floats(depth_m, settled_porosity, grain_density_kg_m3, fluid_density_kg_m3)
    return only(
        (depth >= 0) & (eps0 > 0) & (eps0 < 1) & (rho_s > rho),
        depth * (1 - eps0) * (rho_s - rho) * GRAVITY_M_S2,
    )


def galileo(
    grain_m: ArrayLike,
    grain_density_kg_m3: ArrayLike,
    fluid_density_kg_m3: ArrayLike,
    viscosity_pa_s: ArrayLike,
) -> Floats:
    """Galileo number of a grain: its buoyant weight against viscosity.

    Parameters
    ----------
    grain_m
        Grain size [m].
    grain_density_kg_m3, fluid_density_kg_m3
        Densities [kg/m3].
    viscosity_pa_s
        Dynamic viscosity [Pa s].

    Returns
    -------
    Galileo number [-].

    Notes
    -----
    Equation: Ga = d^3 rho (rho_s - rho) g / mu^2. Source: Hendricks (2011), eq. 12.53 and the text around it.

    Examples
    --------
    >>> float(galileo(1e-3, 2650, 1000, 1e-3))
    16181.0
    """
    d, rho_s, rho, mu = floats(grain_m, grain_density_kg_m3, fluid_density_kg_m3, viscosity_pa_s)
    with np.errstate(divide="ignore", invalid="ignore"):
        return only(
            (d > 0) & (rho > 0) & (rho_s > rho) & (mu > 0), d**3 * rho * (rho_s - rho) * GRAVITY_M_S2 / mu**2
        )


def minimum_fluidisation_velocity(
    grain_m: ArrayLike,
    grain_density_kg_m3: ArrayLike,
    fluid_density_kg_m3: ArrayLike,
    viscosity_pa_s: ArrayLike,
) -> Floats:
    """Velocity at which a bed starts to float, after Wen and Yu; it needs neither porosity nor shape.

    Parameters
    ----------
    grain_m
        Grain size [m]; the coarse end (d90) where the whole bed is meant.
    grain_density_kg_m3, fluid_density_kg_m3
        Densities [kg/m3].
    viscosity_pa_s
        Dynamic viscosity [Pa s].

    Returns
    -------
    Superficial velocity [m/s].

    Notes
    -----
    Equation: Re_mf = sqrt(33.7^2 + 0.0408 Ga) - 33.7. Source: Wen and Yu, AIChE J. 12 (1966) 610-612, in
    Hendricks (2011), p. 368, eqs. 12.56 to 12.58. Range: Re_mf 0.001 to 4000 (from memory, unverified). Known
    bias: within about 15 % on average and 40 % at worst of the values measured in Hendricks (2011), Table
    12.9; the law supposes 1 / (psi eps^3) = 14 and so reads low for beds that settle loosely.

    Examples
    --------
    Sand of 1 mm in water of 20 C: Ga is 16,105, Re_mf 8.64, so in mm/s

    >>> float(1e3 * minimum_fluidisation_velocity(1e-3, 2650, 998.2, 1.002e-3))
    8.67
    """
    d, rho_s, rho, mu = floats(grain_m, grain_density_kg_m3, fluid_density_kg_m3, viscosity_pa_s)
    with np.errstate(divide="ignore", invalid="ignore"):
        reynolds = np.sqrt(33.7**2 + 0.0408 * galileo(d, rho_s, rho, mu)) - 33.7
        return (reynolds * mu / (rho * d))[()]


def wen_yu_porosity(
    velocity_m_s: ArrayLike,
    grain_m: ArrayLike,
    grain_density_kg_m3: ArrayLike,
    fluid_density_kg_m3: ArrayLike,
    viscosity_pa_s: ArrayLike,
) -> Floats:
    """Void fraction of a fluidised bed of one grain size, after Wen and Yu; the second, independent law.

    Parameters
    ----------
    velocity_m_s
        Superficial velocity [m/s].
    grain_m
        Grain size [m], d60 for a graded medium.
    grain_density_kg_m3, fluid_density_kg_m3
        Densities [kg/m3].
    viscosity_pa_s
        Dynamic viscosity [Pa s].

    Returns
    -------
    Void fraction [-], at most 0.9999. It may lie below the settled one: such a bed rests.

    Notes
    -----
    Equation: eps^4.7 Ga = 18 Re + 2.7 Re^1.687. Source: Hendricks (2011), eq. 12.53, after Cleasby and Fan
    (1981). Known bias, as stated there: depths of sand within 2 to 5 % of measured ones, of anthracite 10 to
    15 % low.

    Examples
    --------
    Sand of 0.736 mm, specific gravity 2.655, at 30 m/h and 15 C (Hendricks (2011), Example 12.9: 51.0 cm from
    45.7):

    >>> eps = wen_yu_porosity(30 / 3600, 0.736e-3, 2652.6, 999.1, 1.138e-3)
    >>> float(45.7 * (1 - 0.407) / (1 - eps))
    51.
    """
    v, d, rho_s, rho, mu = floats(
        velocity_m_s, grain_m, grain_density_kg_m3, fluid_density_kg_m3, viscosity_pa_s
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        reynolds = rho * v * d / mu
        porosity = ((18 * reynolds + 2.7 * reynolds**1.687) / galileo(d, rho_s, rho, mu)) ** (1 / 4.7)
        return only(v >= 0, np.minimum(porosity, law.POROSITY_CAP))


def expanded_porosity(
    velocity_m_s: ArrayLike,
    grain_m: ArrayLike,
    grain_density_kg_m3: ArrayLike,
    sphericity: ArrayLike,
    fluid_density_kg_m3: ArrayLike,
    viscosity_pa_s: ArrayLike,
) -> Floats:
    """Void fraction of a fluidised bed of one grain size, after Akgiray and Soyer; the primary law.

    Parameters
    ----------
    velocity_m_s
        Superficial velocity [m/s].
    grain_m
        Grain size [m].
    grain_density_kg_m3, fluid_density_kg_m3
        Densities [kg/m3].
    sphericity
        Sphericity of the grains [-], above 0 and at most 1.
    viscosity_pa_s
        Dynamic viscosity [Pa s].

    Returns
    -------
    Void fraction [-], 0 without flow, at most 0.9999. It may lie below the settled one: such a bed rests.

    Notes
    -----
    Equation: eps^3 / (1 - eps)^2 (psi d)^3 rho (rho_s - rho) g / (216 mu^2) = 3.137 Re1 + 0.673 Re1^1.766
    with Re1 = psi d rho v / (6 mu (1 - eps)). Source: Akgiray and Soyer, J. Water Supply: Res. Technol. AQUA
    55 (2006) 517-526; the form was read, the three coefficients are from memory, unverified. Range: spheres
    of 1.11 to 6.01 mm in water and older data. Known bias: with the sphericity of a resting bed it expands
    crushed grains too far; run it with (1 + psi) / 2 as well.

    Examples
    --------
    Resin beads of 1.1 mm, settled at 0.40, at the 5.40 mm/s that expand them by 25 % to 0.52 (McCabe, Smith
    and Harriott, Example 7.3, from memory, unverified):

    >>> float(expanded_porosity(5.40e-3, 1.1e-3, 1240, 1.0, 1000, 1e-3))
    0.52
    """
    v, d, rho_s, psi, rho, mu = floats(
        velocity_m_s, grain_m, grain_density_kg_m3, sphericity, fluid_density_kg_m3, viscosity_pa_s
    )
    log_g, log_k = law.logs(d, rho_s, psi, rho, mu)
    u = np.exp(law.log_void_ratio(log_g, log_k + law.log_positive(v)))
    return np.where((v == 0) & ~np.isnan(log_g), 0.0, u / (1 + u))[()]


def velocity_for_porosity(
    porosity: ArrayLike,
    grain_m: ArrayLike,
    grain_density_kg_m3: ArrayLike,
    sphericity: ArrayLike,
    fluid_density_kg_m3: ArrayLike,
    viscosity_pa_s: ArrayLike,
) -> Floats:
    """Velocity that holds a bed of one grain size at a void fraction; the inverse of `expanded_porosity`.

    Parameters
    ----------
    porosity
        Void fraction [-].
    grain_m, grain_density_kg_m3, sphericity, fluid_density_kg_m3, viscosity_pa_s
        As in `expanded_porosity`.

    Returns
    -------
    Superficial velocity [m/s].

    Notes
    -----
    Equation, source, range and known bias as in `expanded_porosity`.

    Examples
    --------
    The same resin, in mm/s:

    >>> float(1e3 * velocity_for_porosity(0.52, 1.1e-3, 1240, 1.0, 1000, 1e-3))
    5.4
    """
    eps, d, rho_s, psi, rho, mu = floats(
        porosity, grain_m, grain_density_kg_m3, sphericity, fluid_density_kg_m3, viscosity_pa_s
    )
    log_g, log_k = law.logs(d, rho_s, psi, rho, mu)
    return np.exp(law.log_velocity(law.log_ratio(eps), log_g, log_k))[()]


# --- A graded bed
# ---------------------------------------------------------------------------------------------------


def incipient_velocity_porous(
    d10_m: ArrayLike,
    uniformity: ArrayLike,
    grain_density_kg_m3: ArrayLike,
    sphericity: ArrayLike,
    settled_porosity: ArrayLike,
    temperature_k: ArrayLike,
) -> Floats:
    """Velocity at which the d60 grain of a graded bed starts to float, by the primary law.

    Parameters
    ----------
    d10_m
        Effective size [m].
    uniformity
        Uniformity coefficient d60 / d10 [-].
    grain_density_kg_m3
        Density of the water-filled grain [kg/m3].
    sphericity
        Sphericity [-].
    settled_porosity
        Void fraction of the settled bed [-].
    temperature_k
        Water temperature [K].

    Returns
    -------
    Superficial velocity [m/s].

    Notes
    -----
    Equation: that of `expanded_porosity` with eps = eps0 and d = d60. Source: Akgiray and Soyer (2006), as
    there. Known bias: the law describes a floating bed and has a laminar limit of 3.137 where fixed beds have
    5, so that carried down to the settled porosity it stands above fixed-bed laws.

    Examples
    --------
    At that velocity the d60 grain, here 0.75 mm, is at the settled porosity:

    >>> v = incipient_velocity_porous(0.5e-3, 1.5, 2650, 0.78, 0.42, 288.15)
    >>> float(expanded_porosity(v, 0.75e-3, 2650, 0.78, 999.10, 1.1375e-3))
    0.420
    """
    d10, uc, rho_s, psi, eps0, t = floats(
        d10_m, uniformity, grain_density_kg_m3, sphericity, settled_porosity, temperature_k
    )
    return velocity_for_porosity(
        eps0, size_at(0.60, d10, uc), rho_s, psi, water.density_kg_m3(t), water.viscosity_pa_s(t)
    )


def _batches(rows: int) -> list[slice]:
    return [slice(first, first + _ROWS_AT_ONCE) for first in range(0, rows, _ROWS_AT_ONCE)]


def bed_expansion(
    velocity_m_s: ArrayLike,
    d10_m: ArrayLike,
    uniformity: ArrayLike,
    grain_density_kg_m3: ArrayLike,
    sphericity: ArrayLike,
    settled_porosity: ArrayLike,
    temperature_k: ArrayLike,
    layers: int = LAYERS,
) -> Floats:
    """Expansion of a graded bed in water, layer by layer with the primary law.

    Parameters
    ----------
    velocity_m_s
        Superficial velocity [m/s].
    d10_m
        Effective size [m].
    uniformity
        Uniformity coefficient d60 / d10 [-].
    grain_density_kg_m3
        Density of the water-filled grain [kg/m3].
    sphericity
        Sphericity [-].
    settled_porosity
        Void fraction of the settled bed [-].
    temperature_k
        Water temperature [K].
    layers
        Number of layers of equal mass.

    Returns
    -------
    Expansion as a fraction of the settled depth [-].

    Notes
    -----
    Equation: E = mean over layers of (1 - eps0) / (1 - max(eps_i, eps0)) - 1, eps_i from `expanded_porosity`
    at the sizes of `layer_sizes`; a layer that the flow cannot lift keeps its settled porosity. Source: Davis
    (2010), eqs. 11-11 and 11-12, with the law of Akgiray and Soyer (2006). Known bias: as of that law, 15 %
    of velocity for round grains and 25 to 30 % for crushed ones, from the spread between laws and grain data.

    Examples
    --------
    Carbon, 12 x 40 mesh, at 20.45 m/h in water of 10 C:

    >>> float(bed_expansion(20.45 / 3600, 0.65e-3, 1.6, 1430, 0.75, 0.48, 283.15))
    0.30
    """
    columns = floats(
        velocity_m_s, d10_m, uniformity, grain_density_kg_m3, sphericity, settled_porosity, temperature_k
    )
    whole, *_ = columns
    rows = [column.ravel() for column in columns]
    out = np.empty(whole.size)
    for some in _batches(out.size):
        v, d10, uc, rho_s, psi, eps0, t = (row[some] for row in rows)
        log_g, log_k = law.logs(d10, rho_s, psi, water.density_kg_m3(t), water.viscosity_pa_s(t))
        rise = law.graded_expansion(
            law.log_positive(v),
            law.Graded(log_g, log_k, log_spread(uc), law.log_ratio(eps0)),
            quantiles(layers),
        )
        known = ~np.isnan([log_g, log_spread(uc), law.log_ratio(eps0)]).any(axis=0)
        out[some] = np.where((v == 0) & known, 0.0, rise)
    return out.reshape(whole.shape)[()]


def velocity_for_expansion(
    expansion: ArrayLike,
    d10_m: ArrayLike,
    uniformity: ArrayLike,
    grain_density_kg_m3: ArrayLike,
    sphericity: ArrayLike,
    settled_porosity: ArrayLike,
    temperature_k: ArrayLike,
    layers: int = LAYERS,
) -> Floats:
    """Velocity that expands a graded bed by a given fraction; the inverse of `bed_expansion`.

    Parameters
    ----------
    expansion
        Fraction of the settled depth [-]; 0 asks for the velocity at which the finest layer starts to move.
    d10_m, uniformity, grain_density_kg_m3, sphericity, settled_porosity, temperature_k, layers
        As in `bed_expansion`.

    Returns
    -------
    Superficial velocity [m/s]; NaN for a negative expansion.

    Notes
    -----
    Equation, source and known bias as in `bed_expansion`.

    Examples
    --------
    Carbon, 12 x 40 mesh, for 30 % in water of 10 C, in m/h:

    >>> float(3600 * velocity_for_expansion(0.30, 0.65e-3, 1.6, 1430, 0.75, 0.48, 283.15))
    20.46
    """
    columns = floats(
        expansion, d10_m, uniformity, grain_density_kg_m3, sphericity, settled_porosity, temperature_k
    )
    whole, *_ = columns
    rise, d10, uc, rho_s, psi, eps0, t = (column.ravel() for column in columns)
    alone = np.ones((rise.size, 1))
    velocity = velocity_filling_room(
        np.where(rise >= 0, rise, np.nan), alone, d10[:, None], uc[:, None], rho_s[:, None], psi[:, None],
        eps0[:, None], t, layers,
    )  # fmt: skip
    return np.where(np.isinf(velocity), np.nan, velocity).reshape(whole.shape)[()]


def velocity_filling_room(
    room_m: ArrayLike,
    depth_m: ArrayLike,
    d10_m: ArrayLike,
    uniformity: ArrayLike,
    grain_density_kg_m3: ArrayLike,
    sphericity: ArrayLike,
    settled_porosity: ArrayLike,
    temperature_k: ArrayLike,
    layers: int = LAYERS,
) -> Floats:
    """Velocity at which all media of a vessel together have risen by the room above them.

    Parameters
    ----------
    room_m
        Room above the settled bed [m], shape (units,).
    depth_m
        Settled depth of each medium [m], shape (units, media).
    d10_m, uniformity, grain_density_kg_m3, sphericity, settled_porosity
        As in `bed_expansion`, shape (units, media).
    temperature_k
        Water temperature [K], shape (units,).
    layers
        Number of layers of equal mass in each medium.

    Returns
    -------
    Superficial velocity [m/s], shape (units,). A medium with anything unknown is left out; infinity where
    none is left; 0 where the room is negative; NaN where room or temperature is unknown.

    Notes
    -----
    Equation: sum over media of depth E(v) = room, with E of `bed_expansion`, solved by Newton's method.
    Source and known bias as there.

    Examples
    --------
    30 in of carbon under 14 in of room at 5 C, in m/h:

    >>> carbon = ([[0.65e-3]], [[1.6]], [[1430]], [[0.75]], [[0.48]])
    >>> 3600 * velocity_filling_room([14 * 0.0254], [[30 * 0.0254]], *carbon, [278.15])
    array([24.19])
    """
    room, t = floats(room_m, temperature_k)
    media = floats(depth_m, d10_m, uniformity, grain_density_kg_m3, sphericity, settled_porosity)
    out = np.empty(room.size)
    for some in _batches(out.size):
        depth, d10, uc, rho_s, psi, eps0 = (column[some] for column in media)
        rho, mu = water.density_kg_m3(t[some])[:, None], water.viscosity_pa_s(t[some])[:, None]
        beds = law.Graded(*law.logs(d10, rho_s, psi, rho, mu), log_spread(uc), law.log_ratio(eps0))
        log_v = law.log_velocity_filling(
            room[some], np.where(depth > 0, depth, np.nan), beds, quantiles(layers)
        )
        out[some] = np.where(room[some] < 0, 0.0, np.exp(log_v))
    return only(~np.isnan(room) & ~np.isnan(water.density_kg_m3(t)), out)
