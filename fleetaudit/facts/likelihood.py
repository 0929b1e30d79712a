"""How likely it is that a flow really lies outside what its bed needs, over all that nobody measured.

What "really" means. A finding is raised by practice: the rate the catalogue states, carried to the water of the site.
It is true when the bed itself says so: when in the warmest water the real flow expands the real bed by less than the
least expansion of the medium (too small), or when in the coldest water it expands it by more than the most, or beyond
the real freeboard (too large). Where the two ends cross, a flow between them is neither. So a finding counts as sure
only where practice and physics both stand behind it; where they disagree about a medium (calcite, the coarse carbon),
the finding stands and its probability says that it has to be measured first.

A medium that practice washes without lifting it as a whole, and one without grain data, has no expansion to be held
to; there the finding is true when the real flow lies outside the real rate of practice, and the rate's own range, the
temperature it is stated for and the exponent of viscosity take the place of the grain.

What varies, each evenly over its range: grain size, uniformity, density, sphericity, settled porosity, the restrictor's
tolerance or the error of a measured flow, both water temperatures, depth, freeboard and bore, and the mesh where none
is stated. The laws of expansion are one more thing that varies: three of them share the draws (see the settings
`law_share_*`), each with an error of its own. With the sphericity of a resting bed the primary law expands crushed
grains too far, and it takes the range from there half-way to a sphere; the other two are those whose sources hold them
against measured beds of filter media, and they have most of the weight.

The draws are fixed (`draws`), the flow is summed up exactly, and every number of a unit depends on its row alone.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from fleetaudit.catalogue import arrays
from fleetaudit.catalogue.model import Catalogue, Medium, Setting
from fleetaudit.facts import draws, site
from fleetaudit.facts.fact import given
from fleetaudit.facts.frame import Codes, Flags, Floats
from fleetaudit.facts.needed import fit, limits
from fleetaudit.facts.view import View, remembered
from fleetaudit.facts.window import GRAIN, Clash, flow_window
from fleetaudit.hydraulics import bed, held_at_porosity, water
from fleetaudit.hydraulics.arrays import distinct_rows
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Origin

_ROWS_AT_ONCE = 256
_LEAST_DEPTH_M = 0.02  # keeps room over depth finite
_LAYERS_AT_K = 283.15 # temperature at which ten layers are compared with their d60 grain; the ratio hardly moves


@dataclass(frozen=True)
class Beds:
    """Draws of the media of a view, one row for each kind of bed and one column for each draw.

    Everything that does not depend on the water: size d60 [m], grain density [kg/m3], sphericity as the law of the
    column takes it, settled porosity, porosity at the least and the most expansion, constants of the Ergun form, and
    a factor on the velocity for layers and the law's error. `by_rate` marks draws that follow practice, with rates
    [m/s], their temperature [K] and exponent.
    """

    size_m: Floats
    density: Floats
    sphericity: Floats
    settled: Floats
    porosity_low: Floats
    porosity_high: Floats
    viscous: Floats
    inertial: Floats
    factor: Floats
    by_rate: Flags
    rate_low: Floats
    rate_high: Floats
    rate_viscosity: Floats
    exponent: Floats

    def take(self, rows: Codes) -> Beds:
        """Rows of the table, one for each unit."""
        return Beds(*(getattr(self, name)[rows] for name in self.__dataclass_fields__))


def _law_ends(catalogue: Catalogue) -> tuple[int, int]:
    """Draws before the first number take the law of Wen and Yu, before the second the Ergun form, the rest the primary."""
    first = catalogue.number("law_share_wen_yu")
    second = first + catalogue.number("law_share_ergun_form")
    return round(first * draws.DRAWS), min(round(second * draws.DRAWS), draws.DRAWS)


def _candidates(catalogue: Catalogue, code: int, stated: bool) -> list[int]:
    """Media a bed may be made of: its own, and the other meshes of it where none is stated."""
    mine = catalogue.media[code]
    if stated:
        return [code]
    return [code, *(
        other for other, medium in enumerate(catalogue.media)
        if other != code and medium.family == mine.family and "rate_low_m_s" in medium.figures and not medium.support
    )]


def _ends(medium: Medium, key: str) -> tuple[float, float]:
    figure = medium.figures.get(key)
    return (np.nan, np.nan) if figure is None else (figure.low, figure.high)


def _made_of(catalogue: Catalogue, keys: list[tuple[int, bool]]) -> Codes:
    """Medium of each kind of bed in each draw."""
    place = draws.points()["mesh"]
    share = catalogue.number("stated_mesh_share")
    made = np.empty((len(keys), draws.DRAWS), dtype=np.int64)
    for row, (code, stated) in enumerate(keys):
        choice = np.array(_candidates(catalogue, code, stated))
        others = len(choice) - 1
        rest = np.floor((place - share) / (1 - share) * others).astype(np.int64) + 1 if others else 0
        made[row] = choice[np.where(place < share, 0, rest)]
    return made


def _beds(catalogue: Catalogue, keys: list[tuple[int, bool]]) -> Beds:
    made = _made_of(catalogue, keys)
    codes, inverse = np.unique(made, return_inverse=True)
    inverse = inverse.reshape(made.shape)
    media = [catalogue.media[code] for code in codes]

    def drawn(key: str, name: str, missing: tuple[float, float] = (np.nan, np.nan)) -> Floats:
        ends = np.array([_ends(medium, key) if key in medium.figures else missing for medium in media])
        place = draws.points()[name]
        low, high = ends[:, 0], ends[:, 1]
        return np.asarray(low[inverse] + (high - low)[inverse] * place)

    def fixed(key: str) -> Floats:
        return arrays.spread(catalogue, codes, key)[0][inverse]

    number = catalogue.number
    uniformity = np.maximum(drawn("uniformity", "uniformity"), 1.0)
    psi = np.minimum(drawn("sphericity", "sphericity"), 1.0)
    settled = drawn("porosity", "porosity")
    _, ergun_end = _law_ends(catalogue)
    form = draws.points()["form"]
    sharp = np.where(psi < number("ergun_sphericity_round"), form, 0.0)
    viscous = number("ergun_viscous_round") + sharp * (number("ergun_viscous_sharp") - number("ergun_viscous_round"))
    inertial = number("ergun_inertial_round") + sharp * (number("ergun_inertial_sharp") - number("ergun_inertial_round"))
    factor = np.exp(number("law_error") * draws.bell("error"))[None, :] * np.ones(made.shape)
    factor[:, ergun_end:] *= _layers_against_d60(catalogue, codes)[inverse][:, ergun_end:]
    default_t = (number("default_rate_temperature"),) * 2
    exponent = number("default_temperature_exponent")
    no_lift = np.array([medium.partial_ok or any(key not in medium.figures for key in GRAIN) for medium in media])
    rate_k = drawn("rate_temperature_k", "rate_temperature", default_t)
    return Beds(
        size_m=drawn("d10_m", "d10") * uniformity,
        density=drawn("grain_density_kg_m3", "density"),
        sphericity=psi + form * (1 - psi) / 2,
        settled=settled,
        porosity_low=1 - (1 - settled) / (1 + fixed("expansion_low")),
        porosity_high=1 - (1 - settled) / (1 + fixed("expansion_high")),
        viscous=viscous,
        inertial=inertial,
        factor=factor,
        by_rate=no_lift[inverse],
        rate_low=drawn("rate_low_m_s", "rate"),
        rate_high=drawn("rate_high_m_s", "rate"),
        rate_viscosity=np.asarray(water.viscosity_pa_s(rate_k)),
        exponent=np.where(np.isnan(fixed("temperature_exponent")), exponent, fixed("temperature_exponent")),
    )


def _layers_against_d60(catalogue: Catalogue, codes: Codes) -> Floats:
    """Velocity of ten layers over that of their d60 grain at the target expansion, by the primary law."""
    d10, uc, rho_s, psi, eps0 = (arrays.spread(catalogue, codes, key)[0] for key in GRAIN)
    target = arrays.spread(catalogue, codes, "expansion_target")[0]
    kelvin = np.full(len(codes), _LAYERS_AT_K)
    layered = bed.velocity_for_expansion(target, d10, uc, rho_s, psi, eps0, kelvin)
    rho, mu = water.density_kg_m3(_LAYERS_AT_K), water.viscosity_pa_s(_LAYERS_AT_K)
    porosity = bed.porosity_from_expansion(target, eps0)
    alone = bed.velocity_for_porosity(porosity, d10 * uc, rho_s, psi, rho, mu)
    ratio = np.asarray(layered / alone)
    return np.where(np.isnan(ratio), 1.0, ratio)


@dataclass(frozen=True)
class Water:
    """Water of each unit: logarithm of the viscosity at both ends of a range, and one density."""

    log_mu_low: Floats
    log_mu_high: Floats
    density: Floats

    def viscosity(self, name: str) -> Floats:
        """Viscosity of each unit and draw [Pa s]."""
        return np.exp(draws.evenly(self.log_mu_low, self.log_mu_high, name))


def _water(coldest_k: Floats, warmest_k: Floats) -> Water:
    low, high = np.clip(coldest_k, water.COLDEST_K, water.WARMEST_K), np.clip(warmest_k, water.COLDEST_K, water.WARMEST_K)
    return Water(
        np.log(water.viscosity_pa_s(low)), np.log(water.viscosity_pa_s(high)),
        np.asarray(water.density_kg_m3((low + high) / 2)),
    )


def _season_ranges(view: View) -> tuple[Floats, Floats, Floats, Floats]:
    """Least and most of the coldest and of the warmest water [K]: error of a cell, or the range of the default."""
    season = site.season(view)
    error = view.setting("stated_temperature_error")
    swing = view.setting("single_temperature_swing")
    single = ~season.assumed & (season.cold.value == season.warm.value)
    below, above = np.where(single, swing, error), np.where(single, swing, error)
    ranges = [season.cold.value - below, season.cold.value + np.where(single, 0, error),
              season.warm.value - np.where(single, 0, error), season.warm.value + above]
    names = [*fleet.WATER_SOURCE.choices, "mixed"]
    source = view.frame.code(fleet.WATER_SOURCE.name)
    settings = view.catalogue.settings
    for place, (end, side) in enumerate((("cold", "low"), ("cold", "high"), ("warm", "low"), ("warm", "high"))):
        table = np.array([_setting_end(settings[f"water_{name}_{end}"], side) for name in names])
        ranges[place] = np.where(season.assumed, table[source], ranges[place])
    cold_low, cold_high, warm_low, warm_high = ranges
    return cold_low, cold_high, warm_low, warm_high


def _setting_end(setting: Setting, side: str) -> float:
    end = float(getattr(setting, side))
    return float(setting.value) if np.isnan(end) else end


@dataclass(frozen=True)
class Ranges:
    """What varies about each unit besides its medium; all arrays of one value for each unit, SI.

    `room` is the space above the bed, or where `stacked` is 1 that above the gravel, of which the bed takes its depth.
    """

    kind: Codes
    area: Floats
    bore_least: Floats
    cold_low: Floats
    cold_high: Floats
    warm_low: Floats
    warm_high: Floats
    depth_low: Floats
    depth_high: Floats
    room_low: Floats
    room_high: Floats
    stacked: Floats
    share_low: Floats
    share_high: Floats

    def columns(self) -> list[Floats]:
        """All of them as floats, to find rows that repeat."""
        return [np.asarray(getattr(self, name), dtype=np.float64) for name in self.__dataclass_fields__]

    def take(self, rows: Codes | Flags) -> Ranges:
        """Some of the units."""
        return Ranges(*(getattr(self, name)[rows] for name in self.__dataclass_fields__))


@remembered
def _keys(view: View) -> list[tuple[int, bool]]:
    """Kinds of bed: every medium, with its mesh stated and without."""
    return [(code, stated) for code in range(len(view.catalogue.media)) for stated in (True, False)]


@remembered
def ranges(view: View) -> Ranges:
    """Ranges of each unit."""
    cold_low, cold_high, warm_low, warm_high = _season_ranges(view)
    depth_low, depth_high, room_low, room_high, stacked = _heights(view)
    share = view.catalogue.settings["restrictor_tolerance"]
    measured = given(view.frame, fleet.MEASURED)
    weak = site.supply(view).known & (site.drain_flow(view).value == site.supply(view).value) & ~measured.known
    bucket = view.catalogue.settings["measured_flow_tolerance"]
    by_bucket = measured.known | weak
    return Ranges(
        kind=np.where(view.medium >= 0, view.medium * 2 + ~site.mesh_stated(view), -1),
        area=site.area(view).value,
        bore_least=_bore_least(view),
        cold_low=cold_low, cold_high=cold_high, warm_low=warm_low, warm_high=warm_high,
        depth_low=np.maximum(depth_low, _LEAST_DEPTH_M), depth_high=np.maximum(depth_high, _LEAST_DEPTH_M),
        room_low=room_low, room_high=room_high, stacked=stacked,
        share_low=np.where(by_bucket, _setting_end(bucket, "low"), _setting_end(share, "low")),
        share_high=np.where(by_bucket, _setting_end(bucket, "high"), _setting_end(share, "high")),
    )


def _heights(view: View) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Least and most depth, least and most room [m], and where the room still holds the bed (1) or not (0).

    A bed nobody measured is the usual fill of that vessel, in proportion to its height; the room above it is what dome,
    distributor and gravel leave of a height that was given or is the usual one of that vessel.
    """
    usual = np.array([*(row.default_height_m for row in view.catalogue.vessels), np.nan])[site.vessel_row(view)]
    given_height = site.height(view).value
    tall = np.where(np.isnan(given_height), usual, given_height)
    fill, error = site.depth(view), view.setting("depth_tolerance")
    read = site.measured_depth(view).known
    scale = np.where(np.isnan(tall / usual), 1.0, tall / usual)
    depth_low = np.where(read, fill.value - error, fill.low * scale)
    depth_high = np.where(read, fill.value + error, fill.high * scale)
    settings = view.catalogue.settings
    gravel = view.frame.number(fleet.GRAVEL)
    nominal = view.frame.number(fleet.DIAMETER)

    def above_gravel(side: str) -> Floats:
        below = np.where(np.isnan(gravel), _setting_end(settings["default_gravel_depth"], side), gravel)
        dome, collector = (_setting_end(settings[key], side) for key in ("dome_allowance", "collector_allowance"))
        return np.asarray(tall - dome * nominal - collector - below)

    cell, derived = given(view.frame, fleet.FREEBOARD), site.derived_room(view)
    least, most = above_gravel("high"), above_gravel("low")
    stacked = ~cell.known & ~np.isnan(least)
    room_low = np.select([cell.known, stacked], [cell.value - error, least], derived.low)
    room_high = np.select([cell.known, stacked], [cell.value + error, most], derived.high)
    return depth_low, depth_high, room_low, room_high, stacked.astype(np.float64)


