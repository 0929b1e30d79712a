"""A plan as one JSON document for other programs; its keys are a contract."""

from __future__ import annotations

import json
from typing import Any

from fleetaudit.routing.dates import clock, minutes
from fleetaudit.routing.model import DayPlan, LeftOut, Stop
from fleetaudit.schema.results import JSON_VERSION, TOOL
from fleetaudit.writing.report import OrderGroup
from fleetaudit.writing.route_report import RouteReport, ft3, load_out


def document(report: RouteReport) -> dict[str, Any]:
    """Plan as plain values, days in order of date and crew."""
    plan = report.plan
    return {
        "schema_version": JSON_VERSION,
        "tool": {"name": TOOL, "version": report.version},
        "as_of": report.as_of.isoformat(),
        "method": plan.method,
        "broken_locks": [
            {"visit_id": report.visit(broken.visit).id, "text": broken.text} for broken in plan.broken_locks
        ],
        "days": [_day(report, day) for day in plan.days],
        "left_out": [_left(report, item) for item in plan.left_out],
        "orders": [_ordered(group) for group in report.orders],
        "what_if": [
            {
                "question": one.question,
                "left_out": one.left_out,
                "objective": round(one.objective, 2),
                "verdict": one.verdict,
            }
            for one in report.what_if
        ],
        "assumptions": [
            {"what": a.what, "taken_as": a.taken_as, "source": a.source} for a in report.assumptions
        ],
        "objective": round(plan.objective, 2),
    }


def text(report: RouteReport) -> str:
    """Document as text, one line at the end."""
    return json.dumps(document(report), ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def _day(report: RouteReport, day: DayPlan) -> dict[str, Any]:
    kg, m3 = load_out(report, day)
    return {
        "crew": report.crew(day),
        "date": report.date(day).isoformat(),
        "depot_out": clock(day.out_s),
        "depot_back": clock(day.back_s),
        "drive_min": minutes(day.drive_s),
        "work_min": minutes(day.work_s),
        "overtime_min": minutes(day.overtime_s),
        "km": round(day.road_m / 1000, 1),
        "lunch": None if day.lunch_s is None else clock(day.lunch_s),
        "reloads": day.reloads,
        "load_out": {"kg": round(kg, 1), "ft3": round(ft3(m3), 2)},
        "stops": [_stop(report, stop) for stop in day.stops],
    }


def _stop(report: RouteReport, stop: Stop) -> dict[str, Any]:
    visit = report.visit(stop.visit)
    return {
        "visit_id": visit.id,
        "site": visit.site,
        "unit_ids": list(visit.unit_ids),
        "ride_along_ids": [task.unit_id for task in visit.tasks if task.rides],
        "lat": None if visit.place is None else visit.place.latitude,
        "lon": None if visit.place is None else visit.place.longitude,
        "trip": stop.trip + 1,
        "arrive": clock(stop.arrive_s),
        "start": clock(stop.start_s),
        "depart": clock(stop.depart_s),
        "kg_new": round(visit.kg_new, 1),
        "ft3_new": round(ft3(visit.m3_new), 2),
        "kg_spent": round(visit.kg_spent, 1),
    }


def _ordered(group: OrderGroup) -> dict[str, Any]:
    return {
        "for": group.kind,
        "name": group.name,
        "lines": [
            {
                "what": line.what,
                "size": line.size,
                "needed": line.needed,
                "unit": line.unit,
                "bags": line.bags,
                "from_stock": line.stock,
                "to_order": line.to_order,
                "order_unit": line.order_unit,
                "measure_first": line.doubtful,
            }
            for line in group.lines
        ],
    }


def _left(report: RouteReport, item: LeftOut) -> dict[str, Any]:
    visit = report.visit(item.visit)
    return {
        "visit_id": visit.id,
        "site": visit.site,
        "unit_ids": list(visit.unit_ids),
        "kind": item.kind,
        "reason": item.reason,
        "numbers": item.numbers,
    }
