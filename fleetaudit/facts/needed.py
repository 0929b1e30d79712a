"""Which restrictor and which housing each unit should have."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from msgspec import Struct

from fleetaudit.facts import site
from fleetaudit.facts.fact import Fact
from fleetaudit.facts.frame import Codes, Flags, Floats
from fleetaudit.facts.view import View, remembered
from fleetaudit.facts.window import Clash, flow_window, velocities
from fleetaudit.hydraulics import housing, restrictor
from fleetaudit.hydraulics.arrays import place_among
from fleetaudit.schema import fleet

#: relative difference below which two ratings are the same
SAME = 1e-9


class Fit(Struct, frozen=True):
    """How the flow that goes to drain lies to the window; all False where either is not known.

    `small` and `large`: the whole interval lies outside; `straddles`: an end lies outside and the middle too;
    `other_mesh`: wrong for the usual grain size, right for another listed one of that medium.
    """

    small: Flags
    large: Flags
    straddles: Flags
    inside: Flags
    other_mesh: Flags


class Limits(Struct, frozen=True):
    """Interval the drain flow is held against [m3/s]; turned round where no flow serves the whole year."""

    low: Floats
    high: Floats


@remembered
def limits(view: View) -> Limits:
    """Ends of the window in ascending order; an empty window is judged as the interval between its ends."""
    found = flow_window(view)
    return Limits(np.fmin(found.low.value, found.high.value), np.fmax(found.low.value, found.high.value))


def _outside(view: View, low: Floats, high: Floats) -> tuple[Flags, Flags, Flags]:
    flow = site.drain_flow(view)
    with np.errstate(invalid="ignore"):
        small = flow.known & (flow.high < low)
        large = flow.known & (flow.low > high)
        off = flow.known & ((flow.value < low) | (flow.value > high))
    return small, large, off


@remembered
def fit(view: View) -> Fit:
    """How the drain flow of each unit lies to its window."""
    span = limits(view)
    small, large, off = _outside(view, span.low, span.high)
    told = flow_window(view).known & site.drain_flow(view).known
    other = _right_for_other_mesh(view) & off
    small, large = small & told & ~other, large & told & ~other
    return Fit(small, large, off & told & ~small & ~large, told & ~off, other & told)


@remembered
def _right_for_other_mesh(view: View) -> Flags:
    """True where the grain size is not given and the flow is right for another listed size of the medium."""
    right = np.zeros(view.units, dtype=bool)
    water = site.season(view)
    flow = site.drain_flow(view)
    size = site.area(view).value
    meshes = list(mesh_rows(view, np.ones(view.units, dtype=bool)))
    if not meshes:
        return right
    asked = [(same, water.cold.value[rows], water.warm.value[rows]) for rows, same in meshes]
    for (rows, _), found in zip(meshes, velocities(view, *asked), strict=True):
        with np.errstate(invalid="ignore"):
            low, high = found.low * size[rows], found.high * size[rows]
            right[rows] |= (flow.value[rows] >= low) & (flow.value[rows] <= high)
    return right


def mesh_rows(view: View, asked: Flags) -> Iterator[tuple[Codes, Codes]]:
    """For each other mesh some of the asked units may have: their rows, and each one's code of that mesh."""
    unsure = asked & ~site.mesh_stated(view) & (view.medium >= 0)
    media = view.catalogue.media
    for code, medium in enumerate(media):
        if "rate_low_m_s" not in medium.figures:
            continue
        others = np.array(
            [row != code and media[row].family == medium.family for row in range(len(media))] + [False]
        )
        rows = np.flatnonzero(unsure & others[view.medium])
        if len(rows):
            yield rows, np.full(len(rows), code)


class Needed(Struct, frozen=True):
    """Restrictor to fit [m3/s], whether a stocked one lies inside the window, and the housing for it.

    `housing` is a position in the catalogue's housings; their number stands for an external flow control, -1
    for not known. `smallest_right` is the smallest stocked rating inside the window, NaN where none is.
    """

    rating_m3_s: Floats
    stocked: Flags
    housing: Codes
    smallest_right: Floats


