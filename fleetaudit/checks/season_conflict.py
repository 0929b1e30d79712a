"""No single restrictor serves both the coldest and the warmest water of the site."""

import numpy as np

from fleetaudit.checks.check import Check, Outcome, Tier
from fleetaudit.facts.fact import first_reason, given
from fleetaudit.facts.site import judged, season
from fleetaudit.facts.view import View
from fleetaudit.facts.window import Clash, compromise, flow_window
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Missing
from fleetaudit.schema.quantity import FLOW, SHARE, TEMPERATURE


def run(unit: View) -> Outcome:
    """Find windows empty over the year but open at its mean temperature; only where both ends were given."""
    window, water = flow_window(unit), season(unit)
    assumed = np.where(water.assumed, int(Missing.ASSUMED), int(Missing.KNOWN))
    ends = [given(unit.frame, column).missing for column in (fleet.COLD, fleet.WARM)]
    spoiled = [
        np.where(np.isin(end, (Missing.BLANK, Missing.NO_COLUMN)), int(Missing.KNOWN), end) for end in ends
    ]
    reason = first_reason(window.low.missing, *spoiled, assumed, *ends)
    cost = compromise(unit)
    with np.errstate(invalid="ignore"):
        wide = window.ratio > 1 + unit.setting("restrictor_tolerance")
    return Outcome(
        applies=judged(unit),
        missing=reason,
        found=window.clash == Clash.SEASON,
        numbers={
            "warm": water.warm,
            "cold": water.cold,
            "low": window.low,
            "high": window.high,
            "target": window.target,
            "short": cost.short,
            "over": cost.over,
            "warm_rise": cost.grown.warm,
            "cold_rise": cost.grown.cold,
        },
        doubt=np.ones(unit.units, dtype=bool),
        tier=np.where(wide, int(Tier.PLAN), int(Tier.NOTE)),
    )


CHECK = Check(
    slug="season-conflict",
    title="Summer and winter need different flows",
    tier=Tier.NOTE,
    needs=(fleet.MEDIUM, fleet.COLD, fleet.WARM),
    message="Warm water ({warm}) needs {low} or more; cold water ({cold}) takes no more than {high}.",
    why="Cold water is thicker and lifts the bed more; one washer cannot follow the seasons.",
    fix="Confirm both temperatures; then {target} is the best compromise: {short} under the least in warm "
    "water "
    "(expansion {warm_rise}), {over} over the most in cold water (expansion {cold_rise}). Or change the "
    "restrictor twice a year.",
    numbers={
        "warm": TEMPERATURE,
        "cold": TEMPERATURE,
        "low": FLOW,
        "high": FLOW,
        "target": FLOW,
        "short": SHARE,
        "over": SHARE,
        "warm_rise": SHARE,
        "cold_rise": SHARE,
    },
    figures=("rate_low_m_s", "rate_high_m_s", "d10_m"),
    run=run,
)
