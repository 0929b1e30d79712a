"""A plan as CSV, one line a stop."""

from __future__ import annotations

import csv
import io

from fleetaudit.routing.dates import clock
from fleetaudit.writing.route_report import RouteReport, ft3

HEADINGS = (
    "date",
    "crew",
    "order",
    "visit_id",
    "site",
    "unit_ids",
    "lat",
    "lon",
    "arrive",
    "start",
    "depart",
    "kg_new",
    "ft3_new",
    "kg_spent",
)
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def table(report: RouteReport) -> str:
    """Stops in order; a text that a spreadsheet program would take for a formula gets an apostrophe."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(HEADINGS)
    for day in report.plan.days:
        for number, stop in enumerate(day.stops, start=1):
            visit = report.visit(stop.visit)
            place = visit.place
            row = [
                report.date(day).isoformat(),
                report.crew(day),
                str(number),
                visit.id,
                visit.site,
                " ".join(visit.unit_ids),
            ]
            numbers = [
                "" if place is None else place.latitude,
                "" if place is None else place.longitude,
                clock(stop.arrive_s),
                clock(stop.start_s),
                clock(stop.depart_s),
                round(visit.kg_new, 1),
                round(ft3(visit.m3_new), 2),
                round(visit.kg_spent, 1),
            ]
            writer.writerow([*map(_safe, row), *numbers])
    return out.getvalue()


def _safe(text: str) -> str:
    return f"'{text}" if text.startswith(_FORMULA) else text
