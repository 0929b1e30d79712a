"""Maps as inline SVG: one of a crew-day, one of the whole plan. Legs are straight lines, and say so."""

from __future__ import annotations

from collections.abc import Sequence
from math import cos, radians

import numpy as np
from markupsafe import Markup, escape
from msgspec import Struct

from fleetaudit.language import dated, say, several
from fleetaudit.routing.model import DayPlan, Place
from fleetaudit.writing.route_report import RouteReport

WIDTH, HEIGHT, EDGE = 420.0, 300.0, 26.0
KM_DEGREE = 111.195
SCALES_KM = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
LEAST_SPAN_KM = 2.0
#: radius of a dot, and of one of many; how far one may stray without a line to its place
DOT, SMALL_DOT, MANY, MOVED = 9.0, 6.0, 40, 3.0
PUSHES, GOLDEN, DEPOT = 60, 2.399963, 9.0
NOTE = "Legs are drawn as straight lines, not roads."


class _Frame(Struct, frozen=True):
    """Places to pixels, north up, the same scale both ways."""

    left: float
    top: float
    shrink: float
    pixels_km: float
    edge_x: float
    edge_y: float

    def at(self, place: Place) -> tuple[float, float]:
        x = self.edge_x + (place.longitude - self.left) * KM_DEGREE * self.shrink * self.pixels_km
        y = self.edge_y + (self.top - place.latitude) * KM_DEGREE * self.pixels_km
        return round(x, 1), round(y, 1)


def _frame(places: Sequence[Place]) -> _Frame:
    north, south = max(p.latitude for p in places), min(p.latitude for p in places)
    east, west = max(p.longitude for p in places), min(p.longitude for p in places)
    shrink = max(cos(radians((north + south) / 2)), 0.01)
    wide = max((east - west) * KM_DEGREE * shrink, LEAST_SPAN_KM)
    high = max((north - south) * KM_DEGREE, LEAST_SPAN_KM)
    pixels = min((WIDTH - 2 * EDGE) / wide, (HEIGHT - 2 * EDGE) / high)
    edge_x = (WIDTH - (east - west) * KM_DEGREE * shrink * pixels) / 2
    edge_y = (HEIGHT - (north - south) * KM_DEGREE * pixels) / 2
    return _Frame(west, north, shrink, pixels, edge_x, edge_y)


def letter(report: RouteReport, day: DayPlan) -> str:
    """Letter of a crew on the maps."""
    number = report.plan.problem.shifts[day.shift].crew
    before = LETTERS[number // len(LETTERS) - 1] if number >= len(LETTERS) else ""
    return before + LETTERS[number % len(LETTERS)]


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
    told_of = [
        (frame.at(place), f"{sign}{number}", report.visit(stop.visit).site)
        for number, (stop, place) in enumerate(places, start=1)
    ]
    marks += [_depot(start), *_dots(told_of, DOT, [start])]
    stops = several(len(day.stops), "1 stop", "{count} stops")
    told = f"{report.crew(day)}, {dated(report.date(day))}: {stops}. {say(NOTE)}"
    return _svg(told, [*marks, _scale(frame)])


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
                f"<title>{escape(say('{site}, left out', site=report.visit(item.visit).site))}"
                "</title></circle>"
            )
    stops = [
        (frame.at(place), letter(report, day), report.visit(stop.visit).site)
        for day in report.plan.days
        for stop in day.stops
        if (place := report.visit(stop.visit).place) is not None
    ]
    depots = list(dict.fromkeys(frame.at(crew.place) for crew in problem.crews))
    marks += [_depot(at) for at in depots]
    marks += _dots(stops, DOT if len(stops) <= MANY else SMALL_DOT, depots)
    planned = sum(len(day.stops) for day in report.plan.days)
    return _svg(
        say(
            "All visits: {planned} planned, {left} left out.",
            planned=planned,
            left=len(report.plan.left_visits),
        ),
        [*marks, _scale(frame)],
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


def _dots(
    stops: Sequence[tuple[tuple[float, float], str, str]],
    radius: float,
    depots: Sequence[tuple[float, float]],
) -> list[str]:
    """Dots with texts, moved apart where they would cover each other; a line leads to the true place."""
    marks = []
    for (at, text, told), (x, y) in zip(
        stops, _apart([at for at, _, _ in stops], radius, depots), strict=True
    ):
        if abs(x - at[0]) + abs(y - at[1]) > MOVED:
            marks.append(f'<path class="lead" d="M{at[0]} {at[1]}L{x} {y}"/>')
        small = "" if radius == DOT else ' class="tiny"'
        marks.append(
            f'<g class="stop"><title>{escape(told)}</title><circle cx="{x}" cy="{y}" r="{radius:g}"/>'
            f'<text{small} x="{x}" y="{y + radius * 0.38:.1f}">{escape(text)}</text></g>'
        )
    return marks


def _apart(
    places: Sequence[tuple[float, float]], radius: float, depots: Sequence[tuple[float, float]]
) -> list[tuple[float, float]]:
    """Places pushed away from each other and from depots until no two touch, or long enough."""
    fixed = np.array(depots, dtype=float).reshape(-1, 2)
    at = np.array(places, dtype=float).reshape(-1, 2)
    turn = np.arange(len(at)) * GOLDEN
    # places on one point go apart in different directions
    at += 0.01 * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    for _ in range(PUSHES):
        gap = at[:, None] - at[None, :]
        far = np.hypot(gap[..., 0], gap[..., 1])
        np.fill_diagonal(far, np.inf)
        short = np.maximum(2 * radius + 1 - far, 0)
        off = at[:, None] - fixed[None, :]
        away = np.maximum(np.hypot(off[..., 0], off[..., 1]), 0.01)
        close = np.maximum(radius + DEPOT - away, 0)
        if not short.any() and not close.any():
            break
        at += (gap / far[..., None] * short[..., None]).sum(axis=1) / 2
        at += (off / away[..., None] * close[..., None]).sum(axis=1)
        at = np.clip(at, radius + 1, [WIDTH - radius - 1, HEIGHT - radius - 16])
    return [(round(float(x), 1), round(float(y), 1)) for x, y in at]


def _depot(at: tuple[float, float]) -> str:
    x, y = at[0] - 6, at[1] - 6
    return (
        f'<rect class="depot" x="{x:.1f}" y="{y:.1f}" width="12" height="12">'
        f"<title>{say('depot')}</title></rect>"
    )


def _scale(frame: _Frame) -> str:
    km = max((s for s in SCALES_KM if s * frame.pixels_km <= WIDTH / 3), default=SCALES_KM[0])
    y = HEIGHT - 8
    return (
        f'<path class="scale" d="M{EDGE} {y}h{km * frame.pixels_km:.1f}m0 -4v8M{EDGE} {y - 4}v8"/>'
        f'<text class="scale" x="{EDGE + km * frame.pixels_km + 6:.1f}" y="{y + 4}">{km} km</text>'
    )
