"""Many different workbooks through one server leave nothing behind that grows."""

from __future__ import annotations

import pytest

from tests.bench.soak import soak

pytestmark = pytest.mark.slow

WORKBOOKS = 100


def test_workbook_after_workbook_leaves_no_more_behind() -> None:
    """Threads, open files and folders are held against those of the start inside `soak`.

    Of what Python keeps, a little more than at the fifth of the way is allowed: caches of spellings fill up.
    """
    seen = soak(WORKBOOKS)
    assert seen.audited == WORKBOOKS
    early, late = seen.objects[2], seen.objects[-1]
    assert late < 1.05 * early
    assert seen.growth < 1.15
