"""Maps as inline SVG: one of a crew-day, one of the whole plan. Legs are straight lines, and say so."""

from __future__ import annotations

from collections.abc import Sequence
from math import cos, radians

from markupsafe import Markup, escape
from msgspec import Struct

from fleetaudit.routing.model import DayPlan, Place
from fleetaudit.writing.route_report import RouteReport

WIDTH, HEIGHT, EDGE = 420.0, 300.0, 26.0
KM_DEGREE = 111.195
SCALES_KM = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
LEAST_SPAN_KM = 2.0
NOTE = "Legs are drawn as straight lines, not roads."


class _Frame(Struct, frozen=True):
    """Places to pixels, north up, the same scale both ways."""

    left: float
    top: float
    shrink: float
    pixels_km: float

    def at(self, place: Place) -> tuple[float, float]:
        x = EDGE + (place.longitude - self.left) * KM_DEGREE * self.shrink * self.pixels_km
        y = EDGE + (self.top - place.latitude) * KM_DEGREE * self.pixels_km
        return round(x, 1), round(y, 1)


def _frame(places: Sequence[Place]) -> _Frame:
    north, south = max(p.latitude for p in places), min(p.latitude for p in places)
    east, west = max(p.longitude for p in places), min(p.longitude for p in places)
    shrink = max(cos(radians((north + south) / 2)), 0.01)
    wide = max((east - west) * KM_DEGREE * shrink, LEAST_SPAN_KM)
    high = max((north - south) * KM_DEGREE, LEAST_SPAN_KM)
    return _Frame(west, north, shrink, min((WIDTH - 2 * EDGE) / wide, (HEIGHT - 2 * EDGE) / high))


def letter(report: RouteReport, day: DayPlan) -> str:
    """Letter of a crew on the maps."""
    return LETTERS[report.plan.problem.shifts[day.shift].crew % len(LETTERS)]


def day_map(report: RouteReport, day: DayPlan) -> Markup:
    """Map of one crew-day: stops numbered in order, the way home dashed, the depot a square."""
    depot = report.plan.problem.crews[report.plan.problem.shifts[day.shift].crew].place
    places = [(stop, place) for stop in day.stops if (place := report.visit(stop.visit).place) is not None]
    frame = _frame([depot, *(place for _, place in places)])
    start = frame.at(depot)
    out, trip = [start], 0
    for stop, place in places:
        if stop.trip != trip:
            out.append(start)
            trip = stop.trip
        out.append(frame.at(place))
    marks = [_line(out, "leg"), _line([out[-1], start], "home")]
    sign = letter(report, day)
    for number, (stop, place) in enumerate(places, start=1):
        marks.append(_dot(frame.at(place), f"{sign}{number}", report.visit(stop.visit).site))
    told = f"{report.crew(day)}, {report.date(day).isoformat()}: {len(day.stops)} stops. {NOTE}"
    return _svg(told, [*marks, _depot(start), _scale(frame)])


def overview(report: RouteReport) -> Markup | None:
    """Map of all visits without lines.

    Planned ones with the letter of their crew, left ones as grey rings.
    """
    problem = report.plan.problem
    all_places = [visit.place for visit in problem.visits if visit.place is not None]
    if not all_places:
        return None
    frame = _frame([*(crew.place for crew in problem.crews), *all_places])
    marks = []
    for item in report.plan.left_visits:
        place = report.visit(item.visit).place
        if place is not None:
            x, y = frame.at(place)
            marks.append(
                f'<circle class="left" cx="{x}" cy="{y}" r="6">'
                f"<title>{escape(report.visit(item.visit).site)}, left out</title></circle>"
            )
    for day in report.plan.days:
        for stop in day.stops:
            place = report.visit(stop.visit).place
            if place is not None:
                marks.append(_dot(frame.at(place), letter(report, day), report.visit(stop.visit).site))
    marks += [_depot(frame.at(crew.place)) for crew in problem.crews]
    planned = sum(len(day.stops) for day in report.plan.days)
    return _svg(
        f"All visits: {planned} planned, {len(report.plan.left_visits)} left out.", [*marks, _scale(frame)]
    )


def _svg(told: str, marks: Sequence[str]) -> Markup:
    body = "".join(marks)
    return Markup(
        f'<svg class="map" viewBox="0 0 {WIDTH:g} {HEIGHT:g}" role="img">'
        f"<title>{escape(told)}</title>{body}</svg>"
    )


def _line(points: Sequence[tuple[float, float]], kind: str) -> str:
    path = "L".join(f"{x} {y}" for x, y in points)
    return f'<path class="{kind}" d="M{path}"/>'


def _dot(at: tuple[float, float], text: str, told: str) -> str:
    return (
        f'<g class="stop"><title>{escape(told)}</title><circle cx="{at[0]}" cy="{at[1]}" r="9"/>'
        f'<text x="{at[0]}" y="{at[1] + 3.5:.1f}">{escape(text)}</text></g>'
    )


def _depot(at: tuple[float, float]) -> str:
    x, y = at[0] - 6, at[1] - 6
    return f'<rect class="depot" x="{x:.1f}" y="{y:.1f}" width="12" height="12"><title>depot</title></rect>'


def _scale(frame: _Frame) -> str:
    km = max((s for s in SCALES_KM if s * frame.pixels_km <= WIDTH / 3), default=SCALES_KM[0])
    y = HEIGHT - 8
    return (
        f'<path class="scale" d="M{EDGE} {y}h{km * frame.pixels_km:.1f}m0 -4v8M{EDGE} {y - 4}v8"/>'
        f'<text class="scale" x="{EDGE + km * frame.pixels_km + 6:.1f}" y="{y + 4}">{km} km</text>'
    )
