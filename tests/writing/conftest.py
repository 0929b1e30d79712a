"""Reports built by hand for the tests of the writers."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from tests_report import hostile_report, make_report

from fleetaudit.writing.report import Report


@pytest.fixture
def report() -> Report:
    return make_report()


@pytest.fixture
def hostile() -> Report:
    return hostile_report()
