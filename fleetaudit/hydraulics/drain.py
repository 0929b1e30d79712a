"""Drain lines: what friction, fittings and rise take before the water is out."""

from __future__ import annotations

from functools import cache

import numpy as np
from fluids.friction import LAMINAR_TRANSITION_PIPE, friction_factor
from numpy.typing import ArrayLike

from fleetaudit.hydraulics import water
from fleetaudit.hydraulics.akgiray_soyer import GRAVITY_M_S2
from fleetaudit.hydraulics.arrays import Floats, floats, only

_NODES = 400
_MOST_REYNOLDS = 1e8


@cache
def _friction_table(relative_roughness: float) -> tuple[Floats, Floats]:
    """Logarithms of Reynolds number and Darcy friction factor in turbulent flow."""
    reynolds = np.geomspace(LAMINAR_TRANSITION_PIPE, _MOST_REYNOLDS, _NODES)
    factor = [friction_factor(Re=float(re), eD=relative_roughness) for re in reynolds]
    return np.log(reynolds), np.log(factor)


def darcy_friction_factor(reynolds: ArrayLike, relative_roughness: float = 0.0) -> Floats:
    """Darcy friction factor of a round pipe.

    Parameters
    ----------
    reynolds
        Reynolds number of the pipe [-].
    relative_roughness
        Roughness over bore [-], one number; 0 for drawn plastic.

    Returns
    -------
    Friction factor [-]; infinite without flow.

    Notes
    -----
    Equation: 64 / Re up to 2040, beyond it the Colebrook equation in the explicit solution of Clamond, as
    evaluated by `fluids.friction_factor` and tabulated here (the table adds less than 1e-4). Known bias:
    between 2040 and some 4000 the flow may be either; turbulent is taken, which asks for more pressure.

    Examples
    --------
    >>> float(darcy_friction_factor(1000.0))
    0.064
    """
    (re,) = floats(reynolds)
    log_reynolds, log_factor = _friction_table(relative_roughness)
    with np.errstate(divide="ignore", invalid="ignore"):
        turbulent = np.exp(np.interp(np.log(np.where(re > 0, re, np.nan)), log_reynolds, log_factor))
        return only(
            (re >= 0) & (re <= _MOST_REYNOLDS), np.where(re < LAMINAR_TRANSITION_PIPE, 64 / re, turbulent)
        )


def pipe_pressure_drop(
    flow_m3_s: ArrayLike,
    bore_m: ArrayLike,
    length_m: ArrayLike,
    temperature_k: ArrayLike,
    loss_coefficient: ArrayLike = 0.0,
    relative_roughness: float = 0.0,
) -> Floats:
    """Pressure that a pipe and its fittings take.

    Parameters
    ----------
    flow_m3_s
        Flow [m3/s].
    bore_m
        Inside diameter [m].
    length_m
        Length [m].
    temperature_k
        Water temperature [K].
    loss_coefficient
        Sum of the loss coefficients of the fittings [-].
    relative_roughness
        Roughness over bore [-], one number; 0 for drawn plastic.

    Returns
    -------
    Pressure drop [Pa].

    Notes
    -----
    Equation: dp = (f L / D + K) rho v^2 / 2 with `darcy_friction_factor`. Source: Darcy and Weisbach, any
    text. Known bias: scale and iron in an old line can double it.

    Examples
    --------
    100 ft of bore 26.0 mm at 10 gpm and 10 C, in psi; 3.0 by this project's own tables:

    >>> float(pipe_pressure_drop(10 * 6.30902e-5, 26.0e-3, 30.48, 283.15) / 6894.757)
    3.0
    """
    flow, bore, length, kelvin, fittings = floats(
        flow_m3_s, bore_m, length_m, temperature_k, loss_coefficient
    )
    rho, mu = water.density_kg_m3(kelvin), water.viscosity_pa_s(kelvin)
    possible = (flow >= 0) & (bore > 0) & (length >= 0) & (fittings >= 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        velocity = flow / (np.pi / 4 * bore**2)
        factor = darcy_friction_factor(rho * velocity * bore / mu, relative_roughness)
        along = np.where((flow == 0) & ~np.isnan(rho), 0.0, factor * length / bore)
        return only(possible, (along + fittings) * rho * velocity**2 / 2)


def rise_pressure(rise_m: ArrayLike, temperature_k: ArrayLike) -> Floats:
    """Pressure that lifting the water takes.

    Parameters
    ----------
    rise_m
        Height of the outlet above the restrictor [m], negative where it lies below.
    temperature_k
        Water temperature [K].

    Returns
    -------
    Pressure [Pa].

    Notes
    -----
    Equation: dp = rho g h. Source: hydrostatics.

    Examples
    --------
    One foot, in psi:

    >>> float(rise_pressure(0.3048, 283.15) / 6894.757)
    0.433
    """
    rise, kelvin = floats(rise_m, temperature_k)
    return (water.density_kg_m3(kelvin) * GRAVITY_M_S2 * rise)[()]
