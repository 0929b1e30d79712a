"""The backwash is shorter than the medium is usually washed."""

import numpy as np

from fleetaudit.checks.check import Check, Outcome, Tier
from fleetaudit.facts.fact import figure, given
from fleetaudit.facts.site import judged, medium
from fleetaudit.facts.view import View
from fleetaudit.schema import fleet
from fleetaudit.schema.quantity import MINUTES


def run(unit: View) -> Outcome:
    """Find backwash times under the low end of the medium's practice."""
    minutes = given(unit.frame, fleet.WASH_MINUTES)
    least = figure(*unit.figure("wash_minutes_low_s"), medium(unit))
    with np.errstate(invalid="ignore"):
        short = minutes.value < least.value
    return Outcome(
        applies=judged(unit), uses=(minutes, least), found=short, numbers={"minutes": minutes, "least": least}
    )


CHECK = Check(
    slug="wash-too-short",
    title="Backwash too short",
    tier=Tier.NOTE,
    needs=(fleet.MEDIUM, fleet.WASH_MINUTES),
    message="Washed for {minutes}; {medium} is usually washed for {least} or more.",
    why="What is loosened in the first minutes has to be carried out of the vessel as well.",
    fix="Watch one wash until the drain runs clear and set the time to that.",
    numbers={"minutes": MINUTES, "least": MINUTES},
    figures=("wash_minutes_low_s",),
    run=run,
)