def _bore_least(view: View) -> Floats:
    """Least real area over the area used; 1 where the inside diameter was measured or switched on."""
    table = [
        (row.inside.low / row.diameter_m) ** 2 if row.inside is not None
        else view.setting("unmeasured_bore_least") ** 2
        for row in view.catalogue.vessels
    ]
    share = np.array([*table, view.setting("unmeasured_bore_least") ** 2])[site.vessel_row(view)]
    nominal = site.diameter(view).value == view.frame.number(fleet.DIAMETER)
    inside = given(view.frame, fleet.INSIDE).known
    return np.where(nominal & ~inside, share, 1.0)


@dataclass(frozen=True)
class Bounds:
    """Velocities [m/s] of each unit and draw: least by expansion, most by expansion, most by the freeboard."""

    low: Floats
    high: Floats
    freeboard: Floats


def _velocity(beds: Beds, porosity: Floats, mu: Floats, rho: Floats, first: int, second: int) -> Floats:
    """Velocity at a porosity, each draw by its own law."""
    galileo = bed.galileo(beds.size_m, beds.density, rho, mu)
    reynolds = np.empty_like(galileo)
    one, two, three = np.s_[:, :first], np.s_[:, first:second], np.s_[:, second:]
    reynolds[one] = held_at_porosity.wen_yu(porosity[one], galileo[one])
    reynolds[two] = held_at_porosity.ergun_form(porosity[two], galileo[two], beds.viscous[two], beds.inertial[two])
    reynolds[three] = held_at_porosity.akgiray_soyer(porosity[three], galileo[three], beds.sphericity[three])
    return reynolds * mu / (rho * beds.size_m) * beds.factor


