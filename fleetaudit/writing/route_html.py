"""The page of a plan: days with maps, what is left out and why, what it rests on.

One file, no network, no script.
"""

from __future__ import annotations

from typing import Any

from markupsafe import Markup

from fleetaudit.assets import read_text
from fleetaudit.language import say, several
from fleetaudit.routing.dates import clock, day_words, minutes
from fleetaudit.routing.left_out import NO_PLACE
from fleetaudit.routing.model import DayPlan, Stop
from fleetaudit.schema.quantity import VOLUME
from fleetaudit.units import from_si
from fleetaudit.writing.cautions import CAUTIONS
from fleetaudit.writing.map import NOTE, day_map, letter, overview
from fleetaudit.writing.page import content_hash, environment, lean
from fleetaudit.writing.route_report import RouteReport, load_out

TIGHT_MIN = 20
UNPLACED_LEADS = 0.15


def render(report: RouteReport) -> str:
    """Page of the whole plan."""
    days = [{**day_values(report, day), "map": day_map(report, day)} for day in report.plan.days]
    return page(
        "route.html.j2",
        report,
        days=days,
        left=[_left(report, item.visit, item.reason) for item in report.plan.left_visits],
        behind=[_left(report, item.visit, item.reason) for item in report.plan.left_riders],
        overview=overview(report),
        crews=_crews(report),
        broken=[one.text for one in report.plan.broken_locks],
        lead=lead(report),
        note=say(NOTE),
        ways=ways(report),
        cautions=CAUTIONS,
    )


def page(template: str, report: RouteReport, **values: Any) -> str:
    """A page of the plan from its template."""
    style = lean(read_text("templates/route.css"))
    made = environment().get_template(template)
    return made.render(report=report, style=Markup(style), style_hash=content_hash(style), **values)


def ways(report: RouteReport) -> str:
    """Where distances come from, in words."""
    if report.own_ways:
        return say(
            "your own where given, else estimated: straight line x {factor:.2f}", factor=report.circuity
        )
    return say("estimated: straight line x {factor:.2f}", factor=report.circuity)


def lead(report: RouteReport) -> list[str]:
    """What a manager must know before any day: what is planned, what is short, what nobody could place."""
    plan = report.plan
    if not plan.problem.visits:
        return [
            say(
                "Nothing to plan: no medium falls due by the horizon, and none of the fixes chosen makes a "
                "trip."
            )
        ]
    planned = sum(len(day.stops) for day in plan.days)
    lines = [
        say(
            "Visits planned: {planned} of {all}, on crew-days: {days}. Left out: {left}.",
            planned=planned,
            all=len(plan.problem.visits),
            days=len(plan.days),
            left=len(plan.left_visits),
        )
    ]
    if plan.left_riders:
        lines.append(
            several(
                len(plan.left_riders),
                "At 1 of the planned visits there is no room for what would ride along.",
                "At {count} of the planned visits there is no room for what would ride along.",
            )
        )
    work = sum(visit.service_s for visit in plan.problem.visits)
    there = sum(
        plan.problem.crews[s.crew].end_s - plan.problem.crews[s.crew].start_s for s in plan.problem.shifts
    )
    if work > there and plan.problem.shifts:
        short = (work - there) / (there / len(plan.problem.shifts))
        lines.insert(
            0,
            say(
                "You are at least {days:.1f} crew-days short: the work alone, without driving, is more than "
                "all days hold.",
                days=short,
            ),
        )
    nowhere = sum(item.kind == NO_PLACE for item in plan.left_out)
    if nowhere and nowhere >= UNPLACED_LEADS * len(plan.problem.visits):
        lines.insert(
            0,
            say(
                "{count} of {all} visits have no place and could not be planned at all.",
                count=nowhere,
                all=len(plan.problem.visits),
            ),
        )
    if plan.moved:
        lines.append(
            several(
                len(plan.moved),
                "1 visit was moved or dropped since the last plan.",
                "{count} visits were moved or dropped since the last plan.",
            )
        )
    return lines


def day_values(report: RouteReport, day: DayPlan) -> dict[str, Any]:
    """Figures of a crew-day as the pages show them."""
    kg, m3 = load_out(report, day)
    return {
        "crew": report.crew(day),
        "date": day_words(report.plan.problem.shifts[day.shift].day),
        "sign": letter(report, day),
        "out": clock(day.out_s),
        "back": clock(day.back_s),
        "drive": minutes(day.drive_s),
        "work": minutes(day.work_s),
        "over": minutes(day.overtime_s),
        "km": f"{day.road_m / 1000:.0f}",
        "kg": f"{kg:,.0f}",
        "room": volume(report, m3),
        "lunch": "" if day.lunch_s is None else clock(day.lunch_s),
        "reloads": day.reloads,
        "stops": [_stop(report, day, stop) for stop in day.stops],
    }


def volume(report: RouteReport, value_m3: float) -> str:
    """Volume with the reader's unit."""
    unit = VOLUME.unit(report.system)
    return f"{float(from_si(value_m3, unit)):.2f} {unit}"


def _stop(report: RouteReport, day: DayPlan, stop: Stop) -> dict[str, Any]:
    visit = report.visit(stop.visit)
    window = report.hours(stop.visit, report.plan.problem.shifts[day.shift].day)
    slack = int((window[1] - stop.depart_s) // 60)
    return {
        "visit": visit,
        "id": visit.id,
        "site": visit.site,
        "units": ", ".join(visit.unit_ids),
        "kg": f"{visit.kg_new:,.0f}",
        "arrive": clock(stop.arrive_s),
        "start": clock(stop.start_s),
        "depart": clock(stop.depart_s),
        "slack": slack,
        "tight": slack < TIGHT_MIN,
        "window": say("{first} to {last}", first=clock(window[0]), last=clock(window[1])),
        "people": visit.people,
        "access": report.access.get(visit.id, ""),
        "agreed": report.kept.get(visit.id, ("", ""))[0],
    }


def _left(report: RouteReport, number: int, reason: str) -> dict[str, Any]:
    visit = report.visit(number)
    return {
        "id": visit.id,
        "site": visit.site,
        "units": ", ".join(visit.unit_ids),
        "priority": visit.priority,
        "reason": reason,
    }


def _crews(report: RouteReport) -> list[str]:
    names = {letter(report, day): report.crew(day) for day in report.plan.days}
    return [f"{sign} {name}" for sign, name in sorted(names.items())]
