"""A small share of the examples in every run; `python -m tests.fuzz` from the top folder runs them all."""

from __future__ import annotations

import pytest

from .outcome import ANNOTATED, REFUSED
from .properties import PROPERTIES, run

SMALL = 60


@pytest.mark.parametrize("name", PROPERTIES)
def test_answered_or_annotated_without_loss(name: str) -> None:
    seen = run(name, SMALL)
    assert sum(seen.values()) >= SMALL and (seen[ANNOTATED] or seen[REFUSED])
