"""Where a slip of the pen is likelier than what a cell says: a lost decimal point, a flow beyond belief."""

from __future__ import annotations

import numpy as np

from fleetaudit.facts import site
from fleetaudit.facts.fact import given
from fleetaudit.facts.frame import Flags, Floats
from fleetaudit.facts.needed import fitted_limit, housing_limits, limits
from fleetaudit.facts.view import View, remembered
from fleetaudit.schema import fleet

#: a decimal point one or two places off
_PLACES = (0.1, 0.01)
#: a rating backs a measured flow of at most so many times as much
_APART = 2.0


@remembered
def flow_may_be_a_slip(view: View) -> Flags:
    """True where a drain flow is right with its decimal point moved, or beyond belief, and no cell backs it.

    A measured flow and a rating back each other where they are within a factor of two. A housing backs a
    rating where it takes that rating and the smallest housing would have done for the bed.
    """
    span = limits(view)
    flow, rated, measured = site.drain_flow(view), site.rating(view), given(view.frame, fleet.MEASURED)
    housing, smallest = fitted_limit(view), housing_limits(view)[0]
    with np.errstate(invalid="ignore", divide="ignore"):
        doubtful = flow.value > view.setting("slip_times") * span.high
        for place in _PLACES:
            moved = flow.value * place
            doubtful |= (moved >= span.low) & (moved <= span.high)
        apart = np.abs(np.log2(measured.value / rated.value))
        agree = measured.known & rated.known & (apart <= np.log2(_APART))
        housed = ~measured.known & housing.known & (housing.value >= rated.value) & (span.high <= smallest)
        housed &= housing.value > smallest
    return np.asarray(flow.known & doubtful & ~agree & ~housed)


@remembered
def believed_flow(view: View) -> Floats:
    """Largest flow [m3/s], up to the one that goes to drain, that is not likelier a slip of the pen.

    It rises with every cell it rests on, so that a larger flow never counts as a lesser harm: a flow that is
    right with its decimal point moved counts as the least such flow, one beyond belief as the most that is
    believed. A rating backs a measured flow up to twice that rating; a housing larger than the bed asks for
    backs a rating up to what it takes.
    """
    span = limits(view)
    flow, rated, measured = site.drain_flow(view), site.rating(view), given(view.frame, fleet.MEASURED)
    housing, smallest = fitted_limit(view), housing_limits(view)[0]
    with np.errstate(invalid="ignore"):
        alone = np.fmin(flow.value, view.setting("slip_times") * span.high)
        for place in reversed(_PLACES):
            alone = np.where(
                (alone * place >= span.low) & (alone * place <= span.high), span.low / place, alone
            )
        larger = ~measured.known & housing.known & (span.high <= smallest) & (housing.value > smallest)
        most = np.where(measured.known, _APART * rated.value, np.where(larger, housing.value, np.nan))
    return np.asarray(np.fmax(alone, np.where(np.isnan(most), np.nan, np.fmin(flow.value, most))))
