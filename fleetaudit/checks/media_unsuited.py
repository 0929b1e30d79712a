"""The water lies outside the limits of the medium."""

import numpy as np

from fleetaudit.checks.check import Check, Outcome, Tier, Words, reasons, tiers
from fleetaudit.facts.due import guards_health
from fleetaudit.facts.fact import given
from fleetaudit.facts.site import judged, medium, medium_missing, season
from fleetaudit.facts.view import View
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Missing
from fleetaudit.schema.quantity import NUMBER, TEMPERATURE


def run(unit: View) -> Outcome:
    """Find feed water whose pH or temperature the medium cannot stand; its every limit must be looked at."""
    ph, water = given(unit.frame, fleet.PH), season(unit)
    low, high, hottest = (unit.figure(key)[0] for key in ("ph_low", "ph_high", "temperature_max_k"))
    with np.errstate(invalid="ignore"):
        sour, alkaline = ph.known & (ph.value < low), ph.known & (ph.value > high)
        hot = ~water.assumed & (water.warm.value > hottest)
    bounded, heats = ~(np.isnan(low) & np.isnan(high)), ~np.isnan(hottest)
    wrong = sour | alkaline | hot
    unread = np.where(bounded & ~wrong, ph.missing, int(Missing.KNOWN))
    unfelt = np.where(heats & ~wrong & water.assumed, int(Missing.ASSUMED), int(Missing.KNOWN))
    reason = medium_missing(unit)
    return Outcome(
        applies=judged(unit) & ((reason > 0) | bounded | heats),
        uses=(medium(unit), ph.where(hot & ~sour & ~alkaline, water.warm)),
        missing=reasons(reason, unread, unfelt),
        found=wrong,
        numbers={"ph": ph, "least": low, "most": high, "water": water.warm, "hottest": hottest},
        words={
            "said": Words(
                np.select([sour, alkaline, hot], [0, 1, 2], 0),
                (
                    "pH {ph} is under the least {medium} stands, {least}",
                    "pH {ph} is over the most {medium} stands, {most}",
                    "water of {water} is over the most {medium} stands, {hottest}",
                ),
            )
        },
        tier=tiers(Tier.PLAN, guards_health(unit)),
    )


CHECK = Check(
    slug="media-unsuited",
    title="Medium does not suit the water",
    tier=Tier.PLAN,
    needs=(fleet.MEDIUM, fleet.PH),
    message="The {said}.",
    why="Outside its limits the medium stops working, dissolves, or gives off what it holds.",
    fix="Test the water again; correct it ahead of the filter or choose another medium.",
    numbers={"ph": NUMBER, "least": NUMBER, "most": NUMBER, "water": TEMPERATURE, "hottest": TEMPERATURE},
    figures=("ph_low", "ph_high", "temperature_max_k"),
    run=run,
)
