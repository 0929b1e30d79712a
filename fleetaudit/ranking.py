"""Order of the findings: tier by rule, inside it by the yearly cost of leaving it, never by confidence."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from fleetaudit.auditing.result import AuditResult, CheckResult, State
from fleetaudit.catalogue.model import Setting
from fleetaudit.facts import site
from fleetaudit.facts.fact import given
from fleetaudit.facts.frame import Codes, Flags, Floats
from fleetaudit.facts.needed import limits
from fleetaudit.facts.view import View
from fleetaudit.schema import fleet
from fleetaudit.schema.quantity import WEEK_SECONDS, YEAR_SECONDS

WATER, MEDIA, VISITS = "water and sewer", "media lost", "call-backs"
ENDS = ("low", "value", "high")
#: the check whose finding wastes water with every wash
WASTES_WATER = "restrictor-too-large"
#: share of the water over what a bed takes that is media (a setting); the loss goes by that water alone
CARRIED = "media_carried_out"
#: parts a volume of wasted water is told to, so that equal wastes worked out another way stay equal
FINEST = float(2**30)
#: places looked at where the order is worked out again with other prices, and the factor on those prices
FIRST_PLACES = 20
DOUBLED = 2.0
#: prices that may turn out otherwise, each with the settings it is made of
PRICES: Mapping[str, tuple[str, ...]] = {
    "water": ("water_price", "sewer_price"),
    "visit": ("visit_cost",),
    "medium": ("media_price",),
}
Settings = Mapping[str, Setting]


class Water(Struct, frozen=True):
    """Water over what the bed takes: flow [m3/s], length of a wash [s], washes a year, price [money/m3]."""

    over_m3_s: Floats
    length_s: Floats
    washes: Floats
    price: float

    @property
    def volume_m3(self) -> Floats:
        """Water wasted in a year, rounded so finely that no order hangs on how it was multiplied."""
        share, power = np.frexp(self.over_m3_s * self.length_s * self.washes)
        return np.asarray(np.ldexp(np.round(share * FINEST) / FINEST, power))


class Loss(Struct, frozen=True):
    """Media lost or fouled in a year: bed of all vessels [m3], share of it, price [money/m3]."""

    bed_m3: Floats
    share: float
    price: float


class Carried(Struct, frozen=True):
    """Media carried out in a year: water over what the bed takes [m3], share of it, price [money/m3]."""

    water_m3: Floats
    share: float
    price: float


class Visits(Struct, frozen=True):
    """Call-backs: chance of one in a year, and what it costs."""

    chance: float
    price: float


class Cost(Struct, frozen=True):
    """Yearly cost of leaving a finding, by unit: low, middle, high; the middle by kind and its make-up."""

    low: Floats
    mid: Floats
    high: Floats
    parts: dict[str, Floats]
    workings: tuple[Water | Loss | Carried | Visits, ...] = ()


class Ranked(Struct, frozen=True):
    """Findings in report order: unit and check positions, costs by check.

    A cost is None where the check found nothing, or nothing prices it.
    """

    unit: Codes
    check: Codes
    costs: tuple[Cost | None, ...]


class Sensitivity(Struct, frozen=True):
    """How many of the first places another finding takes where a price (a key of PRICES) is multiplied."""

    price: str
    factor: float
    moved: int
    places: int


def ranked(result: AuditResult, settings: Settings | None = None) -> Ranked:
    """All findings in report order; ties by account, so that visits group, then by row and check.

    `settings` are the prices to work with, those in force where not given.
    """
    found = _found(result, np.ones(result.view.units, dtype=bool))
    costs = _costs(result, found, settings)
    order = _order(result, found, _middle(found, costs))
    return Ranked(found.unit[order], found.check[order], costs)


class _Found(Struct, frozen=True):
    """Findings check by check: unit and check positions, tiers."""

    unit: Codes
    check: Codes
    tier: Codes


def _found(result: AuditResult, chosen: Flags) -> _Found:
    """Findings of chosen units."""
    units = [np.flatnonzero(chosen & (item.state == State.FOUND)) for item in result.checks]
    return _Found(
        np.concatenate(units),
        np.repeat(np.arange(len(units)), [len(places) for places in units]),
        np.concatenate([item.tier[places] for item, places in zip(result.checks, units, strict=True)]),
    )


def _costs(result: AuditResult, found: _Found, prices: Settings | None) -> tuple[Cost | None, ...]:
    """Yearly costs by check, None where it found nothing."""
    made = set(found.check.tolist())
    return tuple(
        yearly_cost(item, result.view, prices) if number in made else None
        for number, item in enumerate(result.checks)
    )


def _middle(found: _Found, costs: Sequence[Cost | None]) -> Floats:
    """Middle cost of each finding, nothing where nobody priced it."""
    ends = np.searchsorted(found.check, np.arange(len(costs) + 1))
    mid = np.zeros(len(found.unit))
    for cost, (first, last) in zip(costs, pairwise(ends.tolist()), strict=True):
        if cost is not None:
            mid[first:last] = cost.mid[found.unit[first:last]]
    return np.nan_to_num(mid)


def _order(result: AuditResult, found: _Found, mid: Floats) -> Codes:
    """Report order of findings."""
    view, unit = result.view, found.unit
    return np.lexsort((found.check, view.frame.rows[unit], _accounts(view)[unit], -mid, found.tier))


def _accounts(view: View) -> Codes:
    """Place of each unit's account in the order of their names."""

    def placed() -> Codes:
        names = view.frame.text(fleet.ACCOUNT)
        places = {name: place for place, name in enumerate(sorted(set(names)))}
        return np.array([places[name] for name in names], dtype=np.int64)

    return view.remember("places of accounts", placed)


