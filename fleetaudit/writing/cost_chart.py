"""Geometry of the cost of waiting: what leaving the findings of each check costs, with its range."""

from __future__ import annotations

import math

from fleetaudit.language import say
from fleetaudit.writing.charts import LEFT, RIGHT, Chart, Label, Rect
from fleetaudit.writing.report import FindingRecord, Report, Span

CHECKS_SHOWN = 10
PITCH, BAR = 32.0, 10.0
#: room right of the longest range for its number
NUMBERS = 150.0
MONTHS = 12.0


def cost_chart(report: Report) -> Chart | None:
    """Yearly cost of each check's findings, the dearest first; None where none has a price."""
    sums: dict[str, list[FindingRecord]] = {}
    for finding in report.findings:
        if finding.cost_year is not None:
            sums.setdefault(finding.title, []).append(finding)
    spans = {title: total([one.cost_year for one in found]) for title, found in sums.items()}
    known = {title: span for title, span in spans.items() if span.high}
    if not known:
        return None
    titles = sorted(known, key=lambda title: (-(known[title].target or 0.0), title))
    highest = max(known[title].high or 0.0 for title in titles[:CHECKS_SHOWN])
    scale = (RIGHT - LEFT - NUMBERS) / highest
    rects, labels, ranges = [], [], ""
    for number, title in enumerate(titles[:CHECKS_SHOWN]):
        span, y = known[title], number * PITCH + 20
        low, middle, high = ((end or 0.0) * scale for end in (span.low, span.target, span.high))
        rects.append(Rect(LEFT, y, middle, BAR, "f-mark"))
        ranges += f"M{LEFT + low:.5g} {y + BAR / 2:g}H{LEFT + high:.5g}M{LEFT + high:.5g} {y:g}v{BAR:g}"
        labels += [
            Label(LEFT, y - 5, title),
            Label(LEFT + high + 6, y + BAR, _words(span), "sub"),
        ]
    return Chart(
        min(len(titles), CHECKS_SHOWN) * PITCH + 6,
        len(titles),
        tuple(rects),
        (),
        ((ranges, "limit span"),),
        tuple(labels),
        tuple(say(text) for text in ("Check", "Findings", "A month", "A quarter", "A year", "Low", "High")),
        tuple((title, len(sums[title]), *_amounts(known[title])) for title in titles),
        {say("checks with a price"): len(titles)},
    )


def _words(span: Span) -> str:
    low, middle, high = (two_figures(end or 0.0) for end in (span.low, span.target, span.high))
    return say("{middle} ({low} to {high})", middle=middle, low=low, high=high)


def _amounts(span: Span) -> tuple[str, ...]:
    year = span.target or 0.0
    return tuple(
        two_figures(value or 0.0) for value in (year / MONTHS, year / 4, span.target, span.low, span.high)
    )


def total(spans: list[Span | None]) -> Span:
    """Ends of several costs added up."""
    ends = ("low", "target", "high")
    return Span(*(math.fsum(getattr(span, end) or 0.0 for span in spans if span is not None) for end in ends))


def two_figures(value: float) -> str:
    """Amount of money to two figures, as nobody knows it better.

    >>> two_figures(1234.0), two_figures(0.2)
    ('1,200', '0')
    """
    if not math.isfinite(value) or abs(value) < 1 / 2:
        return "0"
    digits = 1 - math.floor(math.log10(abs(value)))
    return f"{round(value, min(0, digits)):,.0f}"
