"""How likely it is that a flow really lies outside what its bed needs, over all that nobody measured.

What "really" means. A finding is raised by practice: the rate the catalogue states, carried to the water of
the site. It is true when the bed itself says so: when in the warmest water the real flow expands the real bed
by less than the least expansion of the medium (too small), or when in the coldest it expands it by more than
the most, or beyond the real freeboard (too large). Where the two ends cross, a flow between them is neither.
So a finding counts as sure only where practice and physics both stand behind it; where they disagree about a
medium (calcite, the coarse carbon), the finding stands and its probability says that it has to be measured
first. Practice enters by raising the finding, not by moving the truth: were its rates mixed in, no
probability would come true on beds that expand by the laws.

A medium that practice washes without lifting it as a whole, and one without grain data, has no expansion to
be held to; there the finding is true when the real flow lies outside the real rate of practice, and the
rate's own range, the temperature it is stated for and the exponent of viscosity take the place of the grain.
A bed of several media is held to its window of practice too, as far off as laws of expansion differ
(`law_spread`), and is never called sure.

What varies, each evenly over its range: grain size, uniformity, density, sphericity, settled porosity, the
restrictor's tolerance or the error of a measured flow, both water temperatures, depth, freeboard and bore,
and the mesh where none is stated. The law of expansion is one more thing that varies: three laws share the
draws (settings `law_share_*`), each with an error of its own (`law_error`). Two of them are held by their
sources against measured beds of filter media and have all but 5 % of the weight. The law of the window has
the rest, with a sphericity anywhere from that of a resting bed half-way to a sphere: with the former it
expands sand up to 13 % deeper than the printed table it can be held against, and one draw in twenty is enough
to keep a finding from being sure where that law speaks against it.

The draws are fixed (`draws`), the flow is summed up exactly, and every number of a unit depends on its row
alone.
"""

from __future__ import annotations

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from fleetaudit.facts import draws, site
from fleetaudit.facts.drawn_beds import Beds, beds_of, kinds, law_ends
from fleetaudit.facts.frame import Codes, Flags, Floats
from fleetaudit.facts.needed import fit, inputs_are_doubtful, limits
from fleetaudit.facts.unit_ranges import BY_ROOM, BY_WATER, Ranges, ranges, setting_end
from fleetaudit.facts.view import View, remembered
from fleetaudit.facts.window import Clash, flow_window
from fleetaudit.hydraulics import held_at_porosity, water
from fleetaudit.hydraulics.arrays import distinct_rows

_ROWS_AT_ONCE = 64  # so that the draws of a lot stay in the processor's cache


class Water(Struct, frozen=True):
    """Water of each unit: logarithm of the viscosity at both ends of a range, and one density."""

    log_mu_low: Floats
    log_mu_high: Floats
    density: Floats

    def viscosity(self, name: str) -> Floats:
        """Viscosity of each unit and draw [Pa s]."""
        return np.exp(draws.evenly(self.log_mu_low, self.log_mu_high, name))


def _water(coldest_k: Floats, warmest_k: Floats) -> Water:
    low, high = (
        np.clip(coldest_k, water.COLDEST_K, water.WARMEST_K),
        np.clip(warmest_k, water.COLDEST_K, water.WARMEST_K),
    )
    return Water(
        np.log(water.viscosity_pa_s(low)),
        np.log(water.viscosity_pa_s(high)),
        np.asarray(water.density_kg_m3((low + high) / 2)),
    )


class Bounds(Struct, frozen=True):
    """Velocities [m/s] of each unit and draw: least and most by expansion, most by the freeboard."""

    low: Floats
    high: Floats
    freeboard: Floats


def _velocity(beds: Beds, porosity: Floats, mu: Floats, rho: Floats, first: int, second: int) -> Floats:
    """Velocity at a porosity, each draw by its own law."""
    galileo = beds.weight * rho * (beds.density - rho) / (mu * mu)
    reynolds = np.empty_like(galileo)
    one, two, three = np.s_[:, :first], np.s_[:, first:second], np.s_[:, second:]
    reynolds[one] = held_at_porosity.wen_yu(porosity[one], galileo[one])
    reynolds[two] = held_at_porosity.ergun_form(
        porosity[two], galileo[two], beds.viscous[two], beds.inertial[two]
    )
    reynolds[three] = held_at_porosity.akgiray_soyer(porosity[three], galileo[three], beds.sphericity[three])
    return reynolds * mu / (rho * beds.size_m) * beds.factor


def _bounds(beds: Beds, unit: Ranges, first: int, second: int) -> Bounds:
    """Bounds of some units; `beds` has one row for each."""
    low, high = _by_water(beds, unit, first, second)
    return Bounds(low, high, _by_room(beds, unit, first, second))


