"""Pages to print: a stop sheet for each crew-day, load lists with the last stop first in, the store list."""

from __future__ import annotations

import io
from collections.abc import Mapping
from typing import Any

from markupsafe import Markup

from fleetaudit.checks.registry import BY_SLUG
from fleetaudit.errors import InputError
from fleetaudit.language import dated, say
from fleetaudit.routing.dates import date_of
from fleetaudit.routing.model import DayPlan, Place, Task, Visit
from fleetaudit.routing.tasks import MEDIA_DUE_LATER
from fleetaudit.schema import visits
from fleetaudit.schema.column import Column
from fleetaudit.schema.quantity import FLOW, VOLUME
from fleetaudit.units import from_si, to_si
from fleetaudit.writing.cautions import CAUTIONS
from fleetaudit.writing.job_steps import STANDING, STEPS
from fleetaudit.writing.report import OrderGroup, UnitRecord
from fleetaudit.writing.returns_sheet import given_of
from fleetaudit.writing.route_html import day_values, page, volume, ways
from fleetaudit.writing.route_report import RouteReport, load_out
from fleetaudit.writing.route_sheets import load_lines

GEO_LINK = "geo:{lat},{lon}"


def stop_sheets(report: RouteReport, link: str = GEO_LINK) -> str:
    """One sheet a crew-day; `link` is what the code of a place opens, with {lat} and {lon} in it."""
    days = []
    for day in report.plan.days:
        values = day_values(report, day)
        for stop in values["stops"]:
            visit: Visit = stop["visit"]
            stop["work"] = [_unit(report, task) for task in visit.tasks]
            stop["address"] = report.units[visit.tasks[0].unit].address
            stop["qr"] = "" if visit.place is None else place_code(visit.place, link)
            stop["place"] = (
                "" if visit.place is None else f"{visit.place.latitude:.5f}, {visit.place.longitude:.5f}"
            )
        days.append(values)
    boxes = [say(column.title) for column in visits.FILLED_IN]
    return page(
        "stop_sheet.html.j2",
        report,
        days=days,
        boxes=boxes,
        steps=STEPS,
        standing=STANDING,
        cautions=CAUTIONS,
        ways=ways(report),
    )


def _unit(report: RouteReport, task: Task) -> dict[str, Any]:
    unit = report.units[task.unit]
    return {
        "id": task.unit_id,
        "label": report.labels.get(task.unit, ""),
        "vessel": unit.vessel or say("vessel not recorded"),
        "medium": report.beds.get(task.unit, "") or say(unit.media) or say("medium not recorded"),
        "rides": _riding(task),
        "parts": (*report.parts.get(task.unit, ()), *_gravel(report, task)),
        "volume": volume(report, task.m3_new - task.m3_gravel) if task.m3_new else "",
        "kg": f"{task.kg_new - task.kg_gravel:,.0f}",
        "spent": f"{task.kg_spent:,.0f}",
        "flow": _flow(unit, report.system),
        "why": ", ".join(map(_reason, task.why)),
    }


def _gravel(report: RouteReport, task: Task) -> tuple[str, ...]:
    if not task.m3_gravel:
        return ()
    return (say("{what}, {kg:,.0f} kg", what=report.gravel[task.unit], kg=task.kg_gravel),)


def _riding(task: Task) -> str:
    """What is done at a unit that only rides along."""
    if not task.rides:
        return ""
    if not task.m3_new:
        return say("while there: look and measure")
    if task.due_day is None:
        return say("while there: new media")
    return say("while there: new media, due {day}", day=dated(date_of(task.due_day)))


def _reason(slug: str) -> str:
    """Why a task is done: the title of the finding, small within the line."""
    title = say("Media due later") if slug == MEDIA_DUE_LATER else say(BY_SLUG[slug].title)
    return title[:1].lower() + title[1:]


