"""From the audit to tasks: the work due at each unit, what only rides along, what is carried, how urgent."""

from __future__ import annotations

from collections.abc import Mapping
from math import isnan, nan

import numpy as np
from msgspec import Struct

from fleetaudit.auditing.result import AuditResult, State
from fleetaudit.catalogue.model import Catalogue
from fleetaudit.checks.check import Confidence, Tier
from fleetaudit.checks.registry import CHECKS
from fleetaudit.facts import site
from fleetaudit.facts.due import due, only_topped_up
from fleetaudit.facts.frame import Flags
from fleetaudit.language import say
from fleetaudit.needs import density
from fleetaudit.parts import GRAVEL, PartKind, beds, parts
from fleetaudit.routing.model import DAY_S, Task
from fleetaudit.schema import fleet

#: findings that mean media to replace, and those that a visit does not mend
MEDIA_DUE = ("media-overdue", "media-due-soon")
NO_VISIT = ("data-unreadable", "data-implausible", "duplicate-unit", "media-date-unknown")
#: why of a task that replaces media of which the day has not come yet
MEDIA_DUE_LATER = "media-due-later"
_PRIORITIES = {Tier.NOW: (4, 5), Tier.PLAN: (2, 3), Tier.NOTE: (1, 1)}
_CUBIC_FOOT_M3 = 0.3048**3


class Wishes(Struct, frozen=True):
    """What is planned: media due, and fixes of these tiers or checks.

    `first_day` is the first day of the plan.
    """

    first_day: int
    tiers: frozenset[int]
    checks: frozenset[str]


class Work(Struct, frozen=True):
    """Tasks of the fleet, and units whose work cannot be loaded for lack of data."""

    tasks: tuple[Task, ...]
    no_load: Mapping[int, str]
    density_assumed: int


class _Load(Struct, frozen=True):
    """Media carried to a unit, and the time [s] they take."""

    kg: float = 0.0
    m3: float = 0.0
    work_s: float = 0.0
    kg_gravel: float = 0.0
    m3_gravel: float = 0.0


def work(result: AuditResult, wishes: Wishes) -> Work:
    """Task of each unit with something to do.

    Notes, doubtful findings and media that come due a while after the horizon only ride along.
    """
    unit, check = result.pairs(State.FOUND)
    by_unit: dict[int, list[int]] = {}
    for row, place in zip(unit.tolist(), check.tolist(), strict=True):
        if CHECKS[place].slug not in NO_VISIT:
            by_unit.setdefault(row, []).append(place)
    maker = _Maker(result, wishes)
    for row in np.flatnonzero(due_later(result)).tolist():
        by_unit.setdefault(row, [])
    tasks = tuple(maker.task(row, places) for row, places in sorted(by_unit.items()))
    return Work(tasks, maker.no_load, maker.density_assumed)


def due_later(result: AuditResult) -> Flags:
    """True where a new bed falls due within a while after the horizon, and its volume is known."""
    view = result.view
    end, volume = due(view).day, site.volume(view)
    horizon = view.as_of_day + view.due_within_s / DAY_S
    while_s = view.catalogue.number("route_ride_within")
    with np.errstate(invalid="ignore"):
        near = (end.value > horizon) & (end.value <= horizon + while_s / DAY_S)
    soon = site.judged(view) & end.known & near & volume.known & ~only_topped_up(view)
    return np.asarray(soon & ~due(view).spent)


