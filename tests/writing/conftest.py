"""Reports built by hand for the tests of the writers."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from tests_report import hostile_report, make_report

from fleetaudit.writing.report import Report

#: nothing in here is an example to run, and two files of this name cannot both be collected
collect_ignore = ["conftest.py"]


@pytest.fixture
def report() -> Report:
    return make_report()


@pytest.fixture
def hostile() -> Report:
    return hostile_report()
