"""What the audit answers: by check, each unit's state, reason, tier and confidence, and the verdicts."""

from __future__ import annotations

from enum import IntEnum
from typing import TYPE_CHECKING

import numpy as np
from msgspec import Struct

from fleetaudit.checks.check import Check, Outcome
from fleetaudit.facts.frame import Codes
from fleetaudit.facts.view import View

if TYPE_CHECKING:
    import pandas


class State(IntEnum):
    """Outcome of one check for one unit; ACCEPTED is a finding that somebody answers for leaving as it is."""

    NOT_APPLICABLE = 0
    NOT_CHECKED = 1
    CLEAN = 2
    FOUND = 3
    ACCEPTED = 4


class CheckResult(Struct, frozen=True):
    """One check over all units; `reason` is a Missing code where the state is NOT_CHECKED."""

    check: Check
    outcome: Outcome
    state: Codes
    reason: Codes
    tier: Codes
    confidence: Codes


class Stamp(Struct, frozen=True):
    """What the result depends on."""

    version: str
    catalogue: str
    as_of_day: int
    due_within_s: float


class AuditResult(Struct, frozen=True):
    """Results of all checks on one frame."""

    view: View
    checks: tuple[CheckResult, ...]
    verdict: Codes
    stamp: Stamp

    def pairs(self, state: State) -> tuple[Codes, Codes]:
        """Unit and check positions in a state, by unit and then in report order of the checks."""
        grid = np.stack([result.state == state for result in self.checks], axis=1)
        unit, check = np.nonzero(grid)
        return unit, check

    def findings(self, state: State = State.FOUND) -> dict[str, Codes]:
        """Columns of all findings, by unit and then in report order: unit, check, reason, tier, confidence.

        `state` NOT_CHECKED gives the checks that could not run instead.
        """
        units = [np.flatnonzero(result.state == int(state)) for result in self.checks]
        number = np.bincount(np.concatenate(units), minlength=self.view.units)
        ahead = np.cumsum(number) - number  # findings of the units before, and of the checks before
        names = ("reason", "tier", "confidence")
        columns = {"unit": np.repeat(np.arange(len(number)), number)}
        columns |= {name: np.empty(len(columns["unit"]), dtype=np.int64) for name in ("check", *names)}
        for check, (result, mine) in enumerate(zip(self.checks, units, strict=True)):
            place = ahead[mine]
            ahead[mine] += 1
            columns["check"][place] = check
            for name in names:
                columns[name][place] = getattr(result, name)[mine]
        return columns

    def findings_table(self) -> pandas.DataFrame:
        """Data frame of findings and checks not run: row, check, state, reason, tier, confidence."""
        import pandas  # noqa: PLC0415 - a quarter of a second that a run of the command line need not pay

        parts = []
        slugs = np.array([result.check.slug for result in self.checks], dtype=object)
        for state in (State.FOUND, State.NOT_CHECKED):
            columns = self.findings(state)
            unit, check = columns.pop("unit"), columns.pop("check")
            table = pandas.DataFrame({"row": self.view.frame.rows[unit], "check": slugs[check], **columns})
            parts.append(table.assign(state=state.name.lower()))
        return pandas.concat(parts, ignore_index=True).sort_values(["row", "check"], ignore_index=True)
