"""The bed needs more flow than the largest housing takes, and no external flow control is recorded."""

import numpy as np

from fleetaudit.checks.check import Check, Outcome, Tier
from fleetaudit.facts.likelihood import limit_too_small, many_media
from fleetaudit.facts.needed import housing_limits, needed, recorded_external
from fleetaudit.facts.site import judged
from fleetaudit.facts.view import View
from fleetaudit.facts.window import flow_window
from fleetaudit.schema import fleet
from fleetaudit.schema.quantity import FLOW


def run(unit: View) -> Outcome:
    """Find units whose recommended rating is over the largest housing without an external control."""
    need, largest = needed(unit), housing_limits(unit)[-1]
    with np.errstate(invalid="ignore"):
        over = need.rating_m3_s > largest
    return Outcome(
        applies=judged(unit),
        uses=(flow_window(unit).low,),
        found=over & ~recorded_external(unit),
        numbers={"fit": need.rating_m3_s, "largest": np.full(unit.units, largest)},
        probability=limit_too_small(unit, np.full(unit.units, largest), over),
        capped=many_media(unit),
    )


CHECK = Check(
    slug="needs-external-flow-control",
    title="Needs an external flow control",
    tier=Tier.PLAN,
    needs=(fleet.SIZE, fleet.MEDIUM, fleet.HOUSING),
    message="Needs {fit}; the largest housing takes {largest}, and no external flow control is recorded.",
    why="A restrictor for that flow does not fit inside a valve; it belongs in the drain line.",
    fix="Fit a flow control rated {fit} in the drain line, or record the one that is there.",
    numbers={"fit": FLOW, "largest": FLOW},
    source="common practice, no source (housing limits of the catalogue)",
    run=run,
)
