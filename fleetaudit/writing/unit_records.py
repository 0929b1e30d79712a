"""Records of units, each field worked out for all of them at once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from itertools import compress
from math import isnan
from typing import Any

import numpy as np

from fleetaudit.auditing.result import AuditResult, State
from fleetaudit.auditing.verdict import Verdict
from fleetaudit.facts import site
from fleetaudit.facts.due import due, media_date
from fleetaudit.facts.frame import Flags, Floats, Frame
from fleetaudit.facts.needed import needed
from fleetaudit.facts.view import View
from fleetaudit.facts.window import expansion, flow_window
from fleetaudit.language import say
from fleetaudit.parts import media_names
from fleetaudit.ranking import Ranked
from fleetaudit.schema import fleet
from fleetaudit.schema import quantity as q
from fleetaudit.units import from_si
from fleetaudit.writing.alike import each_once, picked, records, shared
from fleetaudit.writing.display import Display, dates
from fleetaudit.writing.report import (
    Span,
    UnitRecord,
)


def unit_records(result: AuditResult, order: Ranked, chosen: Flags) -> list[UnitRecord]:
    """Records of the chosen units, their findings in report order; each field is worked out at once."""
    slugs: dict[int, list[str]] = defaultdict(list)
    for unit, check in zip(order.unit.tolist(), order.check.tolist(), strict=True):
        slugs[unit].append(result.checks[check].check.slug)
    index = range(result.view.units)
    told = shared(tuple(slugs[unit]) if unit in slugs else () for unit in index)
    made = records(UnitRecord, index=index, findings=told, **unit_columns(result))
    return made if chosen.all() else list(compress(made, chosen.tolist()))


def unit_columns(result: AuditResult) -> dict[str, Sequence[Any]]:
    """One sequence for each field of the unit records, but for its place and its findings."""
    view, frame = result.view, result.view.frame
    window, grown, need, water = flow_window(view), expansion(view), needed(view), site.season(view)
    ran, blind = (
        sum(np.isin(item.state, states) for item in result.checks) + np.zeros(view.units, dtype=np.int64)
        for states in ((State.CLEAN, State.FOUND, State.ACCEPTED), (State.NOT_CHECKED,))
    )
    drain = site.drain_flow(view)
    needed_flows, drain_flows = (
        [np.where(known, end, np.nan) for end in ends]
        for known, ends in (
            (window.known, (window.low.value, window.target, window.high.value)),
            (drain.known, (drain.low, drain.value, drain.high)),
        )
    )
    loaded, due_ = media_date(view), due(view).day
    housings = [*(row.key for row in view.catalogue.housings), "external"]
    return _fields(
        unit_id=frame.text(fleet.UNIT_ID),
        account=frame.text(fleet.ACCOUNT),
        address=frame.text(fleet.ADDRESS),
        crew=frame.text(fleet.CREW),
        sheet=[frame.sheet] * view.units,
        row=frame.rows.tolist(),
        verdict=picked([verdict.word for verdict in Verdict], result.verdict),
        scope=_scopes(view),
        media=media_names(result, np.arange(view.units)),
        media_key=picked([*(medium.key for medium in view.catalogue.media), ""], view.medium),
        vessel=_vessels(frame),
        vessel_diameter_in=_numbers(frame.number(fleet.DIAMETER), "in"),
        area_ft2=_numbers(site.area(view).value, "ft2"),
        water_cold_c=_numbers(np.where(water.assumed, water.cold.low, water.cold.value), "degC"),
        water_warm_c=_numbers(np.where(water.assumed, water.warm.high, water.warm.value), "degC"),
        temperature_assumed=water.assumed.tolist(),
        needed_gpm=_spans(needed_flows),
        restrictor_gpm=_numbers(site.rating(view).value, "gpm"),
        restrictor_recommended_gpm=_numbers(need.rating_m3_s, "gpm"),
        housing=picked([*fleet.HOUSING.choices, ""], frame.code(fleet.HOUSING.name)),
        housing_recommended=picked([*housings, None], need.housing),
        expansion_cold_pct=each_once(_percent, grown.cold),
        expansion_warm_pct=each_once(_percent, grown.warm),
        media_date=dates(loaded.value, loaded.known),
        media_due=dates(due_.value, due_.known),
        checks_run=ran.tolist(),
        checks_applied=(ran + blind).tolist(),
        latitude=_numbers(frame.number(fleet.LATITUDE), "1"),
        longitude=_numbers(frame.number(fleet.LONGITUDE), "1"),
        drain_gpm=_spans(drain_flows),
    )


def _fields(**sequences: Sequence[Any]) -> dict[str, Sequence[Any]]:
    """Sequences by the name of the field they fill."""
    return sequences


def _spans(ends: Sequence[Floats]) -> list[Span]:
    """Spans of least, middle and most in gpm; units that have the same share one."""
    shown, kinds = [], np.zeros(len(ends[0]), dtype=np.int64)
    for end in ends:
        distinct, places = np.unique(from_si(end, "gpm"), return_inverse=True)
        shown.append([_rounded(value) for value in distinct.tolist()])
        kinds = kinds * len(distinct) + places

    def span(kind: int) -> Span:
        kind, high = divmod(kind, len(shown[2]))
        low, mid = divmod(kind, len(shown[1]))
        return Span(shown[0][low], shown[1][mid], shown[2][high])

    return each_once(span, kinds)


def _vessels(frame: Frame) -> list[str]:
    """Size of each vessel as written, else its diameter."""
    show, across = Display("us"), frame.number(fleet.DIAMETER).tolist()
    said = {wide: show.text(q.DIAMETER, wide) for wide in set(across) if not isnan(wide)}
    return [text or said.get(wide, "") for text, wide in zip(frame.text(fleet.SIZE), across, strict=True)]


def _scopes(view: View) -> list[str]:
    """Why a unit is not judged, "" where it is."""
    words = [say("not a backwashing bed"), "", *map(say, fleet.STATUS.choices)]
    serves, judged, status = site.in_service(view), site.judged(view), view.frame.code(fleet.STATUS.name)
    return picked(words, np.where(serves, judged, 2 + status % len(fleet.STATUS.choices)))


def _numbers(values: Floats, unit: str) -> list[float | None]:
    """Values in a unit, None where not known."""
    return each_once(_rounded, from_si(values, unit))


def _rounded(value: float) -> float | None:
    return None if isnan(value) else round(value, 6)


def _percent(share: float) -> float | None:
    """Expansion in whole per cent; the equations are worth no more."""
    return None if isnan(share) else float(round(share / 0.01))
