"""No restrictor on stock falls inside the flow window of the unit."""

from fleetaudit.checks.check import Check, Outcome, Tier
from fleetaudit.facts.needed import fit, limits, needed
from fleetaudit.facts.site import judged
from fleetaudit.facts.view import View
from fleetaudit.facts.window import flow_window
from fleetaudit.schema import fleet
from fleetaudit.schema.quantity import FLOW


def run(unit: View) -> Outcome:
    """Find units for which every stocked rating lies outside the window and none that is right is fitted."""
    window, need = flow_window(unit), needed(unit)
    return Outcome(
        applies=judged(unit),
        uses=(window.low,),
        found=window.known & ~need.stocked & ~fit(unit).inside,
        numbers={"low": limits(unit).low, "high": limits(unit).high, "fit": need.rating_m3_s},
    )


CHECK = Check(
    slug="restrictor-not-stocked",
    title="No stocked restrictor fits",
    tier=Tier.NOTE,
    needs=(fleet.SIZE, fleet.MEDIUM),
    message="No stocked restrictor lies between {low} and {high}; the nearest is {fit}.",
    why="The window falls between two ratings of the series, or beyond its end.",
    fix="Order a rating inside {low} to {high}, or fit {fit} and watch the first wash.",
    numbers={"low": FLOW, "high": FLOW, "fit": FLOW},
    figures=("rate_low_m_s", "rate_high_m_s"),
    run=run,
)
