"""The drain restrictor lies across an end of the flow window: too close to call without a measurement."""

import numpy as np

from fleetaudit.checks.check import Check, Outcome, Tier, Words
from fleetaudit.facts.likelihood import contradicted, many_media, outside
from fleetaudit.facts.needed import fit, limits, needed
from fleetaudit.facts.site import drain_flow, judged
from fleetaudit.facts.view import View
from fleetaudit.facts.window import flow_window
from fleetaudit.schema import fleet
from fleetaudit.schema.quantity import FLOW


def run(unit: View) -> Outcome:
    """Find units whose nominal flow is outside but interval reaches in, or that suit another grain size."""
    window, flow, lies = flow_window(unit), drain_flow(unit), fit(unit)
    found = lies.straddles | lies.other_mesh
    with np.errstate(invalid="ignore"):
        side = np.where(lies.other_mesh, 2, np.where(flow.value > limits(unit).high, 1, 0))
    return Outcome(
        applies=judged(unit),
        uses=(window.low, flow),
        found=found,
        numbers={
            "flow": flow,
            "low": limits(unit).low,
            "high": limits(unit).high,
            "fit": needed(unit).rating_m3_s,
        },
        words={
            "side": Words(
                side,
                (
                    "a little under it",
                    "a little over it",
                    "outside it for the usual grain size, but right for another size of this medium",
                ),
            ),
            "next": Words(
                side == 2,
                (
                    (
                        "Measure the drain flow with a bucket and a watch at the next visit; if it is "
                        "outside, fit {fit}."
                    ),
                    (
                        "Find out the grain size of the medium (label, delivery note) and write it in the "
                        "mesh column."
                    ),
                ),
            ),
        },
        doubt=contradicted(unit),
        probability=outside(unit),
        capped=many_media(unit),
    )


CHECK = Check(
    slug="restrictor-borderline",
    title="Restrictor at the edge",
    tier=Tier.NOTE,
    needs=(fleet.SIZE, fleet.MEDIUM, fleet.RESTRICTOR),
    message="Passes {flow}; the window of {low} to {high} has it {side}.",
    why="A sound restrictor may pass a tenth more or less than its rating, so this one may well be right.",
    fix="{next}",
    numbers={"flow": FLOW, "low": FLOW, "high": FLOW, "fit": FLOW},
    figures=("rate_low_m_s", "rate_high_m_s", "d10_m"),
    run=run,
)
