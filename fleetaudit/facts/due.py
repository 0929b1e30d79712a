"""When the medium of each unit is at the end of its life: by date, water treated, depth left, top-up."""

from __future__ import annotations

from collections.abc import Sequence
from enum import IntEnum

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from fleetaudit.catalogue import arrays
from fleetaudit.facts import site
from fleetaudit.facts.calendar import later
from fleetaudit.facts.fact import Fact, computed, given, unusable, weakest
from fleetaudit.facts.frame import Codes, Flags, Floats
from fleetaudit.facts.view import View, remembered
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Column, Missing, Origin
from fleetaudit.schema.quantity import DAY_SECONDS

#: middles of equal parts of a range within which nothing is known to be likelier than the rest
_PLACES = (0.1, 0.3, 0.5, 0.7, 0.9)
_NO_TIME = 1e-9
#: days beyond which it does not matter any more when something falls due
_FAR_DAYS = 36525.0
_DOUBTFUL = (Origin.GUESSED, Origin.CONFLICT, Origin.FILLED, Origin.DEFAULT)


class By(IntEnum):
    """What tells the end of a life."""

    DATE = 0
    VOLUME = 1
    DEPTH = 2
    TOP_UP = 3


class Way(Struct, frozen=True):
    """One way to tell the end of a life: `told` where it answers, its day known where a rate is."""

    day: Fact
    told: Flags
    spent: Flags
    chance: Floats


class Due(Struct, frozen=True):
    """Day of the end of life (days since 1970-01-01) with its range, by the way that ends first.

    `spent` marks a medium past its end by any way; `chance` is the probability that it is, over the range of
    the life (half of it below the usual figure, half above, each half evenly), of a date given as a month or
    year, and of a daily use that is an average. `told` where any way answers. The origin of `day` is that of
    the best of the ways that say the medium is spent, else of the way that ends first. A medium that is spent
    by a way without a day counts as due on the day of the audit.
    """

    day: Fact
    spent: Flags
    chance: Floats
    told: Flags
    missing: Codes
    by: Codes


def _dated(view: View, column: Column) -> Fact:
    """Day in a cell; one after the audit cannot be true and is not used."""
    cell = given(view.frame, column)
    low = view.frame.date_low.get(column.key, cell.value)
    high = view.frame.date_high.get(column.key, cell.value)
    with np.errstate(invalid="ignore"):
        future = cell.known & (low > view.as_of_day)
    missing = np.where(future, int(Missing.IMPLAUSIBLE), cell.missing)
    return Fact(cell.value, low, high, missing, cell.origin, cell.columns)


@remembered
def media_date(view: View) -> Fact:
    """Day the medium was loaded; a date after the audit cannot be true and is not used."""
    return _dated(view, fleet.MEDIA_DATE)


@remembered
def top_up_date(view: View) -> Fact:
    """Day on which a dissolving medium was last topped up."""
    return _dated(view, fleet.TOP_UP_DATE)


@remembered
def life(view: View) -> Fact:
    """Life of the medium in days: the site's own figure, that of its purposes, or that of the medium."""
    ends = arrays.spread_for_purpose(view.catalogue, view.medium, view.purposes, "life_s")
    middle, low, high = (end / DAY_SECONDS for end in ends)
    reason = site.medium_missing(view)
    missing = np.where(reason > 0, reason, np.where(np.isnan(middle), int(Missing.NO_FIGURE), 0))
    general = Fact(middle, low, high, missing, _stands_in(view, fleet.MEDIA_LIFE))
    own = given(view.frame, fleet.MEDIA_LIFE)
    days = own.value / DAY_SECONDS
    return general.where(own.known, Fact(days, days, days, own.missing, own.origin, own.columns))


@remembered
def daily_use(view: View) -> Fact:
    """Water the unit treats a day [m3], all vessels of the row together; an average, with its range."""
    cell = given(view.frame, fleet.DAILY_USE)
    day = replace(cell, value=cell.value * DAY_SECONDS)
    return day.spread(view.setting("daily_use_tolerance"))


