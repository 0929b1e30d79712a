"""The sheets of a plan: Route with a lock to fill in, Loads, Left out, Assumptions.

In a copy of the user's workbook.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from fleetaudit.language import say
from fleetaudit.routing.dates import clock, minutes
from fleetaudit.routing.model import DayPlan
from fleetaudit.schema import results, route
from fleetaudit.schema.quantity import VOLUME
from fleetaudit.units import from_si
from fleetaudit.workbook.atomic import write_atomic
from fleetaudit.workbook.sheets import Choice, Sheet, Styled
from fleetaudit.workbook.splice import CannotSplice, annotate
from fleetaudit.writing.added_sheets import LOOKS, added_sheets
from fleetaudit.writing.annotate import own_columns
from fleetaudit.writing.report import Report
from fleetaudit.writing.route_report import RouteReport
from fleetaudit.writing.tables import Row, wrapped

NOTE_WIDTH = 50.0
#: where the sheet Route has its locks
LOCK_COLUMN = 4


def write_copy(
    report: RouteReport, audit: Report, workbook: Path, target: Path, heading_row: int, *, force: bool
) -> tuple[Path, list[str]]:
    """Annotated copy with the sheets of the plan.

    A workbook of the plan alone where the file cannot be copied so.
    """
    units = [unit for unit in audit.units if unit.sheet == audit.sheet]
    try:
        said = annotate(
            workbook,
            target,
            sheet=audit.sheet,
            heading_row=heading_row,
            rows=[unit.row for unit in units],
            columns=own_columns(audit, units),
            looks=[(results.VERDICT.own_heading(audit.system), LOOKS)],
            own_prefix=results.OWN_PREFIX,
            own_sheets={*results.OWN_SHEETS, *route.PLAN_SHEETS},
            sheets=[*plan_sheets(report), *added_sheets(audit)],
            also=audit.marks,
            force=force,
        )
    except CannotSplice as reason:
        from fleetaudit.writing.report_workbook import book_bytes  # noqa: PLC0415 - slow to load, and seldom wanted

        plain = target.with_suffix(".xlsx")
        write_atomic(plain, [book_bytes(plan_sheets(report), report.as_of)], force=force)
        return plain, [
            f"{reason.message} {say('The plan is in a workbook of its own, {file}.', file=plain.name)}"
        ]
    return target, said


def plan_sheets(report: RouteReport) -> list[Sheet]:
    """All sheets of a plan."""
    return [_route(report), _loads(report), _left_out(report), _assumptions(report)]


def _heading(titles: Sequence[str]) -> Row:
    return [Styled(title, "heading") for title in titles]


def _volume(report: RouteReport, volume_m3: float) -> Styled:
    return Styled(round(float(from_si(volume_m3, VOLUME.unit(report.system))), 2), "precise")


def _route(report: RouteReport) -> Sheet:
    unit = VOLUME.unit(report.system)
    rows: list[Row] = [
        _heading(
            [
                route.VISIT_ID.title,
                route.DAY.title,
                route.TEAM.title,
                route.LOCK.title,
                route.APPOINTMENT.title,
                route.CONSENT.title,
                "Order",
                route.ARRIVE.title,
                "Depart",
                "Slack (min)",
                "Site",
                "Units",
                "Priority",
                "New media (kg)",
                f"New media ({unit})",
                "Spent media (kg)",
                "Access note",
                route.REVISION.title,
            ]
        )
    ]
    for day in report.plan.days:
        shift = report.plan.problem.shifts[day.shift]
        for number, stop in enumerate(day.stops, start=1):
            visit = report.visit(stop.visit)
            agreed, consent = report.kept.get(visit.id, ("", ""))
            arrive = clock(stop.arrive_s)
            window = report.hours(stop.visit, shift.day)
            rows.append(
                [
                    Styled(visit.id, "top"),
                    Styled(report.date(day), "date"),
                    Styled(report.crew(day), "top"),
                    Styled(lock_word(report, stop.visit) or None, "top"),
                    wrapped(agreed),
                    wrapped(consent),
                    Styled(number, "integer"),
                    Styled(arrive, "top"),
                    Styled(clock(stop.depart_s), "top"),
                    Styled(minutes(window[1] - stop.depart_s), "integer"),
                    wrapped(visit.site),
                    wrapped(", ".join(visit.unit_ids)),
                    Styled(visit.priority, "integer"),
                    Styled(round(visit.kg_new), "integer"),
                    _volume(report, visit.m3_new),
                    Styled(round(visit.kg_spent), "integer"),
                    wrapped(report.access.get(visit.id, "")),
                    Styled(report.revision(stop.visit, report.crew(day), shift.day, arrive), "integer"),
                ]
            )
    widths = (11, 12, 16, 9, 18, 18, 7, 9, 9, 8, 28, 26, 8, 10, 10, 10, 30, 8)
    words = tuple(say(word) for word in route.LOCK.choices)
    lock = Choice(LOCK_COLUMN, words, say("Lock"), say(route.LOCK.doc))
    return Sheet(route.ROUTE_SHEET, rows, widths, freeze_rows=1, filter=True, choices=(lock,))


def lock_word(report: RouteReport, number: int) -> str:
    """Word in the lock column that asks for what is asked for now."""
    lock = report.visit(number).lock
    if lock is None:
        return ""
    day, crew, both = route.LOCK.choices
    return say(both if lock.crew and lock.day is not None else crew if lock.crew else day)


def _loads(report: RouteReport) -> Sheet:
    unit = VOLUME.unit(report.system)
    rows: list[Row] = [
        _heading(["Day of loading", "Team", "Trip", "Load as", "For visit", "Site", "What", "kg", unit])
    ]
    for day in report.plan.days:
        for trip in range(day.reloads + 1):
            for place, (visit_id, site, what, kg, m3) in enumerate(load_lines(report, day, trip), start=1):
                rows.append(
                    [
                        Styled(report.date(day), "date"),
                        Styled(report.crew(day), "top"),
                        Styled(trip + 1, "integer"),
                        Styled(place, "integer"),
                        Styled(visit_id, "top"),
                        wrapped(site),
                        wrapped(what),
                        Styled(round(kg), "integer") if kg else None,
                        _volume(report, m3) if m3 else None,
                    ]
                )
    return Sheet(route.LOADS_SHEET, rows, (14, 16, 6, 8, 11, 28, 40, 9, 9), freeze_rows=1, filter=True)


def load_lines(report: RouteReport, day: DayPlan, trip: int) -> list[tuple[str, str, str, float, float]]:
    """What goes on the truck for one trip, the last stop first: visit, site, what, kg, m3."""
    lines = []
    for stop in reversed([stop for stop in day.stops if stop.trip == trip]):
        visit = report.visit(stop.visit)
        for task in visit.tasks:
            unit = report.units[task.unit]
            if task.m3_new:
                what = say("{what} for {unit}", what=say(unit.media), unit=task.unit_id)
                kg, m3 = task.kg_new - task.kg_gravel, task.m3_new - task.m3_gravel
                lines.append((visit.id, visit.site, what, kg, m3))
            if task.m3_gravel:
                what = say("{what} for {unit}", what=report.gravel[task.unit], unit=task.unit_id)
                lines.append((visit.id, visit.site, what, task.kg_gravel, task.m3_gravel))
            lines += [
                (visit.id, visit.site, say("{what} for {unit}", what=part, unit=task.unit_id), 0.0, 0.0)
                for part in report.parts.get(task.unit, ())
            ]
    return lines


def _left_out(report: RouteReport) -> Sheet:
    rows: list[Row] = [
        _heading(
            [
                route.VISIT_ID.title,
                "Site",
                "Units",
                "Priority",
                route.REASON.title,
                "Numbers",
                route.TIMES_LEFT.title,
                route.APPOINTMENT.title,
                route.CONSENT.title,
            ]
        )
    ]
    for item in report.plan.left_out:
        visit = report.visit(item.visit)
        agreed, consent = report.kept.get(visit.id, ("", ""))
        numbers = "; ".join(f"{say(name.replace('_', ' '))}: {value}" for name, value in item.numbers.items())
        rows.append(
            [
                Styled(visit.id, "top"),
                wrapped(visit.site),
                wrapped(", ".join(visit.unit_ids)),
                Styled(visit.priority, "integer"),
                wrapped(item.reason),
                wrapped(numbers),
                Styled(visit.times_left + 1, "integer"),
                wrapped(agreed),
                wrapped(consent),
            ]
        )
    return Sheet(route.LEFT_SHEET, rows, (11, 28, 26, 9, 60, 34, 10, 18, 18), freeze_rows=1, filter=True)


def _assumptions(report: RouteReport) -> Sheet:
    rows: list[Row] = [_heading(["Assumption", "Taken as", "Source"])]
    rows += [[wrapped(one.what), wrapped(one.taken_as), wrapped(one.source)] for one in report.assumptions]
    return Sheet(route.ASSUMPTIONS_SHEET, rows, (NOTE_WIDTH, NOTE_WIDTH, NOTE_WIDTH), freeze_rows=1)
