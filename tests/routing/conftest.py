"""Makes the invented fleets importable, and a workbook to plan from."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from route_workbook import write_workbook

#: nothing in here is an example to run, and two files of this name cannot both be collected
collect_ignore = ["conftest.py"]


@pytest.fixture
def workbook(tmp_path: Path) -> Path:
    return write_workbook(
        tmp_path / "fleet.xlsx", sites=[("north dairy", "Mon-Fri 8-12", None, "key under the pot")]
    )
