"""What a measured drain flow says of the washer that is fitted."""

from __future__ import annotations

from enum import IntEnum

import numpy as np
from msgspec import Struct

from fleetaudit.facts import site
from fleetaudit.facts.fact import given
from fleetaudit.facts.frame import Codes, Floats
from fleetaudit.facts.needed import SAME, stock
from fleetaudit.facts.view import View, remembered
from fleetaudit.schema import fleet


class Cause(IntEnum):
    """The likeliest reason why the measured flow is not the rating."""

    PRESSURE = 0
    OTHER_OR_REVERSED = 1
    OTHER = 2
    REVERSED = 3
    SCALED = 4
    WORN = 5


class Suspicion(Struct, frozen=True):
    """Cause for each unit, and the stocked rating [m3/s] that passes the measured flow, NaN if none."""

    cause: Codes
    other_m3_s: Floats


@remembered
def suspicion(view: View) -> Suspicion:
    """Reason for a measured flow off the rating, likeliest first.

    Too little pressure where that alone explains it; a washer of another rating where one on stock passes
    that flow; one fitted back to front where it is off by what that does; else scaled or blocked below, worn
    or missing above.
    """
    measured, rated = given(view.frame, fleet.MEASURED).value, site.rating(view).value
    error, tolerance = view.setting("measured_flow_tolerance"), view.setting("restrictor_tolerance")
    pressed, source = site.pressed_flow(view), site.supply(view)
    turned = view.catalogue.settings["reversed_washer_off"]
    other = _nearest_rating(view, measured)
    with np.errstate(invalid="ignore", divide="ignore"):
        starved = pressed.known & (pressed.value < rated * (1 - SAME))
        explained = (
            starved & (measured >= pressed.low * (1 - error)) & (measured <= pressed.high * (1 + error))
        )
        explained |= (
            source.known & (source.value < rated) & (np.abs(measured / source.value - 1) <= error + tolerance)
        )
        is_other = (np.abs(measured / other - 1) <= error) & (np.abs(other / rated - 1) > tolerance)
        off = np.abs(measured / rated - 1)
        is_turned = (off >= turned.low) & (off <= turned.high)
        cause = np.select(
            [explained, is_other & is_turned, is_other, is_turned, measured < rated],
            [Cause.PRESSURE, Cause.OTHER_OR_REVERSED, Cause.OTHER, Cause.REVERSED, Cause.SCALED],
            Cause.WORN,
        )
    return Suspicion(cause.astype(np.int64), np.where(is_other, other, np.nan))


def _nearest_rating(view: View, flow: Floats) -> Floats:
    """Stocked rating nearest to a flow on a scale of ratios."""
    ratings = stock(view)
    if not len(ratings):
        return np.full(view.units, np.nan)
    edges = np.sqrt(ratings[1:] * ratings[:-1])
    return np.where(np.isnan(flow), np.nan, ratings[np.searchsorted(edges, np.nan_to_num(flow))])
