"""What supply and drain line leave for the restrictor."""

from __future__ import annotations

import numpy as np

from fleetaudit.facts import site
from fleetaudit.facts.fact import Fact, computed, given
from fleetaudit.facts.frame import Flags, Floats
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
    """Pressure left at the washer [Pa]: supply less valve, rise and drain line where they are given."""
    shared, flow = site.head(view), wanted_together(view)
    return computed(shared.value - line_loss(view), shared, flow)


@remembered
def line_loss(view: View) -> Floats:
    """Pressure that the drain line takes at the flow asked for [Pa]; 0 where bore or length is not given."""
    bore, length = given(view.frame, fleet.DRAIN_BORE), given(view.frame, fleet.DRAIN_LENGTH)
    flow, water, bends = wanted_together(view), site.season(view).cold.value, site.elbows(view).value
    taken = np.zeros(view.units)
    piped = bore.known & length.known & flow.known
    if piped.any():
        taken[piped] = drain.line_pressure_drop(
            flow.value[piped], bore.value[piped], length.value[piped], water[piped], bends[piped]
        )
    return taken


@remembered
def drain_limits(view: View) -> tuple[Floats, Floats]:
    """Flows [m3/s] above which each unit's drain line is noted, and wants a plan; NaN if no bore.

    Between two sizes both lie on a straight line of logarithms; beyond the ends they are those of the end.
    """
    bore = given(view.frame, fleet.DRAIN_BORE).value
    if np.isnan(bore).all():
        return bore, bore
    sizes = view.catalogue.drains
    nominal = np.array([row.nominal.value for row in sizes])
    slack = view.setting("vessel_match_tolerance")
    below = np.clip(np.searchsorted(nominal * (1 - slack), bore, "right") - 1, 0, len(sizes) - 1)
    above = np.minimum(below + 1, len(sizes) - 1)
    between = (bore > nominal[below] * (1 + slack)) & (above > below)
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where(
            between, np.log(bore / nominal[below]) / np.log(nominal[above] / nominal[below]), 0.0
        )
    first, second = (
        np.where(np.isnan(bore), np.nan, limits[below] * (limits[above] / limits[below]) ** share)
        for limits in (np.array([row.note_m3_s for row in sizes]), np.array([row.plan_m3_s for row in sizes]))
    )
    return first, second


@remembered
def drain_limit_unknown(view: View) -> Flags:
    """True where a bore lies beyond the listed sizes and the flow on the side of which they say nothing.

    A line narrower than the narrowest carries less than that one, a wider one than the widest more.
    """
    bore, flow = given(view.frame, fleet.DRAIN_BORE), wanted_together(view)
    nominal = np.array([row.nominal.value for row in view.catalogue.drains])
    slack = view.setting("vessel_match_tolerance")
    first, _ = drain_limits(view)
    with np.errstate(invalid="ignore"):
        narrow, wide = bore.value < nominal[0] * (1 - slack), bore.value > nominal[-1] * (1 + slack)
        return np.asarray((narrow & (flow.value <= first)) | (wide & (flow.value > first)))
