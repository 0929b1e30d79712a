"""A unit's verdict: the gravest thing known about it, and never clean where a core check could not run."""

from __future__ import annotations

from collections.abc import Sequence
from enum import IntEnum

import numpy as np

from fleetaudit.auditing.result import CheckResult, State
from fleetaudit.checks.check import Tier
from fleetaudit.facts.frame import Codes, Flags
from fleetaudit.schema.column import Missing


class Verdict(IntEnum):
    """Verdicts from the gravest on; `NOT_JUDGED` is for what is out of service or no backwashing bed."""

    NOW = 0
    PLAN = 1
    NOT_CHECKED = 2
    NOTE = 3
    CLEAN = 4
    NOT_JUDGED = 5

    @property
    def word(self) -> str:
        """The word shown."""
        return self.name.lower().replace("_", "-")


#: the verdict that a finding of each tier gives, by the code of the tier
_OF_TIER = np.array([Verdict[tier.name] for tier in sorted(Tier)])


def verdicts(results: Sequence[CheckResult], judged: Flags) -> Codes:
    """Verdict code of each unit.

    A core check that could not run makes `not-checked`, unless a column the whole workbook lacks is the only
    reason and the check says that once for all.
    """
    gravest = np.full(len(judged), int(Verdict.CLEAN))
    for result in results:
        found = np.flatnonzero(result.state == int(State.FOUND))
        gravest[found] = np.minimum(gravest[found], _OF_TIER[result.tier[found]])
        if result.check.core:
            blind = np.flatnonzero(result.state == int(State.NOT_CHECKED))
            if result.check.absent_column_said_once:
                blind = blind[result.reason[blind] != Missing.NO_COLUMN]
            gravest[blind] = np.minimum(gravest[blind], int(Verdict.NOT_CHECKED))
    return np.where(judged, gravest, int(Verdict.NOT_JUDGED))
