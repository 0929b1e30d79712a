"""From grain and practice to the range of wash velocities that serves a bed, with its floor and ceilings.

All results are superficial velocities [m/s]; a caller multiplies by the area of the vessel. The anchor is the
rate that practice states for the medium at some temperature; the laws of `bed` carry it to the coldest and
the warmest water of the year, and give the range itself only where no rate is known. Rows that repeat are
worked out once.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import IntEnum
from typing import NamedTuple

import numpy as np
from msgspec import Struct
from numpy.typing import ArrayLike, NDArray

from fleetaudit.hydraulics import bed, water
from fleetaudit.hydraulics.arrays import (
    Flags,
    Floats,
    Positions,
    distinct,
    distinct_rows,
    floats,
    once_per_row,
)
from fleetaudit.hydraulics.grading import size_at
from fleetaudit.hydraulics.kept import Kept

Codes = NDArray[np.int8]

CARRIED_SHARE = 0.01  # of the medium by mass: its finest grains, which a flow takes first; our own choice
_NODE_K = 0.5  # between two such temperatures ln v is taken as a straight line; that costs less than 0.005 %
_NODES = round((water.WARMEST_K - water.COLDEST_K) / _NODE_K) + 1
_ON_NODE = 1e-9  # of a step: nearer than this a temperature is the node's own
_SLACK_K = 1e-6
CEILING_RESTS_ON = 8  # numbers: room, temperature, depth, and five of the grains


class Limit(IntEnum):
    """What set one side of a window."""

    UNKNOWN = -1
    RATE = 0
    FLOOR = 1
    FREEBOARD = 2
    CARRY_OVER = 3
    PHYSICS = 4


class Grain(Struct, frozen=True):
    """Grains of a medium, one entry per unit (or per unit and layer); NaN where unknown.

    Effective size [m], uniformity coefficient d60 / d10 [-], density of the water-filled grain [kg/m3],
    sphericity [-], settled porosity [-].
    """

    d10_m: Floats
    uniformity: Floats
    density_kg_m3: Floats
    sphericity: Floats
    porosity: Floats

    def at(self, places: Positions) -> Grain:
        """Those at some places."""
        return Grain(*(getattr(self, name)[places] for name in self.__struct_fields__))

    def columns(self, round_end: bool = False) -> list[Floats]:
        """All five as float arrays of one shape, in the order in which `bed` takes them.

        `round_end` puts the sphericity half-way to a sphere: how crushed grains behave once they float.
        """
        d10, uc, rho_s, psi, eps0 = floats(
            self.d10_m, self.uniformity, self.density_kg_m3, self.sphericity, self.porosity
        )
        return [d10, uc, rho_s, (1 + psi) / 2 if round_end else psi, eps0]


class Practice(Struct, frozen=True):
    """How a medium is washed in practice, one entry per unit; NaN where unknown.

    Least and most rate [m/s] and the temperature they are stated for [K], expansions as fractions of the
    settled depth [-], the exponent n of (mu0 / mu)^n that corrects a rate where the grain is unknown [-], and
    whether the medium may be washed without being lifted as a whole.
    """

    rate_low_m_s: Floats
    rate_high_m_s: Floats
    rate_temperature_k: Floats
    expansion_low: Floats
    expansion_target: Floats
    expansion_high: Floats
    temperature_exponent: Floats
    partial_ok: Flags


class Velocities(NamedTuple):
    """A window [m/s] with the floor and the carry-over ceiling behind it, and the `Limit` that set each side.

    `low` may lie above `high`; NaN where a side cannot be known.
    """

    low: Floats
    high: Floats
    floor: Floats
    carry_over: Floats
    low_set_by: Codes
    high_set_by: Codes

    def at(self, places: Positions) -> Velocities:
        """Those at some places, in a copy."""
        return Velocities(
            self.low[places],
            self.high[places],
            self.floor[places],
            self.carry_over[places],
            self.low_set_by[places],
            self.high_set_by[places],
        )


class _Between(NamedTuple):
    """Nodes below and above each temperature, and the share of the way from the one to the other."""

    below: Positions
    share: Floats
    inside: Flags

    def at(self, places: Positions) -> _Between:
        """Those at some places."""
        return _Between(self.below[places], self.share[places], self.inside[places])

    @classmethod
    def of(cls, temperature_k: Floats) -> _Between:
        """Those of some temperatures; `inside` is False where water is not liquid there, or nothing known."""
        coldest_k, warmest_k = water.COLDEST_K - _SLACK_K, water.WARMEST_K + _SLACK_K
        inside = (temperature_k >= coldest_k) & (temperature_k <= warmest_k)
        place = (np.where(inside, temperature_k, water.COLDEST_K) - water.COLDEST_K) / _NODE_K
        below = np.clip(np.floor(place + _ON_NODE), 0, _NODES - 1).astype(np.int64)
        return cls(below, np.where(place - below > _ON_NODE, place - below, 0.0), inside)


class _Nodes:
    """One velocity of several media at fixed temperatures, each worked out when it is first needed."""

    def __init__(self, function: Callable[..., Floats], columns: list[Floats]) -> None:
        self._function, self._columns = function, columns
        self._log_v = np.empty(columns[0].size * _NODES)
        self._known = np.zeros(columns[0].size * _NODES, dtype=np.bool_)

    def at(self, kind: Positions, between: _Between) -> Floats:
        """Velocity [m/s] of media of these kinds at their temperatures."""
        lower = kind * _NODES + between.below
        upper = np.where(between.share > 0, lower + 1, lower)
        self._fill(lower, upper)
        at_lower = self._log_v[lower]
        log_v = at_lower + np.where(between.share > 0, between.share * (self._log_v[upper] - at_lower), 0.0)
        return np.where(between.inside, np.exp(log_v), np.nan)

    def _fill(self, lower: Positions, upper: Positions) -> None:
        wanted = distinct(np.concatenate([some[~self._known[some]] for some in (lower, upper)]))
        if not wanted.size:
            return
        medium, node = np.divmod(wanted, _NODES)
        node_k = np.minimum(water.COLDEST_K + _NODE_K * node, water.WARMEST_K)
        self._log_v[wanted] = np.log(self._function(*(column[medium] for column in self._columns), node_k))
        self._known[wanted] = True


class Media:
    """Media and their wash, and what velocities they are washed with at any temperature.

    Temperatures seldom repeat exactly, media do. Each medium is worked out at fixed temperatures, the same
    for every fleet, and ln v is a straight line between two of them; so units share work whatever their
    temperatures are, and no unit's result depends on the units beside it. What was worked out stays.
    """

    def __init__(self, grain: Grain, practice: Practice) -> None:
        columns = grain.columns()
        d10, uc, rho_s, psi, eps0 = columns
        smooth = [d10, uc, rho_s, (1 + psi) / 2, eps0]
        self._wash = practice
        self._lift_least = _Nodes(_for_expansion, [*columns, practice.expansion_low])
        self._lift = _Nodes(_for_expansion, [*columns, practice.expansion_target])
        self._lift_most = _Nodes(_for_expansion, [*smooth, practice.expansion_high])
        self._floor = _Nodes(bed.incipient_velocity_porous, columns)
        self._carry_over = _Nodes(_carrying_over, columns)

    def factor(self, kind: Positions, temperature_k: Floats) -> Floats:
        """`temperature_factor` of media of these kinds; a kind is a place among the media."""
        return self._factor(kind, temperature_k, _Between.of(temperature_k))

    def _factor(self, kind: Positions, temperature_k: Floats, between: _Between) -> Floats:
        stated_k = self._wash.rate_temperature_k[kind]
        by_grain = self._lift.at(kind, between) / self._lift.at(kind, _Between.of(stated_k))
        if not np.isnan(by_grain).any():
            return by_grain
        ratio = water.viscosity_pa_s(stated_k) / water.viscosity_pa_s(temperature_k)
        return np.where(np.isnan(by_grain), ratio ** self._wash.temperature_exponent[kind], by_grain)

    def window(self, kind: Positions, cold_k: Floats, warm_k: Floats) -> Velocities:
        """`rate_window` of media of these kinds; a kind is a place among the media."""
        wash = self._wash
        in_cold, in_warm = _Between.of(cold_k), _Between.of(warm_k)
        low = wash.rate_low_m_s[kind] * self._factor(kind, warm_k, in_warm)
        high = wash.rate_high_m_s[kind] * self._factor(kind, cold_k, in_cold)
        low_set_by, high_set_by = _known(low, Limit.RATE), _known(high, Limit.RATE)
        for rate, side, set_by, lift, here in (
            (wash.rate_low_m_s, low, low_set_by, self._lift_least, in_warm),
            (wash.rate_high_m_s, high, high_set_by, self._lift_most, in_cold),
        ):
            without = np.flatnonzero(np.isnan(rate[kind]))
            side[without] = lift.at(kind[without], here.at(without))
            set_by[without] = _known(side[without], Limit.PHYSICS)

        floor = self._floor.at(kind, in_warm)
        binds = (floor > low) & ~wash.partial_ok[kind]
        low_set_by[binds] = Limit.FLOOR
        carry_over = self._carry_over.at(kind, in_cold)
        cut = carry_over < high
        high_set_by[cut] = Limit.CARRY_OVER
        return Velocities(
            np.where(binds, floor, low),
            np.where(cut, carry_over, high),
            floor,
            carry_over,
            low_set_by,
            high_set_by,
        )


def _media(grain: Grain, practice: Practice, units: int) -> tuple[Media, Positions]:
    """The distinct media of so many units, and which of them each has."""
    columns = [
        np.ascontiguousarray(np.broadcast_to(np.asarray(column, dtype=np.float64).ravel(), units))
        for column in (*grain.columns(), *(getattr(practice, name) for name in practice.__struct_fields__))
    ]
    first, kind = distinct_rows(columns)
    one = [column[first] for column in columns]
    wash = dict(zip(practice.__struct_fields__, one[5:-1], strict=False))
    return Media(Grain(*one[:5]), Practice(**wash, partial_ok=one[-1] > 0)), kind


def _for_expansion(
    d10: Floats, uc: Floats, rho_s: Floats, psi: Floats, eps0: Floats, expansion: Floats, t: Floats
) -> Floats:
    return bed.velocity_for_expansion(expansion, d10, uc, rho_s, psi, eps0, t)


def _carrying_over(d10: Floats, uc: Floats, rho_s: Floats, psi: Floats, eps0: Floats, t: Floats) -> Floats:
    finest = size_at(CARRIED_SHARE, d10, uc)
    return bed.terminal_velocity(finest, rho_s, psi, water.density_kg_m3(t), water.viscosity_pa_s(t))


def temperature_factor(grain: Grain, practice: Practice, temperature_k: ArrayLike) -> Floats:
    """How much more velocity a bed needs at a temperature than at the one its rate is stated for.

    Parameters
    ----------
    grain, practice
        The medium of each unit, shape (units,).
    temperature_k
        Water temperature [K].

    Returns
    -------
    Ratio of velocities [-]; NaN where neither the grain nor the exponent is known, or a temperature is not.

    Notes
    -----
    Equation: f = v(E_t, T) / v(E_t, T0) with `bed.velocity_for_expansion`, or (mu(T0) / mu(T))^n without
    grain data. Source: the law of Akgiray and Soyer (2006), see there. Range: 0 to 60 C. Known bias: four
    laws differ by 0.02 to 0.07 between 5 and 15 C, by 0.10 for garnet, ilmenite and alumina.

    Examples
    --------
    >>> from numpy import array, full
    >>> carbon = Grain(*(array([x]) for x in (0.65e-3, 1.6, 1430, 0.75, 0.48)))
    >>> wash = Practice(*(array([x]) for x in (8e-3, 12e-3, 283.15, 0.25, 0.30, 0.35, 0.76, False)))
    >>> temperature_factor(carbon, wash, [278.15])
    array([0.892])
    """
    kelvin, *_ = floats(temperature_k, *grain.columns())
    media, kind = _media(grain, practice, kelvin.size)
    return media.factor(kind, kelvin.ravel()).reshape(kelvin.shape)


def rate_window(grain: Grain, practice: Practice, cold_k: ArrayLike, warm_k: ArrayLike) -> Velocities:
    """Range of velocities right in the coldest and in the warmest water, freeboard not yet considered.

    Parameters
    ----------
    grain, practice
        The medium of each unit, shape (units,).
    cold_k, warm_k
        Coldest and warmest water of the year [K].

    Returns
    -------
    Velocities [m/s] and what set them.

    Notes
    -----
    Equation: low = least rate x f(warm), raised to the incipient velocity of the d60 grain in warm water
    unless the medium may be washed in part; high = most rate x f(cold), cut to the terminal velocity of the
    finest 1 % in cold water; f from `temperature_factor`. Where no rate is known, low is the velocity of the
    least expansion in warm water, and high that of the most expansion in cold water with the sphericity
    half-way to a sphere. Source: practice rates from the catalogue, laws from `bed`; the combination is this
    project's own choice. Known bias: absolute velocities by physics are good to 25 to 30 % for crushed media.

    Examples
    --------
    Carbon, 12 x 40 mesh, 8 to 12 gpm/ft2 at 10 C, in water of 5 to 18 C; in gpm/ft2:

    >>> from numpy import array
    >>> carbon = Grain(*(array([x]) for x in (0.65e-3, 1.6, 1430, 0.75, 0.48)))
    >>> gpm_ft2 = 2.44475 / 3600
    >>> rate = (8 * gpm_ft2, 12 * gpm_ft2, 283.15)
    >>> wash = Practice(*(array([x]) for x in (*rate, 0.25, 0.30, 0.35, 0.76, False)))
    >>> window = rate_window(carbon, wash, [278.15], [291.15])
    >>> window.low / gpm_ft2, window.high / gpm_ft2
    (array([9.34]), array([10.71]))
    """
    cold, warm, *_ = floats(cold_k, warm_k, *grain.columns())
    media, kind = _media(grain, practice, cold.size)
    return media.window(kind, cold, warm)


def _known(side: Floats, limit: Limit) -> Codes:
    return np.where(np.isnan(side), Limit.UNKNOWN, limit).astype(np.int8)


def freeboard_ceiling(
    grain: Grain,
    depth_m: ArrayLike,
    room_m: ArrayLike,
    temperature_k: ArrayLike,
    round_end: bool,
    kept: Kept | None = None,
) -> Floats:
    """Velocity at which the bed has risen by the room above it.

    Parameters
    ----------
    grain
        Media of each unit, shape (units, layers).
    depth_m
        Settled depth of each [m], same shape; layers with a NaN here or in the grain are left out.
    room_m
        Room that the expanded bed may take [m], shape (units,).
    temperature_k
        Coldest water [K], shape (units,).
    round_end
        True for the hard ceiling (sphericity half-way to a sphere: above it both ends lose media), False for
        the cautious one (sphericity as stated: above it one end does).
    kept
        What was worked out before for beds of one medium, one number that rests on `CEILING_RESTS_ON`.

    Returns
    -------
    Superficial velocity [m/s], shape (units,). Infinity where no layer counts, 0 where the room is negative,
    NaN where room or temperature is unknown.

    Notes
    -----
    Equation, source and known bias: `bed.velocity_filling_room`. That crushed grains act half-way to spheres
    once afloat is this project's choice after Kramer et al., Water Research 197 (2021) 117085.

    Examples
    --------
    30 in of carbon, 16 in of freeboard of which 2 in stay free, 5 C; in gpm/ft2:

    >>> from numpy import array
    >>> carbon = Grain(*(array([[x]]) for x in (0.65e-3, 1.6, 1430, 0.75, 0.48)))
    >>> freeboard_ceiling(carbon, [[0.762]], [0.3556], [278.15], round_end=True) * 3600 / 2.44475
    array([12.51])
    """
    room, temperature = floats(room_m, temperature_k)
    layers = floats(depth_m, *grain.columns(round_end))
    count = layers[0].shape[-1]

    def solve(*flat: Floats) -> Floats:
        depth, d10, uc, rho_s, psi, eps0 = (
            np.stack(flat[first : first + count], axis=-1) for first in range(2, len(flat), count)
        )
        return bed.velocity_filling_room(flat[0], depth, d10, uc, rho_s, psi, eps0, flat[1])

    columns = [room, temperature, *(column[:, i] for column in layers for i in range(count))]
    kept = kept if kept is not None and count == 1 else Kept(0, len(columns), 1)
    return kept.of(columns, lambda places: solve(*(column[places] for column in columns))[:, None])[:, 0]


def expansion_at(velocity_m_s: ArrayLike, grain: Grain, temperature_k: ArrayLike) -> Floats:
    """Expansion of a bed at a velocity.

    Parameters
    ----------
    velocity_m_s
        Superficial velocity [m/s].
    grain
        The medium of each unit.
    temperature_k
        Water temperature [K].

    Returns
    -------
    Expansion as a fraction of the settled depth [-].

    Notes
    -----
    Equation, source, range and known bias: `bed.bed_expansion`.

    Examples
    --------
    >>> from numpy import array
    >>> carbon = Grain(*(array([x]) for x in (0.65e-3, 1.6, 1430, 0.75, 0.48)))
    >>> expansion_at(20.45 / 3600, carbon, 283.15)
    array([0.30])
    """
    columns = floats(velocity_m_s, *grain.columns(), temperature_k)
    flat = once_per_row(bed.bed_expansion, *(np.ascontiguousarray(column).ravel() for column in columns))
    return flat.reshape(columns[0].shape)


def target(low_m_s: ArrayLike, high_m_s: ArrayLike) -> Floats:
    """Middle of a window on a scale of ratios.

    Parameters
    ----------
    low_m_s, high_m_s
        Both sides, as velocity [m/s] or as flow [m3/s].

    Returns
    -------
    Geometric mean, in the unit of the inputs.

    Notes
    -----
    Equation: sqrt(low x high). Source: this project's own choice; a restrictor's tolerance is a ratio too.

    Examples
    --------
    >>> float(target(4.0, 9.0))
    6.0
    """
    low, high = floats(low_m_s, high_m_s)
    return np.sqrt(low * high)[()]


def mixing_margin_kg_m3(
    upper: Grain, lower: Grain, temperature_k: ArrayLike, velocity_m_s: ArrayLike
) -> Floats:
    """How much denser the lower layer's fine top is, while fluidised, than the upper layer's coarse bottom.

    Parameters
    ----------
    upper, lower
        The two media.
    temperature_k
        Water temperature [K].
    velocity_m_s
        Superficial velocity [m/s].

    Returns
    -------
    Difference of bulk densities [kg/m3]; negative where the layers mix, NaN where something is unknown.

    Notes
    -----
    Equation: bulk = eps rho + (1 - eps) rho_s with eps of `bed.expanded_porosity`, not below the settled one;
    upper at its d90, lower at its d10. Source: general texts on filter design, from memory, unverified. Known
    bias: says whether layers mix as a whole; some mixing at the seam is normal.

    Examples
    --------
    Coal over sand in water of 15 C at 40 m/h stays on top:

    >>> coal, sand = Grain(1.0e-3, 1.45, 1600, 0.60, 0.52), Grain(0.5e-3, 1.5, 2650, 0.78, 0.42)
    >>> bool(mixing_margin_kg_m3(coal, sand, 288.15, 40 / 3600) > 0)
    True
    """
    t, v = floats(temperature_k, velocity_m_s)
    rho, mu = water.density_kg_m3(t), water.viscosity_pa_s(t)

    def bulk(grain: Grain, share: float) -> Floats:
        d10, uc, rho_s, psi, eps0 = grain.columns()
        eps = bed.expanded_porosity(v, size_at(share, d10, uc), rho_s, psi, rho, mu)
        eps = np.maximum(eps, eps0)
        return eps * rho + (1 - eps) * rho_s

    return bulk(lower, 0.10) - bulk(upper, 0.90)


def layers_stratify(upper: Grain, lower: Grain, temperature_k: ArrayLike, velocity_m_s: ArrayLike) -> Floats:
    """Whether two layers sort themselves apart again after a wash.

    Parameters
    ----------
    upper, lower, temperature_k, velocity_m_s
        As in `mixing_margin_kg_m3`.

    Returns
    -------
    1 where they do, 0 where they mix, NaN where that is unknown.

    Notes
    -----
    Equation and source: `mixing_margin_kg_m3`.

    Examples
    --------
    Turned upside down the same two mix:

    >>> coal, sand = Grain(1.0e-3, 1.45, 1600, 0.60, 0.52), Grain(0.5e-3, 1.5, 2650, 0.78, 0.42)
    >>> bool(layers_stratify(sand, coal, 288.15, 40 / 3600))
    False
    """
    margin = mixing_margin_kg_m3(upper, lower, temperature_k, velocity_m_s)
    return np.where(np.isnan(margin), np.nan, margin > 0)[()]
