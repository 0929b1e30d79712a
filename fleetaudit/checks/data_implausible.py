"""A cell was read, and what it says cannot be true."""

import numpy as np

from fleetaudit.checks.check import Check, Outcome, Tier, Words
from fleetaudit.facts.cells import Oddity, implausible, places_of_media
from fleetaudit.facts.site import judged
from fleetaudit.facts.view import View


def run(unit: View) -> Outcome:
    """Find values out of bounds, dates out of order, overfull vessels, clashing temperatures and figures."""
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
                    "the least wash rate of {medium} leaves its coarser grains lying; grain or rate is wrong "
                    "({place})",
                ),
            ),
            "place": Words(unit.medium, (*places_of_media(unit.catalogue), "see its layers")),
            "next": Words(
                np.isin(kind, (Oddity.FIGURES, Oddity.UNMOVED)),
                (
                    "Look at the unit or the old invoice and correct the cell",
                    "Compare the medium's row of the sheet Media with its data sheet and correct the figure",
                ),
            ),
        },
    )


CHECK = Check(
    slug="data-implausible",
    title="Entry cannot be true",
    tier=Tier.NOTE,
    needs=(),
    message="As recorded, {said}.",
    why="One of the entries is wrong; checks that rest on it did not run or may mislead.",
    fix="{next}.",
    source="follows from the workbook",
    run=run,
)
