"""What must hold for every fleet, whatever stands in it."""

from __future__ import annotations

import copy
import math
import random
from datetime import date

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, assume, given, settings
from hypothesis import strategies as st

from fleetaudit.auditing.result import AuditResult, State
from fleetaudit.auditing.run import audit
from fleetaudit.auditing.verdict import Verdict
from fleetaudit.checks.check import Tier
from fleetaudit.facts import repeats
from fleetaudit.facts.fact import Fact
from fleetaudit.facts.frame import Frame
from fleetaudit.facts.view import Fleetwide
from fleetaudit.facts.window import View, flow_window
from fleetaudit.schema import fleet
from fleetaudit.units import from_si
from tests import strategies as any_of
from tests.frames import frame_of

AS_OF = date(2026, 11, 1)
CATALOGUE = any_of.CATALOGUE
#: a fleet takes minutes to shrink; the one that failed is printed as it is
PHASES = (Phase.explicit, Phase.reuse, Phase.generate)
FEW = settings(
    deadline=None,
    max_examples=25,
    phases=PHASES,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
MANY = settings(FEW, max_examples=40)
CODES = ("state", "reason", "tier", "confidence")


def audited(frame: Frame, fleetwide: Fleetwide | None = None) -> AuditResult:
    return audit(frame, CATALOGUE, AS_OF, fleetwide)


def numbers(result: AuditResult) -> dict[tuple[str, str], np.ndarray]:
    return {
        (item.check.slug, name): np.asarray(held.value if isinstance(held, Fact) else held)
        for item in result.checks
        for name, held in item.outcome.numbers.items()
    }


def assert_same(whole: AuditResult, parts: list[AuditResult], order: list[int]) -> None:
    """Rows of the parts, one after the other, are the rows of the whole in the order given."""
    for place, item in enumerate(whole.checks):
        for code in CODES:
            joined = np.concatenate([getattr(part.checks[place], code) for part in parts])
            assert list(getattr(item, code)[order]) == list(joined), (item.check.slug, code)
    joined = np.concatenate([part.verdict for part in parts])
    assert list(whole.verdict[order]) == list(joined)
    split = [numbers(part) for part in parts]
    for key, value in numbers(whole).items():
        np.testing.assert_allclose(
            np.concatenate([part[key] for part in split]), value[order], rtol=1e-12, err_msg=str(key)
        )


def counted(frames: list[Frame]) -> Fleetwide:
    total = repeats.FleetCounts()
    for frame in frames:
        total = total + repeats.count(frame, CATALOGUE)
    return repeats.report(total)


@FEW
@given(any_of.fleets(), st.data())
def test_parts_give_what_the_whole_gives(rows: list[dict[str, str]], data: st.DataObject) -> None:
    frame = frame_of(rows, CATALOGUE)
    cuts = sorted(data.draw(st.lists(st.integers(0, len(rows)), max_size=3)))
    parts = [frame.part(first, last) for first, last in zip([0, *cuts], [*cuts, len(rows)], strict=True)]
    parts.insert(1, frame.part(0, 0))  # an empty part changes nothing
    fleetwide = counted(parts)
    assert fleetwide == counted([frame])
    whole = audited(frame)
    assert whole.view.fleetwide == fleetwide
    assert_same(whole, [audited(part, fleetwide) for part in parts], list(range(len(rows))))


@FEW
@given(any_of.fleets(), st.data())
def test_order_of_rows_changes_nothing(rows: list[dict[str, str]], data: st.DataObject) -> None:
    order = data.draw(st.permutations(range(len(rows))))
    turned = audited(frame_of([rows[place] for place in order], CATALOGUE))
    assert_same(audited(frame_of(rows, CATALOGUE)), [turned], list(order))


@FEW
@given(any_of.fleets())
def test_an_audit_changes_nothing_of_its_input(rows: list[dict[str, str]]) -> None:
    frame = frame_of(rows, CATALOGUE)
    before = copy.deepcopy(frame)
    audited(frame)
    for name in ("numbers", "codes", "origin", "missing", "date_low", "date_high"):
        for key, values in getattr(before, name).items():
            np.testing.assert_array_equal(getattr(frame, name)[key], values)
    assert (frame.texts, frame.raw, frame.layers) == (before.texts, before.raw, before.layers)


@FEW
@given(any_of.fleets())
def test_every_unit_has_a_verdict_that_its_findings_explain(rows: list[dict[str, str]]) -> None:
    result = audited(frame_of(rows, CATALOGUE))
    for unit, code in enumerate(result.verdict):
        tiers = {Tier(int(item.tier[unit])) for item in result.checks if item.state[unit] == State.FOUND}
        verdict = Verdict(int(code))
        if verdict is Verdict.NOT_JUDGED:
            assert not tiers
        elif tiers:
            assert (verdict is Verdict.NOW) == (Tier.NOW in tiers)
            assert (verdict is Verdict.PLAN) == (Tier.NOW not in tiers and Tier.PLAN in tiers)
            assert verdict is not Verdict.CLEAN
        else:
            assert verdict in (Verdict.CLEAN, Verdict.NOT_CHECKED)


# --- one unit, one input changed ---

UNIT = {
    "mesh_stated": "yes",
    "vessel_diameter": "13 in",
    "bed_depth": "30 in",
    "restrictor": "9 gpm",
}
TEMPERATURES = st.floats(0.5, 34.0)


def window_of(**row: str) -> tuple[float, float]:
    """Least and most flow [m3/s]; most as the freeboard leaves it."""
    found = flow_window(View(frame_of([UNIT | row], CATALOGUE), CATALOGUE, 0.0, 0.0))
    return float(found.low.value[0]), float(found.high.value[0])


def celsius(degrees: float) -> str:
    return f"{degrees!r} degC"


def inches(length: float) -> str:
    return f"{length!r} in"


@FEW
@given(
    st.sampled_from(any_of.ALONE),
    st.floats(6, 60),
    st.floats(6, 60),
    st.sampled_from(("", "5 in", "20 in")),
    TEMPERATURES,
    TEMPERATURES,
)
def test_a_wider_vessel_never_needs_less(
    medium: str, one: float, other: float, freeboard: str, first: float, second: float
) -> None:
    season = {"water_cold": celsius(min(first, second)), "water_warm": celsius(max(first, second))}
    row = season | {"medium": medium, "freeboard": freeboard}
    narrow, wide = (window_of(vessel_diameter=inches(size), **row) for size in sorted((one, other)))
    assert narrow[0] <= wide[0] * (1 + 1e-12)
    assert narrow[1] <= wide[1] * (1 + 1e-12)


@FEW
@given(
    st.sampled_from(any_of.ALONE),
    TEMPERATURES,
    TEMPERATURES,
    TEMPERATURES,
    st.sampled_from(("", "9 in", "16 in")),
)
def test_colder_winters_never_allow_more(
    medium: str, one: float, other: float, third: float, freeboard: str
) -> None:
    colder, cold, warm = sorted((one, other, third))
    row = {"medium": medium, "freeboard": freeboard, "water_warm": celsius(warm)}
    harsh, mild = window_of(water_cold=celsius(colder), **row), window_of(water_cold=celsius(cold), **row)
    assert harsh[1] <= mild[1] * (1 + 1e-9)
    assert harsh[0] == pytest.approx(mild[0], rel=1e-12), "winter says nothing of the least"


@FEW
@given(st.sampled_from(any_of.ALONE), TEMPERATURES, TEMPERATURES, TEMPERATURES)
def test_warmer_summers_never_need_less(medium: str, one: float, other: float, third: float) -> None:
    cold, warm, warmer = sorted((one, other, third))
    row = {"medium": medium, "water_cold": celsius(cold)}
    assert window_of(water_warm=celsius(warm), **row)[0] <= window_of(water_warm=celsius(warmer), **row)[
        0
    ] * (1 + 1e-9)


@FEW
@given(st.sampled_from(any_of.ALONE), st.floats(0, 60), st.floats(0, 60), TEMPERATURES)
def test_more_freeboard_never_allows_less(medium: str, one: float, other: float, degrees: float) -> None:
    row = {"medium": medium, "water_temperature": celsius(degrees)}
    tight, roomy = (window_of(freeboard=inches(room), **row) for room in sorted((one, other)))
    assert tight[1] <= roomy[1] * (1 + 1e-9)
    assert tight[0] == pytest.approx(roomy[0], rel=1e-12), "freeboard says nothing of the least"
    assert roomy[1] <= window_of(**row)[1] * (1 + 1e-9), (
        "without a measured freeboard nothing cuts the window"
    )


# --- no alarm without ground ---


def alarms(result: AuditResult) -> np.ndarray:
    return np.asarray(result.verdict == Verdict.NOW)


@MANY
@given(any_of.fleets(3), st.sampled_from(any_of.FILLED), st.sampled_from(("?", "!")))
def test_an_unreadable_cell_never_raises_the_alarm(
    rows: list[dict[str, str]], column: fleet.Column, odd: str
) -> None:
    assume(
        rows and column is not fleet.STATUS
    )  # a unit whose status cannot be read is judged, not passed over
    filled = [row | {column.name: row.get(column.name, "") or odd} for row in rows]
    before = audited(frame_of(filled, CATALOGUE))
    after = audited(frame_of([row | {column.name: odd} for row in rows], CATALOGUE), before.view.fleetwide)
    raised = alarms(after) & ~alarms(before)
    assert not raised.any(), (column.name, [rows[place] for place in np.flatnonzero(raised)])


@MANY
@given(any_of.fleets(3), st.sampled_from(any_of.FILLED), st.data())
def test_a_guessed_cell_never_raises_the_alarm(
    rows: list[dict[str, str]], column: fleet.Column, data: st.DataObject
) -> None:
    """Whatever a mistyped cell is taken for, it makes no unit `now` that was not `now` with the cell
    unreadable."""
    assume(rows and column is not fleet.STATUS)
    guess = "~" + data.draw(any_of.value(column))
    guessed = frame_of([row | {column.name: guess} for row in rows], CATALOGUE)
    blind = frame_of([row | {column.name: "?"} for row in rows], CATALOGUE)
    fleetwide = Fleetwide()
    raised = alarms(audited(guessed, fleetwide)) & ~alarms(audited(blind, fleetwide))
    assert not raised.any(), (column.name, guess, [rows[place] for place in np.flatnonzero(raised)])


SOURCES_C = {"": (7, 18), "well": (9, 13), "mixed": (7, 18), "surface": (4, 22)}  # of the settings
UNITS = 800


def random_unit(draw: random.Random) -> tuple[dict[str, str], dict[str, str]]:
    """A unit with water, depth, height and mesh unknown, and the same with values out of their ranges.

    The flow was measured and agrees with the rating, so that it is no slip of the pen.
    """
    medium, vessel = CATALOGUE.medium(draw.choice(any_of.GRAINY)), draw.choice(CATALOGUE.vessels)
    source, mesh = draw.choice(list(SOURCES_C)), draw.choice(("yes", "no"))
    ground = math.pi / 4 * vessel.diameter_m**2
    flow_m3_s = medium.figures["rate_high_m_s"].value * ground * 30 ** draw.random()
    flow = f"{from_si(flow_m3_s, 'gpm')!r} gpm"
    unknown = {
        "vessel_diameter": f"{from_si(vessel.diameter_m, 'in')!r} in",
        "medium": medium.key,
        "mesh_stated": mesh,
        "water_source": source,
        "restrictor": flow,
        "measured_flow": flow,
    }
    least = medium.figures["least_depth_m"].value
    shallow, deep = min(least, vessel.fill.low / ground), vessel.fill.high / ground
    depth = shallow + draw.choice((0.0, 1.0, draw.random())) * max(deep - shallow, 0.0)
    cold, warm = SOURCES_C[source]
    family = [key for key in any_of.GRAINY if CATALOGUE.medium(key).family == medium.family]
    known = unknown | {
        "water_temperature": celsius(draw.choice((cold, warm, draw.uniform(cold, warm)))),
        "bed_depth": inches(float(from_si(depth, "in"))),
        "vessel_height": inches(float(from_si(draw.choice(vessel.heights_m), "in"))),
        "medium": draw.choice(family) if mesh == "no" else medium.key,
        "mesh_stated": "yes",
    }
    return unknown, known


def test_a_default_never_raises_the_alarm() -> None:
    """Where the alarm is raised with much unknown, no value in the ranges of the defaults would quiet it."""
    draw = random.Random(20261101)
    unknown, known = zip(*(random_unit(draw) for _ in range(UNITS)), strict=True)
    blind, told = audited(frame_of(unknown, CATALOGUE)), audited(frame_of(known, CATALOGUE))
    raised = alarms(blind) & ~alarms(told)
    assert not raised.any(), [known[place] for place in np.flatnonzero(raised)]
    assert alarms(blind).any(), "or nothing was tested"
    assert alarms(told).sum() > alarms(blind).sum(), (
        "knowing more must raise some that were not certain before"
    )


@pytest.mark.parametrize("medium", [medium.key for medium in CATALOGUE.media])
def test_a_layered_bed_elsewhere_on_the_list_changes_no_window(medium: str) -> None:
    alone = {"medium": medium, "vessel_diameter": "8 in", "restrictor": "1.2 gpm", "bed_depth": "30 in"}
    layered = {"layers": "anthracite-fine 16 in; filter-sand 20 in", "vessel_diameter": "9 in"}
    frames = frame_of([alone], CATALOGUE), frame_of([alone, layered], CATALOGUE)
    by_itself, beside = (flow_window(audited(frame).view) for frame in frames)
    for end in ("low", "high"):
        np.testing.assert_allclose(
            getattr(beside, end).value[:1], getattr(by_itself, end).value, rtol=1e-12, err_msg=end
        )


def test_a_mixture_that_nothing_bounds_has_no_ceiling_rather_than_a_huge_one() -> None:
    mixture = {
        "layers": "anthracite-coarse 56%; anthracite-fine 44%", "vessel_diameter": "72 in",
        "water_temperature": "104 degF", "freeboard": "0.01 in",
    }  # fmt: skip
    window = flow_window(audited(frame_of([mixture], CATALOGUE)).view)
    for most in (window.hard, window.caution):
        assert np.isinf(most[0]) or most[0] < 1.0  # m3/s
