"""How the primary law is solved: in logarithms, by Newton's method, for many grains and for graded beds.

Written in the logarithm t of the void ratio u = eps / (1 - eps), the law of Akgiray and Soyer reads

    ln G + 3 t - ln(1 + u) = ln(LAMINAR x + INERTIAL x^POWER),    x = k v (1 + u),

with G = (psi d)^3 rho (rho_s - rho) g / (216 mu^2) and k = psi d rho / (6 mu). Left minus right rises with t
and is concave, so Newton's method finds the root from anywhere. The expansion of a graded bed is (1 - eps0)
times the mean of u - u0 over its lifted layers; it is convex in ln v, so from above Newton's method comes
down to the root without overshooting. Every loop has a fixed number of steps, so that no row's result depends
on the rows beside it.

The functions with docstrings for users are in `bed`.
"""

from __future__ import annotations

import numpy as np
from msgspec import Struct
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

GRAVITY_M_S2 = 9.80665
POROSITY_CAP = 0.9999

# AQUA 55 (2006) 517-526, coefficients from memory, unverified: group = LAMINAR Re1 + INERTIAL Re1^POWER
LAMINAR, INERTIAL, POWER = 3.137, 0.673, 1.766

_LOG_CAP = float(np.log(POROSITY_CAP / (1.0 - POROSITY_CAP)))
_LOG_LEAST = -30.0
_POROSITY_STEPS = 8
_POLISH_STEPS = 5
_VELOCITY_STEPS = 7
_FILLING_STEPS = 9
_STRIDE = 0.5  # of ln v at most in one step, for beds of which a part is all but washed away


class Graded(Struct, frozen=True):
    """Graded media in logarithms: ln G and ln k at d10, spread of ln d, ln of the settled void ratio."""

    log_g: Floats
    log_k: Floats
    sigma: Floats
    log_settled: Floats


def log_positive(value: ArrayLike) -> Floats:
    """Natural logarithm; NaN for zero and below."""
    number = np.asarray(value, dtype=np.float64)
    with np.errstate(invalid="ignore"):
        return np.log(np.where(number > 0, number, np.nan))


def log_ratio(porosity: Floats) -> Floats:
    """Logarithm of the void ratio; NaN unless the porosity lies between 0 and 1."""
    with np.errstate(invalid="ignore"):
        possible = np.where((porosity > 0) & (porosity < 1), porosity, np.nan)
        return np.log(possible) - np.log1p(-possible)


def logs(d: Floats, rho_s: Floats, psi: Floats, rho: ArrayLike, mu: ArrayLike) -> tuple[Floats, Floats]:
    """Logarithms of G and of k; NaN for an impossible grain."""
    rho, mu = np.asarray(rho, dtype=np.float64), np.asarray(mu, dtype=np.float64)
    with np.errstate(invalid="ignore"):
        scale = log_positive(d) + log_positive(np.where(psi <= 1, psi, np.nan))
        log_k = scale + log_positive(rho) - log_positive(6 * mu)
        log_g = (
            3 * scale
            + log_positive(rho)
            + log_positive((rho_s - rho) * GRAVITY_M_S2)
            - log_positive(216 * mu**2)
        )
    return log_g, log_k


def _drag(log_x: Floats) -> tuple[Floats, Floats]:
    """Logarithm of the right side of the law, and its slope against log x (1 laminar, 1.766 inertial)."""
    laminar, inertial = LAMINAR * np.exp(log_x), INERTIAL * np.exp(POWER * log_x)
    total = laminar + inertial
    return np.log(total), (laminar + POWER * inertial) / total


