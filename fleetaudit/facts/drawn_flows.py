"""Draws of the flows between which beds are washed, lot by lot of units that have much in common."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator

import numpy as np
from msgspec import Struct

from fleetaudit.facts import draws, site
from fleetaudit.facts.drawn_limits import Limits, drawn_water, limits_of
from fleetaudit.facts.draws import DRAWS
from fleetaudit.facts.frame import Codes, Flags, Floats
from fleetaudit.facts.unit_ranges import BY_ROOM, BY_WATER, Ranges
from fleetaudit.facts.view import View
from fleetaudit.facts.window import flow_window
from fleetaudit.hydraulics import water
from fleetaudit.hydraulics.arrays import distinct, distinct_rows

DRAWN_AT_ONCE = 64  # rows whose draws stay in the processor's cache
_ROOMS = 8192  # kept at most from part to part, of four kilobytes each
_WATERS = 2048  # of eight kilobytes each
_ENDS = 4  # least and most of either side
_LOT = 2048  # rows whose waters and rooms are held at once, four kilobytes for each side or room

Ends = tuple[tuple[Floats, Floats], tuple[Floats, Floats]]


class DrawnFlows(ABC):
    """Flows of a lot of units, drawn as `size` times a limit; either of the two limits may be the lower one.

    `rows` are their rows in the view, `size` is the area of each [m2] where limits are velocities, and 1
    where they are flows; the bore varies down to `bore_least` of it.
    """

    def __init__(self, rows: Codes, unit: Ranges, size: Floats, bore_least: Floats) -> None:
        self.rows, self.unit, self.size = rows, unit, size
        columns = (bore_least, unit.share_low, unit.share_high)
        first, self._spread = distinct_rows(columns)
        bore, share_low, share_high = (column[first] for column in columns)
        self._reach, self._shift = draws.spread(bore, share_low, share_high)

    @abstractmethod
    def ends(self) -> Ends:
        """Flows [m3/s] that both limits of each unit surely reach, and do not pass, in any draw."""

    @abstractmethod
    def drawn(self, part: Codes, sides: tuple[bool, bool]) -> list[Floats]:
        """The lower, the upper limit of some units in each draw, or both, in arrays of their own."""

    def prepare(self, asked: Codes) -> None:  # noqa: B027 - most lots have nothing to prepare
        """Work out what the draws of some units share; those are all that will be asked for."""

    def share_below(self, limit: Floats, flow: Floats, part: Codes) -> Floats:
        """Share of the real flow of some units that lies below a limit, over all draws.

        `flow` [m3/s] is what is known of the flow of each. Works in the array of limits.
        """
        limit *= (self.size[part] / flow)[:, None]
        kinds = self._spread[part]
        if len(self._reach) == 1:
            kinds = kinds[:1]  # one row of draws does for all
        return draws.share_below(limit, self._reach[kinds], self._shift[kinds])


class _Lot(Struct, frozen=True):
    """Rows in the order of water and bed: which water, and which bed, each of them is."""

    rows: Codes
    unit: Ranges
    water: Codes
    bed: Codes

    def take(self, some: Flags) -> _Lot:
        """Some of them."""
        return _Lot(self.rows[some], self.unit.take(some), self.water[some], self.bed[some])


def _runs(codes: Codes) -> tuple[Codes, Codes]:
    """Where each run of the same code begins, and for every place which run it is in."""
    begins = np.append(True, codes[1:] != codes[:-1])
    return np.flatnonzero(begins), np.cumsum(begins) - 1


def _by_kind(view: View, unit: Ranges, drawn: Callable[[Limits, Ranges], Floats]) -> Floats:
    """What is drawn of some units, kind by kind of bed, few at once."""
    kinds = distinct(unit.kind).tolist()
    parts = []
    for kind, limits in zip(kinds, limits_of(view, kinds), strict=True):
        rows = np.flatnonzero(unit.kind == kind)
        for start in range(0, len(rows), DRAWN_AT_ONCE):
            some = rows[start : start + DRAWN_AT_ONCE]
            parts.append((some, drawn(limits, unit.take(some))))
    found = np.empty((len(unit.kind), parts[0][1].shape[1]))
    for some, part in parts:
        found[some] = part
    return found


def _by_water(limits: Limits, unit: Ranges) -> Floats:
    """Least and most velocity [m/s] by expansion in each draw, and smallest and largest of either."""
    sides = limits.least(limits.warm(unit)), limits.most(limits.cold(unit))
    ends = [end(side, axis=1)[:, None] for side in sides for end in (np.min, np.max)]
    return np.concatenate([*sides, *ends], axis=1)


def _by_room(limits: Limits, unit: Ranges) -> Floats:
    """Most velocity [m/s] by the room above the bed in each draw."""
    return limits.by_room(unit, limits.cold(unit))


class _OpenBeds(DrawnFlows):
    """Beds of one medium with room for any expansion, held to that of the medium alone."""

    def __init__(self, view: View, lot: _Lot) -> None:
        super().__init__(lot.rows, lot.unit, lot.unit.area, lot.unit.bore_least)
        first, water = _runs(lot.water)
        unit = self.unit.take(first)
        kept = view.worked.kept("waters", _WATERS, len(BY_WATER), 2 * DRAWS + _ENDS)
        held, place = kept.places(
            unit.columns(BY_WATER), lambda places: _by_kind(view, unit.take(places), _by_water)
        )
        self._least, self._most = held[:, :DRAWS], held[:, DRAWS : 2 * DRAWS]
        self._ends, self._water = held[:, 2 * DRAWS :], place[water]

    def ends(self) -> Ends:
        smallest, largest = self.size * self.unit.bore_least, self.size
        low_least, low_most, high_least, high_most = self._ends[self._water].T
        return (low_least * smallest, low_most * largest), (high_least * smallest, high_most * largest)

    def drawn(self, part: Codes, sides: tuple[bool, bool]) -> list[Floats]:
        water = self._water[part]
        return _picked(self._least[water], self._most[water], sides)


class _HeldBeds(_OpenBeds):
    """Beds of one medium that are held to the room above them too."""

    def __init__(self, view: View, lot: _Lot) -> None:
        super().__init__(view, lot)
        self._view, self._bed = view, lot.bed

    def ends(self) -> Ends:
        low, high = super().ends()
        return low, (np.zeros_like(high[0]), high[1])

    def prepare(self, asked: Codes) -> None:
        first, room = distinct_rows([self._bed[asked]])
        unit = self.unit.take(asked[first])

        kept = self._view.worked.kept("rooms", _ROOMS, len(BY_ROOM), DRAWS)
        self._rooms, place = kept.places(
            unit.columns(BY_ROOM), lambda places: _by_kind(self._view, unit.take(places), _by_room)
        )
        self._room = np.empty(len(self._bed), dtype=np.int64)
        self._room[asked] = place[room]

    def drawn(self, part: Codes, sides: tuple[bool, bool]) -> list[Floats]:
        water, most = self._water[part], self._rooms[self._room[part]]
        return _picked(self._least[water], np.minimum(self._most[water], most, out=most), sides)


def _picked(one: Floats, other: Floats, sides: tuple[bool, bool]) -> list[Floats]:
    """The smaller, the larger of two numbers, or both."""
    return [pick(one, other) for pick, asked in zip((np.minimum, np.maximum), sides, strict=True) if asked]


class _SeveralMedia(DrawnFlows):
    """Beds of several media, held to their window of practice, as far off as laws of expansion differ."""

    def __init__(self, view: View, lot: _Lot) -> None:
        rows, ones = lot.rows, np.ones(len(lot.rows))
        super().__init__(rows, lot.unit, ones, ones)
        cold, warm, *window = several_rest_on(view)
        first, self._water = _runs(lot.water)
        spread = view.setting("law_spread") * draws.bell("error")
        exponent = view.setting("default_temperature_exponent")
        self._low_rate, self._high_rate = (
            np.exp(spread + exponent * (np.log(water.viscosity_pa_s(kelvin[rows[first]]))[:, None] - drawn))
            for kelvin, drawn in zip((warm, cold), _log_viscosities(lot.unit.take(first)), strict=True)
        )
        self._low, self._high, self._caution, self._hard = (flows[rows] for flows in window)

    def ends(self) -> Ends:
        low, high = (
            (rate.min(axis=1)[self._water] * side, rate.max(axis=1)[self._water] * side)
            for rate, side in ((self._low_rate, self._low), (self._high_rate, self._high))
        )
        least, most = (np.fmin(np.inf, pick(self._caution, self._hard)) for pick in (np.fmin, np.fmax))
        return low, (np.minimum(high[0], least), np.minimum(high[1], most))

    def drawn(self, part: Codes, sides: tuple[bool, bool]) -> list[Floats]:
        kind = self._water[part]
        low, high = self._low_rate[kind], self._high_rate[kind]
        low *= self._low[part][:, None]
        high *= self._high[part][:, None]
        held = np.flatnonzero(self._caution[part] < np.inf)
        if len(held):
            with np.errstate(invalid="ignore"):
                ceiling = draws.evenly(self._caution[part[held]], self._hard[part[held]], "form")
            high[held] = np.minimum(high[held], np.where(np.isnan(ceiling), np.inf, ceiling))
        return _picked(low, high, sides)


def _log_viscosities(unit: Ranges) -> tuple[Floats, Floats]:
    """Logarithm of the viscosity of the warmest and of the coldest water in each draw."""
    in_warm, in_cold = drawn_water(unit.warm_low, unit.warm_high), drawn_water(unit.cold_low, unit.cold_high)
    return (
        draws.evenly(in_warm.log_mu_low, in_warm.log_mu_high, "warm"),
        draws.evenly(in_cold.log_mu_low, in_cold.log_mu_high, "cold"),
    )


def of_one_medium(view: View, rows: Codes, unit: Ranges) -> Iterator[DrawnFlows]:
    """Lots of rows whose beds are one medium; `unit` has all rows of the view.

    It has depth and room only where these may bind.
    """
    for lot in _lots(rows, unit.take(rows)):
        held = ~np.isnan(lot.unit.depth_high)
        if not held.all():
            yield _OpenBeds(view, lot.take(~held))
        if held.any():
            yield _HeldBeds(view, lot.take(held))


def of_several_media(view: View, rows: Codes, unit: Ranges) -> Iterator[DrawnFlows]:
    """Lots of rows whose beds are several media; `unit` has all rows of the view."""
    cold, warm, *_ = several_rest_on(view)
    for lot in _lots(rows, unit.take(rows), cold[rows], warm[rows]):
        yield _SeveralMedia(view, lot)


def several_rest_on(view: View) -> tuple[Floats, ...]:
    """What the flows of beds of several media rest on besides the ranges of each unit.

    Both waters [K], both ends of the window of practice, and both ceilings by the room above the bed [m3/s].
    """
    season, found = site.season(view), flow_window(view)
    window = found.low_without_freeboard, found.high_without_freeboard, found.caution, found.hard
    return season.cold.value, season.warm.value, *window


def _lots(rows: Codes, unit: Ranges, *more: Floats) -> Iterator[_Lot]:
    """Rows in lots; the same waters, and of these the same beds, next to each other.

    `more` tells waters apart besides what all draws rest on.
    """
    _, water_of = distinct_rows([*unit.columns(BY_WATER), *more])
    _, bed_of = distinct_rows(unit.columns(BY_ROOM))
    order = np.lexsort((bed_of, water_of))
    for start in range(0, len(order), _LOT):
        some = order[start : start + _LOT]
        yield _Lot(rows[some], unit.take(some), water_of[some], bed_of[some])
