"""There is too little space above the bed for the wash it needs."""

import numpy as np

from fleetaudit.checks.check import Check, Outcome, Tier
from fleetaudit.facts.fact import first_reason
from fleetaudit.facts.likelihood import freeboard_too_small, many_media
from fleetaudit.facts.site import judged, room
from fleetaudit.facts.view import View
from fleetaudit.facts.window import Clash, flow_window
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Missing
from fleetaudit.schema.quantity import DEPTH_SHOWN, FLOW


def run(unit: View) -> Outcome:
    """Find beds whose least wash already lifts them to the upper distributor.

    Only where freeboard was measured and the grains are known; without them nobody can tell how far a bed
    rises.
    """
    window, space = flow_window(unit), room(unit)
    untold = np.where(np.isinf(window.hard), int(Missing.NO_FIGURE), int(Missing.KNOWN))
    return Outcome(
        applies=judged(unit),
        uses=(window.low, space),
        missing=first_reason(window.low.missing, space.missing, untold),
        found=window.clash == Clash.FREEBOARD,
        numbers={"space": space, "low": window.low_without_freeboard, "most": window.hard},
        probability=freeboard_too_small(unit),
        capped=many_media(unit),
    )


CHECK = Check(
    slug="freeboard-too-small",
    title="Too little freeboard",
    tier=Tier.PLAN,
    needs=(fleet.SIZE, fleet.MEDIUM, fleet.FREEBOARD),
    message="With {space} above the bed no more than {most} may be used; the bed needs {low} or more.",
    why="A flow that cleans this bed lifts its top out to the drain.",
    fix="Measure the freeboard again; take media out or use a taller vessel.",
    numbers={"space": DEPTH_SHOWN, "low": FLOW, "most": FLOW},
    figures=("rate_low_m_s", "d10_m"),
    run=run,
)