class _Maker:
    """Makes the tasks of a fleet, and keeps what was assumed and what is not known."""

    def __init__(self, result: AuditResult, wishes: Wishes) -> None:
        view = result.view
        self.result, self.wishes, self.number = result, wishes, view.catalogue.number
        self.catalogue = view.catalogue
        wanted = parts(result)
        self.beds = {part.unit: part.size * part.count for part in wanted if part.kind is PartKind.MEDIUM}
        self.gravel = {part.unit: part.size * part.count for part in wanted if part.kind is PartKind.GRAVEL}
        self.new_beds = beds(view)
        self.gravel_density = density(self.catalogue, self.catalogue.codes.get(GRAVEL, -1))
        self.density = view.usual("bulk_density_kg_m3")
        self.day, self.volume, self.vessels = due(view).day, site.volume(view), site.vessels(view)
        self.names, self.later = view.frame.text(fleet.UNIT_ID), due_later(result)
        self.no_load: dict[int, str] = {}
        self.density_assumed = 0

    def task(self, row: int, places: list[int]) -> Task:
        """Task of a unit with its findings, or with media that are due later."""
        chosen = [place for place in places if self._chosen(row, place)]
        slugs = tuple(CHECKS[place].slug for place in (chosen or places))
        load = _Load()
        if chosen and any(slug in MEDIA_DUE for slug in slugs):
            load = self._bed(row, self.beds.get(row, nan), self.gravel.get(row, 0.0))
        elif not chosen and self.later[row]:
            slugs = (*slugs, MEDIA_DUE_LATER)
            new = self.new_beds.of(row, float(self.vessels[row]))
            gravel = sum(part.size * part.count for part in new if part.kind is PartKind.GRAVEL)
            load = self._bed(row, float(self.volume.value[row] * self.vessels[row]), gravel)
        fixes = sum(slug not in MEDIA_DUE for slug in slugs)
        more_s = self.number("route_fix") * fixes if chosen else self.number("route_ride_along")
        due_day = int(self.day.value[row]) if self.day.known[row] else None
        checks = self.result.checks
        tier = min((int(checks[place].tier[row]) for place in (chosen or places)), default=int(Tier.NOTE))
        return Task(
            row,
            self.names[row],
            load.kg,
            load.m3,
            load.kg * self.number("route_wet_mass"),
            load.work_s + more_s,
            self._people(load.kg / max(float(self.vessels[row]), 1.0)),
            due_day,
            _priority(tier, due_day, self.wishes.first_day, self.catalogue),
            not chosen,
            slugs,
            load.kg_gravel,
            load.m3_gravel,
        )

    def _chosen(self, row: int, place: int) -> bool:
        """Whether a finding makes a trip of its own."""
        check, slug = self.result.checks[place], CHECKS[place].slug
        if int(check.confidence[row]) == Confidence.MEASURE_FIRST:
            return False
        if slug in MEDIA_DUE or slug in self.wishes.checks:
            return True
        return int(check.tier[row]) in self.wishes.tiers and int(check.tier[row]) != Tier.NOTE

    def _bed(self, row: int, volume_m3: float, gravel_m3: float) -> _Load:
        """A new bed of so many cubic metres in all vessels of a unit, and the gravel that goes under it."""
        if isnan(volume_m3):
            self.no_load[row] = say("the bed of {unit} has no volume", unit=self.names[row])
            return _Load()
        per_m3 = float(self.density[row])
        if isnan(per_m3):
            self.density_assumed += 1
            per_m3 = self.number("route_default_density")
        time_s = self.number("route_rebed") * float(self.vessels[row])
        time_s += self.number("route_rebed_per_ft3") * volume_m3 / _CUBIC_FOOT_M3
        kg_gravel = gravel_m3 * self.gravel_density if gravel_m3 else 0.0
        return _Load(volume_m3 * per_m3 + kg_gravel, volume_m3 + gravel_m3, time_s, kg_gravel, gravel_m3)

    def _people(self, kg_each: float) -> int:
        """How many people the heaviest vessel takes."""
        return 1 + sum(kg_each >= self.number(f"route_{word}_people_from") for word in ("two", "three"))


def _priority(tier: int, due_day: int | None, first_day: int, catalogue: Catalogue) -> int:
    usual, urgent = _PRIORITIES[Tier(tier)]
    late = 0 if due_day is None else first_day - due_day
    return urgent if late * DAY_S >= catalogue.number("route_overdue_urgent") else usual
