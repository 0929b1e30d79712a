"""audit(): every check on every unit. Pure and row-local: parts of a fleet give the same as the whole."""

from __future__ import annotations

from datetime import date

import numpy as np

from fleetaudit.auditing.confidence import confidence
from fleetaudit.auditing.result import AuditResult, CheckResult, Stamp, State
from fleetaudit.auditing.verdict import verdicts
from fleetaudit.catalogue.model import Catalogue
from fleetaudit.checks.check import Check, Confidence, Outcome, Tier
from fleetaudit.checks.registry import CHECKS
from fleetaudit.facts import repeats, site
from fleetaudit.facts.fact import first_reason, unusable, weakest
from fleetaudit.facts.frame import Codes, Flags, Frame
from fleetaudit.facts.view import Fleetwide, View
from fleetaudit.facts.worked import Worked
from fleetaudit.schema.column import Missing, Origin
from fleetaudit.schema.quantity import DAY_SECONDS
from fleetaudit.schema.version import VERSION

EPOCH = date(1970, 1, 1)


def audit(
    frame: Frame,
    catalogue: Catalogue,
    as_of: date,
    fleetwide: Fleetwide | None = None,
    due_within_days: float | None = None,
    worked: Worked | None = None,
) -> AuditResult:
    """Audit a frame as of a date.

    `fleetwide` is what only the whole fleet tells (`facts.repeats.report` of the added counts); for a frame
    that is the whole fleet it is worked out here. `worked` is passed from part to part of a large fleet and
    holds what they need not work out again; no result changes by it.
    """
    worked = worked or Worked(catalogue, keep=False)
    if fleetwide is None:
        fleetwide = repeats.report(repeats.count(frame, catalogue, worked=worked))
    horizon = (
        catalogue.number("due_within_days") if due_within_days is None else due_within_days * DAY_SECONDS
    )
    day = (as_of - EPOCH).days
    view = View(frame, catalogue, float(day), horizon, fleetwide, worked)
    results = tuple(_result(check, view) for check in CHECKS)
    stamp = Stamp(VERSION, catalogue.hash, day, horizon)
    return AuditResult(view, results, verdicts(results, site.judged(view)), stamp)


def _result(check: Check, view: View) -> CheckResult:
    outcome = check.run(view)
    reason = _reason(outcome, view.units)
    state = _state(outcome.applies, reason == int(Missing.KNOWN), outcome.found)
    tier = np.full(view.units, np.int8(check.tier)) if outcome.tier is None else np.array(outcome.tier)
    trust = np.full(view.units, np.int8(Confidence.MEASURE_FIRST))
    found = np.flatnonzero(state == State.FOUND)
    if len(found):
        origin = weakest(*(fact.origin[found] for fact in outcome.uses)) if outcome.uses else None
        shaky = _shaky(outcome, view, found, origin)
        tier[found] = np.where(shaky, np.maximum(tier[found], int(Tier.PLAN)), tier[found])
        trust[found] = confidence(outcome, view, found, origin)
    return CheckResult(check, outcome, state, reason, tier, trust)


def _state(applies: Flags, known: Flags, found: Flags) -> Codes:
    """State code of each unit, worked out from the flags: choosing by flags that follow no order is slow."""
    state = int(State.CLEAN) + np.asarray(found, dtype=np.int8) * np.int8(State.FOUND - State.CLEAN)
    state *= known
    state += np.int8(State.NOT_CHECKED) * ~known
    state *= applies  # NOT_APPLICABLE is 0
    return state


def _shaky(outcome: Outcome, view: View, found: Codes, origin: Codes | None) -> Flags:
    """True where a finding raises no alarm because of what it rests on.

    That is a guess, inputs that contradict each other, or a stand-in for a cell that was filled and cannot be
    used.
    """
    if origin is None:
        return np.zeros(len(found), dtype=bool)
    unread = np.zeros(len(found), dtype=bool)
    for column in {column for fact in outcome.uses for column in fact.columns}:
        if view.frame.has(column):
            unread |= unusable(view.frame, column, found)
    if outcome.apart is not None:
        unread &= ~outcome.apart[found]
    return np.asarray((origin == Origin.GUESSED) | (origin == Origin.CONFLICT) | unread)


def _reason(outcome: Outcome, units: int) -> Codes:
    if outcome.missing is not None:
        return outcome.missing
    if outcome.uses:
        return first_reason(*(fact.missing for fact in outcome.uses))
    return np.zeros(units, dtype=np.int64)
