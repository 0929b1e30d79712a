"""Whether a flow surely carries media out: over what was measured, or over all that nobody measured."""

from __future__ import annotations

import numpy as np

from fleetaudit.facts import site
from fleetaudit.facts.fact import unusable
from fleetaudit.facts.frame import Codes, Flags, Floats
from fleetaudit.facts.media import grains
from fleetaudit.facts.needed import fit, mesh_rows
from fleetaudit.facts.slip import believed_flow
from fleetaudit.facts.view import View, remembered
from fleetaudit.facts.window import ceiling, ceilings, flow_window, velocities
from fleetaudit.hydraulics import window


@remembered
def media_surely_lost(view: View) -> Flags:
    """True where too large a flow lifts media out to drain wherever in their ranges the assumed values lie.

    With a measured freeboard or depth either ceiling is enough: the bed in the distributor, or the finest
    grains afloat. Without, both have to be passed, in a vessel as tall as that diameter is made. An assumed
    temperature counts at its warm end, an assumed depth at its least, an unstated mesh as the one that stands
    the most. Nothing is sure where a cell about the bed was filled and cannot be used, and of a flow that may
    be a slip of the pen counts only what is believed.
    """
    large = fit(view).large
    if not large.any():
        return large
    water, flow, space = site.season(view), believed_flow(view), site.room(view)
    mildest_k = np.where(water.assumed, water.warm.high, water.cold.value)
    bed = site.depth(view)
    with np.errstate(invalid="ignore", divide="ignore"):
        shallowest = np.where(np.isnan(bed.low / bed.value), 1.0, bed.low / bed.value)
    roomiest = np.maximum(
        np.where(space.known, space.value, _most_room(view)) - view.setting("freeboard_margin"), 0.0
    )
    roomiest[~large] = np.nan
    size = site.area(view).value
    lifted = size * ceiling(view, roomiest, mildest_k, round_end=True, depth_scale=shallowest)
    carried = flow_window(view).mildest_carry_over.copy()
    meshes = list(mesh_rows(view, large))
    if meshes:
        rows, codes = (np.concatenate(column) for column in zip(*meshes, strict=True))
        other_lifted, other_carried = _of_mesh(view, rows, codes, roomiest, shallowest * bed.value, mildest_k)
        np.maximum.at(lifted, rows, other_lifted * size[rows])
        np.maximum.at(carried, rows, other_carried * size[rows])
    rows = np.flatnonzero(large)
    flow, lifted, carried = flow[rows], lifted[rows], carried[rows]
    carried = np.where(np.isnan(carried), np.inf, carried)
    odd = np.any([unusable(view.frame, column, rows) for column in (*space.columns, *bed.columns)], axis=0)
    measured = (space.known | site.measured_depth(view).known)[rows]
    by_site = (space.known[rows] & (flow > lifted)) | (flow > carried)
    lost = np.zeros(view.units, dtype=bool)
    lost[rows] = ~odd & np.where(measured, by_site, flow > np.maximum(lifted, carried))
    return lost


def _most_room(view: View) -> Floats:
    """More space than there can be over a bed nobody measured [m]: the vessel's height less the least fill.

    Where the height is not known it is the greatest that diameter is made in; NaN where that is not known
    either.
    """
    tallest = np.array([*(max(row.heights_m, default=np.nan) for row in view.catalogue.vessels), np.nan])
    tall = site.height(view)
    return np.where(tall.known, tall.value, tallest[site.vessel_row(view)]) - site.depth(view).low


def _of_mesh(
    view: View, rows: Codes, codes: Codes, room_m: Floats, depth_m: Floats, temperature_k: Floats
) -> tuple[Floats, Floats]:
    """Both ceilings [m/s] of some rows, were their medium of another mesh."""
    kelvin = temperature_k[rows]
    lifted = window.freeboard_ceiling(
        grains(view).at(codes[:, None]),
        depth_m[rows][:, None],
        room_m[rows],
        kelvin,
        round_end=True,
        kept=ceilings(view),
    )
    carried = velocities(view, (codes, kelvin, kelvin))[0].carry_over
    lifted, carried = (np.nan_to_num(most, nan=np.inf, posinf=np.inf) for most in (lifted, carried))
    return lifted, carried
