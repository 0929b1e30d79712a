"""Puts an audited workbook together for the writers: records, counts, parts, assumptions, sources."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np
from msgspec import Struct, field
from msgspec.structs import replace

from fleetaudit.accepting import Accepted
from fleetaudit.auditing.result import AuditResult, State
from fleetaudit.auditing.verdict import Verdict
from fleetaudit.crews import counts as set_ups
from fleetaudit.crews.naming import codes
from fleetaudit.crews.report import CrewReport
from fleetaudit.crews.report import report as crew_report
from fleetaudit.crews.rules import rules_of
from fleetaudit.facts import site
from fleetaudit.facts.frame import Flags, Frame
from fleetaudit.language import say, several
from fleetaudit.memory import give_back
from fleetaudit.parts import Part, Stocked, needs, parts
from fleetaudit.ranking import Ranked, ranked, sensitivity
from fleetaudit.schema import fleet
from fleetaudit.schema import quantity as q
from fleetaudit.schema.column import Column, Missing
from fleetaudit.schema.remark import Level, Remark
from fleetaudit.summary import count
from fleetaudit.writing import acceptance_words
from fleetaudit.writing.basis import assumptions, sources
from fleetaudit.writing.cautions import CAUTIONS
from fleetaudit.writing.cost_words import sensitivity_words
from fleetaudit.writing.display import day
from fleetaudit.writing.doubts import doubts
from fleetaudit.writing.gaps import not_checked
from fleetaudit.writing.measuring import measuring, media_lines
from fleetaudit.writing.orders import (
    DAY,
    Clerk,
    by_day,
    by_name,
    day_name,
    needed_by,
    order_groups,
    quote,
    totals,
)
from fleetaudit.writing.report import (
    FindingRecord,
    OrderGroup,
    PartLine,
    Report,
    Span,
    UnitRecord,
)
from fleetaudit.writing.unit_records import unit_records
from fleetaudit.writing.wording import Speaker

#: columns whose remarks may quote a crew
CREW_COLUMNS = {word for column in (fleet.CREW, fleet.MEDIA_CREW) for word in (column.name, column.title)}
#: share of rows with skipped values above which the report leads with it
MUCH_SKIPPED = 0.2


class Origin(Struct, frozen=True):
    """Where the fleet came from."""

    version: str
    path: str
    file: str
    sheets: tuple[str, ...]
    sha256: str
    remarks: Sequence[Remark]
    as_of: date
    system: str
    every_not_checked: bool = False
    account: str = ""
    crew: str = ""
    hide_crew_names: bool = False
    accepted: Sequence[Accepted] = ()
    stock: Sequence[Stocked] = ()
    #: latitude and longitude [degrees] of units whose site is known, by position, where the list has none
    places: dict[int, tuple[float, float]] = field(default_factory=dict)
    #: day, counted from 1970-01-01, and crew of the plan for each unit it holds, by unit id
    route_days: dict[str, tuple[int, str]] = field(default_factory=dict)
    shared_stock: Sequence[Stocked] = ()
    #: True where other workbooks draw on the shared stock too
    others_share: bool = False


def assemble(result: AuditResult, origin: Origin) -> Report:
    """The report of one audited sheet."""
    chosen = _chosen(result, origin)
    report = _told(result, origin, chosen)
    give_back()  # order and words of a large fleet take as much as the lists of parts that come now
    _ordered(report, result, origin, chosen)
    if not chosen.all():
        _recount(report)
    if origin.places:
        report.units = [_placed(unit, origin.places.get(unit.index)) for unit in report.units]
    for unit in report.units if origin.route_days else ():
        if unit.unit_id in origin.route_days:
            number, crew = origin.route_days[unit.unit_id]
            report.route_days[unit.index] = day(number), crew
    if origin.hide_crew_names:
        _hide_crews(report)
    report.banner = _banner(result, origin, report)
    return report


def _told(result: AuditResult, origin: Origin, chosen: Flags) -> Report:
    """Units, findings and all that is said about them."""
    order = ranked(result)
    speaker = Speaker(result, origin.system)
    counts = count(result)
    by_verdict, by_check, by_tier = counts.tables()
    findings = _findings(result, speaker, order, chosen)
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
        units=unit_records(result, findings, chosen),
        findings=findings,
        not_checked=not_checked(result, speaker, chosen, without_column=origin.every_not_checked),
        remarks=[*origin.remarks, *doubts(result, speaker), *_assumed(result, speaker)],
        sources=sources(result, origin.system),
        assumptions=assumptions(result, origin.system),
        cautions=tuple(say(text) for text in CAUTIONS),
        by_verdict=by_verdict,
        by_check=by_check,
        by_tier=by_tier,
        cost_by_tier=_cost_by_tier(findings),
        sensitivity=sensitivity_words(sensitivity(result, order, chosen)),
        crews=_crews(result, origin),
        accepted=[
            one
            for one in acceptance_words.records(result, speaker, origin.accepted)
            if chosen[one.finding.unit]
        ],
    )


def _placed(unit: UnitRecord, place: tuple[float, float] | None) -> UnitRecord:
    if place is None or (unit.latitude is not None and unit.longitude is not None):
        return unit
    return replace(unit, latitude=place[0], longitude=place[1])


def _findings(result: AuditResult, speaker: Speaker, order: Ranked, chosen: Flags) -> list[FindingRecord]:
    """Records of the findings in report order, made check by check."""
    wanted = np.flatnonzero(chosen[order.unit])
    made: dict[int, FindingRecord] = {}
    for number, (item, cost) in enumerate(zip(result.checks, order.costs, strict=True)):
        places = wanted[order.check[wanted] == number]
        made.update(zip(places.tolist(), speaker.findings(order.unit[places], item, cost), strict=True))
    return [made[place] for place in wanted.tolist()]


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


def _hide_crews(report: Report) -> None:
    """Put a code in place of each crew's name, the same for the same name within one report."""
    compared = report.crews.crews if report.crews else ()
    names = [*(unit.crew for unit in report.units), *(group.name for group in compared)]
    code = codes([*names, *(crew for _, crew in report.route_days.values())], report.sha256)
    report.crews = report.crews and report.crews.hidden(code)
    report.units = [replace(unit, crew=code[unit.crew]) for unit in report.units]
    report.findings = [replace(finding, crew=code[finding.crew]) for finding in report.findings]
    planned = {day_name(when, crew): day_name(when, code[crew]) for when, crew in report.route_days.values()}
    report.route_days = {unit: (when, code.get(crew, "")) for unit, (when, crew) in report.route_days.items()}
    report.parts = [replace(part, crew=code[part.crew]) for part in report.parts]
    report.measuring = [replace(line, crew=code[line.crew]) for line in report.measuring]
    renamed = {"crew": code, DAY: planned}
    report.order_groups = [
        replace(group, name=renamed.get(group.kind, {}).get(group.name, group.name))
        for group in report.order_groups
    ]
    report.accepted = [
        replace(one, finding=replace(one.finding, crew=code[one.finding.crew])) for one in report.accepted
    ]
    named = [remark for remark in report.remarks if remark.column in CREW_COLUMNS]
    if named:
        count = several(len(named), "1 remark", "{count} remarks")
        report.remarks = [remark for remark in report.remarks if remark.column not in CREW_COLUMNS]
        report.remarks.append(
            Remark(
                max(min(remark.level for remark in named), Level.WARN),
                "crews-hidden",
                say(
                    "{count} on the crew columns would show names and were left out. Run without "
                    "--hide-crew-names to read them.",
                    count=count,
                ),
            )
        )


