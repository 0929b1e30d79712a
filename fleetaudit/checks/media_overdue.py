"""The medium is past the end of its life."""

import numpy as np

from fleetaudit.checks.check import Check, Outcome, Tier, Words, tiers
from fleetaudit.facts.due import due, guards_health, life, media_date
from fleetaudit.facts.site import judged, medium
from fleetaudit.facts.view import View
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Missing
from fleetaudit.schema.quantity import DAY, DAY_SECONDS, DEPTH_SHOWN, THROUGHPUT, YEARS


def run(unit: View) -> Outcome:
    """Find media past their life by date, by volume treated, or by the depth left of a dissolving one."""
    found, loaded = due(unit), media_date(unit)
    no_date = np.isin(loaded.missing, (Missing.BLANK, Missing.NO_COLUMN))
    return Outcome(
        applies=judged(unit) & (found.told | ~no_date),
        uses=(found.day, medium(unit)),
        missing=found.missing,
        found=found.spent,
        numbers={
            "age": (unit.as_of_day - loaded.value) * DAY_SECONDS,
            "life": life(unit).value * DAY_SECONDS,
            "due": found.day.value,
            "treated": unit.frame.number(fleet.TREATED),
            "left": unit.frame.number(fleet.DEPTH_LEFT),
        },
        words={
            "said": Words(found.by, (
                "{medium} is {age} old; its life here is {life}, over since {due}",
                "{medium} has treated {treated}, more than a bed of this size takes",
                "only {left} of {medium} is left",
            )),
            "next": Words(unit.flag("dissolves"), (
                "Replace the medium", "Top the bed up, or replace it where it has caked",
            )),
            "health": Words(guards_health(unit), (
                "it no longer does what it is there for",
                "it may protect somebody's health, and water may pass untreated",
            )),
        },
        probability=found.chance,
        tier=tiers(Tier.PLAN, guards_health(unit)),
    )


CHECK = Check(
    slug="media-overdue",
    title="Medium past its life",
    tier=Tier.PLAN,
    core=True,
    needs=(fleet.MEDIUM, fleet.MEDIA_DATE),
    message="{said}.",
    why="Past the end of its life {health}.",
    fix="{next}; have the water tested where it protects health.",
    numbers={"age": YEARS, "life": YEARS, "due": DAY, "treated": THROUGHPUT, "left": DEPTH_SHOWN},
    figures=("life_s", "life_bed_volumes", "least_depth_m"),
    caution="Spent media can hold what they took out: gloves, mask against dust, and disposal as local rules say.",
    run=run,
)
