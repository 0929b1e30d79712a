"""How far a finding may be trusted.

A plain rule for now, not a probability: `measure-first` where inputs contradict each other or an assumed value decides
the finding, `likely` where something was assumed, filled in or guessed and the finding stands all the same, `sure`
where everything it rests on was given.
"""

from __future__ import annotations

import numpy as np

from fleetaudit.checks.check import Confidence, Outcome
from fleetaudit.facts.fact import weakest
from fleetaudit.facts.frame import Codes
from fleetaudit.schema.column import Origin

RULE = (
    "sure: everything it rests on was given; likely: something was assumed, filled in or guessed and the finding "
    "stands whatever it is; measure-first: an assumed value decides, or inputs contradict each other. "
    "A rule, not yet a probability."
)


def confidence(outcome: Outcome, units: int) -> Codes:
    """Confidence code of each unit's finding."""
    origin = np.full(units, int(Origin.TYPED))
    if outcome.uses:
        origin = weakest(*(fact.origin for fact in outcome.uses))
    taken = np.isin(origin, (Origin.DEFAULT, Origin.FILLED, Origin.GUESSED))
    level = np.where(taken, int(Confidence.LIKELY), int(Confidence.SURE))
    if outcome.holds is not None:
        level = np.where(outcome.holds, level, int(Confidence.MEASURE_FIRST))
    unsure = origin == Origin.CONFLICT
    if outcome.doubt is not None:
        unsure = unsure | outcome.doubt
    return np.asarray(np.where(unsure, int(Confidence.MEASURE_FIRST), level), dtype=np.int64)
