"""The fitted housing takes no restrictor that is right for the bed."""

import numpy as np

from fleetaudit.checks.check import Check, Outcome, Tier, Words
from fleetaudit.facts.likelihood import limit_too_small, many_media
from fleetaudit.facts.needed import fitted_limit, needed
from fleetaudit.facts.site import judged, rating
from fleetaudit.facts.view import View
from fleetaudit.facts.window import flow_window
from fleetaudit.schema import fleet
from fleetaudit.schema.quantity import FLOW


def run(unit: View) -> Outcome:
    """Find housings below the smallest right rating, and ratings recorded above what their housing takes."""
    window, need, rated = flow_window(unit), needed(unit), rating(unit)
    limit, names = fitted_limit(unit), [row.key for row in unit.catalogue.housings]
    least = np.where(np.isnan(need.smallest_right), need.rating_m3_s, need.smallest_right)
    with np.errstate(invalid="ignore"):
        none_fits = least > limit.value
        impossible = rated.known & (rated.value > limit.value)
    return Outcome(
        applies=judged(unit),
        uses=(window.low, limit),
        found=none_fits | impossible,
        numbers={"limit": limit, "least": least, "rated": rated},
        words={
            "housing": Words(unit.frame.code(fleet.HOUSING.name), (*fleet.HOUSING.choices, "unknown")),
            "said": Words(
                impossible & ~none_fits,
                (
                    "the smallest restrictor that is right here is rated {least}",
                    (
                        "a restrictor rated {rated} is recorded in it, which cannot be; one of the two cells "
                        "is wrong"
                    ),
                ),
            ),
            "fitting": Words(need.housing, (*names, "external")),
            "next": Words(
                np.select([impossible & ~none_fits, need.housing >= len(names)], [2, 1], 0),
                (
                    "Fit the {fitting} housing together with the right restrictor.",
                    "No housing takes it: put a flow control of that rating into the drain line instead.",
                    "Look at housing and washer on site and correct the record.",
                ),
            ),
        },
        doubt=impossible & ~none_fits,
        probability=limit_too_small(unit, limit.value, none_fits),
        capped=many_media(unit),
    )


CHECK = Check(
    slug="housing-too-small",
    title="Housing too small",
    tier=Tier.PLAN,
    core=True,
    needs=(fleet.SIZE, fleet.MEDIUM, fleet.HOUSING),
    message="The {housing} housing takes restrictors up to {limit}; {said}.",
    why=(
        "A housing cannot take a washer made for a larger flow, so the bed cannot be washed rightly with "
        "this one."
    ),
    fix="{next}",
    numbers={"limit": FLOW, "least": FLOW, "rated": FLOW},
    source="common practice, no source (housing limits of the catalogue)",
    absent_column_said_once=True,
    run=run,
)
