"""The water lies outside the limits of the medium, or the medium is not made for what it is to take out."""

import numpy as np

from fleetaudit.checks.check import Check, Outcome, Tier, Words, tiers
from fleetaudit.facts.due import guards_health
from fleetaudit.facts.fact import first_reason, given
from fleetaudit.facts.service import purpose, unfit
from fleetaudit.facts.site import judged, medium, medium_missing, season
from fleetaudit.facts.view import View
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Missing
from fleetaudit.schema.quantity import NUMBER, TEMPERATURE


def run(unit: View) -> Outcome:
    """Find water the medium cannot stand, or a purpose it is not for; its every limit must be looked at.

    What a medium is for is a list of practice, so that a purpose it does not hold is `likely` wrong at most;
    where the medium is for another purpose in the same cell, the cell may tell what the site's water holds,
    and somebody has to look.
    """
    ph, water, sought = given(unit.frame, fleet.PH), season(unit), purpose(unit)
    low, high, hottest = (unit.usual(key) for key in ("ph_low", "ph_high", "temperature_max_k"))
    with np.errstate(invalid="ignore"):
        sour, alkaline = ph.known & (ph.value < low), ph.known & (ph.value > high)
        hot = ~water.assumed & (water.warm.value > hottest)
    amiss = unfit(unit)
    misplaced, elsewhere = amiss.wrong, amiss.wrong & amiss.serves
    bounded, heats, listed = ~(np.isnan(low) & np.isnan(high)), ~np.isnan(hottest), unit.flag("suits")
    by_water = sour | alkaline | hot
    wrong = by_water | misplaced
    only_misplaced = misplaced & ~by_water
    unread = np.where(bounded & ~wrong, ph.missing, int(Missing.KNOWN))
    unfelt = np.where(heats & ~wrong & water.assumed, int(Missing.ASSUMED), int(Missing.KNOWN))
    unsaid = np.where(listed & ~wrong, sought.missing, int(Missing.KNOWN))
    reason = medium_missing(unit)
    rests_on = ph.where(hot & ~sour & ~alkaline, water.warm).where(only_misplaced, sought)
    return Outcome(
        applies=judged(unit) & ((reason > 0) | bounded | heats | listed),
        uses=(medium(unit), rests_on),
        missing=first_reason(reason, unread, unfelt, unsaid),
        found=wrong,
        numbers={"ph": ph, "least": low, "most": high, "water": water.warm, "hottest": hottest},
        words={
            "said": Words(
                np.argmax([sour, alkaline, hot, misplaced], axis=0),
                (
                    "pH {ph} is under the least {medium} stands, {least}",
                    "pH {ph} is over the most {medium} stands, {most}",
                    "water of {water} is over the most {medium} stands, {hottest}",
                    "catalogue does not list {medium} for {purpose}",
                ),
            ),
            "purpose": Words(
                amiss.which,
                tuple(tuple(unit.catalogue.purposes[one].words for one in lacking) for lacking in amiss.left),
            ),
            "next": Words(
                np.where(only_misplaced, 1 + elsewhere, 0),
                (
                    "Test the water again; correct it ahead of the filter or choose another medium",
                    "See which of the two cells is wrong; where neither is, choose a medium for that purpose",
                    "See whether another unit of the site takes that out: then name here only what this bed "
                    "is for; else choose a medium for that purpose",
                ),
            ),
        },
        capped=only_misplaced,
        apart=sour | alkaline | only_misplaced,
        doubt=only_misplaced & elsewhere,
        cell=np.where(only_misplaced, fleet.COLUMNS.index(fleet.PURPOSE), -1),
        tier=tiers(Tier.PLAN, guards_health(unit) | amiss.harmful),
    )


CHECK = Check(
    slug="media-unsuited",
    title="Medium does not suit the water or the purpose",
    tier=Tier.PLAN,
    needs=(fleet.MEDIUM, fleet.PURPOSE, fleet.PH),
    message="The {said}.",
    why="Outside its limits the medium stops working, dissolves, or gives off what it holds; outside its "
    "purpose it leaves in the water what the unit is there to take out.",
    fix="{next}.",
    numbers={"ph": NUMBER, "least": NUMBER, "most": NUMBER, "water": TEMPERATURE, "hottest": TEMPERATURE},
    figures=("ph_low", "ph_high", "temperature_max_k"),
    run=run,
)
