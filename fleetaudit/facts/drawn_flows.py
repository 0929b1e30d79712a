"""Draws of the flows between which beds are washed, lot by lot of units that have much in common."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator

import numpy as np
from msgspec import Struct

from fleetaudit.facts import draws, site
from fleetaudit.facts.drawn_limits import Limits, drawn_water, limits_of
from fleetaudit.facts.draws import DRAWS
from fleetaudit.facts.frame import Codes, Flags, Floats
from fleetaudit.facts.unit_ranges import BY_ROOM, BY_WATER, Ranges
from fleetaudit.facts.view import View
from fleetaudit.facts.window import flow_window
from fleetaudit.facts.worked import Worked
from fleetaudit.hydraulics import water
from fleetaudit.hydraulics.arrays import distinct_rows

DRAWN_AT_ONCE = 64  # rows whose draws stay in the processor's cache
_LOT = 1024  # rows whose waters and rooms are held at once, four kilobytes for each side or room

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
    """Rows of one kind of bed, by water and by bed: which water, and which bed, each of them is."""

    kind: int
    rows: Codes
    unit: Ranges
    water: Codes
    bed: Codes

    def take(self, some: Flags) -> _Lot:
        """Some of them."""
        return _Lot(self.kind, self.rows[some], self.unit.take(some), self.water[some], self.bed[some])


def _runs(codes: Codes) -> tuple[Codes, Codes]:
    """Where each run of the same code begins, and for every place which run it is in."""
    begins = np.append(True, codes[1:] != codes[:-1])
    return np.flatnonzero(begins), np.cumsum(begins) - 1


class _OpenBeds(DrawnFlows):
    """Beds of one kind with room for any expansion, held to that of the medium alone."""

    def __init__(self, lot: _Lot, limits: Limits, worked: Worked) -> None:
        super().__init__(lot.rows, lot.unit, lot.unit.area, lot.unit.bore_least)
        first, self._water = _runs(lot.water)
        columns = [column[first] for column in self.unit.columns(BY_WATER)]

        def drawn(places: Codes) -> Floats:
            cold, warm = limits.streams(self.unit.take(first[places]))
            sides = limits.least(warm), limits.most(cold)
            ends = [end(side, axis=1)[:, None] for side in sides for end in (np.min, np.max)]
            return np.concatenate([*sides, *ends], axis=1)

        held = worked.waters.of(columns, drawn)
        self._least, self._most = held[:, :DRAWS], held[:, DRAWS : 2 * DRAWS]
        self._ends = held[:, 2 * DRAWS :]

    def ends(self) -> Ends:
        smallest, largest = self.size * self.unit.bore_least, self.size
        low_least, low_most, high_least, high_most = self._ends[self._water].T
        return (low_least * smallest, low_most * largest), (high_least * smallest, high_most * largest)

    def drawn(self, part: Codes, sides: tuple[bool, bool]) -> list[Floats]:
        water = self._water[part]
        return _picked(self._least[water], self._most[water], sides)


class _HeldBeds(_OpenBeds):
    """Beds of one kind that are held to the room above them too."""

    def __init__(self, lot: _Lot, limits: Limits, worked: Worked) -> None:
        super().__init__(lot, limits, worked)
        self._bed, self._limits, self._worked = lot.bed, limits, worked

    def ends(self) -> Ends:
        low, high = super().ends()
        return low, (np.zeros_like(high[0]), high[1])

    def prepare(self, asked: Codes) -> None:
        first, room = distinct_rows([self._bed[asked]])
        self._room = np.zeros(len(self._bed), dtype=np.int64)
        self._room[asked] = room
        unit = self.unit.take(asked[first])

        def by_room(places: Codes) -> Floats:
            found = np.empty((len(places), DRAWS))
            for start in range(0, len(places), DRAWN_AT_ONCE):
                some = slice(start, start + DRAWN_AT_ONCE)
                one = unit.take(places[some])
                found[some] = self._limits.by_room(one, self._limits.streams(one)[0])
            return found

        self._rooms = self._worked.rooms.of(unit.columns(BY_ROOM), by_room)

    def drawn(self, part: Codes, sides: tuple[bool, bool]) -> list[Floats]:
        water, most = self._water[part], self._rooms[self._room[part]]
        return _picked(self._least[water], np.minimum(self._most[water], most, out=most), sides)


def _picked(one: Floats, other: Floats, sides: tuple[bool, bool]) -> list[Floats]:
    """The smaller, the larger of two numbers, or both."""
    return [pick(one, other) for pick, asked in zip((np.minimum, np.maximum), sides, strict=True) if asked]


class _SeveralMedia(DrawnFlows):
    """Beds of several media, held to their window of practice, as far off as laws of expansion differ."""

    def __init__(self, lot: _Lot, view: View) -> None:
        rows, ones = lot.rows, np.ones(len(lot.rows))
        super().__init__(rows, lot.unit, ones, ones)
        found, season = flow_window(view), site.season(view)
        first, self._water = _runs(lot.water)
        spread = view.setting("law_spread") * draws.bell("error")
        exponent = view.setting("default_temperature_exponent")
        self._low_rate, self._high_rate = (
            np.exp(spread + exponent * (np.log(water.viscosity_pa_s(kelvin[rows[first]]))[:, None] - drawn))
            for kelvin, drawn in zip(
                (season.warm.value, season.cold.value), _log_viscosities(lot.unit.take(first)), strict=True
            )
        )
        self._low, self._high = found.low_without_freeboard[rows], found.high_without_freeboard[rows]
        self._caution, self._hard = found.caution[rows], found.hard[rows]

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
    """Lots of rows whose beds are one medium; `unit` has all rows of the view."""
    for lot in _lots(rows, unit.take(rows)):
        limits = limits_of(view, lot.kind)
        held = limits.room_may_bind(lot.unit)
        if not held.all():
            yield _OpenBeds(lot.take(~held), limits, view.worked)
        if held.any():
            yield _HeldBeds(lot.take(held), limits, view.worked)


def of_several_media(view: View, rows: Codes, unit: Ranges) -> Iterator[DrawnFlows]:
    """Lots of rows whose beds are several media; `unit` has all rows of the view."""
    season = site.season(view)
    for lot in _lots(rows, unit.take(rows), season.cold.value[rows], season.warm.value[rows]):
        yield _SeveralMedia(lot, view)


def _lots(rows: Codes, unit: Ranges, *more: Floats) -> Iterator[_Lot]:
    """Rows in lots of one kind of bed; the same waters, and of these the same beds, next to each other.

    `more` tells waters apart besides what all draws rest on.
    """
    _, water_of = distinct_rows([*unit.columns(BY_WATER), *more])
    _, bed_of = distinct_rows(unit.columns(BY_ROOM))
    order = np.lexsort((bed_of, water_of, unit.kind))
    kind = unit.kind[order]
    begins, _ = _runs(kind)
    for first, last in zip(begins.tolist(), [*begins[1:].tolist(), len(order)], strict=True):
        for start in range(first, last, _LOT):
            some = order[start : min(start + _LOT, last)]
            yield _Lot(int(kind[start]), rows[some], unit.take(some), water_of[some], bed_of[some])
