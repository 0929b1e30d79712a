"""Geometry of the funnel: what each crew's set-ups are to those expected, against how many were expected."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from fleetaudit.crews.funnel import FunnelPoint
from fleetaudit.crews.naming import Group, Standing
from fleetaudit.crews.report import CrewReport
from fleetaudit.language import say
from fleetaudit.writing import crew_words
from fleetaudit.writing.charts import LEFT, RIGHT, Chart, Dot, Label
from fleetaudit.writing.wording import shorten

TOP, BASE, HEIGHT = 26.0, 206.0, 244.0
#: left edge of the drawing, right of the numbers of the upright axis
START = LEFT + 20
#: the upright axis ends between these, so that neither a flat fleet nor one odd crew spoils the picture
LEAST_TOP, MOST_TOP = 2.0, 6.0
#: room above the highest crew
ROOM = 1.08
RADIUS = 4.5
NAME_SHOWN = 18
#: a name stands so far beside its dot and below its middle, and so far under the name above it
ASIDE, DROP, LINE = 8.0, 4.0, 15.0
#: from this share of the width on a name stands left of its dot
TURNED = 0.6
#: columns of `crew_words.HEADINGS` that the table beside the drawing shows
TWIN = (
    "Name",
    "Units",
    "Wrong",
    "Expected",
    "Times expected",
    "Usual by chance",
    "Drawn together",
    "What it says",
)
KINDS = {
    Standing.DIFFERENT: "f-plan",
    Standing.BETTER: "f-ok",
    Standing.USUAL: "f-note",
    Standing.TOO_FEW: "f-none",
}


def funnel_chart(crews: CrewReport | None) -> Chart | None:
    """Crews as dots between the limits that chance alone keeps; None where there is nothing to compare."""
    if crews is None or not crews.funnel.points or not crews.funnel.limits:
        return None
    points, limits = crews.funnel.points, crews.funnel.limits
    last = max(*(point.expected for point in points), limits[-1].expected)
    highest = min(MOST_TOP, max(LEAST_TOP, max(point.ratio for point in points) * ROOM))
    plane = _Plane(last, highest)
    inner = [(limit.expected, limit.usual_low, limit.usual_high) for limit in limits]
    outer = [(limit.expected, limit.far_low, limit.far_high) for limit in limits]
    dots = [Dot(plane.x(p.expected), plane.y(p.ratio), RADIUS, KINDS[p.standing]) for p in points]
    return Chart(
        HEIGHT,
        len(points),
        (),
        tuple(dots),
        (
            (plane.band(inner), "in"),
            (plane.line([(x, high) for x, _, high in outer]), "axis"),
            (plane.line([(x, low) for x, low, _ in outer]), "axis"),
            (f"M{START:g} {plane.y(1):.5g}H{RIGHT:g}", "limit"),
            (f"M{START:g} {TOP:g}V{BASE:g}H{RIGHT:g}", "axis"),
        ),
        (*_axis(plane), *_names(plane, points)),
        tuple(say(heading) for heading in TWIN),
        tuple(_row(group) for group in crews.crews),
        dict(Counter(say(group.standing.value) for group in crews.crews)),
    )


class _Plane:
    """Places on the drawing."""

    def __init__(self, last: float, highest: float) -> None:
        self.last, self.highest = last, highest

    def x(self, expected: float) -> float:
        """Place of an expected count."""
        return START + (RIGHT - RADIUS - START) * expected / self.last

    def y(self, ratio: float) -> float:
        """Height of a ratio; what is higher than the axis stands at its end."""
        return BASE - (BASE - TOP) * min(ratio, self.highest) / self.highest

    def line(self, places: Sequence[tuple[float, float]]) -> str:
        """Outline through places."""
        return "".join(
            f"{'L' if number else 'M'}{self.x(x):.4g} {self.y(y):.4g}" for number, (x, y) in enumerate(places)
        )

    def band(self, limits: Sequence[tuple[float, float, float]]) -> str:
        """Area between a lower and an upper limit."""
        if not limits:
            return ""
        around = [*((x, high) for x, _, high in limits), *((x, low) for x, low, _ in reversed(limits))]
        return self.line(around) + "Z"


def _axis(plane: _Plane) -> list[Label]:
    marks = [Label(START - 5, plane.y(n) + DROP, str(n), "end sub") for n in range(int(plane.highest) + 1)]
    ends = f"{plane.last:.0f}" if plane.last >= 1 else f"{plane.last:.1f}"
    return [
        Label(LEFT, 14, say("times as many wrong set-ups as expected"), "sub"),
        *marks,
        Label(START, BASE + 16, "0", "sub"),
        Label((START + RIGHT) / 2, BASE + 32, say("wrong set-ups expected for jobs like theirs"), "mid sub"),
        Label(RIGHT, BASE + 16, ends, "end sub"),
    ]


def _names(plane: _Plane, points: Sequence[FunnelPoint]) -> list[Label]:
    """Names of the crews about which something is said, none on another."""
    labels: list[Label] = []
    for point in sorted(points, key=lambda point: (-point.ratio, point.expected)):
        if point.standing not in (Standing.DIFFERENT, Standing.BETTER):
            continue
        x, y = plane.x(point.expected), plane.y(point.ratio) + DROP
        if labels and y - labels[-1].y < LINE:
            y = labels[-1].y + LINE
        name = shorten(point.name, NAME_SHOWN)
        left = point.expected > TURNED * plane.last
        labels.append(Label(x - ASIDE, y, name, "end") if left else Label(x + ASIDE, y, name))
    return labels


def _row(group: Group) -> tuple[str | int, ...]:
    cells = dict(zip(crew_words.HEADINGS, crew_words.row(group), strict=True))
    return tuple(cells[heading] for heading in TWIN)
