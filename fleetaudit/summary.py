"""Counts of an audited frame; whole numbers that add up over partitions."""

from __future__ import annotations

from collections import Counter

import numpy as np
from msgspec import Struct, field

from fleetaudit.auditing.result import AuditResult, State
from fleetaudit.auditing.verdict import Verdict
from fleetaudit.checks.check import Tier


class Counts(Struct):
    """How many units by verdict, and findings by check and by tier."""

    units: int = 0
    by_verdict: Counter[str] = field(default_factory=Counter)
    by_check: Counter[str] = field(default_factory=Counter)
    by_tier: Counter[str] = field(default_factory=Counter)

    def __add__(self, other: Counts) -> Counts:
        return Counts(
            self.units + other.units,
            self.by_verdict + other.by_verdict,
            self.by_check + other.by_check,
            self.by_tier + other.by_tier,
        )

    def tables(self) -> tuple[dict[str, int], dict[str, int], dict[str, int]]:
        """By verdict, check and tier; every verdict and tier named, checks that found nothing left out."""
        return (
            {verdict.word: self.by_verdict[verdict.word] for verdict in Verdict},
            dict(self.by_check),
            {tier.word: self.by_tier[tier.word] for tier in Tier},
        )


def count(result: AuditResult) -> Counts:
    """Counts of one frame."""
    counts = Counts(result.view.units)
    for verdict in Verdict:
        counts.by_verdict[verdict.word] = int(np.count_nonzero(result.verdict == verdict))
    by_tier = np.zeros(len(Tier), dtype=np.int64)
    for item in result.checks:
        found = np.flatnonzero(item.state == int(State.FOUND))
        if not len(found):
            continue
        counts.by_check[item.check.slug] = len(found)
        by_tier += np.bincount(item.tier[found], minlength=len(by_tier))
    counts.by_tier = Counter({tier.word: int(by_tier[tier]) for tier in Tier})
    return counts
