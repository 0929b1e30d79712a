"""The bed is shallower than its medium needs."""

import numpy as np

from fleetaudit.checks.check import Check, Outcome, Tier
from fleetaudit.facts.fact import figure
from fleetaudit.facts.site import judged, layered, measured_depth, medium
from fleetaudit.facts.view import View
from fleetaudit.schema import fleet
from fleetaudit.schema.quantity import DEPTH_SHOWN


def run(unit: View) -> Outcome:
    """Find measured depths (or volumes) under the least depth by more than the reading error of a stick."""
    depth = measured_depth(unit)
    least = figure(*unit.figure("least_depth_m"), medium(unit))
    slack = unit.setting("depth_tolerance")
    with np.errstate(invalid="ignore"):
        short, surely = depth.value < least.value - slack, depth.value < least.low - slack
    return Outcome(
        applies=judged(unit) & ~layered(unit),
        uses=(depth, least),
        found=short,
        numbers={"depth": depth, "least": least},
        holds=surely,
    )


CHECK = Check(
    slug="bed-too-shallow",
    title="Bed too shallow",
    tier=Tier.PLAN,
    needs=(fleet.SIZE, fleet.MEDIUM, fleet.VOLUME),
    message="The bed is {depth} deep; {medium} works from {least} on.",
    why="Water passes a shallow bed too fast to be treated all through.",
    fix="Measure the bed; top it up to {least} or more, as far as the freeboard allows.",
    numbers={"depth": DEPTH_SHOWN, "least": DEPTH_SHOWN},
    figures=("least_depth_m",),
    run=run,
)
