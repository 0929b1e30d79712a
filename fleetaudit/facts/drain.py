"""What supply and drain line leave for the restrictor."""

from __future__ import annotations

import numpy as np

from fleetaudit.facts import site
from fleetaudit.facts.fact import Fact, computed, given
from fleetaudit.facts.frame import Floats
from fleetaudit.facts.needed import needed
from fleetaudit.facts.view import View, remembered
from fleetaudit.facts.window import flow_window
from fleetaudit.hydraulics import drain
from fleetaudit.schema import fleet


@remembered
def wanted(view: View) -> Fact:
    """Flow the wash of one vessel asks for [m3/s]: the fitted rating, else the one to fit."""
    fitted = site.rating(view)
    advised = computed(needed(view).rating_m3_s, flow_window(view).low)
    return fitted.where(~fitted.known & advised.known, advised)


@remembered
def wanted_together(view: View) -> Fact:
    """Flow in the drain line [m3/s]: of all vessels washed at the same time."""
    one, times = wanted(view), site.washed_at_once(view)
    return Fact(one.value * times, one.low * times, one.high * times, one.missing, one.origin, one.columns)


@remembered
def pressure_left(view: View) -> Fact:
    """Pressure left at the washer [Pa]: supply less valve, rise and friction of the drain line where they are given."""
    pressure = given(view.frame, fleet.SUPPLY_PRESSURE)
    flow = wanted_together(view)
    bore, length = given(view.frame, fleet.DRAIN_BORE), given(view.frame, fleet.DRAIN_LENGTH)
    rise = np.nan_to_num(given(view.frame, fleet.DRAIN_RISE).value)
    water = site.season(view).cold.value
    friction = np.zeros(view.units)
    piped = bore.known & length.known & flow.known & pressure.known
    if piped.any():
        friction[piped] = drain.pipe_pressure_drop(
            flow.value[piped], bore.value[piped], length.value[piped], water[piped]
        )
    left = pressure.value - view.setting("valve_loss") - drain.rise_pressure(rise, water) - friction
    return computed(left, pressure, flow)


@remembered
def drain_limits(view: View) -> tuple[Floats, Floats]:
    """Flow [m3/s] above which the drain line of each unit is noted, and above which it wants a plan; NaN if no bore."""
    bore = given(view.frame, fleet.DRAIN_BORE)
    sizes = view.catalogue.drains
    bores = np.array([row.nominal.value for row in sizes])
    first = np.array([0.0, *(row.note_m3_s for row in sizes)])
    second = np.array([0.0, *(row.plan_m3_s for row in sizes)])
    place = np.searchsorted(bores * (1 - view.setting("vessel_match_tolerance")), np.nan_to_num(bore.value), "right")
    return (
        np.where(bore.known, first[place], np.nan),
        np.where(bore.known, second[place], np.nan),
    )
