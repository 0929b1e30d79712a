"""Words and style classes that pages have for verdicts, tiers and remarks, and money as pages show it."""

from __future__ import annotations

import math

from fleetaudit.language import say
from fleetaudit.schema.remark import Level
from fleetaudit.schema.results import CLEAN, NOT_CHECKED, NOT_JUDGED, NOTE, NOW, PLAN
from fleetaudit.writing.cost_chart import two_figures
from fleetaudit.writing.report import Span

KINDS = {NOW: "now", PLAN: "plan", NOTE: "note", NOT_CHECKED: "unk", CLEAN: "ok", NOT_JUDGED: "soft"}
WORDS = {NOT_CHECKED: "not checked", NOT_JUDGED: "not judged"}
LISTED = (NOW, PLAN, NOT_CHECKED, NOTE)
LEVELS = {Level.STOP: "stopped", Level.SKIP: "not used", Level.WARN: "assumed", Level.INFO: "noted"}
UNJUDGED = "Could not be judged"
#: a range of money
BETWEEN, DASH = "{low} to {high}", "{low}–{high}"


def rounded(value: float) -> str:
    """Amount of money to two figures, as nobody knows it better.

    >>> rounded(1234.0), rounded(0.0)
    ('1,200', '0')
    """
    return two_figures(value)


def money(span: Span | None, between: str = BETWEEN) -> str:
    """Yearly cost as a range, or "" where there is none."""
    if span is None:
        return ""
    known = [
        value for value in (span.low, span.target, span.high) if value is not None and math.isfinite(value)
    ]
    if not known:
        return ""
    low, high = rounded(min(known)), rounded(max(known))
    return low if low == high else say(between, low=low, high=high)
