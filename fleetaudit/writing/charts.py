"""Geometry of the three charts: rectangles, circles and their table twins; the templates draw them.

Coordinates are those of the viewBox, `WIDTH` wide. Colours are classes of the style sheet.
"""

from __future__ import annotations

import math
from collections import Counter

from msgspec import Struct

from fleetaudit.language import say
from fleetaudit.schema.results import NOTE, NOW, PLAN, TIERS
from fleetaudit.writing.report import Report, UnitRecord

WIDTH = 400.0
LEFT, RIGHT = 8.0, WIDTH - 8.0
OUTER_BINS, INNER_BINS = 6, 8
CHECKS_SHOWN = 12
MEDIA_SHOWN = 12
AGE_BINS = 40
AGE_LAST = 2.0
DAYS_OF_YEAR = 365.25


class Rect(Struct, frozen=True):
    """One rectangle with the class that colours it."""

    x: float
    y: float
    width: float
    height: float
    kind: str


class Dot(Struct, frozen=True):
    """One circle with the class that colours it."""

    x: float
    y: float
    radius: float
    kind: str


class Label(Struct, frozen=True):
    """One text; `kind` holds the classes that align and colour it."""

    x: float
    y: float
    text: str
    kind: str = ""


class Chart(Struct, frozen=True):
    """A drawing and the same numbers as a table; `paths` are pairs of outline and class."""

    height: float
    units: int
    rects: tuple[Rect, ...]
    dots: tuple[Dot, ...]
    paths: tuple[tuple[str, str], ...]
    labels: tuple[Label, ...]
    columns: tuple[str, ...]
    rows: tuple[tuple[str | int, ...], ...]
    totals: dict[str, int]


def window_chart(report: Report) -> Chart | None:
    """Where the fitted restrictor of each unit sits in the flow window; None where no unit has both."""
    places = [place for unit in report.units if (place := _place_in_window(unit)) is not None]
    if not places:
        return None
    counts = Counter(_window_bin(place) for place in places)
    bins = 2 * OUTER_BINS + INNER_BINS
    step = (RIGHT - LEFT) / bins
    base, top = 176.0, 40.0
    tallest = max(counts.values())
    unit_height = min(12.0, (base - top) / tallest)
    rects = [Rect(LEFT + OUTER_BINS * step, top - 12, INNER_BINS * step, base - top + 12, "in")]
    for place in range(bins):
        if counts[place]:
            height = counts[place] * unit_height
            kind = "f-ok" if OUTER_BINS <= place < OUTER_BINS + INNER_BINS else "f-plan"
            rects.append(Rect(LEFT + place * step + 1, base - height, step - 2, height, kind))
    cuts = ""
    if unit_height >= 3:
        cuts = "".join(f"M{LEFT:g} {base - n * unit_height:.5g}H{RIGHT:g}" for n in range(1, tallest))
    edges = (LEFT + OUTER_BINS * step, LEFT + (OUTER_BINS + INNER_BINS) * step)
    limits = "".join(f"M{edge:.5g} {top - 12:g}V{base:g}" for edge in edges)
    below = sum(count for place, count in counts.items() if place < OUTER_BINS)
    above = sum(count for place, count in counts.items() if place >= OUTER_BINS + INNER_BINS)
    middle = len(places) - below - above
    labels = (
        Label(LEFT, 16, say("{count} below", count=below)),
        Label(WIDTH / 2, 16, say("{count} inside", count=middle), "mid"),
        Label(RIGHT, 16, say("{count} above", count=above), "end"),
        Label(LEFT, 194, say("half"), "sub"),
        Label(edges[0], 194, say("least"), "mid sub"),
        Label(edges[1], 194, say("most"), "mid sub"),
        Label(RIGHT, 194, say("double"), "end sub"),
    )
    rows = tuple((_window_words(place), counts[place]) for place in range(bins) if counts[place])
    return Chart(
        200,
        len(places),
        tuple(rects),
        (),
        ((cuts, "cut"), (f"M{LEFT:g} {base:g}H{RIGHT:g}", "axis"), (limits, "limit")),
        labels,
        (say("Rated flow of the restrictor"), say("Units")),
        rows,
        {say("below"): below, say("inside"): middle, say("above"): above},
    )


def _place_in_window(unit: UnitRecord) -> float | None:
    """Position on the axis: -1 half the least flow, 0 the least, 1 the most, 2 double the most."""
    low, high, fitted = unit.needed_gpm.low, unit.needed_gpm.high, unit.restrictor_gpm
    if low is None or high is None or fitted is None or not 0 < low <= high or not fitted > 0:
        return None
    if fitted < low:
        return max(-1.0, math.log2(fitted / low))
    if fitted > high:
        return min(2.0, 1 + math.log2(fitted / high))
    return 0.5 if high == low else (fitted - low) / (high - low)


def _window_bin(place: float) -> int:
    if place < 0:
        return min(OUTER_BINS - 1, math.floor((place + 1) * OUTER_BINS))
    if place <= 1:
        return OUTER_BINS + min(INNER_BINS - 1, math.floor(place * INNER_BINS))
    return min(
        2 * OUTER_BINS + INNER_BINS - 1, OUTER_BINS + INNER_BINS + math.floor((place - 1) * OUTER_BINS)
    )


