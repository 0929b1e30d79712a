"""The medium reaches the end of its life within the horizon."""

import numpy as np

from fleetaudit.checks.check import Check, Outcome, Tier
from fleetaudit.facts.due import due, due_soon, life, media_date
from fleetaudit.facts.site import judged
from fleetaudit.facts.view import View
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Missing
from fleetaudit.schema.quantity import DAY, DAY_SECONDS, YEARS


def run(unit: View) -> Outcome:
    """Find media whose end of life lies between the audit and the horizon."""
    found, loaded = due(unit), media_date(unit)
    no_date = np.isin(loaded.missing, (Missing.BLANK, Missing.NO_COLUMN))
    return Outcome(
        applies=judged(unit) & ~no_date,
        uses=(found.day,),
        found=due_soon(unit),
        numbers={"due": found.day.value, "life": life(unit).value * DAY_SECONDS},
    )


CHECK = Check(
    slug="media-due-soon",
    title="Medium due soon",
    tier=Tier.NOTE,
    needs=(fleet.MEDIUM, fleet.MEDIA_DATE),
    message="{medium} falls due on {due} (life {life}).",
    why="Replaced in time it costs one visit that can be planned with others nearby.",
    fix="Put it on the next replacement route.",
    numbers={"due": DAY, "life": YEARS},
    figures=("life_s",),
    run=run,
)