def _bounds(beds: Beds, unit: Ranges, first: int, second: int) -> Bounds:
    """Bounds of some units; `beds` has one row for each."""
    in_cold, in_warm = _water(unit.cold_low, unit.cold_high), _water(unit.warm_low, unit.warm_high)
    mu_cold, mu_warm = in_cold.viscosity("cold"), in_warm.viscosity("warm")
    rho_cold, rho_warm = in_cold.density[:, None], in_warm.density[:, None]
    low = _velocity(beds, beds.porosity_low, mu_warm, rho_warm, first, second)
    high = _velocity(beds, beds.porosity_high, mu_cold, rho_cold, first, second)
    deep = draws.evenly(unit.depth_low, unit.depth_high, "depth")
    space = draws.evenly(unit.room_low, unit.room_high, "room") - unit.stacked[:, None] * deep
    space = np.maximum(space, 0.0)
    lifted = 1 - (1 - beds.settled) / (1 + space / deep)
    freeboard = _velocity(beds, lifted, mu_cold, rho_cold, first, second)
    freeboard = np.where(np.isnan(freeboard), np.inf, freeboard)
    if beds.by_rate.any():
        low = np.where(beds.by_rate, beds.rate_low * (beds.rate_viscosity / mu_warm) ** beds.exponent, low)
        high = np.where(beds.by_rate, beds.rate_high * (beds.rate_viscosity / mu_cold) ** beds.exponent, high)
    return Bounds(low, high, freeboard)


