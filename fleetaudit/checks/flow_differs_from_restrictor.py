"""The measured drain flow is not what the fitted restrictor is rated for."""

import numpy as np

from fleetaudit.checks.check import Check, Outcome, Tier, Words
from fleetaudit.facts.fact import given
from fleetaudit.facts.site import judged, rating
from fleetaudit.facts.view import View
from fleetaudit.schema import fleet
from fleetaudit.schema.quantity import FLOW


def run(unit: View) -> Outcome:
    """Find units measured outside rating * (1 +/- (tolerance + measuring error))."""
    measured, rated = given(unit.frame, fleet.MEASURED), rating(unit)
    slack = unit.setting("restrictor_tolerance") + unit.setting("measured_flow_tolerance")
    with np.errstate(invalid="ignore"):
        less = measured.value < rated.value * (1 - slack)
        more = measured.value > rated.value * (1 + slack)
    return Outcome(
        applies=judged(unit),
        uses=(rated, measured),
        found=less | more,
        numbers={"measured": measured, "rated": rated},
        words={"cause": Words(more, (
            "too little supply pressure, a blocked drain line, or a scaled or wrong washer",
            "a worn, missing, wrong or back-to-front washer",
        ))},
    )


CHECK = Check(
    slug="flow-differs-from-restrictor",
    title="Measured flow is not the rating",
    tier=Tier.PLAN,
    needs=(fleet.RESTRICTOR, fleet.MEASURED),
    message="Measured {measured}; the recorded restrictor is rated {rated}.",
    why="The difference is more than washer and bucket explain: {cause}.",
    fix="Open the housing, read the washer and seat it the right way round; measure again; correct the record.",
    numbers={"measured": FLOW, "rated": FLOW},
    source="common practice, no source",
    run=run,
)
