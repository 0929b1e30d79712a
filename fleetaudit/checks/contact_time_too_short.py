"""Water is in the bed for less time than the medium needs."""

import numpy as np

from fleetaudit.catalogue import arrays
from fleetaudit.checks.check import Check, Outcome, Tier, tiers
from fleetaudit.facts.due import guards_health
from fleetaudit.facts.fact import figure
from fleetaudit.facts.service import contact_time
from fleetaudit.facts.site import judged, medium_missing
from fleetaudit.facts.view import View
from fleetaudit.schema import fleet
from fleetaudit.schema.quantity import CONTACT


def run(unit: View) -> Outcome:
    """Find empty-bed contact times under the least the medium needs."""
    time, reason = contact_time(unit), medium_missing(unit)
    purpose = unit.frame.code(fleet.PURPOSE.name)
    value, low, high = arrays.spread_for_purpose(unit.catalogue, unit.medium, purpose, "contact_time_s")
    least = figure(value, low, high, reason)
    with np.errstate(invalid="ignore"):
        short = time.value < least.value
    return Outcome(
        applies=judged(unit) & ((reason > 0) | ~np.isnan(value)),
        uses=(time, least),
        found=short,
        numbers={"time": time, "least": least},
        tier=tiers(Tier.PLAN, guards_health(unit)),
    )


CHECK = Check(
    slug="contact-time-too-short",
    title="Contact time too short",
    tier=Tier.PLAN,
    needs=(fleet.MEDIUM, fleet.VOLUME, fleet.SERVICE_FLOW),
    message="Water is in the bed for {time} at peak flow; {medium} needs {least}.",
    why="What the medium takes up needs time; rushed, part of it passes.",
    fix="Limit the peak flow or add volume; test the water where it protects health.",
    numbers={"time": CONTACT, "least": CONTACT},
    figures=("contact_time_s",),
    run=run,
)