def sensitivity(result: AuditResult, order: Ranked, chosen: Flags) -> tuple[Sensitivity, ...]:
    """Order of the chosen units with each price doubled, held against the order as it is."""
    settings, sensitivities = result.view.catalogue.settings, []
    kept = np.flatnonzero(chosen[order.unit])[:FIRST_PLACES]
    now = list(zip(order.unit[kept].tolist(), order.check[kept].tolist(), strict=True))
    found = _found(result, chosen)
    for price, keys in PRICES.items():
        dearer = dict(settings) | {key: _times(settings[key], DOUBLED) for key in keys}
        then = _first(result, found, dearer)
        moved = sum(before != after for before, after in zip(now, then, strict=True))
        sensitivities.append(Sensitivity(price, DOUBLED, moved, len(now)))
    return tuple(sensitivities)


def _first(result: AuditResult, found: _Found, prices: Settings) -> list[tuple[int, int]]:
    """The findings that take the first places at some prices."""
    mid = _middle(found, _costs(result, found, prices))
    ahead = _ahead(found.tier, mid, FIRST_PLACES)
    near = _Found(found.unit[ahead], found.check[ahead], found.tier[ahead])
    first = _order(result, near, mid[ahead])[:FIRST_PLACES]
    return list(zip(near.unit[first].tolist(), near.check[first].tolist(), strict=True))


def _ahead(tier: Codes, mid: Floats, places: int) -> Codes:
    """Positions of all findings that may take one of the first places, so that few are left to be ordered."""
    if len(tier) <= places:
        return np.arange(len(tier))
    last = np.partition(tier, places - 1)[places - 1]
    left = places - int(np.sum(tier < last))
    least = -np.partition(-mid[tier == last], left - 1)[left - 1]
    return np.flatnonzero((tier < last) | ((tier == last) & (mid >= least)))


def _times(setting: Setting, factor: float) -> Setting:
    return replace(
        setting, value=float(setting.value) * factor, low=setting.low * factor, high=setting.high * factor
    )


