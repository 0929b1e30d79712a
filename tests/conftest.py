"""Options of the test run."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest
from hypothesis import HealthCheck, settings

from tests.forked import children

# no test depends on how fast the machine is, and how busy
settings.register_profile("any-machine", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("any-machine")

#: whoever runs the tests may have set another language
os.environ["LC_ALL"] = "C.UTF-8"

#: nothing in here is an example to run, and two files of this name cannot both be collected
collect_ignore = ["conftest.py"]


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--update-golden",
        action="store_true",
        help="write the golden files anew; read the difference before you commit it",
    )


@pytest.fixture
def update_golden(request: pytest.FixtureRequest) -> bool:
    return bool(request.config.getoption("--update-golden"))


@pytest.fixture
def no_child_is_left() -> Iterator[None]:
    """Hold the processes of this one before a test against those after it, dead ones included."""
    before = children()
    yield
    assert children() == before
