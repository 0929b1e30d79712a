"""The drain restrictor passes too little water to lift the bed."""

import numpy as np

from fleetaudit.checks.check import Check, Outcome, Tier, Words
from fleetaudit.facts.likelihood import contradicted, many_media, too_small
from fleetaudit.facts.needed import fit, limits, needed
from fleetaudit.facts.site import drain_flow, judged, rating
from fleetaudit.facts.view import View
from fleetaudit.facts.window import flow_window
from fleetaudit.schema import fleet
from fleetaudit.schema.quantity import FLOW


def run(unit: View) -> Outcome:
    """Find units whose whole drain-flow interval lies below the window."""
    window, flow, advised, rated = flow_window(unit), drain_flow(unit), needed(unit).rating_m3_s, rating(unit)
    with np.errstate(invalid="ignore"):
        held_back = rated.known & (rated.value >= advised)
    return Outcome(
        applies=judged(unit),
        uses=(window.low, flow),
        found=fit(unit).small,
        numbers={"flow": flow, "low": limits(unit).low, "high": limits(unit).high, "fit": advised},
        words={
            "next": Words(
                held_back,
                (
                    "Fit a restrictor rated {fit} and confirm the flow with a bucket and a watch.",
                    "The restrictor is large enough: find what holds the flow back (supply, drain line, "
                    "a scaled or "
                    "wrong washer), then measure again.",
                ),
            )
        },
        doubt=contradicted(unit),
        probability=too_small(unit),
        capped=many_media(unit),
    )


CHECK = Check(
    slug="restrictor-too-small",
    title="Restrictor too small",
    tier=Tier.PLAN,
    core=True,
    needs=(fleet.SIZE, fleet.MEDIUM, fleet.RESTRICTOR),
    message="Passes {flow}; this bed of {medium} needs {low} to {high}.",
    why=(
        "Below {low} the bed does not open, so dirt stays in it; it packs, and water finds channels through "
        "it."
    ),
    fix="{next}",
    numbers={"flow": FLOW, "low": FLOW, "high": FLOW, "fit": FLOW},
    figures=("rate_low_m_s", "rate_high_m_s", "d10_m"),
    caution="Check first that pump and drain line can carry the larger flow.",
    run=run,
)
