"""The drain restrictor passes so much water that the bed is lifted out, or the supply cannot keep up."""

from fleetaudit.checks.check import Check, Outcome, Tier, tiers
from fleetaudit.facts.likelihood import contradicted, many_media, too_large
from fleetaudit.facts.loss import media_surely_lost
from fleetaudit.facts.needed import fit, inputs_are_doubtful, limits, needed
from fleetaudit.facts.site import drain_flow, judged
from fleetaudit.facts.slip import flow_may_be_a_slip
from fleetaudit.facts.view import View
from fleetaudit.facts.window import flow_window
from fleetaudit.schema import fleet
from fleetaudit.schema.quantity import FLOW


def run(unit: View) -> Outcome:
    """Find units whose whole drain-flow interval lies above the window."""
    window, flow, slip = flow_window(unit), drain_flow(unit), flow_may_be_a_slip(unit)
    return Outcome(
        applies=judged(unit),
        uses=(window.low, flow),
        found=fit(unit).large,
        numbers={
            "flow": flow,
            "low": limits(unit).low,
            "high": limits(unit).high,
            "fit": needed(unit).rating_m3_s,
        },
        doubt=contradicted(unit) | slip,
        probability=too_large(unit),
        capped=many_media(unit),
        tier=tiers(Tier.PLAN, media_surely_lost(unit) & ~inputs_are_doubtful(unit)),
    )


CHECK = Check(
    slug="restrictor-too-large",
    title="Restrictor too large",
    tier=Tier.PLAN,
    core=True,
    needs=(fleet.SIZE, fleet.MEDIUM, fleet.RESTRICTOR),
    message="Passes {flow}; this bed of {medium} takes {low} to {high}.",
    why=(
        "Above {high} the bed may rise out of the vessel to drain, and every wash takes more water than it "
        "needs."
    ),
    fix="Fit a restrictor rated {fit}; look for media in the drain and measure the bed depth that is left.",
    numbers={"flow": FLOW, "low": FLOW, "high": FLOW, "fit": FLOW},
    figures=("rate_low_m_s", "rate_high_m_s", "d10_m"),
    run=run,
)
