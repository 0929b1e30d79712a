"""Units to be measured before anybody acts: what to measure there and what to bring; when media fall due."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from math import isnan

import numpy as np

from fleetaudit.auditing.result import AuditResult, State
from fleetaudit.checks.check import Confidence
from fleetaudit.checks.registry import CHECKS
from fleetaudit.facts import site
from fleetaudit.facts.due import due, due_soon, guards_health, media_date, only_topped_up, top_up_unknown
from fleetaudit.facts.frame import Flags, Floats
from fleetaudit.facts.view import View
from fleetaudit.language import say
from fleetaudit.parts import Part, items, medium_name
from fleetaudit.schema import fleet
from fleetaudit.writing.display import day
from fleetaudit.writing.orders import Clerk
from fleetaudit.writing.report import MeasureLine, MediaLine

FLOW = "the drain flow with bucket and watch", "bucket and watch"
RATING = "the rating on the restrictor that is in there", "torch"
WARMTH = "the temperature of the feed water", "thermometer"
GRAINS = "the grain size of the bed, from a sample", "sample bag and sieves"
DEPTHS = "bed depth and freeboard", "measuring stick"
HOUSING = "which housing is fitted", "torch"
AGE = "when the medium was loaded, from label, invoices or the customer; sample the bed", "sample bag"
LEFT = "the depth of media that is left", "measuring stick"
SUPPLY = "pressure and flow of the supply during a wash", "pressure gauge, bucket and watch"
WATER = "pH and temperature of the feed water", "test kit and thermometer"
DRAIN = "bore, length and rise of the drain line", "tape measure"
CONTACT = "peak flow in service and bed depth", "flow meter, measuring stick"
CELL = "what the cell should say", "the row of the list"
#: what settles a finding; the window's own inputs are added where they were assumed
MEASURES: Mapping[str, tuple[tuple[str, str], ...]] = {
    "restrictor-too-small": (RATING, FLOW), "restrictor-too-large": (RATING, FLOW),
    "restrictor-borderline": (RATING, FLOW), "restrictor-missing": (RATING, FLOW),
    "restrictor-not-stocked": (FLOW,), "flow-differs-from-restrictor": (RATING, FLOW),
    "housing-too-small": (HOUSING, RATING), "needs-external-flow-control": (HOUSING, FLOW),
    "media-overdue": (AGE,), "media-due-soon": (AGE,), "media-date-unknown": (AGE,),
    "media-unsuited": (WATER,), "bed-too-shallow": (DEPTHS,), "freeboard-too-small": (DEPTHS,),
    "season-conflict": (WARMTH, FLOW), "supply-too-weak": (SUPPLY,), "drain-too-small": (DRAIN, FLOW),
    "service-flow-too-high": (CONTACT,), "contact-time-too-short": (CONTACT,),
    "layers-mismatched": (GRAINS, DEPTHS), "wash-too-short": (FLOW,), "wash-too-rare": (FLOW,),
}  # fmt: skip
#: checks that hang on the flow window, so that what it assumed is to be measured too
WINDOW = (
    "restrictor-too-small",
    "restrictor-too-large",
    "restrictor-borderline",
    "restrictor-missing",
    "housing-too-small",
)
MISSING_RESTRICTOR = "restrictor-missing"
STATES = ("overdue", "due soon", "not due", "not over but no day can be told", "not known")
SILENT, WORKS = "no word of a top-up", ("top-up", "new bed")
WAYS = ("date", "water treated", "depth left", "top-up")


def measuring(result: AuditResult, clerk: Clerk, lines: Sequence[Part], chosen: Flags) -> list[MeasureLine]:
    """Chosen units with a finding to measure first, no restrictor on record, or a top-up nobody knows of."""
    view, frame = result.view, result.view.frame
    bring: dict[int, list[str]] = {}
    for part in lines:
        if part.to_bring and not part.contents:
            size = clerk.size(items(part)[0][0])
            bring.setdefault(part.unit, []).append(f"{part.count:g} × {say(part.kind.value)} {size}")
    reasons: dict[int, list[int]] = {}
    unit, check = result.pairs(State.FOUND)
    for row, place in zip(unit.tolist(), check.tolist(), strict=True):
        item = result.checks[place]
        first = int(item.confidence[row]) == Confidence.MEASURE_FIRST
        if chosen[row] and (first or item.check.slug == MISSING_RESTRICTOR):
            reasons.setdefault(row, []).append(place)
    unfilled = top_up_unknown(view) & site.judged(view) & chosen
    for row in np.flatnonzero(unfilled).tolist():
        reasons.setdefault(row, [])
    found = []
    for row in sorted(
        reasons,
        key=lambda row: (min((int(result.checks[p].tier[row]) for p in reasons[row]), default=2), row),
    ):
        slugs = [CHECKS[place].slug for place in reasons[row]]
        asked = [measure for slug in slugs for measure in MEASURES.get(slug, (CELL,))]
        asked += _assumed(view, row) if any(slug in WINDOW for slug in slugs) else []
        asked += [LEFT] if unfilled[row] else []
        titles = [say(CHECKS[place].title) for place in reasons[row]] + (
            [say("No top-up on record")] if unfilled[row] else []
        )
        found.append(MeasureLine(
            row, frame.text(fleet.UNIT_ID)[row], frame.text(fleet.ACCOUNT)[row], frame.text(fleet.CREW)[row],
            int(frame.rows[row]), "; ".join(dict.fromkeys(titles)),
            "; ".join(dict.fromkeys(say(what) for what, _ in asked)),
            "; ".join(dict.fromkeys([*bring.get(row, []), *(say(tool) for _, tool in asked)])),
        ))  # fmt: skip
    return found


def _assumed(view: View, row: int) -> list[tuple[str, str]]:
    """Inputs of the flow window of a unit that nobody gave."""
    found = []
    if site.season(view).assumed[row]:
        found.append(WARMTH)
    if not site.mesh_stated(view)[row]:
        found.append(GRAINS)
    if not (site.room(view).known[row] and site.measured_depth(view).known[row]):
        found.append(DEPTHS)
    return found


def media_lines(result: AuditResult, chosen: Flags) -> list[MediaLine]:
    """When media of chosen units in service fall due: the longest overdue first, what is not known last."""
    view, frame = result.view, result.view.frame
    found, loaded, soon = due(view), media_date(view), due_soon(view)
    topped, guards, unsaid = only_topped_up(view), guards_health(view), top_up_unknown(view)
    today = day(view.as_of_day)
    judged = np.flatnonzero(site.judged(view) & chosen)
    known, spent = found.day.known[judged], found.spent[judged]
    states = np.select([spent, soon[judged], known, found.told[judged]], [0, 1, 2, 3], 4)
    unit_id, account = frame.text(fleet.UNIT_ID), frame.text(fleet.ACCOUNT)
    rows = [
        MediaLine(
            unit_id[row], account[row], number, medium_name(result, row), since, middle, earliest, latest,
            over if told and late else None, STATES[state] + (f", {SILENT}" if silent else ""),
            WAYS[way] if told or late else "", WORKS[0] if only_top else WORKS[1], guarded,
        )
        for (
            row, number, since, middle, earliest, latest, over, told, late, state, silent, way, only_top,
            guarded,
        ) in zip(
            judged.tolist(), frame.rows[judged].tolist(), _days(loaded.value[judged], loaded.known[judged]),
            *(_days(end[judged], known) for end in (found.day.value, found.day.low, found.day.high)),
            np.nan_to_num(view.as_of_day - np.floor(found.day.value[judged])).astype(np.int64).tolist(),
            known.tolist(), spent.tolist(), states.tolist(), unsaid[judged].tolist(),
            found.by[judged].tolist(), topped[judged].tolist(), guards[judged].tolist(), strict=True,
        )
    ]  # fmt: skip
    return sorted(rows, key=lambda line: (line.day is None, line.day or today, line.row))


def _days(values: Floats, known: Flags) -> list[date | None]:
    """Dates, None where not known."""
    return [
        day(value) if there and not isnan(value) else None
        for value, there in zip(values.tolist(), known.tolist(), strict=True)
    ]
