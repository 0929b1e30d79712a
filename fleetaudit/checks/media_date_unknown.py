"""Nobody wrote down when the medium was last replaced."""

from fleetaudit.checks.check import Check, Once, Outcome, Tier
from fleetaudit.facts.due import due, media_date
from fleetaudit.facts.site import judged
from fleetaudit.facts.view import View
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Missing


def run(unit: View) -> Outcome:
    """Find units with no media date and no other way to tell the life that is left."""
    reason = media_date(unit).missing
    blank = (reason == Missing.BLANK) | (reason == Missing.NO_COLUMN)
    return Outcome(applies=judged(unit), found=blank & ~due(unit).told)


CHECK = Check(
    slug="media-date-unknown",
    title="Media date unknown",
    tier=Tier.NOTE,
    needs=(fleet.MEDIA_DATE,),
    message="No media date is recorded, so the age of the medium is unknown.",
    why="Unknown is not new: the medium may be years past its life.",
    fix="Ask the customer, look through old invoices, or measure and sample the bed; then fill in the date.",
    once=Once.PER_ACCOUNT,
    source="follows from the workbook",
    run=run,
)
