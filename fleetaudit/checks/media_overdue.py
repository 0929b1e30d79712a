"""The medium is past the end of its life."""

import numpy as np

from fleetaudit.checks.check import Check, Outcome, Tier, Words, tiers
from fleetaudit.facts.due import (
    By,
    due,
    guards_health,
    life,
    media_date,
    only_topped_up,
    top_up_date,
    treatable,
    treated,
)
from fleetaudit.facts.site import judged, medium
from fleetaudit.facts.view import View
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Missing
from fleetaudit.schema.quantity import DAY, DAY_SECONDS, DAYS, DEPTH_SHOWN, THROUGHPUT, YEARS


def run(unit: View) -> Outcome:
    """Find media past their life by date, water treated, depth left, or time since the last top-up."""
    found, loaded = due(unit), media_date(unit)
    due_on = np.floor(found.day.value)  # the day that is shown, so that the two agree
    no_range = np.floor(found.day.low) == np.floor(found.day.high)
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
            "overdue": np.where(found.spent, unit.as_of_day - due_on, np.nan) * DAY_SECONDS,
            "earliest": found.day.low,
            "latest": found.day.high,
            "treated": treated(unit),
            "takes": treatable(unit),
            "left": unit.frame.number(fleet.DEPTH_LEFT),
            "least": unit.usual("least_depth_m"),
            "topped": top_up_date(unit).value,
        },
        words={
            "said": Words(
                np.where(no_range & (found.by == By.DATE), len(By), found.by),
                (
                    "{medium} is {age} old; its life here is {life}, over since {due}, {overdue} ago "
                    "(between {earliest} and {latest})",
                    "{medium} has treated {treated}, of {takes} that it takes here",
                    "only {left} of {medium} is left, of {least} that it needs",
                    "{medium} was last filled up too long ago; a top-up has been due since {due}, "
                    "{overdue} ago "
                    "(between {earliest} and {latest})",
                    "{medium} is {age} old; its life here is {life}, over since {due}, {overdue} ago",
                ),
            ),
            "next": Words(
                only_topped_up(unit),
                (
                    "Replace the medium",
                    "Top the bed up, or replace it where it has caked",
                ),
            ),
            "health": Words(
                guards_health(unit),
                (
                    "it no longer does what it is there for",
                    "it may protect somebody's health, and water may pass untreated",
                ),
            ),
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
    numbers={
        "age": YEARS,
        "life": YEARS,
        "due": DAY,
        "overdue": DAYS,
        "earliest": DAY,
        "latest": DAY,
        "treated": THROUGHPUT,
        "takes": THROUGHPUT,
        "left": DEPTH_SHOWN,
        "least": DEPTH_SHOWN,
        "topped": DAY,
    },
    figures=("life_s", "life_bed_volumes", "least_depth_m", "top_up_s"),
    caution=(
        "Spent media can hold what they took out: gloves, mask against dust, and disposal as local rules say."
    ),
    run=run,
)