@remembered
def treatable(view: View) -> Fact:
    """Water the media of the row can treat [m3]: the site's own figure, or the bed volumes of the medium."""
    limit, least, most = view.figure("life_bed_volumes")
    bed = site.volume(view)
    whole = bed.value * site.vessels(view)
    reason = site.medium_missing(view)
    missing = np.where(reason > 0, reason, np.where(np.isnan(limit), int(Missing.NO_FIGURE), bed.missing))
    columns = (fleet.VOLUME, fleet.DEPTH, fleet.VESSELS, fleet.VOLUME_IS_TOTAL, fleet.THROUGHPUT_LIMIT)
    origin = weakest(bed.origin, view.frame.origins(fleet.VESSELS), _stands_in(view, *columns))
    general = Fact(limit * whole, least * whole, most * whole, missing, origin)
    own = given(view.frame, fleet.THROUGHPUT_LIMIT)
    return general.where(own.known, own)


@remembered
def treated(view: View) -> Fact:
    """Water treated since the medium was loaded [m3]: as metered, else daily use times its age."""
    metered, use, loaded = given(view.frame, fleet.TREATED), daily_use(view), media_date(view)
    age, youngest, oldest = (view.as_of_day - day for day in (loaded.value, loaded.high, loaded.low))
    worked_out = computed(
        use.value * age,
        use,
        loaded,
        low=use.low * np.maximum(youngest, 0),
        high=use.high * oldest,
    )
    origin = weakest(worked_out.origin, _stands_in(view, fleet.TREATED))
    return metered.where(~metered.known & worked_out.known, replace(worked_out, origin=origin))


@remembered
def due(view: View) -> Due:
    """End of life of each unit's medium."""
    ways = {By.DATE: _by_date(view)}
    for by, tell in ((By.VOLUME, _by_volume), (By.DEPTH, _by_depth), (By.TOP_UP, _by_top_up)):
        way = tell(view)
        if way is not None:
            ways[by] = way
    found = tuple(ways.values())
    every_spent = np.stack([way.spent for way in found])
    days = np.stack([np.where(way.day.known, way.day.value, np.inf) for way in found])
    spent = np.asarray(every_spent.any(axis=0))
    told = np.asarray(np.stack([way.told for way in found]).any(axis=0))
    first_spent = np.argmin(np.where(every_spent, np.minimum(days, view.as_of_day), np.inf), axis=0)
    leads = np.where(spent, first_spent, np.argmin(days, axis=0))
    chance = np.max(np.stack([way.chance for way in found]), axis=0)
    missing = np.where(told, 0, ways[By.DATE].day.missing)
    day = _leading(view, found, leads, spent)
    return Due(day, spent, chance, told, missing, np.array([*ways])[leads])


def _leading(view: View, ways: Sequence[Way], by: Codes, spent: Flags) -> Fact:
    """Day of the way that leads for each unit."""
    days = [way.day for way in ways]
    at = by[None]
    value, low, high, missing, origin = (
        np.take_along_axis(np.stack([getattr(day, end) for day in days]), at, axis=0)[0]
        for end in ("value", "low", "high", "missing", "origin")
    )
    for way in reversed(ways):
        doubtful, sound = np.isin(origin, _DOUBTFUL), ~np.isin(way.day.origin, _DOUBTFUL)
        origin = np.where(spent & way.spent & doubtful & sound, way.day.origin, origin)
    undated = spent & (missing != Missing.KNOWN)
    today = np.full(view.units, view.as_of_day)
    return Fact(
        np.where(undated, today, value),
        np.where(undated, today, low),
        np.where(undated, today, high),
        np.where(undated, int(Missing.KNOWN), missing),
        origin,
    )


def _stands_in(view: View, *columns: Column) -> Codes:
    """Origin of what takes the place of cells that are filled and cannot be used: no better than a guess."""
    spoilt = np.zeros(view.units, dtype=bool)
    for column in columns:
        if view.frame.has(column):
            spoilt |= unusable(view.frame, column)
    return np.where(spoilt, int(Origin.GUESSED), int(Origin.TYPED))


