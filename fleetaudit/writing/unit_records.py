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
from fleetaudit.facts.frame import Codes, Flags, Floats, Frame
from fleetaudit.facts.needed import needed
from fleetaudit.facts.view import View
from fleetaudit.facts.window import expansion, flow_window
from fleetaudit.language import say
from fleetaudit.schema import fleet
from fleetaudit.schema import quantity as q
from fleetaudit.units import from_si
from fleetaudit.writing.alike import records, shared
from fleetaudit.writing.display import Display, dates
from fleetaudit.writing.report import (
    FindingRecord,
    Span,
    UnitRecord,
)


def unit_records(result: AuditResult, findings: list[FindingRecord], chosen: Flags) -> list[UnitRecord]:
    """Records of the chosen units; each field is worked out for all units at once."""
    slugs: dict[int, list[str]] = defaultdict(list)
    for finding in findings:
        slugs[finding.unit].append(finding.check)
    index = range(result.view.units)
    told = shared(tuple(slugs[unit]) if unit in slugs else () for unit in index)
    made = records(UnitRecord, index=index, findings=told, **unit_columns(result))
    return made if chosen.all() else list(compress(made, chosen.tolist()))


def unit_columns(result: AuditResult) -> dict[str, Sequence[Any]]:
    """One sequence for each field of the unit records, but for its place and its findings."""
    view, frame = result.view, result.view.frame
    media, codes_ = view.catalogue.media, view.medium.tolist()
    window, grown, need, water = flow_window(view), expansion(view), needed(view), site.season(view)
    states = np.stack([item.state for item in result.checks])
    ran = np.sum(np.isin(states, (State.CLEAN, State.FOUND, State.ACCEPTED)), axis=0)
    flows = [
        _numbers(np.where(window.known, end, np.nan), "gpm")
        for end in (window.low.value, window.target, window.high.value)
    ]
    words = [verdict.word for verdict in Verdict]
    loaded, due_ = media_date(view), due(view).day
    housings = [*(row.key for row in view.catalogue.housings), "external"]
    return _fields(
        unit_id=frame.text(fleet.UNIT_ID),
        account=frame.text(fleet.ACCOUNT),
        address=frame.text(fleet.ADDRESS),
        crew=frame.text(fleet.CREW),
        sheet=[frame.sheet] * view.units,
        row=frame.rows.tolist(),
        verdict=[words[code] for code in result.verdict.tolist()],
        scope=_scopes(view),
        media=[
            media[code].name if code >= 0 else text
            for code, text in zip(codes_, frame.text(fleet.MEDIUM), strict=True)
        ],
        media_key=[media[code].key if code >= 0 else "" for code in codes_],
        vessel=_vessels(frame),
        vessel_diameter_in=_numbers(frame.number(fleet.DIAMETER), "in"),
        area_ft2=_numbers(site.area(view).value, "ft2"),
        water_cold_c=_numbers(np.where(water.assumed, water.cold.low, water.cold.value), "degC"),
        water_warm_c=_numbers(np.where(water.assumed, water.warm.high, water.warm.value), "degC"),
        temperature_assumed=water.assumed.tolist(),
        needed_gpm=_spans(flows),
        restrictor_gpm=_numbers(site.rating(view).value, "gpm"),
        restrictor_recommended_gpm=_numbers(need.rating_m3_s, "gpm"),
        housing=_chosen_words(frame.code(fleet.HOUSING.name), tuple(fleet.HOUSING.choices), ""),
        housing_recommended=_chosen_words(need.housing, housings, None),
        expansion_cold_pct=[_percent(share) for share in grown.cold.tolist()],
        expansion_warm_pct=[_percent(share) for share in grown.warm.tolist()],
        media_date=dates(loaded.value, loaded.known),
        media_due=dates(due_.value, due_.known),
        checks_run=ran.tolist(),
        checks_applied=(ran + np.sum(states == State.NOT_CHECKED, axis=0)).tolist(),
        latitude=_numbers(frame.number(fleet.LATITUDE), "1"),
        longitude=_numbers(frame.number(fleet.LONGITUDE), "1"),
        drain_gpm=_spans(_drain_flows(view)),
    )


def _fields(**sequences: Sequence[Any]) -> dict[str, Sequence[Any]]:
    """Sequences by the name of the field they fill."""
    return sequences


def _spans(ends: list[list[float | None]]) -> list[Span]:
    """Spans of least, middle and most; units that have the same share one."""
    triples = list(zip(*ends, strict=True))
    made = {triple: Span(*triple) for triple in set(triples)}
    return [made[triple] for triple in triples]


def _drain_flows(view: View) -> list[list[float | None]]:
    """Least, stated and most flow to drain of each unit."""
    flow = site.drain_flow(view)
    return [_numbers(np.where(flow.known, end, np.nan), "gpm") for end in (flow.low, flow.value, flow.high)]


def _vessels(frame: Frame) -> list[str]:
    """Size of each vessel as written, else its diameter."""
    show, across = Display("us"), frame.number(fleet.DIAMETER).tolist()
    said = {wide: show.text(q.DIAMETER, wide) for wide in set(across) if not isnan(wide)}
    return [text or said.get(wide, "") for text, wide in zip(frame.text(fleet.SIZE), across, strict=True)]


def _scopes(view: View) -> list[str]:
    """Why a unit is not judged, "" where it is."""
    status, kinds = tuple(fleet.STATUS.choices), (say("not a backwashing bed"), "")
    return [
        kinds[judged] if serves else say(status[code])
        for serves, judged, code in zip(
            site.in_service(view).tolist(),
            site.judged(view).tolist(),
            view.frame.code(fleet.STATUS.name).tolist(),
            strict=True,
        )
    ]


def _chosen_words(codes_: Codes, words: Sequence[str], none: str | None) -> list[str | None]:
    """The word of each code, `none` where there is no code."""
    return [words[code] if code >= 0 else none for code in codes_.tolist()]


def _numbers(values: Floats, unit: str) -> list[float | None]:
    """Values in a unit, None where not known."""
    shown = from_si(values, unit).tolist()
    rounded = {value: round(value, 6) for value in set(shown) if not isnan(value)}
    return [rounded.get(value) for value in shown]


def _percent(share: float) -> float | None:
    """Expansion in whole per cent; the equations are worth no more."""
    return None if isnan(share) else float(round(share / 0.01))
