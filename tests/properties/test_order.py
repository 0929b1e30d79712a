"""What must hold for the order of findings in any fleet: harm lifts, prices move only what they price."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from fleetaudit.auditing.result import AuditResult, State
from fleetaudit.auditing.run import audit
from fleetaudit.auditing.verdict import Verdict
from fleetaudit.catalogue.model import Catalogue
from fleetaudit.checks.check import Confidence, Tier
from fleetaudit.checks.registry import BY_SLUG, CHECKS
from fleetaudit.facts.needed import limits
from fleetaudit.ranking import WATER, Ranked, ranked, sensitivity
from fleetaudit.schema import fleet
from fleetaudit.schema.quantity import Kind
from fleetaudit.units import from_si
from tests import strategies as any_of
from tests.checks.documented import DOCUMENTED
from tests.frames import frame_of

AS_OF = date(2026, 11, 1)
CATALOGUE = any_of.CATALOGUE
FEW = settings(
    deadline=None, max_examples=8, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)
MANY = settings(FEW, max_examples=60)
TOO_LARGE = CHECKS.index(BY_SLUG["restrictor-too-large"])


def audited(rows: list[dict[str, str]], catalogue: Catalogue = CATALOGUE) -> AuditResult:
    return audit(frame_of(rows, catalogue), catalogue, AS_OF)


def place(order: Ranked, unit: int) -> int:
    """Place of the first finding of a unit; one past the last where it has none."""
    found = np.flatnonzero(order.unit == unit)
    return int(found[0]) if len(found) else len(order.unit)


def ahead_of(order: Ranked, unit: int) -> set[int]:
    """Units whose first finding stands before the first of this one."""
    return {int(other) for other in order.unit[: place(order, unit)]}


# --- raising a harm never lowers a unit ---

UNIT = {
    "vessel_diameter": "13 in",
    "medium": "activated-carbon-12x40",
    "mesh_stated": "yes",
    "water_temperature": "10 degC",
}
#: a row, the column that tells the harm, and its cells from the least harm to the most
HARMS = {
    "restrictor larger and larger": (
        UNIT,
        "restrictor",
        [f"{gpm} gpm" for gpm in (12, 13, 15, 17, 20, 25, 30, 40, 50, 60)],
    ),
    "restrictor smaller and smaller": (UNIT, "restrictor", [f"{gpm} gpm" for gpm in (7, 6, 5, 4, 3, 2, 1)]),
    "washed more and more often": (
        UNIT | {"restrictor": "20 gpm"},
        "wash_interval",
        [f"{d} d" for d in (14, 7, 5, 3, 2, 1)],
    ),
    "washed longer and longer": (
        UNIT | {"restrictor": "20 gpm"},
        "wash_minutes",
        [f"{m} min" for m in (5, 8, 12, 20, 40)],
    ),
    "more and more vessels": (UNIT | {"restrictor": "20 gpm"}, "vessels", ["1", "2", "3", "4"]),
    "media older and older": (
        UNIT | {"restrictor": "9 gpm"},
        "media_date",
        [f"{year}-06-01" for year in range(2026, 2010, -1)],
    ),
    "more and more treated": (
        {"vessel_diameter": "10 in", "medium": "iron-hydroxide", "media_volume": "1 ft3"},
        "volume_treated",
        [f"{thousand}000 gal" for thousand in (100, 300, 350, 380, 500, 700, 900)],
    ),
    "less and less room over the bed": (
        DOCUMENTED,
        "freeboard",
        [f"{inches} in" for inches in (16, 14, 12, 11, 10, 8, 6, 4, 2, 0)],
    ),
    "shallower and shallower": (
        DOCUMENTED,
        "bed_depth",
        [f"{inches} in" for inches in (30, 26, 22, 18, 12, 6)],
    ),
    "less and less supply": (DOCUMENTED, "supply_flow", [f"{gpm} gpm" for gpm in (12, 9, 8, 7, 6, 4, 2)]),
    "more and more in service": (
        DOCUMENTED,
        "service_flow",
        [f"{gpm} gpm" for gpm in (6, 9, 10, 12, 20, 40)],
    ),
    "a shorter and shorter wash": (DOCUMENTED, "wash_minutes", [f"{m} min" for m in (10, 8, 6, 5, 3, 1)]),
    "rarer and rarer washes": (DOCUMENTED, "wash_interval", [f"{d} d" for d in (3, 7, 10, 14, 30, 60)]),
    "a longer and longer drain": (DOCUMENTED, "drain_length", [f"{ft} ft" for ft in (10, 50, 100, 200, 400)]),
    "less and less left": (
        {"vessel_diameter": "10 in", "medium": "calcite-16x40", "media_date": "2026-05-01"},
        "depth_left",
        [f"{inches} in" for inches in (30, 26, 25, 23, 20, 10)],
    ),
}


@pytest.mark.parametrize("harm", HARMS)
@FEW
@given(others=any_of.fleets(3), data=st.data())
def test_raising_a_harm_never_lowers_a_unit(
    harm: str, others: list[dict[str, str]], data: st.DataObject
) -> None:
    row, column, cells = HARMS[harm]
    less = data.draw(st.integers(0, len(cells) - 2))
    more = data.draw(st.integers(less + 1, len(cells) - 1))
    where = data.draw(st.integers(0, len(others)))
    before, after = (
        ranked(audited([*others[:where], row | {"account": "the one", column: cells[step]}, *others[where:]]))
        for step in (less, more)
    )
    assert ahead_of(after, where) <= ahead_of(before, where) | {where}


#: what may be known of a unit besides the cell whose harm is raised; nothing in it is unreadable or assumed
KNOWN = st.fixed_dictionaries(
    {
        "medium": st.sampled_from(any_of.ALONE),
        "mesh_stated": st.just("yes"),
        "vessel_diameter": st.sampled_from(any_of.SIZES_IN),
    },
    optional={
        name: any_of.value(fleet.BY_NAME[name])
        for name in (
            "bed_depth", "freeboard", "water_cold", "water_warm", "housing", "vessel_height", "media_date",
            "wash_minutes", "wash_interval", "vessels", "purpose", "ph", "supply_flow", "connections",
        )
    },
)  # fmt: skip
#: times the most that the bed takes, slipped decimal points and flows beyond belief among them
TIMES = st.one_of(st.floats(1.0, 4.0), st.floats(4.0, 300.0), st.sampled_from((9.0, 10.0, 11.0, 20.0, 100.0)))


def gpm(si: float) -> str:
    return f"{float(from_si(si, 'gpm'))!r} gpm"


@pytest.mark.parametrize("column", ["restrictor", "measured_flow"])
@MANY
@given(
    base=KNOWN, rated=st.sampled_from(any_of.RATINGS), others=any_of.fleets(3), steps=st.tuples(TIMES, TIMES)
)
def test_a_larger_flow_never_lowers_a_unit_whatever_is_known_of_it(
    column: str,
    base: dict[str, str],
    rated: str,
    others: list[dict[str, str]],
    steps: tuple[float, float],
) -> None:
    """However far the flow lies over what the bed takes; a lost decimal point makes it no lesser harm."""
    base = base | ({"restrictor": rated} if column == "measured_flow" else {})
    most = float(limits(audited([base]).view).high[0])
    low, high = fleet.BY_NAME[column].bounds or (0.0, np.inf)
    less, more = (most * times for times in sorted(steps))
    assume(low <= less < more <= high)
    results = [audited([base | {column: gpm(flow)}, *others]) for flow in (less, more)]
    before, after = (ranked(result) for result in results)
    assert ahead_of(after, 0) <= ahead_of(before, 0) | {0}
    assert results[1].verdict[0] <= results[0].verdict[0]


# --- prices ---


def priced(factor: float, *keys: str) -> Catalogue:
    changed = {
        key: replace(old, value=float(old.value) * factor, low=old.low * factor, high=old.high * factor)
        for key, old in CATALOGUE.settings.items()
        if key in keys
    }
    return replace(CATALOGUE, settings=dict(CATALOGUE.settings) | changed)


WASTEFUL = st.fixed_dictionaries(
    {
        "medium": st.sampled_from(any_of.GRAINY),
        "mesh_stated": st.just("yes"),
        "vessel_diameter": st.sampled_from(any_of.SIZES_IN),
        "restrictor": st.sampled_from(any_of.RATINGS),
        "wash_interval": st.sampled_from(("1 d", "2 d", "3 d", "4 d", "7 d", "")),
        "wash_minutes": st.sampled_from(("5 min", "10 min", "15 min", "")),
        "vessels": st.sampled_from(("1", "2", "3")),
        "freeboard": st.sampled_from(("12 in", "25 in", "")),
        "media_date": st.sampled_from(("2012-01-01", "2026-01-01")),
        "account": st.sampled_from(("A", "B", "C")),
    }
)


@MANY
@given(st.lists(WASTEFUL, min_size=2, max_size=8), st.sampled_from((0.5, 0.5, 0.1, 0.9, 0.0)))
def test_cheaper_water_never_lifts_a_row_of_wasted_water(rows: list[dict[str, str]], factor: float) -> None:
    """Not over any other row, be it one of wasted water too."""
    dear, cheap = (
        ranked(audited(rows, priced(times, "water_price", "sewer_price"))) for times in (1.0, factor)
    )
    waste = dear.costs[TOO_LARGE]
    found = bool((dear.check == TOO_LARGE).any())
    assert (waste is not None and WATER in waste.parts) == found  # nothing is priced where nothing was found
    places = [
        {
            unit: place
            for place, (unit, check) in enumerate(zip(order.unit.tolist(), order.check.tolist(), strict=True))
            if check == TOO_LARGE
        }
        for order in (dear, cheap)
    ]
    assert places[0].keys() == places[1].keys()
    assert all(places[1][unit] >= place for unit, place in places[0].items())


def test_a_low_price_moves_a_row_of_wasted_water_down() -> None:
    """The property above is not kept by an order that no price moves."""
    rows = [UNIT | {"restrictor": "15 gpm"}, UNIT | {"restrictor": "4 gpm"}]
    dear, cheap = (
        ranked(audited(rows, priced(times, "water_price", "sewer_price"))) for times in (10.0, 0.01)
    )
    assert (int(dear.unit[0]), int(cheap.unit[0])) == (0, 1)


@MANY
@given(st.lists(WASTEFUL, min_size=1, max_size=8))
def test_inside_a_tier_the_yearly_cost_never_rises(rows: list[dict[str, str]]) -> None:
    result = audited(rows)
    order = ranked(result)
    pairs = list(zip(order.unit.tolist(), order.check.tolist(), strict=True))
    costs = [order.costs[check] for _, check in pairs]
    keys = [
        (int(result.checks[check].tier[unit]), -float(cost.mid[unit]) if cost is not None else 0.0)
        for (unit, check), cost in zip(pairs, costs, strict=True)
    ]
    assert keys == sorted(keys)


@FEW
@given(st.lists(WASTEFUL, min_size=1, max_size=8))
def test_sensitivity_is_the_order_of_an_audit_at_that_price(rows: list[dict[str, str]]) -> None:
    """Held against whole audits with the price sheet changed, which is the long way round."""
    result = audited(rows)
    now = ranked(result)
    every = np.ones(len(rows), dtype=bool)
    keys = {"water": ("water_price", "sewer_price"), "visit": ("visit_cost",), "medium": ("media_price",)}
    for one in sensitivity(result, now, every):
        then = ranked(audited(rows, priced(2.0, *keys[one.price])))
        pairs = [list(zip(o.unit.tolist(), o.check.tolist(), strict=True))[:20] for o in (now, then)]
        assert one.places == len(pairs[0])
        assert one.moved == sum(a != b for a, b in zip(*pairs, strict=True))


# --- equal inputs ---


@FEW
@given(any_of.fleets(5), st.data())
def test_equal_rows_keep_their_order_wherever_they_stand(
    rows: list[dict[str, str]], data: st.DataObject
) -> None:
    rows = [row | {"unit_id": f"U-{n}"} for n, row in enumerate([*rows, *rows])]
    turn = data.draw(st.permutations(range(len(rows))))
    straight, turned = audited(rows), audited([rows[n] for n in turn])

    def keys(result: AuditResult, number: list[int]) -> list[tuple[object, ...]]:
        order = ranked(result)
        text = result.view.frame.text(fleet.ACCOUNT)
        costs = [order.costs[check] for check in order.check.tolist()]
        return [
            (
                int(result.checks[check].tier[unit]),
                0.0 if cost is None else round(float(cost.mid[unit]), 9),
                text[unit],
            )
            for unit, check, cost in zip(order.unit.tolist(), order.check.tolist(), costs, strict=True)
        ]

    assert keys(straight, list(range(len(rows)))) == keys(turned, list(turn))
    order = ranked(turned)
    same: dict[tuple[object, ...], list[int]] = {}
    for unit, check in zip(order.unit.tolist(), order.check.tolist(), strict=True):
        plain = tuple(sorted((k, v) for k, v in rows[turn[unit]].items() if k != "unit_id"))
        same.setdefault((check, plain), []).append(unit)
    assert all(units == sorted(units) for units in same.values())


# --- one cell typed wrongly, one cell left blank ---

NUMBERS = [
    name for name in DOCUMENTED if name in fleet.BY_NAME and fleet.BY_NAME[name].quantity.kind is Kind.NUMBER
]
SCANT = {
    name: DOCUMENTED[name]
    for name in ("vessel_diameter", "medium", "mesh_stated", "restrictor", "media_date")
}
#: units that really want seeing to now, in plain view of several cells
URGENT = {"connections": "reversed", "account": "swapped"}


def slipped(cell: str, factor: float) -> str:
    number, _, unit = cell.partition(" ")
    return f"{float(number) * factor:.10g} {unit}".strip()


@pytest.mark.parametrize("base", [DOCUMENTED, SCANT], ids=["documented", "scant"])
@pytest.mark.parametrize("factor", [10.0, 0.1, 100.0, 0.01])
@pytest.mark.parametrize("column", NUMBERS)
def test_a_lost_decimal_point_never_tops_what_is_urgent_for_certain(
    base: dict[str, str], factor: float, column: str
) -> None:
    if column not in base:
        return
    wrong = slipped(base[column], factor)
    low, high = fleet.BY_NAME[column].bounds or (-np.inf, np.inf)
    si = frame_of([{column: wrong}], CATALOGUE).number(fleet.BY_NAME[column])[0]
    cell = wrong if low <= si <= high else "!"  # what reading makes of it
    result = audited([DOCUMENTED | URGENT, base | {column: cell}, DOCUMENTED])
    assert result.verdict[0] == Verdict.NOW
    order = ranked(result)
    firm = [
        unit
        for unit, check in zip(order.unit.tolist(), order.check.tolist(), strict=True)
        if result.checks[check].confidence[unit] != Confidence.MEASURE_FIRST
    ]
    assert firm[0] == 0, column
    now = [item for item in result.checks if item.state[1] == State.FOUND and item.tier[1] == Tier.NOW]
    assert all(item.confidence[1] == Confidence.MEASURE_FIRST for item in now)


@pytest.mark.parametrize("column", [name for name in DOCUMENTED if name in fleet.BY_NAME])
def test_a_blank_never_lowers_a_unit_to_clean(column: str) -> None:
    faults = (
        {"restrictor": "4 gpm"},
        {"restrictor": "20 gpm"},
        {"media_date": "2012-01-01"},
        {"bed_depth": "12 in"},
    )
    for fault in faults:
        told = DOCUMENTED | fault
        if column in fault:
            continue
        whole, blank = (audited([row, DOCUMENTED, DOCUMENTED]) for row in (told, told | {column: ""}))
        assert whole.verdict[0] not in (Verdict.CLEAN, Verdict.NOT_JUDGED)
        assert blank.verdict[0] != Verdict.CLEAN, (column, fault)


#: columns the main checks need; the size is read into a diameter
CORE = tuple(
    dict.fromkeys(
        fleet.DIAMETER if needed is fleet.SIZE else needed
        for check in CHECKS
        if check.core
        for needed in check.needs
    )
)


@FEW
@given(any_of.fleets(3).filter(bool), st.sampled_from(CORE))
def test_a_blank_core_cell_is_never_clean(rows: list[dict[str, str]], column: fleet.Column) -> None:
    """A unit that was not clean does not become clean because a cell that a main check needs is emptied."""
    before = audited([*rows, DOCUMENTED])
    after = audited([*(row | {column.name: ""} for row in rows), DOCUMENTED])
    lowered = (after.verdict == Verdict.CLEAN) & (before.verdict != Verdict.CLEAN)
    assert not lowered[: len(rows)].any(), [rows[n] for n in np.flatnonzero(lowered)]
