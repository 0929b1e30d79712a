"""How much of a flow is believed where a slip of the pen is likelier; more in a cell is never less of it."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetaudit.auditing.run import audit
from fleetaudit.catalogue.shipped import load
from fleetaudit.facts.needed import limits
from fleetaudit.facts.slip import believed_flow
from fleetaudit.facts.view import View
from fleetaudit.units import from_si
from tests.frames import frame_of

CATALOGUE = load()
#: the worked example of the project, whose window is 8.61 to 9.87 gpm
UNIT = {
    "vessel_diameter": "13 in",
    "medium": "activated-carbon-12x40",
    "mesh_stated": "yes",
    "water_cold": "5 degC",
    "water_warm": "18 degC",
}
LOW, HIGH = 8.61, 9.87
#: a small bed, for which the smallest housing would do
SMALL = UNIT | {"vessel_diameter": "8 in"}


def view(*rows: dict[str, str]) -> View:
    return audit(frame_of(list(rows), CATALOGUE), CATALOGUE, date(2026, 11, 1)).view


def believed(**cells: str) -> float:
    return float(from_si(believed_flow(view(UNIT | cells))[0], "gpm"))


@pytest.mark.parametrize(
    ("cells", "gpm"),
    [
        ({"restrictor": "12 gpm"}, 12),
        ({"restrictor": "60 gpm"}, 60),
        # right with the decimal point one place, or two places, to the left: the least such flow
        ({"restrictor": "90 gpm"}, 10 * LOW),
        ({"restrictor": "105 gpm"}, 105),
        # beyond twenty times the most (Settings: slip_times): that much
        ({"restrictor": "300 gpm"}, 20 * HIGH),
        # a rating backs a measured flow of up to twice as much
        ({"restrictor": "50 gpm", "measured_flow": "90 gpm"}, 90),
        ({"restrictor": "9 gpm", "measured_flow": "90 gpm"}, 10 * LOW),
        ({"restrictor": "9 gpm", "measured_flow": "17 gpm"}, 17),
    ],
)
def test_what_is_believed(cells: dict[str, str], gpm: float) -> None:
    assert believed(**cells) == pytest.approx(gpm, rel=2e-3)


def test_a_housing_larger_than_the_bed_asks_for_backs_a_rating_up_to_what_it_takes() -> None:
    """A large housing takes 45 gpm (catalogue); the 8 in bed needs some 3 to 3.7."""
    low, high = (float(from_si(getattr(limits(view(SMALL)), end)[0], "gpm")) for end in ("low", "high"))
    rating = f"{10 * (low + high) / 2:.4g} gpm"
    alone, housed, beyond = believed_flow(
        view(
            SMALL | {"restrictor": rating},
            SMALL | {"restrictor": rating, "housing": "large"},
            SMALL | {"restrictor": "300 gpm", "housing": "large"},
        )
    )
    assert from_si(alone, "gpm") == pytest.approx(10 * low, rel=1e-6)
    assert from_si(housed, "gpm") == pytest.approx(float(rating.partition(" ")[0]), rel=1e-6)
    assert from_si(beyond, "gpm") == pytest.approx(20 * high, rel=1e-6)


FLOWS = st.floats(0.2, 399).map(lambda gpm: f"{gpm:.6g} gpm")
CELLS = st.fixed_dictionaries(
    {
        "restrictor": FLOWS,
        "measured_flow": st.one_of(FLOWS, st.just("")),
        "housing": st.sampled_from(("", "large")),
    }
)


@given(st.sampled_from((UNIT, SMALL)), CELLS, FLOWS, st.sampled_from(("restrictor", "measured_flow")))
@settings(max_examples=150, deadline=None)
def test_more_in_a_cell_is_never_less_believed(
    base: dict[str, str], cells: dict[str, str], other: str, column: str
) -> None:
    """And no more is believed than goes to drain."""
    if not cells[column]:
        return
    less, more = sorted((cells[column], other), key=lambda text: float(text.split()[0]))
    found = believed_flow(view(base | cells | {column: less}, base | cells | {column: more}))
    assert np.isfinite(found).all() and found[0] <= found[1] * (1 + 1e-9)
    flow = float(
        (cells | {column: more})["measured_flow" if cells["measured_flow"] else "restrictor"].split()[0]
    )
    assert from_si(float(found[1]), "gpm") <= flow * (1 + 1e-6)
