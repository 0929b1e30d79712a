"""One page over several audited workbooks: how each stands, what comes first in all, what all need."""

from __future__ import annotations

import os
from collections.abc import Sequence
from itertools import takewhile
from pathlib import Path
from urllib.parse import quote

from markupsafe import Markup
from msgspec import Struct

from fleetaudit.assets import read_text
from fleetaudit.schema.results import TIERS, VERDICTS
from fleetaudit.writing.first import leading, step, urgency
from fleetaudit.writing.page import content_hash, environment, lean
from fleetaudit.writing.page_words import KINDS, WORDS, money
from fleetaudit.writing.register import Line, lines
from fleetaudit.writing.report import Report, Span

FIRST_SHOWN = 20
#: part of the name of the page
ALL = ".all.summary.html"
NAMELESS = "workbooks"


class Audited(Struct, frozen=True):
    """One workbook with the page made of it."""

    report: Report
    summary: Path


class First(Struct, frozen=True):
    """A finding among the first of all workbooks."""

    file: str
    link: str
    unit: str
    account: str
    tier: str
    kind: str
    title: str
    fix: str
    cost: str
    confidence: str


class Together(Struct, frozen=True):
    """What all workbooks need of one thing, what of it is there, and what is left to order."""

    what: str
    size: str
    needed: float
    unit: str
    mass: float | None
    mass_unit: str
    bags: float | None
    bag: str
    stock: float
    to_order: float
    order_unit: str


def page_name(workbooks: Sequence[Path]) -> str:
    """Name of the page: what the names of the workbooks begin with in common.

    >>> page_name([Path("fleet north.xlsx"), Path("fleet south.xlsx")])
    'fleet.all.summary.html'
    >>> page_name([Path("a.xlsx"), Path("b.xlsx")])
    'workbooks.all.summary.html'
    """
    letters = zip(*(path.stem for path in workbooks), strict=False)
    common = "".join(same[0] for same in takewhile(lambda same: len(set(same)) == 1, letters))
    return f"{common.strip(' ._-') or NAMELESS}{ALL}"


def render_across(audited: Sequence[Audited], troubles: Sequence[str], page: Path) -> str:
    """The page, with links to the page of each workbook."""
    style = lean(read_text("templates/summary.css"))
    reports = [one.report for one in audited]
    return environment().get_template("across.html.j2").render(
        audited=[(one.report, _link(one, page), _cost([one.report])) for one in audited],
        cost=_cost(reports),
        troubles=troubles, style=Markup(style), style_hash=content_hash(style),
        verdicts=[(KINDS[verdict], WORDS.get(verdict, verdict), verdict) for verdict in VERDICTS],
        tiers=[(KINDS[tier], tier) for tier in TIERS],
        first=first_of_all(audited, page), needed=together(reports),
        units=sum(len(report.units) for report in reports),
    )  # fmt: skip


def _link(one: Audited, page: Path) -> str:
    return quote(Path(os.path.relpath(one.summary, page.parent)).as_posix())


def _cost(reports: Sequence[Report]) -> str:
    spans = [span for report in reports for span in report.cost_by_tier.values()]
    return money(
        Span(*(sum(getattr(span, end) or 0.0 for span in spans) for end in ("low", "target", "high")))
    )


def first_of_all(audited: Sequence[Audited], page: Path) -> list[First]:
    """The first findings of all workbooks: by tier, certain before to be measured, then by yearly cost."""
    every: list[tuple[tuple[int, bool], float, int, int, Line, Audited]] = []
    for number, one in enumerate(audited):
        for place, line in enumerate(leading(lines(one.report))):
            cost = line.finding.cost_year
            mid = cost.target or 0.0 if cost is not None else 0.0
            every.append((urgency(line.finding), -mid, number, place, line, one))
    every.sort(key=lambda entry: entry[:4])
    return [
        First(
            one.report.file, _link(one, page), line.finding.unit_id, line.finding.account, line.finding.tier,
            KINDS[line.finding.tier], line.finding.title, step(line.finding),
            money(line.finding.cost_year), line.finding.confidence,
        )
        for _, _, _, _, line, one in every[:FIRST_SHOWN]
    ]  # fmt: skip


def together(reports: Sequence[Report]) -> list[Together]:
    """What all of them need, added up; things of one name, size, bag and unit are one."""
    found: dict[tuple[str, str, str, str], Together] = {}
    for line in (line for report in reports for line in report.orders):
        key = (line.what, line.size, line.bag, line.unit)
        there = found.get(key)
        found[key] = Together(
            line.what, line.size, line.needed + (there.needed if there else 0.0), line.unit,
            _sum(line.mass, there.mass if there else None), line.mass_unit,
            _sum(line.bags, there.bags if there else None), line.bag,
            line.stock + (there.stock if there else 0.0), line.to_order + (there.to_order if there else 0.0),
            line.order_unit,
        )  # fmt: skip
    order = {what: place for place, what in enumerate(dict.fromkeys(key[0] for key in found))}
    return sorted(found.values(), key=lambda one: order[one.what])


def _sum(one: float | None, other: float | None) -> float | None:
    return other if one is None else one if other is None else one + other
