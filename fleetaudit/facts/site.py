"""The bed and the site as the row gives them: area, depth, water, freeboard, what reaches the drain."""

from __future__ import annotations

from enum import IntEnum

import numpy as np
from msgspec import Struct

from fleetaudit.facts.fact import Fact, assumed, computed, given, unusable
from fleetaudit.facts.frame import Codes, Flags, Floats
from fleetaudit.facts.view import View, remembered
from fleetaudit.hydraulics import drain, vessel
from fleetaudit.hydraulics.arrays import place_among
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Missing

IN_SERVICE = 0
NOT_A_BED = 0


@remembered
def in_service(view: View) -> Flags:
    """True for units that are installed and running; a blank status counts as in service."""
    status = view.frame.code(fleet.STATUS.name)
    return np.asarray((status == IN_SERVICE) | (status < 0))


@remembered
def judged(view: View) -> Flags:
    """True for units in service that are a backwashing bed."""
    bed = view.frame.code("bed")
    running = in_service(view)
    return running if view.frame.codes.get("bed") is None else np.asarray(running & (bed != NOT_A_BED))


@remembered
def medium_missing(view: View) -> Codes:
    """Why the medium of a unit is not known; 0 where it is."""
    missing = view.frame.why_missing(fleet.MEDIUM)
    unknown = (view.medium < 0) & (missing == Missing.KNOWN)
    return np.where(unknown, int(Missing.NOT_IN_CATALOGUE), missing)


@remembered
def medium(view: View) -> Fact:
    """The medium as a fact: its code, with origin and reason."""
    code = view.medium.astype(np.float64)
    return Fact(code, code, code, medium_missing(view), view.frame.origins(fleet.MEDIUM), (fleet.MEDIUM,))


@remembered
def vessel_row(view: View) -> Codes:
    """Row of the Vessels table whose nominal diameter is that of the unit within 3 %; -1 where none is."""
    table = np.array([row.diameter_m for row in view.catalogue.vessels])
    order = np.argsort(table, kind="stable")
    nominal = view.frame.number(fleet.DIAMETER)
    middle = (table[order][1:] + table[order][:-1]) / 2
    nearest = order[place_among(middle, np.where(np.isnan(nominal), 0.0, nominal))]
    tolerance = view.setting("vessel_match_tolerance")
    close = np.abs(nominal / table[nearest] - 1) <= tolerance
    return np.where(close, nearest, -1)


def _vessel_figures(view: View, values: list[tuple[float, float]]) -> tuple[Floats, Floats]:
    row = vessel_row(view)
    table = np.array([*values, (np.nan, np.nan)])
    return table[row, 0], table[row, 1]


class Across(IntEnum):
    """Which diameter counts for the area of a vessel."""

    NOMINAL = 0
    MEASURED = 1
    TABLE = 2


@remembered
def _inside_by_table(view: View) -> Floats:
    """Inside diameter of the Vessels table [m] where the user gave it or switched it on, else NaN."""
    use_table = view.catalogue.switch("use_inside_diameter")
    inside = [
        (row.inside.value, row.inside.value)
        if row.inside is not None and (use_table or row.inside.source.startswith("user"))
        else (np.nan, np.nan)
        for row in view.catalogue.vessels
    ]
    return _vessel_figures(view, inside)[0]


@remembered
def diameter(view: View) -> Fact:
    """Diameter that counts for the area [m]: measured inside where given, else nominal.

    Wash rates are practised on the nominal one.
    """
    nominal, from_table = given(view.frame, fleet.DIAMETER), _inside_by_table(view)
    chosen = np.where(np.isnan(from_table), nominal.value, from_table)
    counted = Fact(chosen, chosen, chosen, nominal.missing, nominal.origin, nominal.columns)
    measured = given(view.frame, fleet.INSIDE)
    return counted.where(measured.known, measured)