@remembered
def housing_limits(view: View) -> Floats:
    """Largest rating each housing of the catalogue takes [m3/s], ascending."""
    return np.array([row.limit_m3_s for row in view.catalogue.housings])


@remembered
def stock(view: View) -> Floats:
    """Ratings on stock [m3/s], ascending."""
    return np.array(view.catalogue.stocked_m3_s)


@remembered
def needed(view: View) -> Needed:
    """The restrictor to fit and its housing; the fitted one where nothing is wrong with it."""
    span, found, fitted = limits(view), flow_window(view), site.rating(view)
    ratings, bounds = stock(view), housing_limits(view)
    position = view.frame.code(fleet.HOUSING.name)
    limit = np.where((position >= 0) & (position < len(bounds)), np.append(bounds, np.inf)[position], np.inf)
    lies = fit(view)
    fine = fitted.known & ~(lies.small | lies.large | lies.straddles | lies.other_mesh) & found.known
    # Where no flow is right, one that takes media out is not to be fitted: at most what the bed may take.
    held = (found.clash == Clash.FREEBOARD) | ((found.clash != Clash.NONE) & view.flag("loss_sensitive"))
    chosen, inside = restrictor.choose(
        ratings,
        span.low,
        np.where(held, found.high.value, span.high),
        np.where(held, np.fmin(found.target, found.high.value), found.target),
        np.where(fitted.known, fitted.value, np.nan),
        fine,
        limit,
        view.flag("loss_sensitive") | held,
        tolerance=view.setting("restrictor_tolerance"),
    )
    chosen = np.where(found.known, chosen, np.nan)
    index = place_among(ratings, span.low * (1 - SAME))
    padded = np.append(ratings, np.inf)
    first = padded[np.minimum(index, len(ratings))]
    with np.errstate(invalid="ignore"):
        smallest = np.where(found.known & (first <= span.high * (1 + SAME)), first, np.nan)
    place = housing.smallest_housing(chosen, bounds)
    inside = np.where(held, ~np.isnan(smallest), inside)
    return Needed(chosen, inside & found.known, np.where(np.isnan(chosen), -1, place), smallest)


@remembered
def inputs_are_doubtful(view: View) -> Flags:
    """True where figures or cells contradict each other, or only physics gives the window."""
    found = flow_window(view)
    minor = np.zeros(view.units, dtype=bool)
    limit = view.setting("minor_blend_limit")
    for row, layers in view.frame.layers.items():
        shares = sorted((layer.share for layer in layers if not np.isnan(layer.share)), reverse=True)
        minor[row] = len(shares) > 1 and shares[1] >= limit
    conflict = np.full(view.units, view.fleetwide.restrictor_unit_doubtful) & site.rating(view).assumed
    return np.asarray((found.clash == Clash.BUILD) | found.by_physics_only | minor | conflict)


@remembered
def fitted_limit(view: View) -> Fact:
    """Largest rating the recorded housing takes [m3/s]; infinite for an external flow control."""
    position = view.frame.code(fleet.HOUSING.name)
    limit = np.append(np.append(housing_limits(view), np.inf), np.nan)[position]
    reason = view.frame.why_missing(fleet.HOUSING)
    return Fact(limit, limit, limit, reason, view.frame.origins(fleet.HOUSING), (fleet.HOUSING,))


@remembered
def recorded_external(view: View) -> Flags:
    """True where an external flow control is recorded, by its name or by a rating no housing takes."""
    external = view.frame.code(fleet.HOUSING.name) == len(housing_limits(view))
    fitted = site.rating(view)
    with np.errstate(invalid="ignore"):
        return np.asarray(external | (fitted.known & (fitted.value > housing_limits(view)[-1])))