@dataclass(frozen=True)
class Odds:
    """Probability that the real flow is below, or above, what the bed takes; NaN where it was not asked for or known."""

    small: Floats
    large: Floats


def _odds_of(view: View, flow: Floats, rows: Codes, unit: Ranges) -> Odds:
    """Odds of some rows at the flows given [m3/s], worked out once for rows that are the same."""
    small, large = np.full(view.units, np.nan), np.full(view.units, np.nan)
    if not len(rows):
        return Odds(small, large)
    first, second = _law_ends(view.catalogue)
    kinds, mine = np.unique(unit.kind[rows], return_inverse=True)
    table = _beds(view.catalogue, [_keys(view)[kind] for kind in kinds])
    some = unit.take(rows)
    representative, which = distinct_rows([*some.columns(), flow[rows]])
    below, above = np.empty(len(representative)), np.empty(len(representative))
    for start in range(0, len(representative), _ROWS_AT_ONCE):
        part = representative[start : start + _ROWS_AT_ONCE]
        lot = some.take(part)
        bounds = _bounds(table.take(mine[part]), lot, first, second)
        below[start : start + len(part)], above[start : start + len(part)] = _outside(bounds, lot, flow[rows][part])
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
    """True for beds of several media: the laws were compared on single ones, so that no such finding is sure."""
    layered = np.array([*(bool(medium.layers) for medium in view.catalogue.media), False])
    return np.asarray(site.layered(view) | layered[view.medium])


