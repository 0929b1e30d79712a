"""Geometry of the grid of media and vessel sizes: how many set-ups are wrong in each."""

from __future__ import annotations

from collections import Counter

from fleetaudit.checks import housing_too_small, restrictor_too_large, restrictor_too_small
from fleetaudit.language import say
from fleetaudit.schema import quantity as q
from fleetaudit.units import to_si
from fleetaudit.writing.charts import LEFT, RIGHT, Chart, Label, Rect
from fleetaudit.writing.display import Display
from fleetaudit.writing.report import Report

SET_UP = frozenset(
    check.CHECK.slug for check in (restrictor_too_small, restrictor_too_large, housing_too_small)
)
UNSETTLED = "measure-first"
MEDIA_SHOWN = 9
#: upper ends of the classes of diameter [in], nominal sizes of small, middle and large vessels
EDGES_IN = (10.0, 13.0, 16.0, 24.0)
TOP, PITCH, BAR, GAP = 22.0, 46.0, 5.0, 8.0
OTHER = "All other media"


def setup_chart(report: Report) -> Chart | None:
    """Units set up wrongly of those that can be told, by medium and size; None where nothing is wrong."""
    wrong, unsettled = wrong_units(report)
    cells: Counter[tuple[str, int]] = Counter()
    found: Counter[tuple[str, int]] = Counter()
    for unit in report.units:
        told = unit.restrictor_gpm is not None and unit.needed_gpm.low is not None
        if not told or unit.index in unsettled:
            continue
        key = (say(unit.media), _size(unit.vessel_diameter_in))
        cells[key] += 1
        found[key] += unit.index in wrong
    if not found.total():
        return None
    media = sorted(
        {name for name, _ in cells}, key=lambda name: (-_row(found, name), -_row(cells, name), name)
    )
    shown, rest = media[:MEDIA_SHOWN], media[MEDIA_SHOWN:]
    for name, size in [key for key in cells if key[0] in rest]:
        cells[say(OTHER), size] += cells[name, size]
        found[say(OTHER), size] += found[name, size]
    lines = [*shown, *([say(OTHER)] if rest else [])]
    sizes = sorted({size for _, size in cells}, key=lambda size: (size < 0, size))
    words = {size: size_words(size, report.system) for size in sizes}
    return _drawn(lines, sizes, words, cells, found)


def _drawn(
    lines: list[str],
    sizes: list[int],
    words: dict[int, str],
    cells: Counter[tuple[str, int]],
    found: Counter[tuple[str, int]],
) -> Chart:
    step = (RIGHT - LEFT) / len(sizes)
    labels = [Label(LEFT + place * step, TOP - 6, words[size], "sub") for place, size in enumerate(sizes)]
    rects = []
    for number, name in enumerate(lines):
        y = TOP + number * PITCH
        labels.append(Label(LEFT, y + 12, name))
        for place, size in enumerate(sizes):
            if not cells[name, size]:
                continue
            x, width = LEFT + place * step, step - GAP
            share = found[name, size] / cells[name, size]
            rects.append(Rect(x, y + PITCH - 13, width, BAR, "in"))
            if share:
                rects.append(Rect(x, y + PITCH - 13, width * share, BAR, "f-plan"))
            labels.append(
                Label(x + width, y + PITCH - 16, _of(found[name, size], cells[name, size]), "end sub")
            )
    wrong, compared = say("wrong"), say("units compared")
    total = Counter({wrong: 0, compared: 0})
    for name in lines:
        total[wrong] += _row(found, name)
        total[compared] += _row(cells, name)
    rows = tuple(
        (
            name,
            *(_of(found[name, size], cells[name, size]) if cells[name, size] else "" for size in sizes),
        )
        for name in lines
    )
    columns = (say("Medium, wrong of all"), *(words[size] for size in sizes))
    return Chart(
        TOP + len(lines) * PITCH + 2,
        total[compared],
        tuple(rects),
        (),
        (),
        tuple(labels),
        columns,
        rows,
        dict(total),
    )


def _of(found: int, every: int) -> str:
    return say("{found} of {every}", found=found, every=every)


def wrong_units(report: Report) -> tuple[set[int], set[int]]:
    """Units whose set-up is wrong for sure or likely, and those to be measured before it is said."""
    told = [finding for finding in report.findings if finding.check in SET_UP]
    wrong = {finding.unit for finding in told if finding.confidence != UNSETTLED}
    return wrong, {finding.unit for finding in told} - wrong


def _row(counts: Counter[tuple[str, int]], name: str) -> int:
    return sum(count for (of, _), count in counts.items() if of == name)


def _size(diameter_in: float | None) -> int:
    """Class of a diameter, -1 where not known."""
    if diameter_in is None:
        return -1
    return sum(diameter_in > edge for edge in EDGES_IN)


def size_words(size: int, system: str) -> str:
    """A class of diameters in the reader's unit."""
    show = Display(system)
    ends = [to_si(edge, "in") for edge in EDGES_IN]
    if size < 0:
        return say("size unknown")
    if size == 0:
        return say("to {end}", end=show.text(q.DIAMETER, ends[0]))
    if size == len(ends):
        return say("over {end}", end=show.text(q.DIAMETER, ends[-1]))
    return say("to {end}", end=show.text(q.DIAMETER, ends[size]))
