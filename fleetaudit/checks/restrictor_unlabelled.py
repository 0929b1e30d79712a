"""The fitted flow is not written on the unit."""

from fleetaudit.checks.check import Check, Once, Outcome, Tier
from fleetaudit.facts.fact import given
from fleetaudit.facts.site import judged
from fleetaudit.facts.view import View
from fleetaudit.schema import fleet


def run(unit: View) -> Outcome:
    """Find units whose label column says no."""
    return Outcome(
        applies=judged(unit),
        found=unit.frame.code(fleet.LABEL.name) == 0,
        uses=(given(unit.frame, fleet.LABEL),),
    )


CHECK = Check(
    slug="restrictor-unlabelled",
    title="Restrictor not labelled",
    tier=Tier.NOTE,
    needs=(fleet.LABEL,),
    message="The fitted flow is not written on the unit.",
    why="The next crew has to take the housing apart to know what is in it.",
    fix="Write flow, date and initials on the unit at the next visit.",
    once=Once.PER_ACCOUNT,
    source="common practice, no source",
    run=run,
)
