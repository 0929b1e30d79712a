"""Geometry of the map: where the accounts lie, each with the gravest verdict of its units."""

from __future__ import annotations

import math
from collections import Counter
from statistics import fmean, median

from msgspec import Struct

from fleetaudit.language import say
from fleetaudit.schema.results import CLEAN, NOT_CHECKED, NOT_JUDGED, NOTE, NOW, PLAN
from fleetaudit.writing.charts import LEFT, RIGHT, Chart, Label
from fleetaudit.writing.report import Report, UnitRecord
from fleetaudit.writing.wording import shorten

#: gravest first, as the page lists them
GRAVEST = (NOW, PLAN, NOT_CHECKED, NOTE, CLEAN, NOT_JUDGED)
KINDS = {
    NOW: "f-now",
    PLAN: "f-plan",
    NOT_CHECKED: "f-unk",
    NOTE: "f-note",
    CLEAN: "f-ok",
    NOT_JUDGED: "f-none",
}
WORDS = {NOT_CHECKED: "not checked", NOT_JUDGED: "not judged", CLEAN: "in order"}
HIGHEST, LOWEST = 300.0, 60.0
MARGIN, TOP, FOOT = 14.0, 12.0, 34.0
#: accounts nearer to each other than this stand as one mark [px]
CELL = 7.0
NAMED, NAME_SHOWN, LINE = 8, 22, 14.0
#: a name that would cover more marks than this is left to the table
COVERED = 1
#: width of a letter on a narrow page, where letters are larger, and distance of a name from its mark
LETTER, ASIDE = 8.2, 9.0
ROWS_SHOWN = 300
#: a place so many times as far from the middle as half of them are, and so far at least [m], is left out
FAR, FAR_M = 12.0, 2e5
EARTH_RADIUS_M = 6.371e6  # mean radius, IUGG 1980
#: lengths of the scale [m or miles of the reader]
STEPS = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)
METRES = {"us": 1609.344, "metric": 1000.0}
LENGTH_WORDS = {"us": "miles", "metric": "km"}


class Place(Struct, frozen=True):
    """One account at the middle of its units [degrees]."""

    name: str
    verdict: str
    units: int
    latitude: float
    longitude: float


def map_chart(report: Report) -> Chart | None:
    """Accounts on the ground; None where fewer than two places are given."""
    places, far = _near(places_of(report))
    if len(places) < 2:
        return None
    middle = math.radians(fmean(place.latitude for place in places))
    spots = [
        (
            EARTH_RADIUS_M * math.cos(middle) * math.radians(place.longitude),
            -EARTH_RADIUS_M * math.radians(place.latitude),
        )
        for place in places
    ]
    left, top = min(x for x, _ in spots), min(y for _, y in spots)
    wide, high = max(x for x, _ in spots) - left, max(y for _, y in spots) - top
    room = RIGHT - LEFT - 2 * MARGIN
    scale = min(room / max(wide, 1.0), (HIGHEST - TOP - FOOT) / max(high, 1.0))
    shift = LEFT + MARGIN + (room - wide * scale) / 2
    drawn = [(shift + (x - left) * scale, TOP + MARGIN + (y - top) * scale) for x, y in spots]
    height = max(LOWEST, high * scale) + TOP + 2 * MARGIN + FOOT
    marks: dict[tuple[int, int], tuple[Place, float, float]] = {}
    for place, (x, y) in sorted(
        zip(places, drawn, strict=True), key=lambda item: GRAVEST.index(item[0].verdict)
    ):
        marks.setdefault((round(x / CELL), round(y / CELL)), (place, x, y))
    outlines: dict[str, str] = {}
    for place, x, y in reversed(marks.values()):
        outlines[place.verdict] = outlines.get(place.verdict, "") + _mark(place.verdict, x, y)
    ruler, words = _ruler(scale, height, report.system)
    counts = Counter(place.verdict for place in places)
    totals = {say(WORDS.get(verdict, verdict)): counts[verdict] for verdict in GRAVEST if counts[verdict]}
    if far:
        totals[say("too far away to draw")] = far
    grave = sorted(places, key=lambda place: (GRAVEST.index(place.verdict), place.name))
    return Chart(
        height, len(places), (), (),
        (*((outline, KINDS[verdict]) for verdict, outline in outlines.items()), (ruler, "axis")),
        (*_names(list(marks.values())), words),
        tuple(say(text) for text in ("Account", "Most urgent", "Units", "Latitude", "Longitude")),
        tuple(
            (p.name, say(WORDS.get(p.verdict, p.verdict)), p.units, f"{p.latitude:.4f}", f"{p.longitude:.4f}")
            for p in grave[:ROWS_SHOWN]
        ),
        totals,
    )  # fmt: skip


