"""The layers of the bed will not stay apart, or no flow washes all of them."""

import numpy as np

from fleetaudit.checks.check import Check, Outcome, Tier, Words
from fleetaudit.facts.site import judged, layered
from fleetaudit.facts.view import View
from fleetaudit.facts.window import Clash, flow_window, layers_turn_over
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Missing


def run(unit: View) -> Outcome:
    """Find beds whose upper layer sinks into the lower one, or whose layers share no flow."""
    turned, told = layers_turn_over(unit)
    window = flow_window(unit)
    apart = layered(unit) & (window.clash == Clash.BUILD)
    reason = np.where(
        told | apart, 0, np.where(window.low.missing > 0, window.low.missing, int(Missing.NO_FIGURE))
    )
    return Outcome(
        applies=judged(unit) & layered(unit),
        missing=reason,
        found=turned | apart,
        words={
            "said": Words(
                apart,
                (
                    (
                        "The coarse end of an upper layer is heavier in the wash than the fine end of the "
                        "one below"
                    ),
                    "No flow washes all layers: what one needs is more than another takes",
                ),
            )
        },
    )


CHECK = Check(
    slug="layers-mismatched",
    title="Layers do not match",
    tier=Tier.NOTE,
    needs=(fleet.MEDIUM, fleet.LAYERS),
    message="{said}.",
    why="Layers that mix lose the graded bed they were chosen for.",
    fix="Confirm media and sizes of the layers; choose sizes that settle apart at the next re-bedding.",
    source="from memory, unverified (bulk density rule for layered beds)",
    run=run,
)
