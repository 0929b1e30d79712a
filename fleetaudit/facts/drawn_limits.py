"""Draws of the velocities between which a bed is washed: by expansion in its waters, by the room above it."""

from __future__ import annotations

import numpy as np
from msgspec import Struct

from fleetaudit.facts import draws
from fleetaudit.facts.drawn_beds import Beds, beds_of, kinds, law_ends
from fleetaudit.facts.frame import Flags, Floats
from fleetaudit.facts.unit_ranges import Ranges
from fleetaudit.facts.view import View
from fleetaudit.hydraulics import held_at_porosity, water
from fleetaudit.hydraulics.arrays import distinct

_ROUNDING = 1e-9  # far more than arithmetic loses, far less than anything is known to


class Water(Struct, frozen=True):
    """Water of each unit: logarithm of the viscosity at both ends of a range, and one density."""

    log_mu_low: Floats
    log_mu_high: Floats
    density: Floats

    def viscosity(self, name: str) -> Floats:
        """Viscosity of each unit and draw [Pa s]."""
        return np.exp(draws.evenly(self.log_mu_low, self.log_mu_high, name))


def drawn_water(coldest_k: Floats, warmest_k: Floats) -> Water:
    """Water between two temperatures [K], as far as water is liquid in a filter."""
    low, high = (
        np.clip(coldest_k, water.COLDEST_K, water.WARMEST_K),
        np.clip(warmest_k, water.COLDEST_K, water.WARMEST_K),
    )
    return Water(
        np.log(water.viscosity_pa_s(low)),
        np.log(water.viscosity_pa_s(high)),
        np.asarray(water.density_kg_m3((low + high) / 2)),
    )


class Stream(Struct, frozen=True):
    """Water through one kind of bed, in each unit and draw.

    Its viscosity [Pa s], the Galileo number of the grains, and the velocity [m/s] at a Reynolds number of 1.
    """

    mu: Floats
    galileo: Floats
    velocity: Floats


class Limits(Struct, frozen=True):
    """What the draws say of one kind of bed, in as many units as are asked for.

    `beds` has one row; the laws stand side by side among the draws: Wen and Yu up to `first`, the Ergun form
    up to `second`.
    """

    beds: Beds
    first: int
    second: int

    def cold(self, unit: Ranges) -> Stream:
        """The coldest water."""
        return self._stream(drawn_water(unit.cold_low, unit.cold_high), "cold")

    def warm(self, unit: Ranges) -> Stream:
        """The warmest water."""
        return self._stream(drawn_water(unit.warm_low, unit.warm_high), "warm")

    def _stream(self, here: Water, name: str) -> Stream:
        beds, mu, rho = self.beds, here.viscosity(name), here.density[:, None]
        galileo = beds.weight * rho * (beds.density - rho) / (mu * mu)
        return Stream(mu, galileo, mu / (rho * beds.size_m) * beds.factor)

    def least(self, warm: Stream) -> Floats:
        """Least velocity [m/s] by expansion, in the warmest water."""
        return self._or_rate(self._velocity(self.beds.porosity_low, warm), self.beds.rate_low, warm)

    def most(self, cold: Stream) -> Floats:
        """Most velocity [m/s] by expansion, in the coldest water."""
        return self._or_rate(self._velocity(self.beds.porosity_high, cold), self.beds.rate_high, cold)

    def _or_rate(self, velocity: Floats, rate: Floats, here: Stream) -> Floats:
        beds = self.beds
        if not beds.by_rate.any():
            return velocity
        practised = rate * (beds.rate_viscosity / here.mu) ** beds.exponent
        return np.where(beds.by_rate, practised, velocity)

    def by_room(self, unit: Ranges, cold: Stream) -> Floats:
        """Most velocity [m/s] by the room above the bed, in cold water; infinite where nothing bounds it."""
        deep = draws.evenly(unit.depth_low, unit.depth_high, "depth")
        space = draws.evenly(unit.room_low, unit.room_high, "room") - unit.stacked[:, None] * deep
        space = np.maximum(space, 0.0)
        freeboard = self._velocity(1 - (1 - self.beds.settled) / (1 + space / deep), cold)
        return np.where(np.isnan(freeboard), np.inf, freeboard)

    @property
    def most_expansion(self) -> float:
        """Most expansion in any draw; infinite where draws follow practice, which tells none."""
        if self.beds.by_rate.any():
            return np.inf
        return float(np.max((self.beds.porosity_high - self.beds.settled) / (1 - self.beds.porosity_high)))

    def _velocity(self, porosity: Floats, stream: Stream) -> Floats:
        """Velocity at a porosity, each draw by its own law."""
        beds, galileo = self.beds, stream.galileo
        reynolds = np.empty_like(galileo)
        one, two, three = np.s_[:, : self.first], np.s_[:, self.first : self.second], np.s_[:, self.second :]
        reynolds[one] = held_at_porosity.wen_yu(porosity[one], galileo[one])
        reynolds[two] = held_at_porosity.ergun_form(
            porosity[two], galileo[two], beds.viscous[two], beds.inertial[two]
        )
        reynolds[three] = held_at_porosity.akgiray_soyer(
            porosity[three], galileo[three], beds.sphericity[three]
        )
        reynolds *= stream.velocity
        return reynolds


def room_may_bind(view: View, unit: Ranges) -> Flags:
    """False where the room takes more than the most expansion in every draw, and so limits nothing."""
    least_room = unit.room_low - unit.stacked * unit.depth_high
    told = np.flatnonzero((unit.kind >= 0) & ~np.isnan(least_room / unit.depth_high))
    present = distinct(unit.kind[told])
    most = np.array([limits.most_expansion for limits in limits_of(view, present.tolist())])
    enough = unit.depth_high[told] * (most[np.searchsorted(present, unit.kind[told])] + _ROUNDING)
    binds = np.zeros(len(unit.kind), dtype=bool)
    binds[told] = ~(least_room[told] >= enough)
    return binds


def limits_of(view: View, wanted: list[int]) -> list[Limits]:
    """Limits of some kinds of bed, indices of `drawn_beds.kinds`."""
    catalogue, made = view.catalogue, _made(view)
    new = [kind for kind in wanted if kind not in made]
    if new:
        every = kinds(catalogue)
        table = beds_of(catalogue, [every[kind] for kind in new])
        ends = law_ends(catalogue)
        made.update((kind, Limits(table.take(np.array([row])), *ends)) for row, kind in enumerate(new))
    return [made[kind] for kind in wanted]


def _made(view: View) -> dict[int, Limits]:
    made: dict[int, Limits] = {}
    return view.worked.remember("limits", lambda: made)
