"""When the medium of each unit is at the end of its life, by date, by volume treated, by depth left."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fleetaudit.catalogue import arrays
from fleetaudit.facts import site
from fleetaudit.facts.fact import Fact, given
from fleetaudit.facts.frame import Codes, Flags, Floats
from fleetaudit.facts.view import View, remembered
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Missing, Origin
from fleetaudit.schema.quantity import DAY_SECONDS

#: middles of equal parts of the days between the first and the last on which a medium may have been loaded
_DATE_PLACES = (0.1, 0.3, 0.5, 0.7, 0.9)
_NO_TIME = 1e-9


@dataclass(frozen=True)
class Due:
    """Day of the end of life (days since 1970-01-01) with its range, and the share of life that is used.

    `spent` marks a medium past its end by date, volume or depth; `chance` is the probability that it is, over
    the range of the life (half of it below the usual figure, half above, each half evenly) and of a date given
    as a month or year. `day` is known where a date and a life are; `told` where any of the three ways answers.
    """

    day: Fact
    used: Floats
    spent: Flags
    chance: Floats
    told: Flags
    missing: Codes
    by: Codes


@remembered
def media_date(view: View) -> Fact:
    """Day the medium was loaded; a date after the audit cannot be true and is not used."""
    cell = given(view.frame, fleet.MEDIA_DATE)
    low = view.frame.date_low.get(fleet.MEDIA_DATE.key, cell.value)
    high = view.frame.date_high.get(fleet.MEDIA_DATE.key, cell.value)
    with np.errstate(invalid="ignore"):
        future = cell.known & (low > view.as_of_day)
    missing = np.where(future, int(Missing.IMPLAUSIBLE), cell.missing)
    return Fact(cell.value, low, high, missing, cell.origin, cell.columns)


@remembered
def life(view: View) -> Fact:
    """Life of the medium in days: the site's own figure, that of its purpose, or that of the medium."""
    purpose = view.frame.code(fleet.PURPOSE.name)
    ends = arrays.spread_for_purpose(view.catalogue, view.medium, purpose, "life_s")
    middle, low, high = (end / DAY_SECONDS for end in ends)
    reason = site.medium_missing(view)
    missing = np.where(reason > 0, reason, np.where(np.isnan(middle), int(Missing.NO_FIGURE), 0))
    general = Fact(middle, low, high, missing, np.full(view.units, int(Origin.TYPED)))
    own = given(view.frame, fleet.MEDIA_LIFE)
    days = own.value / DAY_SECONDS
    return general.where(own.known, Fact(days, days, days, own.missing, own.origin, own.columns))


@remembered
def due(view: View) -> Due:
    """End of life of each unit's medium."""
    loaded, span = media_date(view), life(view)
    missing = np.where(loaded.missing > 0, loaded.missing, span.missing)
    day = Fact(
        loaded.value + span.value, loaded.low + span.low, loaded.high + span.high, missing,
        loaded.origin, tuple(dict.fromkeys((*loaded.columns, *span.columns))),
    )
    with np.errstate(invalid="ignore", divide="ignore"):
        past_date = day.known & (view.as_of_day > day.value)
        used = np.where(day.known, (view.as_of_day - loaded.value) / span.value, np.nan)
        treated, worn, worn_chance = _by_volume(view)
        left, gone = _by_depth(view)
        date_chance = np.where(day.known, _date_chance(view, loaded, span), 0.0)
    told = day.known | treated | left
    spent = past_date | worn | gone
    by = np.select([past_date, worn, gone], [0, 1, 2], 0)
    chance = np.maximum(np.maximum(date_chance, worn_chance), np.where(gone, 1.0, 0.0))
    return Due(day, used, spent, chance, told, np.where(told, 0, missing), by)


def _date_chance(view: View, loaded: Fact, span: Fact) -> Floats:
    """Probability that the life is over, averaged over the days on which the medium may have been loaded."""
    shares = np.zeros(view.units)
    for place in _DATE_PLACES:
        age = view.as_of_day - (loaded.low + (loaded.high - loaded.low) * place)
        shares += _share_over(age, span.low, span.value, span.high)
    return shares / len(_DATE_PLACES)


def _share_over(age: Floats, low: Floats, middle: Floats, high: Floats) -> Floats:
    """Share of a life that is over at an age: half of it lies evenly below the middle, half evenly above."""
    below = np.clip((age - low) / np.maximum(middle - low, _NO_TIME), 0, 1)
    above = np.clip((age - middle) / np.maximum(high - middle, _NO_TIME), 0, 1)
    return np.asarray((below + above) / 2)


def _by_volume(view: View) -> tuple[Flags, Flags, Floats]:
    """Whether the volume treated and its limit are known, whether it is past, and how likely that is."""
    water = given(view.frame, fleet.TREATED)
    limit, least, most = view.figure("life_bed_volumes")
    bed = site.volume(view)
    known = water.known & bed.known & ~np.isnan(limit)
    turned_over = water.value / (bed.value * site.vessels(view))
    chance = np.where(known, _share_over(turned_over, least, limit, most), 0.0)
    return known, known & (turned_over > limit), chance


def _by_depth(view: View) -> tuple[Flags, Flags]:
    """Whether a dissolving medium's depth left is known, and whether it is under the least depth."""
    left = given(view.frame, fleet.DEPTH_LEFT)
    least, _, _ = view.figure("least_depth_m")
    known = left.known & view.flag("dissolves") & ~np.isnan(least)
    return known, known & (left.value < least)


@remembered
def due_soon(view: View) -> Flags:
    """True where the end of life lies between the audit and the horizon."""
    found = due(view)
    with np.errstate(invalid="ignore"):
        near = found.day.value <= view.as_of_day + view.due_within_s / DAY_SECONDS
    return found.day.known & ~found.spent & near


@remembered
def guards_health(view: View) -> Flags:
    """True where the medium may stand between a person and harm: always, or for the purpose the row gives."""
    purpose = view.frame.code(fleet.PURPOSE.name)
    return arrays.guards_health(view.catalogue, view.medium, purpose)
