"""Water passes the bed in service faster than the medium allows."""

import numpy as np

from fleetaudit.checks.check import Check, Outcome, Tier
from fleetaudit.facts.service import loading_limit, service_flow
from fleetaudit.facts.site import judged
from fleetaudit.facts.view import View
from fleetaudit.schema import fleet
from fleetaudit.schema.quantity import FLOW


def run(unit: View) -> Outcome:
    """Find peak flows over the medium's loading for this vessel."""
    flow, most = service_flow(unit), loading_limit(unit)
    with np.errstate(invalid="ignore"):
        over, surely = flow.value > most.value, flow.value > most.high
    return Outcome(
        applies=judged(unit),
        uses=(flow, most),
        found=over,
        numbers={"flow": flow, "most": most},
        holds=surely,
    )


CHECK = Check(
    slug="service-flow-too-high",
    title="Service flow too high",
    tier=Tier.PLAN,
    needs=(fleet.SIZE, fleet.MEDIUM, fleet.SERVICE_FLOW),
    message="Peak flow {flow}; a bed of {medium} in this vessel takes {most}.",
    why="Too fast, and dirt is pushed through and the water leaves before it is treated.",
    fix="Confirm the peak; limit it, or add a vessel beside this one.",
    numbers={"flow": FLOW, "most": FLOW},
    figures=("service_flux_m_s", "service_per_volume_1_s"),
    run=run,
)