def _flow(unit: UnitRecord, system: str) -> str:
    low, high = unit.needed_gpm.low, unit.needed_gpm.high
    if low is None or high is None:
        return ""
    name = FLOW.unit(system)
    ends = [float(from_si(to_si(gpm, FLOW.us), name)) for gpm in (low, high)]
    return say("{low:.1f} to {high:.1f} {unit}", low=ends[0], high=ends[1], unit=name)


def return_lines(report: RouteReport) -> list[Mapping[Column, object]]:
    """Lines of the form that `record` reads back, for the units of the plan in the order of the days."""
    units = [
        task.unit for day in report.plan.days for stop in day.stops for task in report.visit(stop.visit).tasks
    ]
    return [_return_line(report, report.units[unit]) for unit in units]


def _return_line(report: RouteReport, unit: UnitRecord) -> Mapping[Column, object]:
    name = FLOW.unit(report.system)

    def shown(gpm: float | None) -> float | None:
        return None if gpm is None else round(float(from_si(to_si(gpm, FLOW.us), name)), 2)

    numbers = {
        visits.ON_RECORD: shown(unit.restrictor_gpm),
        visits.TO_FIT: shown(unit.restrictor_recommended_gpm),
    }
    label, bed = report.labels.get(unit.index, ""), report.beds.get(unit.index, "")
    return given_of(unit, label, _flow(unit, report.system), numbers, bed)


def place_code(place: Place, link: str = GEO_LINK) -> Markup:
    """QR code of a place as inline SVG; nothing where the library for it is not installed."""
    try:
        import segno  # noqa: PLC0415 - wanted for stop sheets only
    except ImportError:
        return Markup("")
    try:
        text = link.format(lat=f"{place.latitude:.6f}", lon=f"{place.longitude:.6f}")
    except (KeyError, IndexError, ValueError) as trouble:
        raise InputError(
            say(
                'The link "{link}" may hold {latitude} and {longitude} and no other braces.',
                link=link,
                latitude="{lat}",
                longitude="{lon}",
            )
        ) from trouble
    out = io.BytesIO()
    segno.make(text, error="m", micro=False).save(
        out, kind="svg", xmldecl=False, svgns=False, omitsize=True, border=2
    )
    return Markup(out.getvalue().decode("utf-8"))


def load_list(report: RouteReport) -> str:
    """Load list of each trip, and all that the store has to lay out and order."""
    unit = VOLUME.unit(report.system)
    lists = [_trip(report, day, trip) for day in report.plan.days for trip in range(day.reloads + 1)]
    groups = [(_named(group), group.lines) for group in (*report.orders[-1:], *report.orders[:-1])]
    return page("load_list.html.j2", report, lists=lists, unit=unit, groups=groups)


def _named(group: OrderGroup) -> str:
    """Name of a list of orders, with the day as the reader writes days."""
    name = group.name
    if group.day is not None:
        name = name.replace(group.day.isoformat(), dated(group.day), 1)
    return name[:1].upper() + name[1:]


def _trip(report: RouteReport, day: DayPlan, trip: int) -> dict[str, Any]:
    kg, m3 = load_out(report, day, trip)
    crew = report.plan.problem.crews[report.plan.problem.shifts[day.shift].crew]
    jobs = [report.visit(stop.visit) for stop in day.stops if stop.trip == trip]
    moments = [
        sum(job.kg_spent for job in jobs[:done]) + sum(job.kg_new for job in jobs[done:])
        for done in range(len(jobs) + 1)
    ]
    rows = [
        (visit_id, site, what, f"{mass:,.0f}" if mass else "", _size(report, room))
        for visit_id, site, what, mass, room in load_lines(report, day, trip)
    ]
    return {
        **day_values(report, day),
        "trip": trip + 1,
        "trips": day.reloads + 1,
        "kg": f"{kg:,.0f}",
        "room": volume(report, m3),
        "payload": f"{crew.payload_kg:,.0f}",
        "peak": f"{max(moments):,.0f}",
        "rows": rows,
    }


def _size(report: RouteReport, room_m3: float) -> str:
    return f"{float(from_si(room_m3, VOLUME.unit(report.system))):.2f}" if room_m3 else ""
