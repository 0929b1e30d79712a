"""The supply cannot deliver what the restrictor asks for."""

import numpy as np

from fleetaudit.checks.check import Check, Outcome, Tier, Words
from fleetaudit.facts.drain import pressure_left, wanted
from fleetaudit.facts.fact import first_reason
from fleetaudit.facts.site import judged, supply
from fleetaudit.facts.view import View
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Missing
from fleetaudit.schema.quantity import FLOW, PRESSURE


def run(unit: View) -> Outcome:
    """Find supplies under rating * (1 - tolerance), and too little pressure left at the washer.

    Good pressure alone says nothing of whether the flow lasts.
    """
    flow, source, left = wanted(unit), supply(unit), pressure_left(unit)
    tolerance, least = unit.setting("restrictor_tolerance"), unit.setting("low_pressure")
    with np.errstate(invalid="ignore"):
        weak = source.known & (source.value < flow.value * (1 - tolerance))
        low = left.known & (left.value < least)
    told = source.known | low
    return Outcome(
        applies=judged(unit),
        uses=(flow, source.where(low & ~weak, left)),
        missing=first_reason(flow.missing, np.where(told, int(Missing.KNOWN), source.missing)),
        found=flow.known & (weak | low),
        numbers={"flow": flow, "supply": source, "left": left, "least": np.full(unit.units, least)},
        words={
            "said": Words(
                weak,
                (
                    "only {left} is left at the washer, which wants {least} or more",
                    "the supply sustains {supply} for each vessel washed",
                ),
            )
        },
    )


CHECK = Check(
    slug="supply-too-weak",
    title="Supply too weak",
    tier=Tier.PLAN,
    needs=(fleet.RESTRICTOR, fleet.SUPPLY_FLOW),
    message="The wash wants {flow}; {said}.",
    why="The washer can only hold a flow back; with too little supply the bed gets less, and nobody sees it.",
    fix=(
        "Measure pressure and flow during a wash with other taps running; see to pump or pressure tank "
        "before the washer."
    ),
    numbers={"flow": FLOW, "supply": FLOW, "left": PRESSURE, "least": PRESSURE},
    source="from memory, unverified (pressure limits in Settings); pipe friction after Darcy and Weisbach",
    caution="Pumps are mains-powered and tanks are under pressure: licensed practice only.",
    run=run,
)
