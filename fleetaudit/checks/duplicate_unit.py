"""The same unit stands in more than one row."""

from fleetaudit.checks.check import Check, Outcome, Tier
from fleetaudit.facts.repeats import repeated
from fleetaudit.facts.site import judged
from fleetaudit.facts.view import View
from fleetaudit.schema import fleet
from fleetaudit.schema.quantity import COUNT


def run(unit: View) -> Outcome:
    """Find rows whose unit id and vessel label stand elsewhere in the fleet too."""
    times = repeated(unit)
    return Outcome(applies=judged(unit), found=times > 1, numbers={"times": times})


CHECK = Check(
    slug="duplicate-unit",
    title="Unit listed more than once",
    tier=Tier.NOTE,
    needs=(fleet.UNIT_ID,),
    message="This unit stands in {times} rows with the same vessel label.",
    why="Counts and orders would hold it twice; neither row is held against a crew.",
    fix="Keep the row that is right, or give the second vessel a label of its own.",
    numbers={"times": COUNT},
    source="follows from the workbook",
    run=run,
)