def _by_water(beds: Beds, unit: Ranges, first: int, second: int) -> tuple[Floats, Floats]:
    """Least and most by expansion, for which depth and freeboard do not count."""
    in_cold, in_warm = _water(unit.cold_low, unit.cold_high), _water(unit.warm_low, unit.warm_high)
    mu_cold, mu_warm = in_cold.viscosity("cold"), in_warm.viscosity("warm")
    low = _velocity(beds, beds.porosity_low, mu_warm, in_warm.density[:, None], first, second)
    high = _velocity(beds, beds.porosity_high, mu_cold, in_cold.density[:, None], first, second)
    if beds.by_rate.any():
        low = np.where(beds.by_rate, beds.rate_low * (beds.rate_viscosity / mu_warm) ** beds.exponent, low)
        high = np.where(beds.by_rate, beds.rate_high * (beds.rate_viscosity / mu_cold) ** beds.exponent, high)
    return low, high


def _by_room(beds: Beds, unit: Ranges, first: int, second: int) -> Floats:
    """Most by the freeboard, in cold water."""
    in_cold = _water(unit.cold_low, unit.cold_high)
    deep = draws.evenly(unit.depth_low, unit.depth_high, "depth")
    space = draws.evenly(unit.room_low, unit.room_high, "room") - unit.stacked[:, None] * deep
    space = np.maximum(space, 0.0)
    lifted = 1 - (1 - beds.settled) / (1 + space / deep)
    freeboard = _velocity(beds, lifted, in_cold.viscosity("cold"), in_cold.density[:, None], first, second)
    return np.where(np.isnan(freeboard), np.inf, freeboard)


class Odds(Struct, frozen=True):
    """Probability that the real flow is below, or above, what the bed takes; NaN where not asked for."""

    small: Floats
    large: Floats


def _odds_of(view: View, flow: Floats, rows: Codes, unit: Ranges) -> Odds:
    """Odds of some rows at the flows given [m3/s]; rows that are the same are worked out once."""
    small, large = np.full(view.units, np.nan), np.full(view.units, np.nan)
    if not len(rows):
        return Odds(small, large)
    first, second = law_ends(view.catalogue)
    every = kinds(view.catalogue)
    present, mine = np.unique(unit.kind[rows], return_inverse=True)
    table = beds_of(view.catalogue, [every[kind] for kind in present])
    some = unit.take(rows)
    representative, which = distinct_rows([*some.columns(), flow[rows]])
    waters, water_of = distinct_rows(some.take(representative).columns(BY_WATER))
    beds, bed_of = distinct_rows(some.take(representative).columns(BY_ROOM))
    order = np.lexsort((bed_of, water_of))  # so that a lot holds few beds at many flows
    below, above = np.empty(len(representative)), np.empty(len(representative))
    for start in range(0, len(order), _ROWS_AT_ONCE):
        places = order[start : start + _ROWS_AT_ONCE]
        part = representative[places]
        own, of_water = np.unique(water_of[places], return_inverse=True)
        lot = representative[waters[own]]
        low, high = _by_water(table.take(mine[lot]), some.take(lot), first, second)
        own, of_bed = np.unique(bed_of[places], return_inverse=True)
        lot = representative[beds[own]]
        freeboard = _by_room(table.take(mine[lot]), some.take(lot), first, second)
        bounds = Bounds(low[of_water], high[of_water], freeboard[of_bed])
        below[places], above[places] = _outside(bounds, some.take(part), flow[rows][part])
    small[rows], large[rows] = below[which], above[which]
    return Odds(small, large)


def _outside(bounds: Bounds, unit: Ranges, flow: Floats) -> tuple[Floats, Floats]:
    """Mean over the draws of the share of the real flow that lies below and above the bounds."""
    bore = draws.evenly(unit.bore_least, np.ones(len(flow)), "bore")
    scale = (unit.area / flow)[:, None] * bore
    most = np.minimum(bounds.high, bounds.freeboard)
    least_ratio, most_ratio = np.minimum(bounds.low, most) * scale, np.maximum(bounds.low, most) * scale
    slack = draws.evenly(unit.share_low, unit.share_high, "tolerance")
    below = draws.share_below(least_ratio, 1 - slack, 1 + slack)
    above = 1 - draws.share_below(most_ratio, 1 - slack, 1 + slack)
    return below.mean(axis=1), above.mean(axis=1)


@remembered
def many_media(view: View) -> Flags:
    """True for beds of several media: laws were compared on single ones, so none of these is sure."""
    layered = np.array([*(bool(medium.layers) for medium in view.catalogue.media), False])
    return np.asarray(site.layered(view) | layered[view.medium])


@remembered
def contradicted(view: View) -> Flags:
    """True where no probability can be believed: inputs contradict each other, or the bed is mis-built.

    A window that is empty over the year, or for want of freeboard, is none of that: the flow is held against
    the interval between its ends, in every draw, and the probability says how clear the case is.
    """
    return np.asarray(inputs_are_doubtful(view) | (flow_window(view).clash == Clash.BUILD))


