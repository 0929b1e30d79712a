"""Order of the findings: tier by rule, inside a tier by the yearly cost of leaving it; confidence never enters."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fleetaudit.auditing.result import AuditResult, CheckResult, State
from fleetaudit.catalogue.model import Setting
from fleetaudit.facts import site
from fleetaudit.facts.fact import given
from fleetaudit.facts.frame import Codes, Floats
from fleetaudit.facts.needed import limits
from fleetaudit.facts.view import View
from fleetaudit.schema import fleet
from fleetaudit.schema.quantity import WEEK_SECONDS, YEAR_SECONDS

WATER, MEDIA, VISITS = "water and sewer", "media lost", "call-backs"
ENDS = ("low", "value", "high")
#: the check whose finding wastes water with every wash
WASTES_WATER = "restrictor-too-large"


@dataclass(frozen=True)
class Cost:
    """Yearly cost of leaving a finding, for every unit: low, middle, high, and the middle by kind."""

    low: Floats
    mid: Floats
    high: Floats
    parts: dict[str, Floats]


@dataclass(frozen=True)
class Ranked:
    """Findings in report order: unit and check positions, with their costs by check (None where nothing prices it)."""

    unit: Codes
    check: Codes
    costs: tuple[Cost | None, ...]


def ranked(result: AuditResult) -> Ranked:
    """All findings in report order; ties by account, so that visits group, then by row and check."""
    costs = tuple(yearly_cost(item, result.view) for item in result.checks)
    unit, check = result.pairs(State.FOUND)
    if not len(unit):
        return Ranked(unit, check, costs)
    tier = np.stack([item.tier for item in result.checks], axis=1)[unit, check]
    nothing = np.zeros(result.view.units)
    mid = np.stack([nothing if cost is None else cost.mid for cost in costs], axis=1)[unit, check]
    account = np.unique(np.array(result.view.frame.text(fleet.ACCOUNT), dtype=np.str_), return_inverse=True)[1]
    order = np.lexsort((check, result.view.frame.rows[unit], account[unit], -np.nan_to_num(mid), tier))
    return Ranked(unit[order], check[order], costs)


def yearly_cost(result: CheckResult, view: View) -> Cost | None:
    """Expected yearly cost of leaving the finding of one check; None where Settings price nothing for it."""
    word = result.check.slug.replace("-", "_")
    settings = view.catalogue.settings
    visit, loss = settings.get(f"callback_{word}"), settings.get(f"media_loss_{word}")
    parts: list[tuple[str, tuple[Floats, Floats, Floats]]] = []
    if result.check.slug == WASTES_WATER:
        parts.append((WATER, _water(view)))
    if loss is not None:
        parts.append((MEDIA, _media(view, loss)))
    if visit is not None:
        each = [_end(visit, end) * _end(settings["visit_cost"], end) for end in ENDS]
        parts.append((VISITS, _three(view, *each)))
    if not parts:
        return None
    low, mid, high = (np.sum([ends[place] for _, ends in parts], axis=0) for place in range(len(ENDS)))
    return Cost(low, mid, high, {name: ends[1] for name, ends in parts})


def _end(setting: Setting, end: str) -> float:
    return float(getattr(setting, end))


def _three(view: View, low: float, mid: float, high: float) -> tuple[Floats, Floats, Floats]:
    return np.full(view.units, low), np.full(view.units, mid), np.full(view.units, high)


def _water(view: View) -> tuple[Floats, Floats, Floats]:
    """Water over what the bed takes, for all washes of a year."""
    settings = view.catalogue.settings
    over = np.maximum(np.nan_to_num(site.drain_flow(view).value - limits(view).high), 0.0) * site.vessels(view)
    minutes, interval = given(view.frame, fleet.WASH_MINUTES), given(view.frame, fleet.WASH_INTERVAL)
    ends = []
    for end in ENDS:
        length = np.where(minutes.known, minutes.value, _end(settings["wash_minutes"], end))
        usual = _end(settings["washes_per_week"], end) * YEAR_SECONDS / WEEK_SECONDS
        with np.errstate(divide="ignore", invalid="ignore"):
            washes = np.where(interval.known & (interval.value > 0), YEAR_SECONDS / interval.value, usual)
        price = _end(settings["water_price"], end) + _end(settings["sewer_price"], end)
        ends.append(over * length * washes * price)
    return ends[0], ends[1], ends[2]


def _media(view: View, share: Setting) -> tuple[Floats, Floats, Floats]:
    """Share of the bed that is lost or spoilt in a year, at the price of the medium."""
    known = site.volume(view)
    bed = np.where(known.known, known.value, site.usual_depth(view).value * site.area(view).value)
    bed = np.nan_to_num(bed) * site.vessels(view)
    price = view.catalogue.settings["media_price"]
    low, mid, high = (bed * _end(share, end) * _end(price, end) for end in ENDS)
    return low, mid, high
