"""The medium reaches the end of its life within the horizon."""

import numpy as np

from fleetaudit.checks.check import Check, Outcome, Tier, Words
from fleetaudit.facts.due import due, due_soon, life, media_date, only_topped_up
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
        applies=judged(unit) & (found.day.known | ~no_date),
        uses=(found.day,),
        found=due_soon(unit),
        numbers={
            "due": found.day.value,
            "earliest": found.day.low,
            "latest": found.day.high,
            "life": life(unit).value * DAY_SECONDS,
        },
        words={
            "by": Words(found.by, ("life {life}", "by water treated", "by depth left", "top-up")),
            "range": Words(
                np.floor(found.day.low) == np.floor(found.day.high),
                ("; between {earliest} and {latest}", ""),
            ),
            "next": Words(only_topped_up(unit), ("replacement", "top-up")),
        },
    )


CHECK = Check(
    slug="media-due-soon",
    title="Medium due soon",
    tier=Tier.NOTE,
    needs=(fleet.MEDIUM, fleet.MEDIA_DATE),
    message="{medium} falls due on {due} ({by}){range}.",
    why="Replaced in time it costs one visit that can be planned with others nearby.",
    fix="Put it on the next {next} route.",
    numbers={"due": DAY, "earliest": DAY, "latest": DAY, "life": YEARS},
    figures=("life_s", "life_bed_volumes", "least_depth_m", "top_up_s"),
    run=run,
)