def _odds(view: View, flow: Floats, asked: Flags, unit: Ranges) -> Odds:
    several = many_media(view)
    alone = _odds_of(view, flow, np.flatnonzero(asked & ~several & (view.medium >= 0)), unit)
    mixed = asked & several
    if not mixed.any():
        return alone
    return _odds_by_window(view, flow, np.flatnonzero(mixed), unit, alone)


def _odds_by_window(view: View, flow: Floats, rows: Codes, unit: Ranges, alone: Odds) -> Odds:
    """Odds of beds of several media: their window of practice, as far off as laws differ."""
    small, large = alone.small.copy(), alone.large.copy()
    for start in range(0, len(rows), _ROWS_AT_ONCE):
        part = rows[start : start + _ROWS_AT_ONCE]
        small[part], large[part] = _off_the_window(view, flow[part], part, unit.take(part))
    return Odds(small, large)


def _off_the_window(view: View, flow: Floats, rows: Codes, lot: Ranges) -> tuple[Floats, Floats]:
    found = flow_window(view)
    rate = np.exp(view.setting("law_spread") * draws.bell("error"))
    in_cold, in_warm = _water(lot.cold_low, lot.cold_high), _water(lot.warm_low, lot.warm_high)
    season = site.season(view)
    exponent = view.setting("default_temperature_exponent")
    cold = (water.viscosity_pa_s(season.cold.value[rows])[:, None] / in_cold.viscosity("cold")) ** exponent
    warm = (water.viscosity_pa_s(season.warm.value[rows])[:, None] / in_warm.viscosity("warm")) ** exponent
    low = found.low_without_freeboard[rows][:, None] * rate * warm
    high = found.high_without_freeboard[rows][:, None] * rate * cold
    with np.errstate(invalid="ignore"):
        ceiling = draws.evenly(found.caution[rows], found.hard[rows], "form")
    ceiling = np.where(np.isnan(ceiling), np.inf, ceiling)
    most = np.minimum(high, ceiling)
    slackness = draws.evenly(lot.share_low, lot.share_high, "tolerance")
    scale = 1 / flow[:, None]
    below = draws.share_below(np.minimum(low, most) * scale, 1 - slackness, 1 + slackness).mean(axis=1)
    above = 1 - draws.share_below(np.maximum(low, most) * scale, 1 - slackness, 1 + slackness).mean(axis=1)
    return below, above


@remembered
def fit_odds(view: View) -> Odds:
    """Odds of the units whose flow lies outside the window of practice."""
    lies = fit(view)
    asked = lies.small | lies.large | lies.straddles | lies.other_mesh
    return _odds(view, site.drain_flow(view).value, asked, ranges(view))


def too_small(view: View) -> Floats:
    """Probability that the real flow is too small for the bed."""
    return fit_odds(view).small


def too_large(view: View) -> Floats:
    """Probability that the real flow is too large for the bed."""
    return fit_odds(view).large


def outside(view: View) -> Floats:
    """Probability that the real flow is off on the side on which practice has it."""
    with np.errstate(invalid="ignore"):
        over = site.drain_flow(view).value > limits(view).high
    return np.where(over, fit_odds(view).large, fit_odds(view).small)


def limit_too_small(view: View, limit_m3_s: Floats, asked: Flags) -> Floats:
    """Probability that a restrictor of the largest rating a housing takes is too small for the bed."""
    usable = asked & np.isfinite(limit_m3_s) & flow_window(view).known
    settings = view.catalogue.settings["restrictor_tolerance"]
    unit = replace(
        ranges(view),
        share_low=np.full(view.units, setting_end(settings, "low")),
        share_high=np.full(view.units, setting_end(settings, "high")),
    )
    return _odds(view, limit_m3_s, usable, unit).small


@remembered
def freeboard_too_small(view: View) -> Floats:
    """Probability that the least flow for the bed in warm water already fills the freeboard in cold."""
    answer = np.full(view.units, np.nan)
    rows = np.flatnonzero((flow_window(view).clash == Clash.FREEBOARD) & (view.medium >= 0))
    several = many_media(view)[rows]
    answer[rows[several]] = 0.0
    rows = rows[~several]
    for start in range(0, len(rows), _ROWS_AT_ONCE):
        part = rows[start : start + _ROWS_AT_ONCE]
        lot = ranges(view).take(part)
        table = beds_of(view.catalogue, [kinds(view.catalogue)[kind] for kind in lot.kind])
        bounds = _bounds(table, lot, *law_ends(view.catalogue))
        answer[part] = (bounds.freeboard < bounds.low).mean(axis=1)
    return answer
