"""Findings that somebody answers for leaving as they are: taken out of the count while that holds.

An acceptance holds for one check of one unit, until a day, and as long as the unit's data stay what they
were. For that it carries a mark, a short fingerprint of everything the list says of the unit but names,
places, crews, notes and the meter reading. Where it has no mark yet, a change that the history records after
its day ends it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from enum import Enum
from math import isnan

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from fleetaudit.auditing.result import AuditResult, State
from fleetaudit.auditing.verdict import verdicts
from fleetaudit.facts import site
from fleetaudit.facts.history import Before
from fleetaudit.facts.view import View
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Column, Missing, Origin
from fleetaudit.schema.quantity import Kind

#: what may change without changing what was accepted
_NO_MATTER = frozenset({
    fleet.UNIT_ID, fleet.ACCOUNT, fleet.ADDRESS, fleet.CITY, fleet.STATE, fleet.POSTCODE, fleet.LATITUDE,
    fleet.LONGITUDE, fleet.VESSEL_LABEL, fleet.KIND, fleet.CREW, fleet.MEDIA_CREW, fleet.NOTE, fleet.TREATED,
})  # fmt: skip
MARK_LENGTH = 8
DIGITS = 6


class Acceptance(Struct, frozen=True):
    """One line of the sheet of accepted findings; days are counted from 1970-01-01, NaN where not given."""

    unit_id: str
    label: str
    check: str
    reason: str
    by: str
    on: float
    until: float
    mark: str
    row: int
    cell: str


class Standing(Enum):
    """What has become of an acceptance."""

    HOLDS = "holds"
    EXPIRED = "expired"
    DATA_CHANGED = "data changed"
    NOTHING_TO_ACCEPT = "nothing to accept"
    UNKNOWN_UNIT = "unknown unit"
    SEVERAL_ROWS = "several rows"


class Accepted(Struct, frozen=True):
    """An acceptance, what became of it, the unit and check it is about (-1 for no unit), and the mark due."""

    acceptance: Acceptance
    standing: Standing
    unit: int = -1
    check: int = -1
    mark: str = ""


def accept(
    result: AuditResult, acceptances: Sequence[Acceptance], history: Sequence[Before] = ()
) -> tuple[AuditResult, tuple[Accepted, ...]]:
    """The result with accepted findings set apart and the verdicts worked out without them."""
    if not acceptances:
        return result, ()
    judged = tuple(_judge(result, one, history) for one in acceptances)
    checks = list(result.checks)
    for one in judged:
        if one.standing is Standing.HOLDS:
            state = checks[one.check].state.copy()
            state[one.unit] = int(State.ACCEPTED)
            checks[one.check] = replace(checks[one.check], state=state)
    found = verdicts(checks, site.judged(result.view))
    return replace(result, checks=tuple(checks), verdict=found), judged


def _judge(result: AuditResult, one: Acceptance, history: Sequence[Before]) -> Accepted:
    units = _units(result.view, one)
    if len(units) != 1:
        return Accepted(one, Standing.SEVERAL_ROWS if units else Standing.UNKNOWN_UNIT)
    unit = units[0]
    check = next(place for place, item in enumerate(result.checks) if item.check.slug == one.check)
    mark = fingerprint(result.view, unit)
    if result.checks[check].state[unit] != State.FOUND:
        standing = Standing.NOTHING_TO_ACCEPT
    elif result.view.as_of_day > one.until:
        standing = Standing.EXPIRED
    elif (one.mark and one.mark.casefold() != mark) or (not one.mark and _changed_since(one, history)):
        standing = Standing.DATA_CHANGED
    else:
        standing = Standing.HOLDS
    return Accepted(one, standing, unit, check, mark)


def _units(view: View, one: Acceptance) -> list[int]:
    frame = view.frame
    made_up = frame.origins(fleet.UNIT_ID) == Origin.FILLED
    labels = frame.text(fleet.VESSEL_LABEL)
    return [
        unit
        for unit, name in enumerate(frame.text(fleet.UNIT_ID))
        if name.casefold() == one.unit_id.casefold()
        and not made_up[unit]
        and (not one.label or labels[unit].casefold() == one.label.casefold())
    ]


def _changed_since(one: Acceptance, history: Sequence[Before]) -> bool:
    """True where the history holds a change of the unit's data after the day of acceptance."""
    titles = {column.title for column in fleet.COLUMNS if column not in _NO_MATTER}
    return not isnan(one.on) and any(
        line.unit_id.casefold() == one.unit_id.casefold()
        and (not one.label or line.label.casefold() == one.label.casefold())
        and line.what in titles
        and line.day > one.on
        for line in history
    )


def fingerprint(view: View, unit: int) -> str:
    """Short mark of what the list says of a unit; the same whatever the order or units of its columns."""
    said = sorted(
        f"{column.name}={text}"
        for column in fleet.COLUMNS
        if column not in _NO_MATTER and (text := _said(view, unit, column))
    )
    return hashlib.sha256("\n".join(said).encode("utf-8")).hexdigest()[:MARK_LENGTH]


def _said(view: View, unit: int, column: Column) -> str:
    """What a cell says, in words that do not hang on how it is written; "" where blank."""
    frame = view.frame
    missing = Missing(int(frame.why_missing(column)[unit]))
    if column in (fleet.DIAMETER, fleet.HEIGHT):
        missing = Missing.KNOWN if not np.isnan(frame.number(column)[unit]) else missing
    elif column is fleet.SIZE:
        return ""
    if missing in (Missing.BLANK, Missing.NO_COLUMN):
        return ""
    if missing is not Missing.KNOWN:
        return f"?{frame.raw.get((unit, column.name), '')}"
    return _known(view, unit, column)


def _known(view: View, unit: int, column: Column) -> str:
    """What a cell says whose value could be used."""
    frame = view.frame
    if column is fleet.MEDIUM and view.medium[unit] >= 0:
        return view.catalogue.media[int(view.medium[unit])].key
    kind = column.quantity.kind
    if kind in (Kind.CHOICE, Kind.FLAG):
        return str(int(frame.code(column.name)[unit]))
    if column.numeric:
        return f"{frame.number(column)[unit]:.{DIGITS}g}"
    return " ".join(frame.text(column)[unit].casefold().split())
