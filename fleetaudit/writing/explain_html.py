"""The explanation of one unit as a page: one file, no network, no script; the drawing as inline SVG."""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup
from msgspec import Struct

from fleetaudit.assets import read_text
from fleetaudit.writing.explanation import Drawing, Explanation
from fleetaudit.writing.page import content_hash, environment

LEFT, RIGHT, WIDTH, ROW, TOP = 220.0, 20.0, 860.0, 34.0, 26.0
THICK = {"season": 8.0, "window": 16.0, "clash": 16.0, "drain": 3.0}


class Shape(Struct, frozen=True):
    """One range placed on the drawing."""

    title: str
    words: str
    kind: str
    x: float
    y: float
    width: float
    height: float
    middle: float | None
    text_y: float


class Picture(Struct, frozen=True):
    """Everything of the drawing in pixels."""

    width: float
    height: float
    base: float
    shapes: tuple[Shape, ...]
    ticks: tuple[tuple[float, str], ...]
    marks: tuple[tuple[float, str], ...]
    unit: str
    told: str


def render(explained: Sequence[Explanation], version: str) -> str:
    """Page of one unit, or of several rows that carry the same name."""
    style = " ".join(read_text("templates/explain.css").split())
    return str(
        environment()
        .get_template("explain.html.j2")
        .render(
            units=[(one, _picture(one.drawing) if one.drawing else None) for one in explained],
            style=Markup(style),
            style_hash=content_hash(style),
            version=version,
        )
    )


def _picture(drawn: Drawing) -> Picture:
    def across(flow: float) -> float:
        share = (flow - drawn.first) / (drawn.last - drawn.first)
        return round(LEFT + min(max(share, 0.0), 1.0) * (WIDTH - LEFT - RIGHT), 1)

    shapes = []
    for place, bar in enumerate(drawn.bars):
        middle_y = TOP + ROW * (place + 0.5)
        thick = THICK[bar.kind]
        start, end = across(bar.low), across(bar.high)
        shapes.append(
            Shape(
                bar.title,
                bar.words,
                bar.kind,
                start,
                round(middle_y - thick / 2, 1),
                round(max(end - start, 1.5), 1),
                thick,
                across(bar.middle) if bar.middle == bar.middle else None,
                round(middle_y + 4, 1),
            )
        )
    base = TOP + ROW * len(drawn.bars)
    marks = tuple((across(flow), f"{name} {words}") for name, flow, words in drawn.marks)
    told = "; ".join([*(f"{bar.title}: {bar.words}" for bar in drawn.bars), *(words for _, words in marks)])
    ticks = tuple((across(flow), words) for flow, words in drawn.ticks)
    return Picture(WIDTH, base + 40 + 16 * len(marks), base, tuple(shapes), ticks, marks, drawn.unit, told)
