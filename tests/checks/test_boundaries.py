"""A value exactly at its limit is allowed; the next number a computer knows on the wrong side of it is not.

Limits are worked out here from the figures of the data files, in the comments and in plain arithmetic.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from msgspec.structs import replace

from fleetaudit.auditing.result import AuditResult, State
from fleetaudit.auditing.run import audit
from fleetaudit.catalogue.model import Catalogue
from fleetaudit.catalogue.shipped import load
from fleetaudit.checks.check import Tier
from fleetaudit.facts.window import flow_window
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Column
from fleetaudit.units import to_si
from tests.checks.test_cases import AS_OF
from tests.frames import frame_of

UP, DOWN = math.inf, -math.inf
TEN_INCH_M2 = math.pi / 4 * to_si(10.0, "in") ** 2
CARBON = {
    "vessel_diameter": "10 in",
    "medium": "activated-carbon-12x40",
    "mesh_stated": "yes",
    "water_temperature": "10 degC",
}
CALCITE = {
    "vessel_diameter": "10 in",
    "medium": "calcite-16x40",
    "purpose": "ph",
    "water_temperature": "10 degC",
}
GREENSAND = {"vessel_diameter": "10 in", "medium": "manganese-greensand", "purpose": "iron", "ph": "7"}
GPM = to_si(1.0, "gpm")

#: slug, row, column, limit [SI], and on which side of it the fault lies
LIMITS = [
    ("wash-too-short", CARBON, fleet.WASH_MINUTES, to_si(6.0, "min"), DOWN),
    ("wash-too-rare", CARBON, fleet.WASH_INTERVAL, to_si(7.0, "d"), UP),
    ("media-unsuited", CALCITE, fleet.PH, 5.5, DOWN),
    ("media-unsuited", CALCITE, fleet.PH, 7.0, UP),
    ("media-unsuited", GREENSAND, fleet.TEMPERATURE, to_si(27.0, "degC"), UP),
    ("bed-too-shallow", CARBON, fleet.DEPTH, to_si(24.0, "in") - to_si(1.0, "in"), DOWN),
    ("service-flow-too-high", CARBON, fleet.SERVICE_FLOW, to_si(10.0, "gpm/ft2") * TEN_INCH_M2, UP),
    # 300 s of contact at 1 L/s
    (
        "contact-time-too-short",
        CARBON | {"medium": "activated-alumina-28x48", "service_flow": "1 L/s"},
        fleet.VOLUME,
        300 * to_si(1.0, "L/s"),
        DOWN,
    ),
    # small housing 7 gpm; 12 in carbon takes 6.28 to 9.42 gpm, so 7 is right as well
    (
        "housing-too-small",
        CARBON | {"vessel_diameter": "12 in", "housing": "small"},
        fleet.RESTRICTOR,
        to_si(7.0, "gpm"),
        UP,
    ),
    ("drain-too-small", CARBON | {"drain_bore": "0.75 in"}, fleet.RESTRICTOR, to_si(10.0, "gpm"), UP),
    (
        "supply-too-weak",
        CARBON | {"restrictor": "10 gpm"},
        fleet.SUPPLY_FLOW,
        to_si(10.0, "gpm") * (1 - 0.10),
        DOWN,
    ),
    (
        "flow-differs-from-restrictor",
        CARBON | {"restrictor": "10 gpm"},
        fleet.MEASURED,
        to_si(10.0, "gpm") * (1 - (0.10 + 0.05)),
        DOWN,
    ),
    (
        "flow-differs-from-restrictor",
        CARBON | {"restrictor": "10 gpm"},
        fleet.MEASURED,
        to_si(10.0, "gpm") * (1 + (0.10 + 0.05)),
        UP,
    ),
]


def state(
    row: dict[str, str], column: Column, value: float, slug: str, catalogue: Catalogue | None = None
) -> State:
    return State(int(checked(row, column, value, slug, catalogue).state[0]))


def checked(row: dict[str, str], column: Column, value: float, slug: str, catalogue: Catalogue | None = None):
    result = audited(row, column, value, catalogue or load())
    return next(item for item in result.checks if item.check.slug == slug)


def audited(row: dict[str, str], column: Column, value: float, catalogue: Catalogue) -> AuditResult:
    frame = frame_of([row | {column.name: "1"}], catalogue)
    frame.numbers[column.key] = np.array([value])
    return audit(frame, catalogue, AS_OF)


@pytest.mark.parametrize(
    ("slug", "row", "column", "limit", "wrong"),
    LIMITS,
    ids=[f"{slug} {column.name}" for slug, _, column, _, _ in LIMITS],
)
def test_the_limit_is_allowed_and_the_next_number_is_not(
    slug: str, row: dict[str, str], column: Column, limit: float, wrong: float
) -> None:
    assert state(row, column, limit, slug) is State.CLEAN
    assert state(row, column, np.nextafter(limit, -wrong), slug) is State.CLEAN
    assert state(row, column, np.nextafter(limit, wrong), slug) is State.FOUND


def test_second_limit_of_a_drain_line() -> None:
    row, limit = CARBON | {"drain_bore": "0.75 in"}, to_si(15.0, "gpm")
    assert checked(row, fleet.RESTRICTOR, limit, "drain-too-small").tier[0] == Tier.NOTE
    assert checked(row, fleet.RESTRICTOR, np.nextafter(limit, UP), "drain-too-small").tier[0] == Tier.PLAN


def exact_restrictors() -> Catalogue:
    """Catalogue in which a restrictor passes its rating to the last digit, so that the window's ends can be
    hit."""
    shipped = load()
    exact = replace(shipped.settings["restrictor_tolerance"], value=0.0)
    return replace(shipped, settings={**shipped.settings, "restrictor_tolerance": exact})


@pytest.mark.parametrize(
    ("side", "slug", "wrong"), [("low", "restrictor-too-small", DOWN), ("high", "restrictor-too-large", UP)]
)
def test_ends_of_the_window_belong_to_it(side: str, slug: str, wrong: float) -> None:
    catalogue = exact_restrictors()
    view = audited(CARBON, fleet.RESTRICTOR, 5 * GPM, catalogue).view
    end = float(getattr(flow_window(view), side).value[0])
    by_hand = (
        {"low": 8, "high": 12}[side] * TEN_INCH_M2 * to_si(1.0, "gpm/ft2")
    )  # water of 10 degC: the stated rates
    assert end == pytest.approx(by_hand, rel=1e-9)
    assert state(CARBON, fleet.RESTRICTOR, end, slug, catalogue) is State.CLEAN
    assert state(CARBON, fleet.RESTRICTOR, end, "restrictor-borderline", catalogue) is State.CLEAN
    assert state(CARBON, fleet.RESTRICTOR, np.nextafter(end, wrong), slug, catalogue) is State.FOUND


@pytest.mark.parametrize(
    ("side", "slug"), [("low", "restrictor-too-small"), ("high", "restrictor-too-large")]
)
def test_an_interval_that_just_touches_the_window_is_borderline(side: str, slug: str) -> None:
    """q (1 + t) = low and q (1 - t) = high with t = 0.10; a hundred-millionth to either side of the touch."""
    end = {"low": 8 / (1 + 0.10), "high": 12 / (1 - 0.10)}[side] * TEN_INCH_M2 * to_si(1.0, "gpm/ft2")
    apart = {"low": -1, "high": 1}[side] * 1e-8
    assert state(CARBON, fleet.RESTRICTOR, end * (1 - apart), "restrictor-borderline") is State.FOUND
    assert state(CARBON, fleet.RESTRICTOR, end * (1 - apart), slug) is State.CLEAN
    assert state(CARBON, fleet.RESTRICTOR, end * (1 + apart), slug) is State.FOUND
    assert state(CARBON, fleet.RESTRICTOR, end * (1 + apart), "restrictor-borderline") is State.CLEAN
