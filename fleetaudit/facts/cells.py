"""Cells that could not be read, and entries that cannot be true."""

from __future__ import annotations

from enum import IntEnum

import numpy as np

from fleetaudit.catalogue.model import Catalogue
from fleetaudit.facts import site
from fleetaudit.facts.due import media_date
from fleetaudit.facts.fact import given
from fleetaudit.facts.frame import Codes, Flags
from fleetaudit.facts.media import GRAIN
from fleetaudit.facts.view import View, remembered
from fleetaudit.facts.window import Clash, flow_window
from fleetaudit.hydraulics import vessel
from fleetaudit.hydraulics.window import Limit
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Column, Missing


class Oddity(IntEnum):
    """What is wrong with an entry."""

    OUT_OF_BOUNDS = 0
    FUTURE = 1
    BEFORE_INSTALL = 2
    OVERFULL = 3
    TEMPERATURES = 4
    FIGURES = 5
    UNMOVED = 6


def _first(view: View, reasons: tuple[Missing, ...]) -> tuple[Flags, Codes]:
    """Whether any column of a row is missing for one of the reasons, and the first such column's position."""
    found = np.zeros(view.units, dtype=bool)
    first = np.full(view.units, -1, dtype=np.int64)
    for place, column in enumerate(fleet.COLUMNS):
        if not view.frame.has(column):
            continue
        missing = view.frame.why_missing(column)
        if missing.max(initial=0) < min(reasons):
            continue
        hit = np.isin(missing, reasons)
        first[hit & ~found] = place
        found |= hit
    return found, first


@remembered
def unreadable(view: View) -> tuple[Flags, Codes]:
    """Rows with a filled cell that could not be read or understood."""
    return _first(
        view, (Missing.UNREADABLE, Missing.NOT_IN_CATALOGUE, Missing.NEVER_CALCULATED, Missing.CONFLICT)
    )


@remembered
def implausible(view: View) -> tuple[Flags, Codes, Codes]:
    """Rows with an entry that cannot be true: whether, the column's position, and what is wrong."""
    found, first = _first(view, (Missing.IMPLAUSIBLE,))
    kind = np.where(found, int(Oddity.OUT_OF_BOUNDS), -1)
    for odd, column, what in _oddities(view):
        new = odd & ~found
        kind[new], first[new] = what, fleet.COLUMNS.index(column)
        found = found | odd
    return found, first, kind


def places_of_media(catalogue: Catalogue) -> tuple[str, ...]:
    """Where grain and rate of each medium come from: rows of a sheet of the user's, or the catalogue."""
    found = []
    for medium in catalogue.media:
        sources = [medium.figures[key].source for key in (*GRAIN, "rate_low_m_s") if key in medium.figures]
        own = dict.fromkeys(source.split(";")[0] for source in sources if source.startswith("user"))
        found.append(", ".join(own).replace("user: ", "") or "as shipped")
    return tuple(found)


def _oddities(view: View) -> list[tuple[Flags, Column, Oddity]]:
    date_cell = given(view.frame, fleet.MEDIA_DATE)
    loaded, installed = media_date(view), given(view.frame, fleet.INSTALL_DATE)
    install_low = view.frame.date_low.get(fleet.INSTALL_DATE.key, installed.value)
    tall, across, bed = site.height(view), site.diameter(view), site.volume(view)
    window = flow_window(view)
    clash = window.clash == Clash.BUILD
    # a rate that leaves the coarser grains lying, of a medium that is not washed in part: one figure is wrong
    unmoved = (window.low_set_by == Limit.FLOOR) & ~window.by_physics_only
    layered = site.layered(view)
    with np.errstate(invalid="ignore"):
        future = date_cell.known & (loaded.missing == Missing.IMPLAUSIBLE)
        early = loaded.known & installed.known & (loaded.high < install_low)
        shell = vessel.area_m2(across.value) * tall.value
        gravel = np.nan_to_num(given(view.frame, fleet.GRAVEL).value) * vessel.area_m2(across.value)
        overfull = bed.known & tall.known & (bed.value + gravel > shell * view.setting("greatest_fill"))
    turned = site.season(view).cold.missing == Missing.CONFLICT
    return [
        (future, fleet.MEDIA_DATE, Oddity.FUTURE),
        (early, fleet.MEDIA_DATE, Oddity.BEFORE_INSTALL),
        (overfull, fleet.VOLUME, Oddity.OVERFULL),
        (turned, fleet.COLD, Oddity.TEMPERATURES),
        (clash & ~layered, fleet.MEDIUM, Oddity.FIGURES),
        (unmoved & ~layered, fleet.MEDIUM, Oddity.UNMOVED),
        (unmoved & layered, fleet.LAYERS, Oddity.UNMOVED),
    ]