def _by_date(view: View) -> Way:
    """Loaded on a day, and good for a time."""
    loaded, span = media_date(view), life(view)
    missing = np.where(loaded.missing > 0, loaded.missing, span.missing)
    return _after(view, loaded, span, missing, weakest(loaded.origin, span.origin))


def _after(view: View, since: Fact, span: Fact, missing: Codes, origin: Codes) -> Way:
    """A time after a day is over, by the calendar."""
    value, low, high = (
        later(day, time)
        for day, time in ((since.value, span.value), (since.low, span.low), (since.high, span.high))
    )
    day = Fact(value, low, high, missing, origin)
    with np.errstate(invalid="ignore"):
        past = day.known & (view.as_of_day > value)
    chance = _date_chance(view, since, low - since.low, value - since.value, high - since.high)
    return Way(day, day.known, past, np.where(day.known, chance, 0.0))


def _date_chance(view: View, since: Fact, low: Floats, middle: Floats, high: Floats) -> Floats:
    """Probability that a time of so many days is over, averaged over the days on which it may have begun."""
    shares = _share_over(view.as_of_day - since.low, low, middle, high)
    open_ = np.flatnonzero(since.low < since.high)  # a date that is not known to the day
    if not len(open_):
        return shares
    first, last = since.low[open_], since.high[open_]
    ends = low[open_], middle[open_], high[open_]
    ages = [view.as_of_day - (first + (last - first) * place) for place in _PLACES]
    shares[open_] = sum(_share_over(age, *ends) for age in ages) / len(_PLACES)
    return shares


def _share_over(age: Floats, low: Floats, middle: Floats, high: Floats) -> Floats:
    """Share of a life that is over at an age: half of it lies evenly below the middle, half evenly above."""
    with np.errstate(invalid="ignore"):
        below = np.clip((age - low) / np.maximum(middle - low, _NO_TIME), 0, 1)
        above = np.clip((age - middle) / np.maximum(high - middle, _NO_TIME), 0, 1)
    return np.asarray((below + above) / 2)


def _by_volume(view: View) -> Way | None:
    """So much water treated, of so much that the bed can treat; None where no unit tells of it."""
    if not (view.frame.has(fleet.TREATED) or view.frame.has(fleet.DAILY_USE)):
        return None
    water, limit, use, loaded = treated(view), treatable(view), daily_use(view), media_date(view)
    known = water.known & limit.known
    with np.errstate(invalid="ignore", divide="ignore"):
        past = known & (water.value > limit.value)
        age = view.as_of_day - loaded.value
        so_far = np.where(age > 0, water.value / age, np.nan)
    mean = Fact(so_far, so_far, so_far, loaded.missing, loaded.origin)
    chance = np.zeros(view.units)
    for place in _PLACES:
        amount = water.low + (water.high - water.low) * place
        chance += _share_over(amount, limit.low, limit.value, limit.high) / len(_PLACES)
    day = _until(view, water, limit, mean.where(use.known, use))
    origin = weakest(water.origin, limit.origin)
    return Way(replace(day, origin=origin), known, past, np.where(known, chance, 0.0))


def _until(view: View, now: Fact, end: Fact, rate: Fact) -> Fact:
    """Day on which an amount that grows by `rate` a day reaches its end, from the day of the audit on."""
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        corners = np.stack(
            [
                (limit - amount) / speed
                for limit, amount in ((end.low, now.high), (end.high, now.low))
                for speed in (rate.low, rate.high)
            ]
        )
        middle = (end.value - now.value) / rate.value
        still = ~(rate.low > 0)
    missing = computed(now.value, now, end, rate).missing
    missing = np.where((missing == Missing.KNOWN) & still, int(Missing.NO_FIGURE), missing)
    low, high = np.min(corners, axis=0), np.max(corners, axis=0)
    days = [
        np.where(missing == Missing.KNOWN, view.as_of_day + np.clip(ahead, -_FAR_DAYS, _FAR_DAYS), np.nan)
        for ahead in (middle, low, high)
    ]
    return Fact(days[0], days[1], days[2], missing, now.origin)


