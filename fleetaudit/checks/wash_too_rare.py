"""The bed is washed less often than its medium usually is."""

import numpy as np

from fleetaudit.checks.check import Check, Outcome, Tier
from fleetaudit.facts.fact import figure, given
from fleetaudit.facts.site import judged, medium
from fleetaudit.facts.view import View
from fleetaudit.schema import fleet
from fleetaudit.schema.quantity import DAYS


def run(unit: View) -> Outcome:
    """Find intervals over the high end of the medium's practice."""
    interval = given(unit.frame, fleet.WASH_INTERVAL)
    most = figure(*unit.figure("wash_interval_high_s"), medium(unit))
    with np.errstate(invalid="ignore"):
        rare = interval.value > most.value
    return Outcome(
        applies=judged(unit), uses=(interval, most), found=rare, numbers={"interval": interval, "most": most}
    )


CHECK = Check(
    slug="wash-too-rare",
    title="Washed too rarely",
    tier=Tier.NOTE,
    needs=(fleet.MEDIUM, fleet.WASH_INTERVAL),
    message="Washed every {interval}; {medium} is usually washed every {most} or sooner.",
    why="A bed left too long cakes, and then no flow opens it evenly.",
    fix="Set the interval to {most} or less.",
    numbers={"interval": DAYS, "most": DAYS},
    figures=("wash_interval_high_s",),
    run=run,
)
