"""What would have to be different at one unit for its findings about the wash to change.

One unit becomes a fleet of copies that differ in one cell, and the whole fleet is audited: what is said here
is what an audit of the changed row would say.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from msgspec import Struct

from fleetaudit.auditing.result import AuditResult, State
from fleetaudit.auditing.run import EPOCH, audit
from fleetaudit.auditing.subjects import ABOUT_THE_WASH
from fleetaudit.auditing.verdict import Verdict
from fleetaudit.facts import site
from fleetaudit.facts.frame import Floats, Frame
from fleetaudit.facts.needed import limits, stock
from fleetaudit.facts.window import flow_window
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Column, Missing, Origin
from fleetaudit.schema.quantity import DAY_SECONDS

COLDEST_K, WARMEST_K, STEP_K = 273.15, 308.15, 0.25
MOST_FREEBOARD_M, STEP_M = 1.524, 0.00635
#: ratings tried: from a fifth of the least flow to five times the most, in steps of half a per cent
REACH, STEP_RATIO = 5.0, 1.005


class Outcome(Struct, frozen=True):
    """Slugs found about the wash and the verdict of the unit."""

    found: tuple[str, ...]
    verdict: str


class Flip(Struct, frozen=True):
    """The nearest value [SI] of a column at which the outcome is another; `upward` where it is larger."""

    column: Column
    value: float
    upward: bool
    outcome: Outcome


class WhatIf(Struct, frozen=True):
    """Changes near enough to tell of.

    `right` are the stocked ratings [m3/s] that raise nothing about the wash.
    """

    now: Outcome
    flips: tuple[Flip, ...]
    right: tuple[float, ...]


def what_if(result: AuditResult, unit: int) -> WhatIf:
    """Nearest rating, temperature and freeboard at which the findings about the wash of a unit change."""
    view = result.view
    if not flow_window(view).known[unit]:
        return WhatIf(_outcomes(result)[unit], (), ())
    now = _outcomes(_audited(result, unit, {}, 1))[0]
    flips: list[Flip] = []
    rated = float(site.rating(view).value[unit])
    ratings = _ratings(result, unit, rated)
    if not np.isnan(rated):
        flips += _flips(result, unit, now, fleet.RESTRICTOR, ratings, rated)
    cold, warm = (float(fact.value[unit]) for fact in (site.season(view).cold, site.season(view).warm))
    if site.season(view).assumed[unit]:
        flips += _flips(result, unit, now, fleet.TEMPERATURE, np.arange(COLDEST_K, WARMEST_K, STEP_K), cold)
    else:
        flips += _flips(result, unit, now, fleet.COLD, np.arange(COLDEST_K, warm + STEP_K, STEP_K), cold)
        flips += _flips(result, unit, now, fleet.WARM, np.arange(cold, WARMEST_K, STEP_K), warm)
    space = float(site.room(view).value[unit])
    if not np.isnan(space):
        flips += _flips(result, unit, now, fleet.FREEBOARD, np.arange(0.0, MOST_FREEBOARD_M, STEP_M), space)
    return WhatIf(now, tuple(flips), _right(result, unit))


def _right(result: AuditResult, unit: int) -> tuple[float, ...]:
    ratings = stock(result.view)
    outcomes = _outcomes(_audited(result, unit, {fleet.RESTRICTOR: ratings}, len(ratings)))
    return tuple(
        float(rating) for rating, outcome in zip(ratings, outcomes, strict=True) if not outcome.found
    )


def _ratings(result: AuditResult, unit: int, rated: float) -> Floats:
    """Ratings from well below the window to well above it."""
    span = limits(result.view)
    low, high = float(span.low[unit]), float(span.high[unit])
    ends = [low, high] if np.isnan(rated) else [low, high, rated]
    first, last = min(ends) / REACH, max(ends) * REACH
    return np.geomspace(first, last, round(np.log(last / first) / np.log(STEP_RATIO)))


def _flips(
    result: AuditResult, unit: int, now: Outcome, column: Column, values: Floats, present: float
) -> list[Flip]:
    """The first other outcome below and above the present value."""
    outcomes = _outcomes(_audited(result, unit, {column: values}, len(values)))
    found = []
    for upward in (False, True):
        beyond = np.flatnonzero(values > present) if upward else np.flatnonzero(values < present)[::-1]
        other = next((int(place) for place in beyond if outcomes[place] != now), None)
        if other is not None:
            found.append(Flip(column, float(values[other]), upward, outcomes[other]))
    return found


def _outcomes(result: AuditResult) -> list[Outcome]:
    wash = [item for item in result.checks if item.check.slug in ABOUT_THE_WASH]
    grid = np.stack([item.state == State.FOUND for item in wash], axis=1)
    slugs = [item.check.slug for item in wash]
    return [
        Outcome(tuple(slug for slug, hit in zip(slugs, row, strict=True) if hit), Verdict(int(code)).word)
        for row, code in zip(grid.tolist(), result.verdict, strict=True)
    ]


def _audited(result: AuditResult, unit: int, changed: Mapping[Column, Floats], copies: int) -> AuditResult:
    """The audit of copies of one unit that differ in the changed columns."""
    view, stamp = result.view, result.stamp
    frame = _copies(view.frame, unit, copies)
    for column, values in changed.items():
        _set(frame, column, values)
        if column is fleet.RESTRICTOR:  # the flow that was measured is that of the old washer
            _forget(frame, fleet.MEASURED)
        if column is fleet.TEMPERATURE:
            _forget(frame, fleet.COLD)
            _forget(frame, fleet.WARM)
    as_of = EPOCH.fromordinal(EPOCH.toordinal() + stamp.as_of_day)
    return audit(frame, view.catalogue, as_of, view.fleetwide, stamp.due_within_s / DAY_SECONDS)


def _copies(frame: Frame, unit: int, copies: int) -> Frame:
    one = frame.part(unit, unit + 1)
    rows = np.zeros(copies, dtype=np.int64)
    return Frame(
        one.file,
        one.sheet,
        one.rows[rows],
        {key: values[rows] for key, values in one.numbers.items()},
        {key: list(values) * copies for key, values in one.texts.items()},
        {key: values[rows] for key, values in one.codes.items()},
        {key: values[rows] for key, values in one.origin.items()},
        {key: values[rows] for key, values in one.missing.items()},
        dict(one.columns),
        {(copy, name): text for (_, name), text in one.raw.items() for copy in range(copies)},
        {copy: layers for layers in one.layers.values() for copy in range(copies)},
        {key: values[rows] for key, values in one.date_low.items()},
        {key: values[rows] for key, values in one.date_high.items()},
        one.purposes,
    )


def _set(frame: Frame, column: Column, values: Floats) -> None:
    frame.numbers[column.key] = values
    frame.missing[column.name] = np.full(len(values), int(Missing.KNOWN))
    frame.origin[column.name] = np.full(len(values), int(Origin.TYPED))


def _forget(frame: Frame, column: Column) -> None:
    if column.name in frame.missing:
        frame.numbers[column.key] = np.full(frame.units, np.nan)
        frame.missing[column.name] = np.full(frame.units, int(Missing.BLANK))
