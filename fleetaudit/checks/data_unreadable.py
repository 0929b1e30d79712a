"""A filled cell could not be read."""

from fleetaudit.checks.check import Check, Once, Outcome, Tier
from fleetaudit.facts.cells import unreadable
from fleetaudit.facts.site import judged
from fleetaudit.facts.view import View


def run(unit: View) -> Outcome:
    """Find rows with at least one such cell; the finding points at the first."""
    found, first = unreadable(unit)
    return Outcome(applies=judged(unit), found=found, cell=first)


CHECK = Check(
    slug="data-unreadable",
    title="Cell not understood",
    tier=Tier.NOTE,
    needs=(),
    message="{column} holds {raw}, which could not be read.",
    why="Checks that need the cell did not run; it was not taken for blank and nothing was guessed.",
    fix="Type the value again as the template shows, with its unit.",
    once=Once.PER_COLUMN,
    source="follows from the workbook",
    run=run,
)