def _parts(result: AuditResult, clerk: Clerk, chosen: Sequence[Part]) -> list[PartLine]:
    """A line for each part, with mass and bags where it is media."""
    show, frame, lines = clerk.show, result.view.frame, []
    unit_id, account, crew = frame.text(fleet.UNIT_ID), frame.text(fleet.ACCOUNT), frame.text(fleet.CREW)
    for part in chosen:
        for need in needs([part], clerk.catalogue):
            said, note = clerk.order(need), say(part.because)
            if part.contents and part.count > 1:
                each = show.text(q.VOLUME, need.volume_m3 / part.count)
                note = say("{note}; {count:.0f} vessels, {each} each", note=note, count=part.count, each=each)
            lines.append(
                PartLine(
                    account[part.unit],
                    unit_id[part.unit],
                    int(frame.rows[part.unit]),
                    said.what,
                    said.size if not part.contents else "",
                    said.needed,
                    said.unit,
                    note,
                    said.mass,
                    said.mass_unit,
                    said.bags,
                    said.bag,
                    crew[part.unit],
                )
            )
    return lines


def _ordered(report: Report, result: AuditResult, origin: Origin, chosen: Flags) -> None:
    """What to take, order, quote and measure, for the chosen units."""
    clerk, frame = Clerk(result.view.catalogue, origin.system), result.view.frame
    lines = [part for part in parts(result) if chosen[part.unit]]
    accounts = frame.text(fleet.ACCOUNT)
    report.parts = _parts(result, clerk, lines)
    netted = totals(clerk, lines, origin.stock, origin.shared_stock)
    report.orders, report.stock_left = list(netted.lines), netted.left
    unasked = [line for line in netted.unasked if not (origin.others_share and line in netted.left)]
    by_account = needed_by(clerk, lines, accounts)
    report.order_groups = [
        *order_groups(by_account, "account", say("no account given")),
        *by_name(clerk, lines, frame.text(fleet.CREW), "crew", say("no crew given")),
        *_route_orders(clerk, lines, frame.text(fleet.UNIT_ID), origin),
    ]
    report.quotes = [quote(clerk, each) for each in by_account]
    report.measuring = measuring(result, clerk, lines, chosen)
    report.media = media_lines(result, chosen)
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