@remembered
def across(view: View) -> Codes:
    """Which diameter that is, an `Across` code for each unit."""
    by_table = np.where(np.isnan(_inside_by_table(view)), int(Across.NOMINAL), int(Across.TABLE))
    return np.where(given(view.frame, fleet.INSIDE).known, int(Across.MEASURED), by_table)


@remembered
def area(view: View) -> Fact:
    """Area of one vessel [m2]."""
    counted = diameter(view)
    return computed(vessel.area_m2(counted.value), counted)


@remembered
def vessels(view: View) -> Floats:
    """Number of equal vessels of the row; 1 where not given."""
    count = view.frame.number(fleet.VESSELS)
    return np.where(np.isnan(count), 1.0, count)


@remembered
def washed_at_once(view: View) -> Floats:
    """How many of them are washed together; 1 unless the row says so."""
    together = view.frame.code(fleet.WASH_TOGETHER.name) == 1
    return np.where(together, vessels(view), 1.0)


@remembered
def volume(view: View) -> Fact:
    """Media volume of one vessel [m3]: the cell, or depth times area; never a default."""
    cell = given(view.frame, fleet.VOLUME)
    total = view.frame.code(fleet.VOLUME_IS_TOTAL.name) == 1
    share = np.where(total, 1 / vessels(view), 1.0)
    columns = (*cell.columns, fleet.VOLUME_IS_TOTAL, fleet.VESSELS)
    one = Fact(cell.value * share, cell.low * share, cell.high * share, cell.missing, cell.origin, columns)
    depth_cell = given(view.frame, fleet.DEPTH)
    from_depth = computed(depth_cell.value * area(view).value, depth_cell, area(view))
    return one.where(~one.known & from_depth.known, from_depth)


@remembered
def measured_depth(view: View) -> Fact:
    """Bed depth [m] from its cell, or from volume over area; not known where neither is given."""
    cell = given(view.frame, fleet.DEPTH)
    bed = volume(view)
    from_volume = computed(bed.value / area(view).value, bed, area(view))
    return cell.where(~cell.known & from_volume.known, from_volume)


@remembered
def usual_depth(view: View) -> Fact:
    """Depth of the usual fill of that vessel [m], with its range.

    The range runs from the least depth of the medium to the largest usual fill.
    """
    fills = [row.fill for row in view.catalogue.vessels]
    usual = [(fill.low, fill.high) if fill else (np.nan, np.nan) for fill in fills]
    low_m3, high_m3 = _vessel_figures(view, usual)
    ground = area(view).value
    least = view.usual("least_depth_m")
    mid, high = (low_m3 + high_m3) / 2 / ground, high_m3 / ground
    mid = np.where(np.isnan(mid), least, mid)
    low = np.fmin(least, low_m3 / ground)
    return assumed(mid, np.where(np.isnan(low), mid, low), np.where(np.isnan(high), mid, high))


@remembered
def depth(view: View) -> Fact:
    """Bed depth [m]: as measured, else the usual fill of that vessel as a default."""
    measured = measured_depth(view)
    return measured.where(~measured.known & (measured.missing != Missing.CONFLICT), usual_depth(view))


@remembered
def height(view: View) -> Fact:
    """Height of the vessel [m]."""
    return given(view.frame, fleet.HEIGHT)


@remembered
def gravel(view: View) -> Fact:
    """Depth of the gravel under the bed [m]: its cell, else the default; never part of the bed."""
    cell, setting = given(view.frame, fleet.GRAVEL), view.catalogue.settings["default_gravel_depth"]
    usual, low, high = (np.full(view.units, end) for end in (float(setting.value), setting.low, setting.high))
    return cell.where(~cell.known, assumed(usual, low, high))


def _freeboard(view: View, bed: Floats, below: Floats) -> Floats:
    """Space above a bed of a depth on gravel of a depth [m], by the vessel's height and nominal diameter."""
    return vessel.derived_freeboard_m(
        height(view).value,
        view.frame.number(fleet.DIAMETER),
        bed,
        below,
        view.setting("dome_allowance"),
        view.setting("collector_allowance"),
    )


