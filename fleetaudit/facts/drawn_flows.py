"""Draws of the flows between which beds are washed, lot by lot of units that have much in common."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator

import numpy as np

from fleetaudit.facts import draws, site
from fleetaudit.facts.drawn_limits import Limits, drawn_water, limits_of
from fleetaudit.facts.frame import Codes, Floats
from fleetaudit.facts.unit_ranges import BY_ROOM, BY_WATER, Ranges
from fleetaudit.facts.view import View
from fleetaudit.facts.window import flow_window
from fleetaudit.hydraulics import water
from fleetaudit.hydraulics.arrays import distinct_rows

ROWS_AT_ONCE = 64  # so that the draws of a lot stay in the processor's cache

Ends = tuple[tuple[Floats, Floats], tuple[Floats, Floats]]


class DrawnFlows(ABC):
    """Flows [m3/s] of a lot of units; the lower of its two limits may be either of them."""

    def __init__(self, rows: Codes, unit: Ranges) -> None:
        self.rows, self.unit = rows, unit

    @abstractmethod
    def ends(self) -> Ends:
        """Flows that both limits of each unit surely reach, and do not pass, in any draw."""

    @abstractmethod
    def drawn(self, part: Codes) -> tuple[Floats, Floats, Floats]:
        """Both limits of some units in each draw, and what either is multiplied by to be a flow."""

    def slack(self, part: Codes) -> Floats:
        """Share by which the real flow of some units may differ from what is known of it, in each draw."""
        return draws.evenly(self.unit.share_low[part], self.unit.share_high[part], "tolerance")


class _OneMedium(DrawnFlows):
    """Beds of one kind, held to the expansion of that medium and to the room above it."""

    def __init__(self, rows: Codes, unit: Ranges, limits: Limits) -> None:
        super().__init__(rows, unit)
        first, self._water = distinct_rows(unit.columns(BY_WATER))
        self._cold, warm = limits.streams(unit.take(first))
        self._low, self._high = limits.least(warm), limits.most(self._cold)
        self._limits, self._bound = limits, limits.room_may_bind(unit)

    def ends(self) -> Ends:
        least, most = self.unit.area * self.unit.bore_least, self.unit.area
        low, high = (
            (side.min(axis=1)[self._water] * least, side.max(axis=1)[self._water] * most)
            for side in (self._low, self._high)
        )
        return low, (np.where(self._bound, 0.0, high[0]), high[1])

    def drawn(self, part: Codes) -> tuple[Floats, Floats, Floats]:
        low, high = self._low[self._water[part]], self._high[self._water[part]]
        bound = self._bound[part]
        if bound.any():
            rows = part[bound]
            first, bed = distinct_rows(self.unit.take(rows).columns(BY_ROOM))
            one = rows[first]
            room = self._limits.by_room(self.unit.take(one), self._cold.at(self._water[one]))
            high[bound] = np.minimum(high[bound], room[bed])
        bore = draws.evenly(self.unit.bore_least[part], np.ones(len(part)), "bore")
        return low, high, self.unit.area[part][:, None] * bore


class _SeveralMedia(DrawnFlows):
    """Beds of several media, held to their window of practice, as far off as laws of expansion differ."""

    def __init__(self, rows: Codes, unit: Ranges, view: View) -> None:
        super().__init__(rows, unit)
        found, season = flow_window(view), site.season(view)
        cold, warm = season.cold.value[rows], season.warm.value[rows]
        first, self._water = distinct_rows([*unit.columns(BY_WATER), cold, warm])
        spread = view.setting("law_spread") * draws.bell("error")
        exponent = view.setting("default_temperature_exponent")
        self._low_rate, self._high_rate = (
            np.exp(spread + exponent * (np.log(water.viscosity_pa_s(here[first]))[:, None] - drawn))
            for here, drawn in zip((warm, cold), _log_viscosities(unit.take(first)), strict=True)
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

    def drawn(self, part: Codes) -> tuple[Floats, Floats, Floats]:
        kind = self._water[part]
        with np.errstate(invalid="ignore"):
            ceiling = draws.evenly(self._caution[part], self._hard[part], "form")
        low, high = self._low_rate[kind] * self._low[part][:, None], self._high_rate[kind]
        high = np.minimum(high * self._high[part][:, None], np.where(np.isnan(ceiling), np.inf, ceiling))
        return low, high, np.ones_like(low)


def _log_viscosities(unit: Ranges) -> tuple[Floats, Floats]:
    """Logarithm of the viscosity of the warmest and of the coldest water in each draw."""
    in_warm, in_cold = drawn_water(unit.warm_low, unit.warm_high), drawn_water(unit.cold_low, unit.cold_high)
    return (
        draws.evenly(in_warm.log_mu_low, in_warm.log_mu_high, "warm"),
        draws.evenly(in_cold.log_mu_low, in_cold.log_mu_high, "cold"),
    )


def of_one_medium(view: View, rows: Codes, unit: Ranges) -> Iterator[DrawnFlows]:
    """Lots of rows whose beds are one medium; `unit` has all rows of the view."""
    for kind, places in _lots(unit.take(rows)):
        yield _OneMedium(rows[places], unit.take(rows[places]), limits_of(view, kind))


def of_several_media(view: View, rows: Codes, unit: Ranges) -> Iterator[DrawnFlows]:
    """Lots of rows whose beds are several media; `unit` has all rows of the view."""
    for _, places in _lots(unit.take(rows)):
        yield _SeveralMedia(rows[places], unit.take(rows[places]), view)


def _lots(unit: Ranges) -> Iterator[tuple[int, Codes]]:
    """A kind of bed and places of units of it, in few waters at once, the same beds next to each other."""
    first, water_of = distinct_rows(unit.columns(BY_WATER))
    _, bed_of = distinct_rows(unit.columns(BY_ROOM))
    order = np.lexsort((bed_of, water_of))
    ends = np.searchsorted(water_of[order], np.arange(len(first) + 1))
    for kind in np.unique(unit.kind).tolist():
        waters = np.flatnonzero(unit.kind[first] == kind)
        for start in range(0, len(waters), ROWS_AT_ONCE):
            some = waters[start : start + ROWS_AT_ONCE].tolist()
            yield kind, np.concatenate([order[ends[water] : ends[water + 1]] for water in some])