def places_of(report: Report) -> list[Place]:
    """Accounts whose units say where they are, by name."""
    grouped: dict[str, list[UnitRecord]] = {}
    for unit in report.units:
        if unit.latitude is not None and unit.longitude is not None:
            grouped.setdefault(unit.account or unit.unit_id, []).append(unit)
    return [
        Place(
            name,
            min((unit.verdict for unit in units), key=GRAVEST.index),
            len(units),
            fmean(unit.latitude or 0.0 for unit in units),
            fmean(unit.longitude or 0.0 for unit in units),
        )
        for name, units in sorted(grouped.items())
    ]


def _near(places: list[Place]) -> tuple[list[Place], int]:
    """Places without those that a slip has put at the end of the world, and how many those are."""
    if not places:
        return [], 0
    middle = (median(p.latitude for p in places), median(p.longitude for p in places))
    away = [math.hypot(p.latitude - middle[0], p.longitude - middle[1]) for p in places]
    limit = max(FAR * median(away), math.degrees(FAR_M / EARTH_RADIUS_M))
    near = [place for place, distance in zip(places, away, strict=True) if distance <= limit]
    return near, len(places) - len(near)


def _mark(verdict: str, x: float, y: float) -> str:
    """A shape for each verdict, so that none hangs on colour alone."""
    at = f"M{x:.4g} {y:.4g}"
    if verdict == NOW:
        return f"{at}m0-7l7 12h-14z"
    if verdict == PLAN:
        return f"{at}m0-6l6 6l-6 6l-6-6z"
    if verdict == NOT_CHECKED:
        return f"{at}m-5-5h10v10h-10z"
    if verdict == NOTE:
        return f"{at}m-4 0a4 4 0 1 0 8 0a4 4 0 1 0-8 0z"
    return f"{at}m-5-2h10v4h-10z"


def _names(marks: list[tuple[Place, float, float]]) -> list[Label]:
    """Names of the gravest accounts, on the side where they cover fewer marks and where there is room."""
    labels: list[Label] = []
    taken: list[tuple[float, float, float]] = []
    for place, x, y in marks:
        if place.verdict != NOW or len(labels) == NAMED:
            continue
        name = shorten(place.name, NAME_SHOWN)
        width = len(name) * LETTER
        sides = [(x + ASIDE, x + ASIDE + width, ""), (x - ASIDE - width, x - ASIDE, "end")]
        free = [
            (
                sum(left - 8 < other < right + 8 and abs(high - y) < LINE for _, other, high in marks),
                left,
                right,
                kind,
            )
            for left, right, kind in sides
            if left >= LEFT
            and right <= RIGHT
            and not any(abs(high - y) < LINE and left < end and start < right for start, end, high in taken)
        ]
        covered, left, right, kind = min(free, key=lambda side: side[0], default=(COVERED + 1, 0.0, 0.0, ""))
        if covered > COVERED:
            continue
        taken.append((left, right, y))
        labels.append(Label(right if kind else left, y + 4, name, kind))
    return labels


def _ruler(scale: float, height: float, system: str) -> tuple[str, Label]:
    """A bar of a round length at the foot, with its length in words."""
    metres = METRES[system]
    fits = [step for step in STEPS if step * metres * scale <= (RIGHT - LEFT) / 3]
    length, unit = fits[-1] if fits else 0, LENGTH_WORDS[system]
    if not length:
        short = max(1, round((RIGHT - LEFT) / 4 / scale))
        return f"M{LEFT:g} {height - 12:g}v4h{short * scale:.4g}v-4", Label(
            LEFT, height - 16, f"{short} m", "sub"
        )
    bar = f"M{LEFT:g} {height - 12:g}v4h{length * metres * scale:.4g}v-4"
    word = say("mile" if length == 1 and unit == LENGTH_WORDS["us"] else unit)
    return bar, Label(LEFT, height - 16, f"{length} {word}", "sub")