def _route_orders(
    clerk: Clerk, lines: Sequence[Part], unit_ids: Sequence[str], origin: Origin
) -> list[OrderGroup]:
    """What the days of a plan that the workbook holds take, for the units that still ask for something."""
    days: dict[tuple[date, str], list[Part]] = {}
    for part in lines if origin.route_days else ():
        visit = origin.route_days.get(unit_ids[part.unit])
        if visit is not None:
            days.setdefault((day(visit[0]), visit[1]), []).append(part)
    planned = [(when, crew, own) for (when, crew), own in days.items()]
    return by_day(clerk, planned, [*origin.stock, *origin.shared_stock])


def _cost_by_tier(findings: list[FindingRecord]) -> dict[str, Span]:
    totals: dict[str, list[float]] = {}
    for finding in findings:
        total = totals.setdefault(finding.tier, [0.0, 0.0, 0.0])
        if finding.cost_year is not None:
            ends = (finding.cost_year.low, finding.cost_year.target, finding.cost_year.high)
            for place, end in enumerate(ends):
                total[place] += end or 0.0
    return {tier: Span(*total) for tier, total in totals.items()}


def _count(mask: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> int:
    return int(np.sum(mask))


def _units_of(mask: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> str:
    count = _count(mask)
    return several(count, "1 unit", "{count:,} units")


def _assumed(result: AuditResult, speaker: Speaker) -> list[Remark]:
    """What defaults stand in for, each said once with how many units it touches."""
    view, show = result.view, speaker.display
    judged, remarks = site.judged(view), []
    water = site.season(view)
    unknown = judged & water.assumed
    if unknown.any():
        low, high = float(np.min(water.cold.low[unknown])), float(np.max(water.warm.high[unknown]))
        remarks.append(
            _data_assumed(
                speaker,
                unknown,
                fleet.COLD,
                "water temperature",
                say("Water temperature is not known for {units}.", units=_units_of(unknown)),
                show.range(q.TEMPERATURE, low, high),
                say(
                    "The flow window is that at the middle of the range; findings it decides are "
                    "measure-first."
                ),
            )
        )
    mesh = judged & ~site.mesh_stated(view) & (view.medium >= 0)
    if mesh.any():
        remarks.append(
            _data_assumed(
                speaker,
                mesh,
                fleet.MEDIUM,
                "grain size",
                say(
                    "The grain size is not given for {units} whose medium is sold in several.",
                    units=_units_of(mesh),
                ),
                say("the usual size"),
                say("A flow right for any listed size raises nothing above a note."),
            )
        )
    if view.fleetwide.restrictor_unit_doubtful:
        rows = judged & site.rating(view).assumed
        remarks.append(
            _data_assumed(
                speaker,
                rows,
                fleet.RESTRICTOR,
                "unit of the restrictor column",
                say(
                    "The restrictor column has no unit and fits better as {unit}. "
                    "Add the unit to the heading.",
                    unit=view.fleetwide.restrictor_unit_better,
                ),
                fleet.RESTRICTOR.quantity.us,
                say("Every restrictor finding of these rows is measure-first."),
            )
        )
    return remarks


def _data_assumed(
    speaker: Speaker,
    rows: np.ndarray[tuple[int], np.dtype[np.bool_]],
    column: Column,
    kind: str,
    text: str,
    assumed: str,
    effect: str,
) -> Remark:
    frame = speaker.result.view.frame
    cells = tuple(
        speaker.cell(int(unit), column)
        or say("{sheet} row {row}", sheet=frame.sheet, row=int(frame.rows[unit]))
        for unit in np.flatnonzero(rows)
    )
    return Remark(Level.WARN, f"data-assumed: {kind}", text, cells, "", assumed, effect, say(column.title))


def _banner(result: AuditResult, origin: Origin, report: Report) -> list[str]:
    """What stands in the way of a full audit, most important first."""
    frame, lines = result.view.frame, _narrowed(result, origin, report)
    skipped = sum(
        1
        for unit in report.units
        if any(slug in ("data-unreadable", "data-implausible") for slug in unit.findings)
    )
    if report.units and skipped > MUCH_SKIPPED * len(report.units):
        lines.append(
            say(
                "{count} of {rows} rows hold cells that could not be used; see the problems below.",
                count=skipped,
                rows=len(report.units),
            )
        )
    blind = report.by_verdict.get(Verdict.NOT_CHECKED.word, 0)
    if blind:
        lines.append(
            several(
                blind,
                "1 unit was not checked for something that matters; not checked is not the same as sound.",
                "{count} units were not checked for something that matters; not checked is not the same "
                "as sound.",
            )
        )
    if result.view.fleetwide.restrictor_unit_doubtful:
        lines.append(
            say(
                "The restrictor column has no unit and fits the fleet better as "
                "{better} than as {taken}: all restrictor findings are "
                "measure-first until the heading says which.",
                better=result.view.fleetwide.restrictor_unit_better,
                taken=fleet.RESTRICTOR.quantity.us,
            )
        )
    absent: dict[str, None] = {}
    silent: list[str] = []
    for item in result.checks:
        if np.any((item.state == State.NOT_CHECKED) & (item.reason == Missing.NO_COLUMN)):
            absent |= {
                say(column.title).lower(): None for column in item.check.needs if not _present(frame, column)
            }
            silent.append(say(item.check.title).lower())
    if silent:
        lines.append(
            say(
                "No row gives {absent}; without them these checks did not run: {silent}.",
                absent=", ".join(absent),
                silent=", ".join(silent),
            )
        )
    return lines


def _narrowed(result: AuditResult, origin: Origin, report: Report) -> list[str]:
    """That the report is about some of the units only, and which."""
    crew = say("of one crew") if origin.hide_crew_names else say('of the crew "{name}"', name=origin.crew)
    told = [
        *([say('of the account "{name}"', name=origin.account)] if origin.account else []),
        *([crew] if origin.crew else []),
    ]
    if not told:
        return []
    return [
        say(
            "Only the units {which}: {count:,} of the {every:,} on the list. Nothing is told of the others.",
            which=", ".join(told),
            count=len(report.units),
            every=result.view.units,
        )
    ]


def _present(frame: Frame, column: Column) -> bool:
    return frame.has(column) or (column is fleet.SIZE and frame.has(fleet.DIAMETER))