@remembered
def room(view: View) -> Fact:
    """Measured space for the bed to expand into [m]: the freeboard cell, or height less a measured depth.

    Not known where neither was measured; a fill that nobody measured never limits the flow. Gravel that
    nobody gave is left out of the value, so that a default does not cut the flow either, and widens the
    range downwards.
    """
    cell, typed_depth = given(view.frame, fleet.FREEBOARD), given(view.frame, fleet.DEPTH)
    below = gravel(view)
    least = np.where(below.assumed, 0.0, below.value)
    from_height = computed(
        _freeboard(view, typed_depth.value, least),
        height(view),
        typed_depth,
        area(view),
        low=_freeboard(view, typed_depth.value, below.high),
    )
    return cell.where(~cell.known & ~unusable(view.frame, fleet.FREEBOARD) & from_height.known, from_height)


@remembered
def derived_room(view: View) -> Fact:
    """Space above the bed where it was not measured [m].

    Vessel height less the usual fill, or the medium's share of depth.
    """
    below, fill = gravel(view), depth(view)
    share = view.usual("freeboard_fraction")

    def space(bed: Floats, under: Floats) -> Floats:
        geometric = _freeboard(view, bed, under)
        return np.where(np.isnan(geometric), share * bed, geometric)

    return assumed(space(fill.value, below.value), space(fill.high, below.high), space(fill.low, below.low))


class Season(Struct, frozen=True):
    """Coldest and warmest water [K].

    Where assumed, both are the middle of the range and `low`, `high` its ends.
    """

    cold: Fact
    warm: Fact
    assumed: Flags


@remembered
def season(view: View) -> Season:
    """Water temperatures of each unit: both cells, one for both, or the default of its source of water.

    A cell that is filled but cannot be used leaves the range unknown; the other end never stands in for it.
    """
    frame = view.frame
    cold, warm, single = (given(frame, column) for column in (fleet.COLD, fleet.WARM, fleet.TEMPERATURE))
    low = cold.where(~cold.known & single.known, single).where(~cold.known & ~single.known & warm.known, warm)
    high = warm.where(~warm.known & single.known, single)
    high = high.where(~warm.known & ~single.known & cold.known, cold)
    source = view.frame.code(fleet.WATER_SOURCE.name)
    names = [*fleet.WATER_SOURCE.choices, view.catalogue.text("default_water")]
    default_cold = np.array([view.setting(f"water_{name}_cold") for name in names])[source]
    default_warm = np.array([view.setting(f"water_{name}_warm") for name in names])[source]
    middle = (default_cold + default_warm) / 2
    default = assumed(middle, default_cold, default_warm)
    spoiled = ~single.known & (unusable(frame, fleet.COLD) | unusable(frame, fleet.WARM))
    unknown = np.asarray(~(low.known & high.known) | spoiled)
    turned = np.asarray(low.value > high.value)
    cold_fact, warm_fact = low.where(unknown, default), high.where(unknown, default)
    clash = np.where(turned & ~unknown, int(Missing.CONFLICT), 0)
    return Season(
        Fact(
            cold_fact.value,
            cold_fact.low,
            cold_fact.high,
            np.where(clash > 0, clash, cold_fact.missing),
            cold_fact.origin,
            cold_fact.columns,
        ),
        Fact(
            warm_fact.value,
            warm_fact.low,
            warm_fact.high,
            np.where(clash > 0, clash, warm_fact.missing),
            warm_fact.origin,
            warm_fact.columns,
        ),
        unknown,
    )


@remembered
def rating(view: View) -> Fact:
    """Flow the fitted restrictor is rated for [m3/s], as an interval of its tolerance."""
    return given(view.frame, fleet.RESTRICTOR).spread(view.setting("restrictor_tolerance"))


