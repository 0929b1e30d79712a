"""The drain line is too narrow for the wash flow."""

import numpy as np

from fleetaudit.checks.check import Check, Outcome, Tier
from fleetaudit.facts.drain import drain_limit_unknown, drain_limits, wanted_together
from fleetaudit.facts.fact import first_reason, given
from fleetaudit.facts.site import judged
from fleetaudit.facts.view import View
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Missing
from fleetaudit.schema.quantity import BORE, FLOW


def run(unit: View) -> Outcome:
    """Find drain lines whose customary flow is exceeded: first limit a note, second a plan."""
    bore, flow = given(unit.frame, fleet.DRAIN_BORE), wanted_together(unit)
    first, second = drain_limits(unit)
    with np.errstate(invalid="ignore"):
        over, far = flow.value > first, flow.value > second
    unlisted = np.where(drain_limit_unknown(unit), int(Missing.NO_FIGURE), int(Missing.KNOWN))
    return Outcome(
        applies=judged(unit),
        uses=(bore, flow),
        missing=first_reason(bore.missing, flow.missing, unlisted),
        found=over,
        numbers={"bore": bore, "flow": flow, "most": first},
        tier=np.where(far, int(Tier.PLAN), int(Tier.NOTE)),
    )


CHECK = Check(
    slug="drain-too-small",
    title="Drain line too small",
    tier=Tier.NOTE,
    needs=(fleet.RESTRICTOR, fleet.DRAIN_BORE),
    message="{flow} through a drain line of {bore}; such a line carries about {most}.",
    why=(
        "Pressure lost in the drain line is missing at the washer, so the bed gets less flow than the rating "
        "says."
    ),
    fix=(
        "Lay a wider drain line, with an air gap as the local code asks, or measure that the flow is reached "
        "all the same."
    ),
    numbers={"bore": BORE, "flow": FLOW, "most": FLOW},
    source="from memory, unverified (drain sizes in Settings)",
    run=run,
)
