"""Water is in the bed for less time than the medium needs."""

import numpy as np

from fleetaudit.checks.check import Check, Outcome, Tier, tiers
from fleetaudit.facts.due import guards_health
from fleetaudit.facts.service import contact_time, least_contact_time
from fleetaudit.facts.site import judged
from fleetaudit.facts.view import View
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Missing
from fleetaudit.schema.quantity import CONTACT


def run(unit: View) -> Outcome:
    """Find empty-bed contact times under the least the medium needs."""
    time, least = contact_time(unit), least_contact_time(unit)
    with np.errstate(invalid="ignore"):
        short, surely = time.value < least.value, time.value < least.low
    return Outcome(
        applies=judged(unit) & (least.missing != Missing.NO_FIGURE),
        uses=(least, time),
        found=short,
        holds=surely,
        numbers={"time": time, "least": least},
        tier=tiers(Tier.PLAN, guards_health(unit)),
    )


CHECK = Check(
    slug="contact-time-too-short",
    title="Contact time too short",
    tier=Tier.PLAN,
    needs=(fleet.MEDIUM, fleet.PURPOSE, fleet.VOLUME, fleet.SERVICE_FLOW),
    message="Water is in the bed for {time} at peak flow; {medium} needs {least}.",
    why="What the medium takes up needs time; rushed, part of it passes.",
    fix="Limit the peak flow or add volume; test the water where it protects health.",
    numbers={"time": CONTACT, "least": CONTACT},
    figures=("contact_time_s",),
    run=run,
)