@remembered
def supply(view: View) -> Fact:
    """Flow the supply can sustain for each vessel washed at the same time [m3/s]."""
    cell = given(view.frame, fleet.SUPPLY_FLOW)
    each = cell.value / washed_at_once(view)
    rests_on = (*cell.columns, fleet.WASH_TOGETHER, fleet.VESSELS)
    return Fact(each, each, each, cell.missing, cell.origin, rests_on)


@remembered
def elbows(view: View) -> Fact:
    """Elbows of the drain line: the cell, else the default with its range."""
    cell, setting = given(view.frame, fleet.DRAIN_ELBOWS), view.catalogue.settings["default_drain_elbows"]
    usual, low, high = (np.full(view.units, end) for end in (float(setting.value), setting.low, setting.high))
    return cell.where(~cell.known, assumed(usual, low, high))


@remembered
def head(view: View) -> Fact:
    """Pressure that washer and drain line share [Pa]: the supply's, less valve and rise."""
    pressure, rise = given(view.frame, fleet.SUPPLY_PRESSURE), given(view.frame, fleet.DRAIN_RISE)
    lifted = drain.rise_pressure(np.nan_to_num(rise.value), season(view).cold.value)
    return computed(pressure.value - view.setting("valve_loss") - lifted, pressure)


@remembered
def pressed_flow(view: View) -> Fact:
    """Flow that restrictor and drain line settle at under the pressure given [m3/s].

    The range takes in the restrictor's tolerance and the pressures from which it may, or must, hold its
    rating.
    """
    fitted, pressure = rating(view), head(view)
    told = fitted.known & pressure.known
    rows = np.flatnonzero(told)
    line = (fleet.DRAIN_BORE, fleet.DRAIN_LENGTH)
    bore, length = (given(view.frame, column).value[rows] for column in line)
    settings = view.catalogue.settings
    bends = elbows(view)

    def settled(rated: Floats, full: float, count: Floats) -> Floats:
        flow = np.full(view.units, np.nan)
        if not len(rows):
            return flow
        flow[rows] = drain.delivered_flow_m3_s(
            rated[rows],
            pressure.value[rows],
            full,
            bore,
            length,
            season(view).cold.value[rows],
            count[rows],
            washed_at_once(view)[rows],
        )
        return flow

    low_pressure = settings["low_pressure"]
    return computed(
        settled(fitted.value, float(low_pressure.value), bends.value),
        fitted,
        pressure,
        low=settled(fitted.low, view.setting("doubtful_pressure"), bends.high),
        high=settled(fitted.high, low_pressure.low, bends.low),
    )


@remembered
def drain_flow(view: View) -> Fact:
    """Flow that goes to drain [m3/s]: as measured, else the rating, less where the site gives less."""
    fitted = rating(view)
    measured = given(view.frame, fleet.MEASURED).spread(view.setting("measured_flow_tolerance"))
    pressed = pressed_flow(view)
    held = fitted.where(pressed.known, pressed)
    flow = held.where(measured.known, measured)
    source = supply(view)
    starved = source.known & (source.value < flow.value) & ~measured.known & fitted.known
    return flow.where(starved, source.spread(view.setting("restrictor_tolerance")))


@remembered
def layered(view: View) -> Flags:
    """True for beds given in layers or as a blend."""
    found = np.zeros(view.units, dtype=bool)
    found[list(view.frame.layers)] = True
    return found


@remembered
def mesh_stated(view: View) -> Flags:
    """True where the grain size was given, or the medium is sold in one size only."""
    stated = view.frame.codes.get("mesh_stated")
    families = [medium.family for medium in view.catalogue.media if "rate_low_m_s" in medium.figures]
    several = np.array([families.count(medium.family) > 1 for medium in view.catalogue.media] + [False])
    alone = ~several[view.medium]
    return alone if stated is None else alone | (stated == 1)
