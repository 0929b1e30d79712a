"""Nobody wrote down when the medium was last replaced, or a dissolving one last topped up."""

from fleetaudit.checks.check import Check, Once, Outcome, Tier, Words
from fleetaudit.facts.due import due, media_date, top_up_unknown
from fleetaudit.facts.site import judged
from fleetaudit.facts.view import View
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Missing


def run(unit: View) -> Outcome:
    """Find units with nothing that tells the life left, or with no word of a top-up that was due."""
    reason = media_date(unit).missing
    blank = (reason == Missing.BLANK) | (reason == Missing.NO_COLUMN)
    unfilled = top_up_unknown(unit)
    return Outcome(
        applies=judged(unit),
        found=(blank & ~due(unit).told) | unfilled,
        words={
            "said": Words(
                unfilled,
                (
                    "No media date is recorded, so the age of the medium is unknown",
                    (
                        "The bed dissolves and is older than its top-ups lie apart; neither a top-up nor the "
                        "depth left is recorded"
                    ),
                ),
            ),
            "ask": Words(
                unfilled,
                (
                    (
                        "Ask the customer, look through old invoices, or measure and sample the bed; then "
                        "fill in the date"
                    ),
                    "Measure the depth that is left, or look up the last top-up; then fill it in",
                ),
            ),
        },
    )


CHECK = Check(
    slug="media-date-unknown",
    title="Media date unknown",
    tier=Tier.NOTE,
    needs=(fleet.MEDIA_DATE,),
    message="{said}.",
    why="Unknown is not new: the medium may be years past its life.",
    fix="{ask}.",
    once=Once.PER_ACCOUNT,
    source="follows from the workbook",
    run=run,
)
