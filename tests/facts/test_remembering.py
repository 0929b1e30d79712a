"""A view remembers facts until it is told to let go of them."""

from __future__ import annotations

import numpy as np

from fleetaudit.catalogue.shipped import load
from fleetaudit.facts import site
from fleetaudit.facts.view import View
from fleetaudit.facts.window import flow_window
from tests.frames import frame_of

ROWS = [{"unit_id": "U-1", "medium": "filter-sand", "vessel_diameter": "13 in", "restrictor": "5 gpm"}]


def test_facts_that_are_let_go_of_are_worked_out_again_when_asked_for() -> None:
    catalogue = load()
    view = View(frame_of(ROWS, catalogue), catalogue, 20_000.0, 0.0)
    area, window = site.area(view), flow_window(view)
    view.keep_only([site.area])
    assert site.area(view) is area
    again = flow_window(view)
    assert again is not window
    np.testing.assert_array_equal(again.low.value, window.low.value)
