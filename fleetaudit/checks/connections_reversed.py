"""Inlet and outlet are recorded as swapped."""

from fleetaudit.checks.check import Check, Outcome, Tier
from fleetaudit.facts.fact import given
from fleetaudit.facts.site import judged
from fleetaudit.facts.view import View
from fleetaudit.schema import fleet

REVERSED = list(fleet.CONNECTIONS.choices).index("reversed")


def run(unit: View) -> Outcome:
    """Find units whose connections column says reversed."""
    return Outcome(
        applies=judged(unit),
        found=unit.frame.code(fleet.CONNECTIONS.name) == REVERSED,
        uses=(given(unit.frame, fleet.CONNECTIONS),),
    )


CHECK = Check(
    slug="connections-reversed",
    title="Inlet and outlet swapped",
    tier=Tier.NOW,
    needs=(fleet.CONNECTIONS,),
    message="Inlet and outlet are recorded as swapped.",
    why=(
        "Water enters where it should leave: media can reach the house plumbing, and what is downstream is "
        "harmed."
    ),
    fix="Isolate the unit, relieve the pressure and pipe it as the arrows on the body say; flush before use.",
    source="common practice, no source",
    caution="Pressure and water damage: licensed practice and the maker's sheet come first.",
    run=run,
)