def _odds(view: View, flow: Floats, asked: Flags, unit: Ranges) -> Odds:
    several = many_media(view)
    alone = _odds_of(view, flow, np.flatnonzero(asked & ~several & (view.medium >= 0)), unit)
    mixed = asked & several
    if not mixed.any():
        return alone
    return _odds_by_window(view, flow, np.flatnonzero(mixed), unit, alone)


def _odds_by_window(view: View, flow: Floats, rows: Codes, unit: Ranges, alone: Odds) -> Odds:
    """Odds of beds of several media: their window of practice, with the range of the rate and of the ceiling."""
    found = flow_window(view)
    lot = unit.take(rows)
    off = np.full(len(rows), np.log1p(view.setting("several_media_error")))
    rate = np.exp(draws.evenly(-off, off, "rate"))
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
    scale = 1 / flow[rows][:, None]
    small, large = alone.small.copy(), alone.large.copy()
    small[rows] = draws.share_below(np.minimum(low, most) * scale, 1 - slackness, 1 + slackness).mean(axis=1)
    large[rows] = 1 - draws.share_below(np.maximum(low, most) * scale, 1 - slackness, 1 + slackness).mean(axis=1)
    return Odds(small, large)


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
        share_low=np.full(view.units, _setting_end(settings, "low")),
        share_high=np.full(view.units, _setting_end(settings, "high")),
    )
    return _odds(view, limit_m3_s, usable, unit).small


@remembered
def freeboard_too_small(view: View) -> Floats:
    """Probability that the least flow that lifts the bed in warm water already fills the freeboard in cold water."""
    answer = np.full(view.units, np.nan)
    rows = np.flatnonzero((flow_window(view).clash == Clash.FREEBOARD) & (view.medium >= 0))
    several = many_media(view)[rows]
    answer[rows[several]] = 0.0
    rows = rows[~several]
    for start in range(0, len(rows), _ROWS_AT_ONCE):
        part = rows[start : start + _ROWS_AT_ONCE]
        lot = ranges(view).take(part)
        table = _beds(view.catalogue, [_keys(view)[kind] for kind in lot.kind])
        bounds = _bounds(table, lot, *_law_ends(view.catalogue))
        answer[part] = (bounds.freeboard < bounds.low).mean(axis=1)
    return answer
