"""Units to be measured before anybody acts: what to measure there and what to bring; when media fall due."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from fleetaudit.auditing.result import AuditResult, State
from fleetaudit.checks.check import Confidence, Tier
from fleetaudit.checks.registry import CHECKS
from fleetaudit.facts import site
from fleetaudit.facts.due import due, due_soon, guards_health, media_date, only_topped_up, top_up_unknown
from fleetaudit.facts.frame import Flags
from fleetaudit.facts.view import View
from fleetaudit.language import say
from fleetaudit.needs import Item, piece
from fleetaudit.parts import Part, media_names
from fleetaudit.schema import fleet
from fleetaudit.writing.alike import records, said_once
from fleetaudit.writing.display import dates, whole_days
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
DUE_SOON, NOT_DUE = "due soon", "not due"
STATES = ("overdue", DUE_SOON, NOT_DUE, "not over but no day can be told", "not known")
SILENT, WORKS = "no word of a top-up", ("top-up", "new bed")
WAYS = ("date", "water treated", "depth left", "top-up")


def measuring(result: AuditResult, clerk: Clerk, lines: Sequence[Part], chosen: Flags) -> list[MeasureLine]:
    """Chosen units with a finding to measure first, no restrictor on record, or a top-up nobody knows of."""
    view, frame = result.view, result.view.frame
    reasons: dict[int, list[int]] = {}
    tier = np.full(view.units, int(Tier.NOTE))
    for place, item in enumerate(result.checks):
        asks = chosen & (item.state == State.FOUND)
        if item.check.slug != MISSING_RESTRICTOR:
            asks &= item.confidence == Confidence.MEASURE_FIRST
        np.minimum(tier, item.tier, out=tier, where=asks)
        for row in np.flatnonzero(asks).tolist():
            reasons.setdefault(row, []).append(place)
    unfilled = top_up_unknown(view) & site.judged(view) & chosen
    for row in np.flatnonzero(unfilled).tolist():
        reasons.setdefault(row, [])
    rows = np.array(list(reasons), dtype=np.int64)
    rows = rows[np.lexsort((rows, tier[rows]))]
    places = rows.tolist()
    told = said_once(
        _told,
        [tuple(reasons[row]) for row in places],
        *(assumed[rows].tolist() for assumed in _window(view)),
        unfilled[rows].tolist(),
    )
    bring = _to_bring(clerk, lines)
    unit_id, account, crew = (frame.text(one) for one in (fleet.UNIT_ID, fleet.ACCOUNT, fleet.CREW))
    return [
        MeasureLine(
            row, unit_id[row], account[row], crew[row], number, because, measure,
            "; ".join(dict.fromkeys([*bring.get(row, ()), *tool])),
        )
        for row, number, (because, measure, tool) in zip(
            places, frame.rows[rows].tolist(), told, strict=True
        )
    ]  # fmt: skip


def _told(
    found: tuple[int, ...], warmth: bool, grains: bool, depths: bool, unfilled: bool
) -> tuple[str, str, tuple[str, ...]]:
    """Why a unit is to be measured, what, and with what; flags are of what its flow window only assumes."""
    checks = [CHECKS[place] for place in found]
    asked = [measure for check in checks for measure in MEASURES.get(check.slug, (CELL,))]
    if any(check.slug in WINDOW for check in checks):
        assumed = ((WARMTH, warmth), (GRAINS, grains), (DEPTHS, depths))
        asked += [measure for measure, wanted in assumed if wanted]
    asked += [LEFT] if unfilled else []
    titles = [say(check.title) for check in checks] + ([say("No top-up on record")] if unfilled else [])
    return (
        "; ".join(dict.fromkeys(titles)),
        "; ".join(dict.fromkeys(say(what) for what, _ in asked)),
        tuple(say(tool) for _, tool in asked),
    )


def _to_bring(clerk: Clerk, lines: Sequence[Part]) -> dict[int, list[str]]:
    """Parts to take along to units that are to be measured, by unit."""
    brought = [part for part in lines if part.to_bring and not part.contents]

    def said(count: float, kind: str, item: Item) -> str:
        return f"{count:g} × {say(kind)} {clerk.size(item)}"

    words = said_once(
        said,
        [part.count for part in brought],
        [part.kind.value for part in brought],
        [piece(part.kind, part.size, part.housing) for part in brought],
    )
    bring: dict[int, list[str]] = {}
    for part, text in zip(brought, words, strict=True):
        bring.setdefault(part.unit, []).append(text)
    return bring


def _window(view: View) -> tuple[Flags, Flags, Flags]:
    """Units whose flow window rests on a temperature, a grain size or depths that nobody gave."""
    return (
        site.season(view).assumed,
        ~site.mesh_stated(view),
        ~(site.room(view).known & site.measured_depth(view).known),
    )


def media_lines(result: AuditResult, chosen: Flags) -> list[MediaLine]:
    """When media of chosen units in service fall due: the longest overdue first, what is not known last."""
    view, frame = result.view, result.view.frame
    found, loaded, soon = due(view), media_date(view), due_soon(view)
    judged = np.flatnonzero(site.judged(view) & chosen)
    told = found.day.known & ~np.isnan(found.day.value)
    last = whole_days(np.where(told, found.day.value, view.as_of_day))
    judged = judged[np.lexsort((frame.rows[judged], last[judged], ~told[judged]))]
    known, spent = found.day.known[judged], found.spent[judged]
    states = np.select([spent, soon[judged], known, found.told[judged]], [0, 1, 2, 3], 4)
    unit_id, account = frame.text(fleet.UNIT_ID), frame.text(fleet.ACCOUNT)
    over = np.nan_to_num(view.as_of_day - np.floor(found.day.value[judged])).astype(np.int64)
    topped, guards, unsaid = only_topped_up(view), guards_health(view), top_up_unknown(view)
    places = judged.tolist()
    return records(
        MediaLine,
        unit_id=[unit_id[row] for row in places],
        account=[account[row] for row in places],
        row=frame.rows[judged].tolist(),
        media=media_names(result, judged),
        loaded=dates(loaded.value[judged], loaded.known[judged]),
        day=dates(found.day.value[judged], known),
        earliest=dates(found.day.low[judged], known),
        latest=dates(found.day.high[judged], known),
        overdue_days=[
            days if late else None for days, late in zip(over.tolist(), (known & spent).tolist(), strict=True)
        ],
        state=said_once(_state, states.tolist(), unsaid[judged].tolist()),
        by=[WAYS[way] if there else "" for way, there in zip(
            found.by[judged].tolist(), (known | spent).tolist(), strict=True
        )],
        work=[WORKS[0] if only else WORKS[1] for only in topped[judged].tolist()],
        guards=guards[judged].tolist(),
    )  # fmt: skip


def _state(state: int, silent: bool) -> str:
    return STATES[state] + (f", {SILENT}" if silent else "")
