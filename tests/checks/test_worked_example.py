"""One unit worked out step by step in the project's description of its hydraulics, carried through the whole
audit.

13 in nominal, carbon 12x40 (d10 0.65 mm, uniformity 1.60, 1430 kg/m3, sphericity 0.75, porosity 0.48, 8 to 12
gpm/ft2 at 10 degC, expansion 25 to 35 % about 30), 30 in deep, 16 in of freeboard, water of 5 to 18 degC,
restrictors good to a tenth. Everything here was computed apart from this package and is met to half a per
cent; expansions are whole per cents.
"""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace

from fleetaudit.auditing.result import AuditResult, State
from fleetaudit.auditing.run import audit
from fleetaudit.catalogue.model import Catalogue
from fleetaudit.catalogue.shipped import load
from fleetaudit.checks.check import Confidence, Tier
from fleetaudit.facts import site
from fleetaudit.facts.needed import needed
from fleetaudit.facts.window import expansion, flow_window
from fleetaudit.hydraulics.window import Limit
from fleetaudit.units import from_si, to_si
from tests.checks.test_cases import AS_OF
from tests.frames import frame_of

CLOSE = 0.005
UNIT = {
    "vessel_diameter": "13 in",
    "medium": "activated-carbon-12x40",
    "mesh_stated": "yes",
    "bed_depth": "30 in",
    "freeboard": "16 in",
    "water_cold": "5 degC",
    "water_warm": "18 degC",
    "restrictor": "9 gpm",
}


def audited(**change: str) -> AuditResult:
    catalogue = load()
    return audit(frame_of([UNIT | change], catalogue), catalogue, AS_OF)


def gpm(flow_m3_s: np.ndarray) -> float:
    return float(from_si(np.asarray(flow_m3_s), "gpm")[0])


def findings(result: AuditResult, prefix: str = "") -> dict[str, str]:
    """Slug and tier of what was found about the flow."""
    return {
        item.check.slug: Tier(int(item.tier[0])).word
        for item in result.checks
        if item.state[0] == State.FOUND and item.check.slug.startswith(prefix)
    }


def test_window_step_by_step() -> None:
    view = audited().view
    found = flow_window(view)
    assert float(from_si(site.area(view).value, "ft2")[0]) == pytest.approx(0.9218, rel=CLOSE)
    assert gpm(found.low.value) == pytest.approx(8.61, rel=CLOSE)
    assert gpm(found.high.value) == pytest.approx(9.87, rel=CLOSE)
    assert gpm(found.target) == pytest.approx(9.22, rel=CLOSE)
    assert gpm(found.hard) == pytest.approx(11.53, rel=CLOSE)
    assert gpm(found.caution) == pytest.approx(9.12, rel=CLOSE)
    assert gpm(found.carry_over) == pytest.approx(25.8, rel=CLOSE)
    assert found.low_set_by[0] == Limit.RATE
    assert found.high_set_by[0] == Limit.RATE


@pytest.mark.parametrize(
    ("restrictor", "flow_findings", "cold_percent", "warm_percent"),
    [
        ("7 gpm", {"restrictor-too-small": "plan"}, 31, 19),
        ("8 gpm", {"restrictor-borderline": "note"}, 38, 24),
        ("9 gpm", {}, 46, 30),
        ("10 gpm", {"restrictor-borderline": "note"}, 54, 36),
        ("12 gpm", {"restrictor-too-large": "now"}, 70, 49),
    ],
)
def test_restrictors_of_the_series(
    restrictor: str, flow_findings: dict[str, str], cold_percent: float, warm_percent: float
) -> None:
    result = audited(restrictor=restrictor)
    about_flow = (
        "restrictor-too-small",
        "restrictor-too-large",
        "restrictor-borderline",
        "restrictor-not-stocked",
    )
    assert {slug: tier for slug, tier in findings(result).items() if slug in about_flow} == flow_findings
    risen = expansion(result.view)
    assert 100 * float(risen.cold[0]) == pytest.approx(cold_percent, abs=0.51)
    assert 100 * float(risen.warm[0]) == pytest.approx(warm_percent, abs=0.51)
    advised = needed(result.view)
    assert gpm(advised.rating_m3_s) == pytest.approx(9, rel=CLOSE), (
        "9 is kept, and advised in place of all others"
    )
    assert bool(advised.stocked[0])
    assert result.view.catalogue.housings[int(advised.housing[0])].key == "medium"


def test_well_water() -> None:
    found = flow_window(audited(water_cold="9 degC", water_warm="13 degC").view)
    assert gpm(found.low.value) == pytest.approx(7.84, rel=CLOSE)
    assert gpm(found.high.value) == pytest.approx(10.82, rel=CLOSE)