def yearly_cost(result: CheckResult, view: View, prices: Settings | None = None) -> Cost | None:
    """Expected yearly cost of leaving the finding of one check; None where Settings price nothing for it.

    What a flow too large wastes and what it carries out both go by the water wasted, and a visit costs the
    same for all of them. So these findings stand among themselves by that water, whatever it costs, and a
    lower price of water lifts none of them.
    """
    word = result.check.slug.replace("-", "_")
    settings = view.catalogue.settings if prices is None else prices
    visit, loss = settings.get(f"callback_{word}"), settings.get(f"media_loss_{word}")
    parts: list[tuple[str, tuple[Floats, Floats, Floats], Water | Loss | Carried | Visits]] = []
    if result.check.slug == WASTES_WATER:
        wasted = [_water(view, settings, end) for end in ENDS]
        gone = [_carried(use, settings, end) for use, end in zip(wasted, ENDS, strict=True)]
        low, mid, high = (lost.water_m3 * use.price for use, lost in zip(wasted, gone, strict=True))
        parts.append((WATER, (low, mid, high), wasted[1]))
        low, mid, high = (lost.water_m3 * lost.share * lost.price for lost in gone)
        parts.append((MEDIA, (low, mid, high), gone[1]))
    if loss is not None:
        bed, price = _bed(view), settings["media_price"]
        low, mid, high = (bed * _end(loss, end) * _end(price, end) for end in ENDS)
        parts.append((MEDIA, (low, mid, high), Loss(bed, float(loss.value), float(price.value))))
    if visit is not None:
        price = settings["visit_cost"]
        low, mid, high = (
            np.broadcast_to(np.float64(_end(visit, end) * _end(price, end)), view.units) for end in ENDS
        )
        parts.append((VISITS, (low, mid, high), Visits(float(visit.value), float(price.value))))
    if not parts:
        return None
    low, mid, high = (_sum([ends[place] for _, ends, _ in parts]) for place in range(len(ENDS)))
    return Cost(
        low, mid, high, {name: ends[1] for name, ends, _ in parts}, tuple(working for _, _, working in parts)
    )


def _sum(parts: Sequence[Floats]) -> Floats:
    """The parts added up; one alone, which may be the same for every unit, is not copied."""
    return parts[0] if len(parts) == 1 else np.asarray(np.sum(parts, axis=0))


def _end(setting: Setting, end: str) -> float:
    return float(getattr(setting, end))


def _water(view: View, settings: Settings, end: str) -> Water:
    """Water over what the bed takes, all year's washes; a flow beyond belief counts as the most believed."""
    most = limits(view).high
    flow = np.fmin(site.drain_flow(view).value, most * view.setting("slip_times"))
    over = np.maximum(np.nan_to_num(flow - most), 0.0) * site.vessels(view)
    minutes, interval = given(view.frame, fleet.WASH_MINUTES), given(view.frame, fleet.WASH_INTERVAL)
    length = np.where(minutes.known, minutes.value, _end(settings["wash_minutes"], end))
    usual = _end(settings["washes_per_week"], end) * YEAR_SECONDS / WEEK_SECONDS
    with np.errstate(divide="ignore", invalid="ignore"):
        washes = np.where(interval.known & (interval.value > 0), YEAR_SECONDS / interval.value, usual)
    return Water(
        over, length, washes, _end(settings["water_price"], end) + _end(settings["sewer_price"], end)
    )


def _carried(use: Water, settings: Settings, end: str) -> Carried:
    return Carried(use.volume_m3, _end(settings[CARRIED], end), _end(settings["media_price"], end))


def _bed(view: View) -> Floats:
    """Bed of all vessels of the row [m3], the usual fill where it is not known."""

    def filled() -> Floats:
        known = site.volume(view)
        bed = np.where(known.known, known.value, site.usual_depth(view).value * site.area(view).value)
        return np.asarray(np.nan_to_num(bed) * site.vessels(view))

    return view.remember("beds of all vessels", filled)
