"""The properties with the number of examples in a full run."""

from __future__ import annotations

from collections import Counter

from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis.strategies import SearchStrategy

from .outcome import outcome
from .strategies import damaged_bytes, damaged_markup, odd_cells

SEED = 20_261_125
#: name -> how a workbook is made, how many in a full run, whether the audit and its reports run too
PROPERTIES: dict[str, tuple[SearchStrategy[bytes], int, bool]] = {
    "damaged markup": (damaged_markup(), 12_000, False),
    "odd cells": (odd_cells(), 6_000, False),
    "damaged bytes": (damaged_bytes(), 1_500, False),
    "odd cells, whole audit": (odd_cells(), 600, True),
    "damaged markup, whole audit": (damaged_markup(), 400, True),
}


def run(name: str, examples: int) -> Counter[str]:
    """Run so many examples of a property with the fixed seed; how often each outcome came."""
    strategy, _, whole = PROPERTIES[name]
    seen: Counter[str] = Counter()

    @seed(SEED)
    @settings(
        max_examples=examples, deadline=None, database=None, suppress_health_check=list(HealthCheck),
        phases=[Phase.generate, Phase.shrink],
    )  # fmt: skip
    @given(data=strategy)
    def one(data: bytes) -> None:
        seen[outcome(data, whole=whole)] += 1

    one()
    return seen
