"""The flow window of each unit: least, best and most backwash flow, and what sets each side."""

from __future__ import annotations

from enum import IntEnum
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from msgspec import Struct

from fleetaudit.catalogue import arrays
from fleetaudit.facts import site
from fleetaudit.facts.fact import Fact, computed, unusable, weakest
from fleetaudit.facts.frame import Codes, Flags, Floats
from fleetaudit.facts.media import grains, washed
from fleetaudit.facts.strata import Stacks, Strata, stacks, stacks_by_height, strata
from fleetaudit.facts.view import View, remembered
from fleetaudit.hydraulics import window
from fleetaudit.hydraulics.arrays import distinct_rows
from fleetaudit.hydraulics.kept import Kept
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Origin

_CEILINGS = 16384  # kept at most, of a hundred bytes each


class Clash(IntEnum):
    """Why a window is empty."""

    NONE = 0
    FREEBOARD = 1
    SEASON = 2
    BUILD = 3


class FlowWindow(Struct, frozen=True):
    """Flows [m3/s] of one vessel. `low` and `high` carry the range that assumed temperatures leave open.

    `hard` is the flow above which the bed rises into the distributor whatever the grain shape, `caution` the
    one above which it does for sharp grains; both are infinite where no freeboard was measured. `floor` lifts
    the coarser grains at all, `carry_over` is the flow at which the finest grains leave in the coldest water;
    `mildest_carry_over` is that where an assumed temperature lies at its warm end.
    """

    low: Fact
    target: Floats
    high: Fact
    hard: Floats
    caution: Floats
    floor: Floats
    carry_over: Floats
    mildest_carry_over: Floats
    low_set_by: Codes
    high_set_by: Codes
    clash: Codes
    ratio: Floats
    low_without_freeboard: Floats
    high_without_freeboard: Floats
    by_physics_only: Flags

    @property
    def known(self) -> Flags:
        """True where the window can be told."""
        return self.low.known & self.high.known


def velocities(view: View, *asked: tuple[Codes, Floats, Floats]) -> list[window.Velocities]:
    """Windows of media at coldest and warmest water; one medium in the same water is worked out once."""
    medium, cold, warm = (np.concatenate(column) for column in zip(*asked, strict=True))
    first, kind = distinct_rows([medium, cold, warm])
    found = washed(view).window(medium[first], cold[first], warm[first])
    ends = np.cumsum([len(codes) for codes, _, _ in asked])[:-1]
    return [found.at(part) for part in np.split(kind, ends)]


def _rates(view: View, rows: Codes, *waters: tuple[Floats, Floats]) -> list[window.Velocities]:
    """Rates [m/s] of the beds of some rows, layers combined, freeboard left out.

    The coldest and the warmest water of each are given for these rows.
    """
    cut = strata(view).of(rows)
    beds = stacks(cut)
    layers = [(cut.medium, cold[cut.unit], warm[cut.unit]) for cold, warm in waters]
    if not len(beds.row):
        return velocities(view, *layers)
    named, use_own = view.medium[rows[beds.row]], _rate_is_own(view)[rows[beds.row]]
    whole = [(named, cold[beds.row], warm[beds.row]) for cold, warm in waters]
    found = velocities(view, *layers, *whole)
    return [
        _combined(cut, beds, use_own, flat, own)
        for flat, own in zip(found, found[len(waters) :], strict=False)
    ]


def _combined(
    cut: Strata, beds: Stacks, use_own: Flags, flat: window.Velocities, own: window.Velocities
) -> window.Velocities:
    """Rates of each bed from those of its layers, or its own where it has some as a whole.

    `own` are those of the beds of several media, as named.
    """
    whole = flat.at(cut.first)
    low, low_layer = beds.highest(flat.low, cut.sets_rate)
    high, high_layer = beds.highest(-flat.high, cut.sets_rate)
    floor, _ = beds.highest(flat.floor, cut.sets_rate)
    carry, _ = beds.highest(-flat.carry_over, cut.expands)
    incomplete = np.logical_or.reduceat(cut.medium[beds.layer] < 0, beds.begin)
    blank = np.where(incomplete & ~use_own, np.nan, 0.0)
    whole.low[beds.row] = np.where(use_own, own.low, low) + blank
    whole.high[beds.row] = np.where(use_own, own.high, -high) + blank
    whole.floor[beds.row] = np.where(use_own, own.floor, floor)
    whole.carry_over[beds.row] = np.fmin(-carry, np.where(use_own, np.inf, own.carry_over))
    whole.low_set_by[beds.row] = np.where(use_own, own.low_set_by, flat.low_set_by[low_layer])
    whole.high_set_by[beds.row] = np.where(use_own, own.high_set_by, flat.high_set_by[high_layer])
    return whole


class _Alike(NamedTuple):
    """One row of each kind of bed and season, and the kind of each unit: rates are the same within a kind."""

    row: Codes
    kind: Codes


