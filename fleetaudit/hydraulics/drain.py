"""Drain lines: what friction, fittings and rise take before the water is out."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from fleetaudit.hydraulics import restrictor, water
from fleetaudit.hydraulics.akgiray_soyer import GRAVITY_M_S2
from fleetaudit.hydraulics.arrays import Flags, Floats, floats, only

LAMINAR_TRANSITION_PIPE = 2040.0  # Avila et al., Science 333 (2011) 192-196, as `fluids.friction` has it
_NODES = 400
_MOST_REYNOLDS = 1e8
_ELBOW = "Elbow, 90°, Standard (R/D = 1), Screwed"
_OUTLET = 1.0  # velocity heads lost where the line ends in the open
_INCH_M = 0.0254
_HALVINGS = 50


@lru_cache
def _friction_table(relative_roughness: float) -> tuple[Floats, Floats]:
    """Logarithms of Reynolds number and Darcy friction factor in turbulent flow."""
    from fluids.friction import friction_factor  # noqa: PLC0415 - slow, for fleets with drain lines only

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
        turbulent = np.exp(np.interp(np.log(re), log_reynolds, log_factor))
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


def elbow_loss_coefficient(reynolds: ArrayLike, bore_m: ArrayLike) -> Floats:
    """Loss coefficient of one standard screwed elbow.

    Parameters
    ----------
    reynolds
        Reynolds number of the pipe [-].
    bore_m
        Inside diameter [m].

    Returns
    -------
    Velocity heads lost in one elbow of 90 degrees [-]; infinite without flow.

    Notes
    -----
    Equation: K = K1 / Re + Kinf (1 + 1 in / D) with the K1 of 800 and Kinf of 0.4 of `fluids.fittings`.
    Source: Hooper, Chemical Engineering, 24 August 1981, p. 97, as given there. Known bias: glued plastic
    elbows lose less, barbed ones with a reduced bore far more.

    Examples
    --------
    3/4 in at a Reynolds number of 20,000:

    >>> float(elbow_loss_coefficient(20_000, 0.75 * 0.0254))
    0.973
    """
    re, bore = floats(reynolds, bore_m)
    from fluids.fittings import Hooper  # noqa: PLC0415 - as above

    slow, fast = Hooper[_ELBOW]
    with np.errstate(divide="ignore", invalid="ignore"):
        return only((re >= 0) & (bore > 0), slow / re + fast * (1 + _INCH_M / bore))


def line_pressure_drop(
    flow_m3_s: ArrayLike, bore_m: ArrayLike, length_m: ArrayLike, temperature_k: ArrayLike, elbows: ArrayLike
) -> Floats:
    """Pressure that a drain line takes: friction, elbows and the outlet.

    Parameters
    ----------
    flow_m3_s
        Flow in the line [m3/s].
    bore_m
        Inside diameter [m].
    length_m
        Length [m].
    temperature_k
        Water temperature [K].
    elbows
        Number of elbows of 90 degrees [-].

    Returns
    -------
    Pressure drop [Pa]; the rise of the line is not in it.

    Notes
    -----
    Equation: that of `pipe_pressure_drop` with K = n K_elbow + 1, the one for the outlet. Source: as there
    and in `elbow_loss_coefficient`.

    Examples
    --------
    20 ft of bore 19.9 mm with three elbows at 10 gpm and 10 C, in psi:

    >>> float(line_pressure_drop(10 * 6.30902e-5, 19.9e-3, 6.096, 283.15, 3) / 6894.757)
    3.3
    """
    flow, bore, length, kelvin, bends = floats(flow_m3_s, bore_m, length_m, temperature_k, elbows)
    with np.errstate(divide="ignore", invalid="ignore"):
        velocity = flow / (np.pi / 4 * bore**2)
        re = water.density_kg_m3(kelvin) * velocity * bore / water.viscosity_pa_s(kelvin)
        each = np.where(flow > 0, elbow_loss_coefficient(re, bore), 0.0)
    heads = np.where(bends >= 0, bends, np.nan) * each + _OUTLET
    return pipe_pressure_drop(flow, bore, length, kelvin, heads)


def delivered_flow_m3_s(
    rating_m3_s: ArrayLike,
    pressure_pa: ArrayLike,
    full_control_pa: ArrayLike,
    bore_m: ArrayLike,
    length_m: ArrayLike,
    temperature_k: ArrayLike,
    elbows: ArrayLike,
    lines_worth: ArrayLike = 1.0,
) -> Floats:
    """Flow that a restrictor and the drain line behind it settle at.

    Parameters
    ----------
    rating_m3_s
        Rated flow of the restrictor [m3/s].
    pressure_pa
        Pressure that restrictor and drain line share [Pa], valve and rise already taken off.
    full_control_pa
        Pressure across the restrictor from which it holds its rating [Pa].
    bore_m, length_m, temperature_k, elbows
        The drain line as in `line_pressure_drop`; where bore or length is NaN it takes nothing.
    lines_worth
        How many such restrictors drain through the line at the same time [-].

    Returns
    -------
    Flow through one restrictor [m3/s], never above its rating.

    Notes
    -----
    Equation: q = rating sqrt(min((p - dp_line(n q)) / p_full, 1)), solved by halving; the right side falls as
    q rises, so there is one answer. Source: `restrictor.flow_at_pressure` and `line_pressure_drop`.

    Examples
    --------
    10 gpm asked of 45 psi through 100 ft of bore 13.8 mm at 10 C, in gpm; the line takes 37 psi and leaves 8:

    >>> gpm, psi = 6.30902e-5, 6894.757
    >>> float(delivered_flow_m3_s(10 * gpm, 45 * psi, 15 * psi, 13.8e-3, 30.48, 283.15, 0) / gpm)
    7.4
    """
    columns = floats(
        rating_m3_s, pressure_pa, full_control_pa, bore_m, length_m, temperature_k, elbows, lines_worth
    )
    whole, *_ = columns
    rating, pressure, full, bore, length, kelvin, bends, times = (part.ravel() for part in columns)
    piped = ~(np.isnan(bore) | np.isnan(length) | np.isnan(bends))
    known = ~np.isnan(pressure) & (rating > 0) & (full > 0) & (times > 0) & ~(piped & np.isnan(kelvin))
    line = [np.where(piped, part, 1.0) for part in (bore, length, kelvin, bends)]

    def passing(flow: Floats, some: Flags) -> Floats:
        taken = line_pressure_drop(flow * times[some], *(part[some] for part in line))
        left = pressure[some] - np.where(piped[some], taken, 0.0)
        return restrictor.flow_at_pressure(rating[some], left, full[some])

    answer = np.where(known, rating, np.nan)
    short = known & (passing(rating, np.ones(rating.shape, dtype=np.bool_)) < rating)
    low, high = np.zeros(int(short.sum())), rating[short]
    for _ in range(_HALVINGS if short.any() else 0):
        middle = (low + high) / 2
        more = passing(middle, short) > middle
        low, high = np.where(more, middle, low), np.where(more, high, middle)
    answer[short] = (low + high) / 2
    return answer.reshape(whole.shape)[()]


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
