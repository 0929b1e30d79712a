"""Puts an audited workbook together for the writers: records, counts, parts, assumptions, sources."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from msgspec.structs import replace

from fleetaudit.auditing.result import AuditResult
from fleetaudit.crews import counts as set_ups
from fleetaudit.crews.report import CrewReport
from fleetaudit.crews.report import report as crew_report
from fleetaudit.crews.rules import rules_of
from fleetaudit.facts import site
from fleetaudit.facts.due import (
    due,
    due_soon,
    guards_health,
    media_date,
    only_topped_up,
    top_up_unknown,
)
from fleetaudit.facts.frame import Flags
from fleetaudit.facts.needed import limits, needed
from fleetaudit.facts.strata import strata
from fleetaudit.facts.window import expansion, flow_window
from fleetaudit.language import say, several
from fleetaudit.memory import give_back
from fleetaudit.parts import parts
from fleetaudit.ranking import Ranked, ranked, sensitivity, yearly_cost
from fleetaudit.schema import fleet
from fleetaudit.schema import quantity as q
from fleetaudit.schema.remark import Level, Remark
from fleetaudit.summary import count
from fleetaudit.writing import acceptance_words
from fleetaudit.writing.assumed import assumed
from fleetaudit.writing.banner import banner
from fleetaudit.writing.basis import assumptions, sources
from fleetaudit.writing.cautions import CAUTIONS
from fleetaudit.writing.cost_words import sensitivity_words
from fleetaudit.writing.display import day
from fleetaudit.writing.doubts import doubts
from fleetaudit.writing.gaps import not_checked
from fleetaudit.writing.hidden import crew_codes, hide_crews
from fleetaudit.writing.measuring import measuring, media_lines
from fleetaudit.writing.orders import Clerk
from fleetaudit.writing.origin import Origin
from fleetaudit.writing.report import FindingRecord, Report, Span, UnitRecord
from fleetaudit.writing.unit_records import unit_records
from fleetaudit.writing.wanted import Wanted
from fleetaudit.writing.wording import Speaker

#: facts that findings are told with
IN_FINDINGS = (
    site.area, site.diameter, site.drain_flow, site.room, site.season, site.usual_depth, site.vessels,
    site.volume, flow_window, expansion, limits,
)  # fmt: skip
#: facts that the report is made of; of a large fleet all others take as much memory as the report
TOLD = (
    *IN_FINDINGS, site.gravel, site.in_service, site.judged, site.measured_depth, site.mesh_stated,
    site.rating, strata, needed, due, due_soon, guards_health, media_date, only_topped_up, top_up_unknown,
)  # fmt: skip


def assemble(result: AuditResult, origin: Origin) -> Report:
    """The report of one audited sheet; facts are let go of when they are told, the findings come last."""
    result.view.keep_only(TOLD)
    give_back()
    chosen = _chosen(result, origin)
    order, speaker = replace(ranked(result), costs=()), Speaker(result, origin.system)
    report = _told(result, origin, speaker, order, chosen)
    for unit in report.units if origin.route_days else ():
        if unit.unit_id in origin.route_days:
            number, crew = origin.route_days[unit.unit_id]
            report.route_days[unit.index] = day(number), crew
    codes = crew_codes(report) if origin.hide_crew_names else {}
    _ordered(report, result, origin, chosen, codes)
    result.view.keep_only(IN_FINDINGS)
    give_back()
    report.findings = _findings(result, speaker, order, chosen)
    report.cost_by_tier = _cost_by_tier(report.findings)
    report.accepted = [
        one for one in acceptance_words.records(result, speaker, origin.accepted) if chosen[one.finding.unit]
    ]
    if not chosen.all():
        _recount(report)
    if origin.hide_crew_names:
        hide_crews(report, codes)
    report.banner = banner(result, origin, report)
    return report


def _told(result: AuditResult, origin: Origin, speaker: Speaker, order: Ranked, chosen: Flags) -> Report:
    """Units, what could not be checked, and what is said of all of them together."""
    by_verdict, by_check, by_tier = count(result).tables()
    units = unit_records(result, order, chosen)
    return Report(
        version=origin.version,
        file=origin.file,
        path=origin.path,
        sheet=result.view.frame.sheet,
        sheets=origin.sheets,
        sha256=origin.sha256,
        as_of=origin.as_of,
        system=origin.system,
        due_within_days=round(result.stamp.due_within_s / q.DAY_SECONDS),
        units=[_placed(unit, origin.places.get(unit.index)) for unit in units] if origin.places else units,
        not_checked=not_checked(result, speaker, chosen, without_column=origin.every_not_checked),
        remarks=[*origin.remarks, *doubts(result, speaker), *assumed(result, speaker)],
        sources=sources(result, origin.system),
        assumptions=assumptions(result, origin.system),
        cautions=tuple(say(text) for text in CAUTIONS),
        by_verdict=by_verdict,
        by_check=by_check,
        by_tier=by_tier,
        sensitivity=sensitivity_words(sensitivity(result, order, chosen)),
        crews=_crews(result, origin),
    )


def _placed(unit: UnitRecord, place: tuple[float, float] | None) -> UnitRecord:
    if place is None or (unit.latitude is not None and unit.longitude is not None):
        return unit
    return replace(unit, latitude=place[0], longitude=place[1])


def _findings(result: AuditResult, speaker: Speaker, order: Ranked, chosen: Flags) -> list[FindingRecord]:
    """Records of the findings in report order, made check by check."""
    chosen_ones = chosen[order.unit]
    unit, check = order.unit[chosen_ones], order.check[chosen_ones]
    made: list[FindingRecord] = []
    for number in sorted(set(check.tolist())):
        item = result.checks[number]
        made += speaker.findings(unit[check == number], item, yearly_cost(item, result.view))
    # they were made check by check, and inside a check in report order
    places = np.argsort(np.argsort(check, kind="stable"))
    return [made[place] for place in places.tolist()]


def _chosen(result: AuditResult, origin: Origin) -> Flags:
    """Units that the report is narrowed to."""
    frame = result.view.frame
    chosen = np.ones(frame.units, dtype=bool)
    for wanted, column in ((origin.account, fleet.ACCOUNT), (origin.crew, fleet.CREW)):
        if wanted:
            chosen &= np.array(
                [text.casefold() == wanted.casefold() for text in frame.text(column)], dtype=bool
            )
    return chosen


def _crews(result: AuditResult, origin: Origin) -> CrewReport | None:
    """Crews compared over the whole fleet; one alone where asked for, none in a report for one account."""
    if origin.account:
        return None
    found = crew_report(set_ups.count(result), rules_of(result.view.catalogue))
    return found.only(origin.crew) if origin.crew else found


def _recount(report: Report) -> None:
    for table, words in (
        (report.by_verdict, [unit.verdict for unit in report.units]),
        (report.by_check, [finding.check for finding in report.findings]),
        (report.by_tier, [finding.tier for finding in report.findings]),
    ):
        for word in table:
            table[word] = words.count(word)


def _ordered(
    report: Report, result: AuditResult, origin: Origin, chosen: Flags, codes: Mapping[str, str]
) -> None:
    """What to order and to measure, and when media fall due, for the chosen units."""
    clerk, frame = Clerk(result.view.catalogue, origin.system), result.view.frame
    wanted = Wanted(
        clerk=clerk,
        lines=[part for part in parts(result) if chosen[part.unit]],
        unit_ids=frame.text(fleet.UNIT_ID),
        accounts=frame.text(fleet.ACCOUNT),
        crews=frame.text(fleet.CREW),
        rows=frame.rows.tolist(),
        stock=origin.stock,
        shared_stock=origin.shared_stock,
        route_days=origin.route_days,
        codes=codes,
    )
    netted = wanted.totals()
    report.orders, report.stock_left = list(netted.lines), netted.left
    report.list_parts, report.list_quotes = wanted.part_lines, wanted.quotes
    report.list_order_groups = wanted.order_groups
    report.measuring = measuring(result, clerk, wanted.lines, chosen)
    report.media = media_lines(result, chosen)
    unasked = [line for line in netted.unasked if not (origin.others_share and line in netted.left)]
    if unasked:
        report.remarks.append(
            Remark(
                Level.INFO,
                "stock",
                several(
                    len(unasked),
                    "1 line of the Stock sheet is for things that no finding asks for.",
                    "{count} lines of the Stock sheet are for things that no finding asks for.",
                ),
            )
        )


def _cost_by_tier(findings: list[FindingRecord]) -> dict[str, Span]:
    totals: dict[str, list[float]] = {}
    for finding in findings:
        total = totals.setdefault(finding.tier, [0.0, 0.0, 0.0])
        if finding.cost_year is not None:
            ends = (finding.cost_year.low, finding.cost_year.target, finding.cost_year.high)
            for place, end in enumerate(ends):
                total[place] += end or 0.0
    return {tier: Span(*total) for tier, total in totals.items()}
