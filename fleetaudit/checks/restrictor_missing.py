"""Nobody wrote down which restrictor is fitted."""

import numpy as np

from fleetaudit.checks.check import Check, Once, Outcome, Tier, Words
from fleetaudit.facts.needed import needed
from fleetaudit.facts.site import judged, rating
from fleetaudit.facts.view import View
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Missing
from fleetaudit.schema.quantity import FLOW


def run(unit: View) -> Outcome:
    """Find units whose restrictor cell is blank or says that it is not known."""
    reason = rating(unit).missing
    return Outcome(
        applies=judged(unit),
        found=(reason == Missing.BLANK) | (reason == Missing.NO_COLUMN),
        numbers={"fit": needed(unit).rating_m3_s},
        words={
            "said": Words(
                np.isnan(needed(unit).rating_m3_s),
                (
                    "{fit} would be right for this bed",
                    "and what would be right cannot be told from this row",
                ),
            ),
            "bring": Words(np.isnan(needed(unit).rating_m3_s), ("; bring one rated {fit}", "")),
        },
    )


CHECK = Check(
    slug="restrictor-missing",
    title="Restrictor not recorded",
    tier=Tier.NOTE,
    needs=(fleet.RESTRICTOR,),
    message="No restrictor is recorded; {said}.",
    why="Without it nobody can tell whether the bed is washed at all.",
    fix="Measure the drain flow or read the washer at the next visit{bring}.",
    numbers={"fit": FLOW},
    once=Once.PER_ACCOUNT,
    source="follows from the workbook",
    run=run,
)
