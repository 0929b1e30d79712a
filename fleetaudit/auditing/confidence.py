"""How far a finding may be trusted: one word, from the probability that the finding is true.

Where a check gives a probability the word follows from it alone, by the settings `confidence_sure` and
`confidence_likely`. Checks whose inputs carry no ranges keep a plain rule: `sure` where everything the
finding rests on was given, `likely` where something was assumed, filled in or guessed and the finding stands
all the same, `measure-first` where an assumed value decides it. Two things override both: a name or size
guessed from a doubtful spelling is `likely` at most, and inputs that contradict each other are
`measure-first`.
"""

from __future__ import annotations

import numpy as np

from fleetaudit.checks.check import Confidence, Outcome
from fleetaudit.facts.frame import Codes, Flags, Floats
from fleetaudit.facts.view import View
from fleetaudit.schema.column import Origin

RULE = (
    "sure: true with a probability of 99 % or more over everything that was not measured; likely: 90 % or "
    "more; measure-first: less, or inputs contradict each other. Checks without ranges (site record, loads) "
    "say sure where all they rest on was given. What was guessed from a doubtful spelling is likely at most."
)


def confidence(outcome: Outcome, view: View, found: Codes, origin: Codes | None) -> Codes:
    """Confidence code of the findings of some units; `origin` is the weakest of what each rests on."""

    def of(flags: Flags | None) -> Flags:
        return np.zeros(len(found), dtype=bool) if flags is None else flags[found]

    if origin is None:
        origin = np.full(len(found), int(Origin.TYPED))
    guessed = (origin == Origin.FILLED) | (origin == Origin.GUESSED)
    if outcome.probability is not None:
        sure, likely = view.setting("confidence_sure"), view.setting("confidence_likely")
        level = label(outcome.probability[found], sure, likely)
    else:
        taken = guessed | (origin == Origin.DEFAULT)
        level = np.where(taken, int(Confidence.LIKELY), int(Confidence.SURE))
        if outcome.holds is not None:
            level = np.where(of(outcome.holds), level, int(Confidence.MEASURE_FIRST))
    level = np.where(guessed | of(outcome.capped), np.maximum(level, int(Confidence.LIKELY)), level)
    unsure = (origin == Origin.CONFLICT) | of(outcome.doubt)
    return np.asarray(np.where(unsure, int(Confidence.MEASURE_FIRST), level), dtype=np.int64)


def label(probability: Floats, sure: float, likely: float) -> Codes:
    """Confidence code of a probability; NaN is measure-first."""
    with np.errstate(invalid="ignore"):
        return np.select(
            [probability >= sure, probability >= likely],
            [int(Confidence.SURE), int(Confidence.LIKELY)],
            int(Confidence.MEASURE_FIRST),
        )
