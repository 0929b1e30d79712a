"""The measured drain flow is not what the fitted restrictor is rated for."""

import numpy as np

from fleetaudit.checks.check import Check, Outcome, Tier, Words
from fleetaudit.facts.fact import given
from fleetaudit.facts.site import judged, rating
from fleetaudit.facts.view import View
from fleetaudit.facts.washer import suspicion
from fleetaudit.schema import fleet
from fleetaudit.schema.quantity import FLOW


def run(unit: View) -> Outcome:
    """Find units measured outside rating * (1 +/- (tolerance + measuring error))."""
    measured, rated = given(unit.frame, fleet.MEASURED), rating(unit)
    slack = unit.setting("restrictor_tolerance") + unit.setting("measured_flow_tolerance")
    why = suspicion(unit)
    with np.errstate(invalid="ignore"):
        less = measured.value < rated.value * (1 - slack)
        more = measured.value > rated.value * (1 + slack)
    return Outcome(
        applies=judged(unit),
        uses=(rated, measured),
        found=less | more,
        numbers={"measured": measured, "rated": rated, "other": why.other_m3_s},
        words={
            "cause": Words(
                why.cause,
                (
                    "the supply leaves the washer too little pressure or water, which alone explains it",
                    (
                        "it is what a washer rated {other} passes, and also how far one fitted back to front "
                        "is off"
                    ),
                    "it is what a washer rated {other} passes, so a wrong one is likely fitted",
                    "it is how far a washer fitted back to front is off",
                    (
                        "scale, dirt, or a blocked drain line holds it back, or the supply was weaker than "
                        "recorded"
                    ),
                    "the washer is worn, missing or a wrong one",
                ),
            )
        },
    )


CHECK = Check(
    slug="flow-differs-from-restrictor",
    title="Measured flow is not the rating",
    tier=Tier.PLAN,
    needs=(fleet.RESTRICTOR, fleet.MEASURED),
    message="Measured {measured}; the recorded restrictor is rated {rated}.",
    why="The difference is more than a sound washer and a bucket explain: {cause}.",
    fix=(
        "Open the housing, read the washer and seat it the right way round; measure again; correct the "
        "record."
    ),
    numbers={"measured": FLOW, "rated": FLOW, "other": FLOW},
    source="from memory, unverified (tolerance and what a reversed washer does, in Settings)",
    run=run,
)
