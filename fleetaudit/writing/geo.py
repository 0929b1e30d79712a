"""A plan for maps and satnavs: GeoJSON (RFC 7946) and GPX 1.1.

Lines join places straight, they are no roads.
"""

from __future__ import annotations

import json
import re
from typing import Any
from xml.sax.saxutils import escape

from fleetaudit.language import dated, say
from fleetaudit.routing.dates import clock
from fleetaudit.routing.model import DayPlan, Place, Stop
from fleetaudit.schema.results import TOOL
from fleetaudit.writing.route_report import RouteReport

GPX = "http://www.topografix.com/GPX/1/1"
DIGITS = 6
_NOT_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")


def geojson(report: RouteReport) -> str:
    """Stops as points, days as lines, left-out visits as points; longitude first, as the standard has it."""
    features: list[dict[str, Any]] = []
    for day in report.plan.days:
        placed = _placed(report, day)
        features += [_point(place, _stop_words(report, day, number, stop)) for number, stop, place in placed]
        depot = _depot(report, day)
        line = [_pair(place) for place in (depot, *(place for _, _, place in placed), depot)]
        words = {
            "kind": "day",
            "crew": report.crew(day),
            "date": report.date(day).isoformat(),
            "note": say("straight lines, not roads"),
        }
        features.append(
            {"type": "Feature", "geometry": {"type": "LineString", "coordinates": line}, "properties": words}
        )
    for item in report.plan.left_out:
        visit = report.visit(item.visit)
        if visit.place is not None:
            features.append(
                _point(
                    visit.place,
                    {"kind": "left out", "visit_id": visit.id, "site": visit.site, "reason": item.reason},
                )
            )
    return (
        json.dumps({"type": "FeatureCollection", "features": features}, ensure_ascii=False, indent=1) + "\n"
    )


def gpx(report: RouteReport) -> str:
    """A route for each crew-day, its points in order."""
    parts = ['<?xml version="1.0" encoding="UTF-8"?>', f'<gpx version="1.1" creator="{TOOL}" xmlns="{GPX}">']
    for day in report.plan.days:
        parts.append(f"<rte><name>{_xml(report.crew(day))}, {dated(report.date(day))}</name>")
        depot = _depot(report, day)
        parts.append(_route_point(depot, say("depot"), say("leave {time}", time=clock(day.out_s))))
        for number, stop, place in _placed(report, day):
            visit = report.visit(stop.visit)
            parts.append(
                _route_point(
                    place,
                    f"{number} {visit.site}",
                    say("{visit}, arrive {time}", visit=visit.id, time=clock(stop.arrive_s)),
                )
            )
        parts.append(_route_point(depot, say("depot"), say("back {time}", time=clock(day.back_s))))
        parts.append("</rte>")
    return "\n".join([*parts, "</gpx>"]) + "\n"


def _placed(report: RouteReport, day: DayPlan) -> list[tuple[int, Stop, Place]]:
    found = []
    for number, stop in enumerate(day.stops, start=1):
        place = report.visit(stop.visit).place
        if place is not None:
            found.append((number, stop, place))
    return found


def _depot(report: RouteReport, day: DayPlan) -> Place:
    return report.plan.problem.crews[report.plan.problem.shifts[day.shift].crew].place


def _pair(place: Place) -> list[float]:
    return [round(place.longitude, DIGITS), round(place.latitude, DIGITS)]


def _point(place: Place, words: dict[str, Any]) -> dict[str, Any]:
    return {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": _pair(place)},
        "properties": words,
    }


def _stop_words(report: RouteReport, day: DayPlan, number: int, stop: Stop) -> dict[str, Any]:
    visit = report.visit(stop.visit)
    return {
        "kind": "stop",
        "visit_id": visit.id,
        "site": visit.site,
        "unit_ids": list(visit.unit_ids),
        "crew": report.crew(day),
        "date": report.date(day).isoformat(),
        "order": number,
        "arrive": clock(stop.arrive_s),
        "depart": clock(stop.depart_s),
        "place_known_by": "" if visit.place is None else visit.place.known_by,
    }


def _route_point(place: Place, name: str, words: str) -> str:
    longitude, latitude = _pair(place)
    said = f"<name>{_xml(name)}</name><desc>{_xml(words)}</desc>"
    return f'<rtept lat="{latitude}" lon="{longitude}">{said}</rtept>'


def _xml(text: str) -> str:
    return escape(_NOT_XML.sub("\ufffd", text))