def _last_filled(view: View) -> Fact:
    """Day on which a dissolving bed was last full: topped up where that is later than loaded."""
    loaded, topped = media_date(view), top_up_date(view)
    with np.errstate(invalid="ignore"):
        later = topped.known & ~(loaded.known & (loaded.value > topped.value))
    return loaded.where(later, topped)


def _by_depth(view: View) -> Way | None:
    """So much depth left of a medium that dissolves, of the least that does its work; None as before."""
    if not view.frame.has(fleet.DEPTH_LEFT):
        return None
    left, full, since = (
        given(view.frame, fleet.DEPTH_LEFT),
        given(view.frame, fleet.DEPTH),
        _last_filled(view),
    )
    least = view.usual("least_depth_m")
    known = left.known & view.flag("dissolves") & ~np.isnan(least)
    error = view.setting("depth_tolerance")
    with np.errstate(invalid="ignore", divide="ignore"):
        gone = known & (left.value < least)
        age = view.as_of_day - since.value
        gone_since = full.value - left.value
        dissolved = [
            np.where(age > 0, (gone_since + off) / age, np.nan) for off in (0, -2 * error, 2 * error)
        ]
    rate = replace(computed(dissolved[0], full, since), low=dissolved[1], high=dissolved[2])
    reason = np.where(known, int(Missing.KNOWN), int(Missing.NO_FIGURE))
    minus = Fact(-left.value, -left.value - error, -left.value + error, reason, left.origin)
    end = Fact(-least, -least, -least, reason, left.origin)
    return Way(_until(view, minus, end, rate), known, gone, np.where(gone, 1.0, 0.0))


@remembered
def top_up_unknown(view: View) -> Flags:
    """True where a dissolving bed is older than its top-up interval with no top-up or depth on record."""
    loaded, left = media_date(view), given(view.frame, fleet.DEPTH_LEFT)
    asked = view.flag("dissolves") & loaded.known & ~top_up_date(view).known & ~left.known
    rows = np.flatnonzero(asked)
    every = view.usual("top_up_s")[rows] / DAY_SECONDS
    with np.errstate(invalid="ignore"):
        asked[rows] = view.as_of_day > later(loaded.value[rows], every)
    return asked


def _by_top_up(view: View) -> Way | None:
    """So long since a dissolving bed was last full, where its depth is not known; None as before.

    A bed that is older than that, with no top-up on record, may or may not have been topped up: nothing is
    said here, and `top_up_unknown` says that nobody knows.
    """
    since, left = _last_filled(view), given(view.frame, fleet.DEPTH_LEFT)
    every, short, long = (end / DAY_SECONDS for end in view.figure("top_up_s"))
    asked = view.flag("dissolves") & ~left.known & ~top_up_unknown(view) & ~np.isnan(every)
    asked &= ~unusable(view.frame, fleet.TOP_UP_DATE)
    if not asked.any():
        return None
    missing = np.where(asked, since.missing, int(Missing.NO_FIGURE))
    origin = weakest(since.origin, _stands_in(view, fleet.DEPTH_LEFT))
    span = Fact(every, short, long, missing, origin)
    return _after(view, since, span, missing, origin)


@remembered
def due_soon(view: View) -> Flags:
    """True where the end of life lies between the audit and the horizon."""
    found = due(view)
    with np.errstate(invalid="ignore"):
        near = found.day.value <= view.as_of_day + view.due_within_s / DAY_SECONDS
    return found.day.known & ~found.spent & near


@remembered
def only_topped_up(view: View) -> Flags:
    """True where what falls due is a top-up, and not a new bed."""
    return np.isin(due(view).by, (By.DEPTH, By.TOP_UP))


@remembered
def guards_health(view: View) -> Flags:
    """True where the medium may stand between a person and harm: always, or for the purpose the row gives."""
    return arrays.guards_health(view.catalogue, view.medium, view.purposes)