def _imbalance(t: Floats, log_g: Floats, log_kv: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Void ratio, left minus right of the law, its slope against t, and the drag's slope."""
    u = np.exp(t)
    log_1u = np.log1p(u)
    log_drag, steepness = _drag(log_kv + log_1u)
    return u, log_g + 3 * t - log_1u - log_drag, 3 - (1 + steepness) * (u / (1 + u)), steepness


def log_void_ratio(
    log_g: Floats, log_kv: Floats, start: ArrayLike = 0.0, steps: int = _POROSITY_STEPS
) -> Floats:
    """Logarithm of the void ratio at which the law balances."""
    t: Floats = np.broadcast_to(
        np.asarray(start, dtype=np.float64), np.broadcast_shapes(log_g.shape, log_kv.shape)
    )
    for _ in range(steps):
        _, off, slope, _ = _imbalance(t, log_g, log_kv)
        t = np.clip(t - off / slope, _LOG_LEAST, _LOG_CAP)
    return t


def log_velocity(t: Floats, log_g: Floats, log_k: Floats) -> Floats:
    """Logarithm of the velocity at which the void ratio is exp(t)."""
    log_1u = np.log1p(np.exp(t))
    wanted = log_g + 3 * t - log_1u
    log_x: Floats = np.minimum(wanted - np.log(LAMINAR), (wanted - np.log(INERTIAL)) / POWER)
    for _ in range(_VELOCITY_STEPS):
        log_drag, steepness = _drag(log_x)
        log_x = log_x - (log_drag - wanted) / steepness
    return log_x - log_1u - log_k


def _spread_out(beds: Graded, log_kv: Floats, quantiles: Floats) -> tuple[Floats, Floats, Floats]:
    """Per layer: ln G, ln k v, and a first guess of t, from the middle grain's along the law's own slope."""
    step = beds.sigma[..., None] * quantiles
    to_mid = beds.sigma * quantiles.mean()
    middle = beds.log_g + 3 * to_mid, log_kv + to_mid
    mid = log_void_ratio(*middle)
    _, _, slope, steepness = _imbalance(mid, *middle)
    guess = mid[..., None] - ((3 - steepness) / slope)[..., None] * (step - to_mid[..., None])
    return beds.log_g[..., None] + 3 * step, log_kv[..., None] + step, np.clip(guess, _LOG_LEAST, _LOG_CAP)


def graded_expansion(log_v: Floats, beds: Graded, quantiles: Floats) -> Floats:
    """Expansion of graded media at a velocity; layers that it does not lift stay settled."""
    t = log_void_ratio(*_spread_out(beds, beds.log_k + log_v, quantiles), _POLISH_STEPS)
    settled = np.exp(beds.log_settled)
    lifted = np.maximum(np.exp(t) - settled[..., None], 0.0)
    rise: Floats = lifted.mean(axis=-1) / (1 + settled)
    return rise


def log_velocity_filling(room: Floats, depth: Floats, beds: Graded, quantiles: Floats) -> Floats:
    """Logarithm of the velocity at which depth times expansion, summed over a row's media, is the room.

    `room` has the shape (rows,), all else (rows, media). Media with a NaN are left out; infinity where none
    is left. Velocity and the void ratios of all layers are improved together, one Newton step of the bordered
    system at a time.
    """
    unknown = np.isnan([depth, beds.log_g, beds.log_k, beds.sigma, beds.log_settled]).any(axis=0)
    # A medium left out keeps harmless numbers and no weight.
    depth = np.where(unknown, 0.0, depth)
    beds = Graded(
        *(np.where(unknown, 0.0, part) for part in (beds.log_g, beds.log_k, beds.sigma, beds.log_settled))
    )
    settled = np.exp(beds.log_settled)
    weight = (depth / (1 + settled) / quantiles.size)[..., None]

    # Start from above: the least velocity at which one medium's middle grain alone would fill the room.
    to_mid = beds.sigma * quantiles.mean()
    with np.errstate(divide="ignore", invalid="ignore"):
        full = np.log(
            settled + np.where(unknown, 0.0, np.maximum(room, 0.0)[..., None] / depth) * (1 + settled)
        )
    full = np.minimum(full, _LOG_CAP)
    alone = log_velocity(full, beds.log_g + 3 * to_mid, beds.log_k + to_mid)
    log_v = np.where(unknown, np.inf, alone).min(axis=-1)
    finest = beds.sigma * quantiles[0]
    moving = log_velocity(beds.log_settled, beds.log_g + 3 * finest, beds.log_k + finest)
    least = np.where(unknown, np.inf, moving).min(axis=-1)
    nothing = unknown.all(axis=-1)
    log_v, least = np.where(nothing, 0.0, log_v), np.where(nothing, 0.0, least)
    most = log_v

    log_g, log_kv, t = _spread_out(beds, beds.log_k + log_v[..., None], quantiles)
    for _ in range(_FILLING_STEPS):
        u, off, slope, steepness = _imbalance(t, log_g, log_kv)
        ahead = t - off / slope
        active = (ahead > beds.log_settled[..., None]) & (ahead < _LOG_CAP)
        rise = weight * (np.where(ahead >= _LOG_CAP, np.exp(_LOG_CAP), u) - settled[..., None])
        rise = np.where(ahead > beds.log_settled[..., None], rise, 0.0)
        pull = np.where(active, weight * u / slope, 0.0)
        missing = np.maximum(room, 0.0) - (rise - pull * off).sum(axis=(-2, -1))
        gain = (pull * steepness).sum(axis=(-2, -1))
        change = np.divide(missing, gain, out=np.zeros_like(missing), where=gain > 0)
        change = np.clip(log_v + np.clip(change, -_STRIDE, _STRIDE), least, most) - log_v
        log_v = log_v + change
        t = np.clip(ahead + steepness / slope * change[..., None, None], _LOG_LEAST, _LOG_CAP)
        log_kv = log_kv + change[..., None, None]
    return np.where(nothing, np.inf, log_v)
