"""Every figure a check leans on can be named in a report."""

import pytest

from fleetaudit.checks.registry import CHECKS
from fleetaudit.writing.derivation import FIGURE_WORDS


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.slug)
def test_figures_of_a_check_have_words(check):
    assert set(check.figures) <= set(FIGURE_WORDS)