@remembered
def _alike(view: View) -> _Alike:
    water = site.season(view)
    layers = np.full(view.units, -1)
    given = list(view.frame.layers)
    layers[given] = given  # what a row says of its own layers is its own
    ends = (water.cold.low, water.cold.value, water.warm.value, water.warm.high)
    return _Alike(*distinct_rows([view.medium, layers, *ends, water.assumed]))


@remembered
def _rate_is_own(view: View) -> Flags:
    """True where the rate is that of the bed as named (no grain data of its own), not of its layers."""
    size = view.usual("d10_m")
    rate = view.usual("rate_low_m_s")
    return np.isnan(size) & ~np.isnan(rate)


def ceilings(view: View) -> Kept:
    """Ceilings worked out by now of beds of one medium."""
    return view.worked.kept("ceilings", _CEILINGS, window.CEILING_RESTS_ON, 1)


def ceiling(
    view: View, space_m: Floats, temperature_k: Floats, *, round_end: bool, depth_scale: Floats | None = None
) -> Floats:
    """Velocity [m/s] at which the whole bed fills `space_m`; infinite where nothing bounds it."""
    cut = strata(view)
    scale = np.ones(view.units) if depth_scale is None else depth_scale
    answer = np.full(view.units, np.inf)
    asked = np.flatnonzero(~np.isnan(space_m))
    media = np.where(cut.expands, cut.medium, -1)
    for rows, places in stacks_by_height(view, asked):
        deep = cut.depth_m[places] * scale[rows][:, None]
        blend = cut.blend[places].any(axis=1)
        for some, groups in ((~blend, [slice(None)]), (blend, np.arange(places.shape[1])[:, None])):
            mine = rows[some]
            for group in groups if len(mine) else ():
                found = window.freeboard_ceiling(
                    grains(view).at(media[places[some]][:, group]),
                    deep[some][:, group],
                    space_m[mine],
                    temperature_k[mine],
                    round_end=round_end,
                    kept=ceilings(view),
                )
                answer[mine] = np.fmin(answer[mine], found)
    return np.where(np.isnan(answer), np.inf, answer)


@remembered
def flow_window(view: View) -> FlowWindow:
    """The flow window of one vessel of each unit."""
    water = site.season(view)
    ground = site.area(view)
    row, kind = _alike(view)
    ends = [(end, end) for end in (_end(water, "low")[row], _end(water, "high")[row])]
    seasons = [(water.cold.value[row], water.warm.value[row]), *(ends if water.assumed.any() else ())]
    rates, *extremes = _rates(view, row, *seasons)
    now, (coldest, warmest) = rates.at(kind), extremes or (rates, rates)
    margin = view.setting("freeboard_margin")
    space = np.where(site.room(view).known, np.maximum(site.room(view).value - margin, 0.0), np.nan)
    hard = ceiling(view, space, water.cold.value, round_end=True)
    caution = ceiling(view, space, water.cold.value, round_end=False)
    high = np.minimum(now.high, hard)
    high_set_by = np.where(hard < now.high, int(window.Limit.FREEBOARD), now.high_set_by)
    clash, ratio = _clash(view, now, high, water)
    empty = clash != Clash.NONE
    gentle = empty & view.flag("loss_sensitive")
    target = np.where(gentle, high, np.sqrt(now.low * high))
    rate = view.usual("rate_low_m_s")
    parents = (_window_medium(view), ground, water.cold, water.warm)
    low_fact = _flow(view, now.low, coldest.low[kind], warmest.low[kind], parents)
    one, other = (np.minimum(end.high[kind], hard) for end in (warmest, coldest))
    high_fact = _flow(view, high, one, other, parents)
    size = ground.value
    physics = np.isnan(rate) & ~site.layered(view) & ~np.isnan(now.low)
    return FlowWindow(
        low_fact,
        target * size,
        high_fact,
        hard * size,
        caution * size,
        now.floor * size,
        now.carry_over * size,
        np.where(water.assumed, warmest.carry_over[kind], now.carry_over) * size,
        now.low_set_by.astype(np.int64),
        high_set_by,
        clash,
        ratio,
        now.low * size,
        now.high * size,
        physics,
    )


def flows_in_water(view: View, temperature_k: Floats) -> tuple[Floats, Floats]:
    """Least and most flow [m3/s] of each bed at one water temperature, freeboard left out; NaN not known."""
    every, size = np.arange(view.units), site.area(view).value
    (rates,) = _rates(view, every, (temperature_k, temperature_k))
    return rates.low * size, rates.high * size


def _end(water: site.Season, side: str) -> Floats:
    """Water at one end of an assumed range; as given where it is not assumed."""
    end = water.cold.low if side == "low" else water.warm.high
    given = water.cold.value if side == "low" else water.warm.value
    return np.where(water.assumed, end, given)