def test_water_of_two_to_twenty_five_degrees() -> None:
    result = audited(water_cold="2 degC", water_warm="25 degC", restrictor="9.4 gpm")
    found = flow_window(result.view)
    assert gpm(found.low.value) == pytest.approx(9.65, rel=CLOSE)
    assert gpm(found.high.value) == pytest.approx(9.15, rel=CLOSE)
    assert float(found.ratio[0]) == pytest.approx(1.055, rel=CLOSE)
    assert gpm(found.target) == pytest.approx(9.15, rel=CLOSE), "carbon is easily lost, so the gentler end"
    conflict = next(item for item in result.checks if item.check.slug == "season-conflict")
    assert Tier(int(conflict.tier[0])) is Tier.NOTE
    assert Confidence(int(conflict.confidence[0])) is Confidence.MEASURE_FIRST
    assert set(findings(result, "restrictor-too")) == set()
    assert "season-conflict" in findings(result)
    assert "restrictor-borderline" not in findings(result), "9.4 lies between the two ends"


@pytest.mark.parametrize(
    ("restrictor", "slug"),
    [("8 gpm", "restrictor-too-small"), ("11 gpm", "restrictor-too-large")],
)
def test_outside_both_ends_of_an_empty_window(restrictor: str, slug: str) -> None:
    """8 x 1.1 = 8.8 < 9.15 gpm; 11 x 0.9 = 9.9 > 9.65 gpm."""
    assert slug in findings(audited(water_cold="2 degC", water_warm="25 degC", restrictor=restrictor))


def test_freeboard_of_nine_inches() -> None:
    result = audited(freeboard="9 in")
    found = flow_window(result.view)
    assert gpm(found.low.value) == pytest.approx(8.61, rel=CLOSE)
    assert gpm(found.high.value) == pytest.approx(7.68, rel=CLOSE)
    assert found.high_set_by[0] == Limit.FREEBOARD
    assert findings(result, "freeboard") == {"freeboard-too-small": "plan"}
    assert "season-conflict" not in findings(result)
    assert "data-implausible" not in findings(result)


def catalogue_with(key: str, **figures: float | None) -> Catalogue:
    """Shipped catalogue with some figures of one medium changed, or left out where None."""
    shipped = load()
    medium = shipped.medium(key)
    changed = dict(medium.figures)
    for name, value in figures.items():
        figure = changed.pop(name)
        if value is not None:
            changed[name] = replace(figure, value=value, low=value, high=value)
    media = tuple(replace(row, figures=changed) if row.key == key else row for row in shipped.media)
    return replace(shipped, media=media)


def test_no_rate_known() -> None:
    catalogue = catalogue_with("activated-carbon-12x40", rate_low_m_s=None, rate_high_m_s=None)
    result = audit(frame_of([UNIT | {"restrictor": "7 gpm"}], catalogue), catalogue, AS_OF)
    found = flow_window(result.view)
    assert gpm(found.low.value) == pytest.approx(8.15, rel=CLOSE)
    assert gpm(found.high.value) == pytest.approx(9.68, rel=CLOSE)
    small = next(item for item in result.checks if item.check.slug == "restrictor-too-small")
    assert small.state[0] == State.FOUND, "7 x 1.1 = 7.7 < 8.15 gpm"
    assert Confidence(int(small.confidence[0])) is Confidence.MEASURE_FIRST


def test_coal_over_sand_in_a_vessel_of_24_inches() -> None:
    """18 in of coal (d10 1.0 mm, here 12 to 18 gpm/ft2) over 12 in of sand, 18 in of freeboard."""
    catalogue = catalogue_with(
        "anthracite-coarse", rate_low_m_s=to_si(12.0, "gpm/ft2"), rate_high_m_s=to_si(18.0, "gpm/ft2")
    )
    row = UNIT | {
        "vessel_diameter": "24 in",
        "medium": "",
        "freeboard": "18 in",
        "restrictor": "45 gpm",
        "layers": "anthracite-coarse 18 in; filter-sand 12 in",
    }
    result = audit(frame_of([row], catalogue), catalogue, AS_OF)
    found = flow_window(result.view)
    assert gpm(found.low.value) == pytest.approx(44.0, rel=CLOSE)
    assert gpm(found.high.value) == pytest.approx(50.4, rel=CLOSE)
    assert gpm(found.hard) == pytest.approx(82, abs=0.5)
    assert gpm(found.caution) == pytest.approx(61, abs=0.5)
    assert "layers-mismatched" not in findings(result)
