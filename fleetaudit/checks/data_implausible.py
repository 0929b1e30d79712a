"""A cell was read, and what it says cannot be true."""

import numpy as np

from fleetaudit.checks.check import Check, Outcome, Tier, Words
from fleetaudit.facts.cells import implausible
from fleetaudit.facts.site import judged
from fleetaudit.facts.view import View


def run(unit: View) -> Outcome:
    """Find values out of bounds, dates out of order, fills larger than the vessel, clashing temperatures."""
    found, first, kind = implausible(unit)
    return Outcome(
        applies=judged(unit),
        found=found,
        cell=first,
        words={
            "said": Words(
                np.maximum(kind, 0),
                (
                    "{column} says {raw}, outside anything such a unit can have",
                    "the medium's date lies after the day of the audit",
                    "the medium is dated before the unit was set up",
                    "the medium would take more than the vessel holds",
                    "the coldest water is said to be warmer than the warmest",
                    "no flow suits this bed by the figures in force for its medium",
                ),
            )
        },
    )


CHECK = Check(
    slug="data-implausible",
    title="Entry cannot be true",
    tier=Tier.NOTE,
    needs=(),
    message="As recorded, {said}.",
    why="One of the entries is wrong; checks that rest on it did not run or may mislead.",
    fix="Look at the unit or the old invoice and correct the cell.",
    source="follows from the workbook",
    run=run,
)