def _window_words(place: int) -> str:
    if place < OUTER_BINS:
        low, high = (round(100 * 2 ** ((place + n) / OUTER_BINS - 1)) for n in (0, 1))
        return (
            say("under {high} % of the least flow", high=high)
            if place == 0
            else say("{low} to {high} % of the least flow", low=low, high=high)
        )
    if place < OUTER_BINS + INNER_BINS:
        low, high = (round(100 * (place - OUTER_BINS + n) / INNER_BINS) for n in (0, 1))
        return say("inside, {low} to {high} % of the way from least to most", low=low, high=high)
    number = place - OUTER_BINS - INNER_BINS
    low, high = (round(100 * 2 ** ((number + n) / OUTER_BINS)) for n in (0, 1))
    return (
        say("over {low} % of the most flow", low=low)
        if number == OUTER_BINS - 1
        else say("{low} to {high} % of the most flow", low=low, high=high)
    )


def age_chart(report: Report) -> Chart | None:
    """Age of the media as a share of their life, a strip for each medium; None where no date is known."""
    shares: dict[str, list[tuple[float, str]]] = {}
    for unit in report.units:
        share = _share_of_life(report, unit)
        if share is not None:
            shares.setdefault(say(unit.media), []).append((share, _age_kind(report, unit)))
    if not shares:
        return None
    names = sorted(shares, key=lambda name: (-len(shares[name]), name))
    strips = [(name, shares[name]) for name in names[:MEDIA_SHOWN]]
    rest = [entry for name in names[MEDIA_SHOWN:] for entry in shares[name]]
    if rest:
        strips.append((say("All other media"), rest))
    dots: list[Dot] = []
    labels: list[Label] = []
    lines = ends = ""
    pitch, top = 38.0, 16.0
    for number, (name, entries) in enumerate(strips):
        y = top + number * pitch + 24
        lines += f"M{LEFT:g} {y:g}H{RIGHT:g}"
        ends += f"M{WIDTH / 2:g} {y - 9:g}V{y + 9:g}"
        labels.append(Label(LEFT, y - 13, f"{name} ({len(entries)})"))
        dots += _strip(entries, y)
    bottom = top + len(strips) * pitch + 4
    labels += [
        Label(LEFT, bottom + 16, say("new"), "sub"),
        Label(WIDTH / 2, bottom + 16, say("end of life"), "mid sub"),
        Label(RIGHT, bottom + 16, say("double"), "end sub"),
    ]
    totals = Counter(kind for entries in shares.values() for _, kind in entries)
    return Chart(
        bottom + 24,
        sum(totals.values()),
        (),
        tuple(dots),
        ((lines, "grid"), (ends, "limit")),
        tuple(labels),
        tuple(
            say(text) for text in ("Medium", "Units", "Past its life", "Due soon", "Oldest, % of its life")
        ),
        tuple(_age_row(name, shares[name]) for name in names),
        {say("past"): totals["f-plan"], say("soon"): totals["f-note"], say("fine"): totals["f-ok"]},
    )


def _share_of_life(report: Report, unit: UnitRecord) -> float | None:
    if unit.media_date is None or unit.media_due is None or unit.media_due <= unit.media_date:
        return None
    return max(0.0, (report.as_of - unit.media_date).days / (unit.media_due - unit.media_date).days)


def _age_kind(report: Report, unit: UnitRecord) -> str:
    left = (unit.media_due - report.as_of).days if unit.media_due else 0
    if left < 0:
        return "f-plan"
    return "f-note" if left <= report.due_within_days else "f-ok"


def _strip(entries: list[tuple[float, str]], y: float) -> list[Dot]:
    counts = Counter(
        (min(AGE_BINS - 1, math.floor(share / AGE_LAST * AGE_BINS)), kind) for share, kind in entries
    )
    step = (RIGHT - LEFT) / AGE_BINS
    return [
        Dot(LEFT + (place + 0.5) * step, y, min(9.0, 2.6 * math.sqrt(count)), kind)
        for (place, kind), count in sorted(counts.items(), key=lambda item: (-item[1], item[0]))
    ]


def _age_row(name: str, entries: list[tuple[float, str]]) -> tuple[str | int, ...]:
    kinds = Counter(kind for _, kind in entries)
    oldest = round(100 * max(share for share, _ in entries))
    return (name, len(entries), kinds["f-plan"], kinds["f-note"], oldest)


def check_chart(report: Report) -> Chart | None:
    """Number of findings of each check, a bar each, split by tier; None where nothing was found."""
    if not report.findings:
        return None
    counts: dict[str, Counter[str]] = {}
    for finding in report.findings:
        counts.setdefault(finding.title, Counter())[finding.tier] += 1
    names = sorted(counts, key=lambda name: (-counts[name].total(), name))
    scale = (RIGHT - LEFT - 44) / max(counts[name].total() for name in names)
    rects: list[Rect] = []
    labels: list[Label] = []
    pitch = 32.0
    for number, name in enumerate(names[:CHECKS_SHOWN]):
        x, y = LEFT, number * pitch + 20
        labels.append(Label(LEFT, y - 5, name))
        for tier in TIERS:
            width = counts[name][tier] * scale
            if width:
                rects.append(Rect(x, y, width, 10, {NOW: "f-now", PLAN: "f-plan", NOTE: "f-note"}[tier]))
                x += width
        labels.append(Label(x + 5, y + 10, str(counts[name].total()), "sub"))
    return Chart(
        min(len(names), CHECKS_SHOWN) * pitch + 6,
        len(report.findings),
        tuple(rects),
        (),
        (),
        tuple(labels),
        tuple(say(text) for text in ("Check", "Now", "Plan", "Note", "All")),
        tuple((name, *(counts[name][tier] for tier in TIERS), counts[name].total()) for name in names),
        {say(tier): sum(count[tier] for count in counts.values()) for tier in TIERS},
    )
