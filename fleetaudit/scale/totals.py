"""What the results of many files add up to; whole numbers, so that any split gives the same sums."""

from __future__ import annotations

import heapq
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from msgspec import Struct, field

from fleetaudit import summary
from fleetaudit.auditing.result import AuditResult, State
from fleetaudit.checks.check import Tier
from fleetaudit.crews import counts as set_ups
from fleetaudit.facts import site
from fleetaudit.facts.frame import Codes
from fleetaudit.schema import dataset
from fleetaudit.schema.column import Missing
from fleetaudit.schema.remark import Level, Remark

FIRST_KEPT = 25
#: yearly costs are added up in hundredths
HUNDREDTHS = 100
_CODES = {tier.word: int(tier) for tier in Tier}


class First(Struct, frozen=True, order=True):
    """A finding among the first of all; the fields in their order are the order of findings."""

    tier: int
    less_cost: int
    file: str
    row: int
    check: str
    unit_id: str = ""
    account: str = ""
    message: str = ""
    fix: str = ""
    confidence: str = ""


class Totals(Struct):
    """Sums of audited blocks; `+` adds up, in any order and grouping.

    `by_finding` counts findings by check, tier and confidence; `cost` sums their yearly cost by tier and end
    [hundredths of money]; `blind` counts checks that could not run by check and reason; `problems` counts
    cells by level and kind of what was said of them, `said` keeps one sentence of each kind.
    """

    counts: summary.Counts = field(default_factory=summary.Counts)
    set_ups: set_ups.SetUpCounts = field(default_factory=set_ups.SetUpCounts)
    by_finding: Counter[tuple[str, str, str]] = field(default_factory=Counter)
    cost: Counter[tuple[str, str]] = field(default_factory=Counter)
    blind: Counter[tuple[str, str]] = field(default_factory=Counter)
    problems: Counter[tuple[int, str]] = field(default_factory=Counter)
    said: dict[tuple[int, str], str] = field(default_factory=dict)
    files: dict[str, int] = field(default_factory=dict)
    first: list[First] = field(default_factory=list)
    water_assumed: int = 0

    def __add__(self, other: Totals) -> Totals:
        files = Counter(self.files)
        files.update(other.files)
        return Totals(
            self.counts + other.counts,
            self.set_ups + other.set_ups,
            self.by_finding + other.by_finding,
            self.cost + other.cost,
            self.blind + other.blind,
            self.problems + other.problems,
            {key: min(texts) for key, texts in _both(self.said, other.said).items()},
            dict(files),
            heapq.nsmallest(FIRST_KEPT, (*self.first, *other.first)),
            self.water_assumed + other.water_assumed,
        )


def _both(
    one: dict[tuple[int, str], str], other: dict[tuple[int, str], str]
) -> dict[tuple[int, str], list[str]]:
    return {
        key: [texts[key] for texts in (one, other) if key in texts] for key in dict.fromkeys((*one, *other))
    }


def counted(
    result: AuditResult, remarks: Sequence[Remark], findings: Mapping[str, Sequence[Any]], file: str
) -> Totals:
    """Totals of one audited block; `findings` are the columns written for it."""
    totals = Totals(summary.count(result), set_ups.count(result), files={file: result.view.units})
    for item in result.checks:
        blind = item.state == State.NOT_CHECKED
        for reason in np.unique(item.reason[blind]).tolist():
            key = item.check.slug, Missing(reason).name
            totals.blind[key] = int(np.sum(blind & (item.reason == reason)))
    totals.by_finding.update(zip(findings["check"], findings["tier"], findings["confidence"], strict=True))
    tiers = np.array([_CODES[tier] for tier in findings["tier"]], dtype=np.int64)
    costs = {end: _hundredths(findings[f"cost_year_{end}"]) for end in ("low", "mid", "high")}
    for end, amounts in costs.items():
        for word, code in _CODES.items():
            mine = amounts[tiers == code]
            if len(mine):
                totals.cost[word, end] = int(mine.sum())
    totals.first = _firsts(findings, tiers, -costs["mid"])
    for remark in remarks:
        if remark.level < Level.INFO:
            kind = int(remark.level), remark.kind
            totals.problems[kind] += max(1, len(remark.cells))
            totals.said[kind] = min(remark.text, totals.said.get(kind, remark.text))
    totals.water_assumed = int(np.sum(site.judged(result.view) & site.season(result.view).assumed))
    return totals


def _hundredths(amounts: Sequence[float | None]) -> Codes:
    """Costs in whole hundredths, nothing where there is none."""
    known = np.array([0.0 if amount is None else amount for amount in amounts])
    found: Codes = np.rint(known * HUNDREDTHS).astype(np.int64)
    return found


def _firsts(findings: Mapping[str, Sequence[Any]], tiers: Codes, less_cost: Codes) -> list[First]:
    """The first of the findings of a block; only those that may be among them are put together."""
    order = np.lexsort((less_cost, tiers))
    if len(order) > FIRST_KEPT:
        last = order[FIRST_KEPT - 1]
        as_grave = (tiers == tiers[last]) & (less_cost <= less_cost[last])
        order = np.flatnonzero((tiers < tiers[last]) | as_grave)
    names = (
        dataset.FILE, dataset.ROW, "check", dataset.UNIT_ID, dataset.ACCOUNT, "message", "fix", "confidence"
    )  # fmt: skip
    return heapq.nsmallest(
        FIRST_KEPT,
        [
            First(int(tiers[place]), int(less_cost[place]), *(findings[name][place] for name in names))
            for place in order.tolist()
        ],
    )


def lines(totals: Totals) -> list[tuple[str, str, int]]:
    """The counts as lines that a program can add up: about what, name, number."""
    by_verdict, by_check, by_tier = totals.counts.tables()
    return [
        ("units", "", totals.counts.units),
        *(("verdict", name, number) for name, number in by_verdict.items()),
        *(("check", name, number) for name, number in sorted(by_check.items())),
        *(("tier", name, number) for name, number in by_tier.items()),
        *((f"cost a year in hundredths, {end}", tier, n) for (tier, end), n in sorted(totals.cost.items())),
    ]