def _window_medium(view: View) -> Fact:
    """Medium as far as the window needs it: a grain size may be assumed, layers need no name of the whole.

    Layers that are filled in and not understood leave the bed unknown, whatever the medium is called.
    """
    named = site.medium(view)
    layers = view.frame.why_missing(fleet.LAYERS)
    alone = np.where(unusable(view.frame, fleet.LAYERS), layers, named.missing)
    missing = np.where(site.layered(view), 0, alone)
    usual = np.where(site.mesh_stated(view), named.origin, int(Origin.DEFAULT))
    return Fact(named.value, named.low, named.high, missing, weakest(named.origin, usual), named.columns)


def _flow(view: View, value: Floats, one: Floats, other: Floats, parents: tuple[Fact, ...]) -> Fact:
    size = site.area(view).value
    return computed(
        value * size,
        *parents,
        low=np.fmin(np.fmin(one, other), value) * size,
        high=np.fmax(np.fmax(one, other), value) * size,
    )


def _clash(view: View, now: window.Velocities, high: Floats, water: site.Season) -> tuple[Codes, Floats]:
    """Cause of an empty window and how far low lies over high."""
    empty = now.low > high
    cause = np.zeros(view.units, dtype=np.int64)
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = now.low / high
    if empty.any():
        row, kind = _alike(view)
        middle = (water.cold.value[row] + water.warm.value[row]) / 2
        (mean,) = _rates(view, row, (middle, middle))
        cause[empty] = Clash.BUILD
        cause[empty & (mean.low <= mean.high)[kind]] = Clash.SEASON
        cause[empty & (now.low <= now.high)] = Clash.FREEBOARD
    return cause, ratio


class Expansion(Struct, frozen=True):
    """Expansion of the bed (0.3 is 30 %) at the drain flow, in the coldest and the warmest water."""

    cold: Floats
    warm: Floats


@remembered
def expansion(view: View) -> Expansion:
    """Expansion at the flow to drain, catalogue grain shape (the larger end of the physics range)."""
    flow = site.drain_flow(view)
    return expansion_at(view, np.where(flow.known, flow.value, np.nan))


def expansion_at(view: View, flow_m3_s: Floats, *, round_end: bool = False) -> Expansion:
    """Expansion of each unit at a flow; `round_end` takes grains half-way to spheres, the smaller end."""
    water = site.season(view)
    velocity = flow_m3_s / site.area(view).value
    rows = np.flatnonzero(~np.isnan(velocity))
    cut = strata(view).of(rows)
    unit = rows[cut.unit]
    size = window.Grain(*grains(view).at(cut.medium).columns(round_end))
    cold, warm = np.full((2, view.units), np.nan)
    for grown, kelvin in ((cold, water.cold.value), (warm, water.warm.value)):
        grown[rows] = _mean_over_depth(cut, window.expansion_at(velocity[unit], size, kelvin[unit]))
    return Expansion(cold, warm)


class Compromise(Struct, frozen=True):
    """What the one flow between two seasons costs at each end.

    `short` is the share of the least warm-water flow that is missing, `over` the share above the most
    cold-water flow; `grown` the expansion at both ends. NaN where the seasons do not contradict each other.
    """

    short: Floats
    over: Floats
    grown: Expansion


@remembered
def compromise(view: View) -> Compromise:
    """The cost at each end of the best single flow where no flow serves the whole year."""
    found = flow_window(view)
    asked = found.clash == Clash.SEASON
    flow = np.where(asked, found.target, np.nan)
    return Compromise(
        np.maximum(1 - flow / found.low.value, 0.0),
        np.maximum(flow / found.high.value - 1, 0.0),
        expansion_at(view, flow),
    )


def _mean_over_depth(cut: Strata, value: Floats) -> Floats:
    """Mean of each bed over those of its layers that expand."""
    weight = np.where(cut.expands, np.where(np.isnan(cut.depth_m), 1.0, cut.depth_m), 0.0)
    usable = np.where(cut.expands, value, 0.0)
    total = np.bincount(cut.unit, usable * weight, len(cut.first))
    whole = np.bincount(cut.unit, weight, len(cut.first))
    with np.errstate(invalid="ignore", divide="ignore"):
        return total / whole


@remembered
def layers_turn_over(view: View) -> tuple[Flags, Flags]:
    """Whether an upper layer's coarse bottom is denser than the fine top below, and whether it was told."""
    wrong = np.zeros(view.units, dtype=bool)
    told = np.zeros(view.units, dtype=bool)
    water = site.season(view)
    found = flow_window(view)
    size = site.area(view).value
    for row, layers in view.frame.layers.items():
        if any(not np.isnan(layer.share) for layer in layers):
            continue
        velocity = found.target[row] / size[row]
        codes = np.array([layer.medium for layer in layers])
        beds = codes[~arrays.flag(view.catalogue, codes, "support")]
        for upper, lower in pairwise(beds):
            stable = window.layers_stratify(
                grains(view).at(np.array([upper])),
                grains(view).at(np.array([lower])),
                water.cold.value[row : row + 1],
                np.array([velocity]),
            )
            if not np.isnan(stable).any():
                told[row] = True
                wrong[row] |= not bool(stable[0])
    return wrong, told
