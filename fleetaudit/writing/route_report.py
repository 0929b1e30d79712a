"""A plan in the form its writers share, and its figures in the units of the reader."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from msgspec import Struct

from fleetaudit.routing.dates import date_of
from fleetaudit.routing.model import DayPlan, Plan, Visit
from fleetaudit.writing.report import OrderGroup, UnitRecord

FT3_M3 = 0.3048**3


class Assumption(Struct, frozen=True):
    """Something a plan rests on that nobody typed."""

    what: str
    taken_as: str
    source: str


class WhatIf(Struct, frozen=True):
    """One question of the table: what it changes, and how many visits are left out at what cost."""

    question: str
    left_out: int
    objective: float
    verdict: str


class RouteReport(Struct, frozen=True):
    """A plan with what people want to see beside it."""

    version: str
    file: str
    as_of: date
    system: str
    plan: Plan
    assumptions: tuple[Assumption, ...]
    units: Mapping[int, UnitRecord]
    access: Mapping[str, str]
    kept: Mapping[str, tuple[str, str]]
    labels: Mapping[int, str]
    media: Mapping[int, str]
    fixes: tuple[str, ...] = ()
    circuity: float = 1.0
    #: distances of the user's own are among those planned with
    own_ways: bool = False
    what_if: tuple[WhatIf, ...] = ()
    #: parts and media of each crew-day and of all days, stock taken off
    orders: tuple[OrderGroup, ...] = ()
    #: what is fitted at each unit besides its bed, in words
    parts: Mapping[int, tuple[str, ...]] = {}
    #: gravel under the new bed of each unit, in words
    gravel: Mapping[int, str] = {}
    #: whether a new bed gets new gravel
    renews_gravel: bool = True
    #: how the list writes beds of several layers, by unit
    beds: Mapping[int, str] = {}

    def crew(self, day: DayPlan) -> str:
        """Name of the crew of a day."""
        return self.plan.problem.crews[self.plan.problem.shifts[day.shift].crew].name

    def date(self, day: DayPlan) -> date:
        """Date of a day."""
        return date_of(self.plan.problem.shifts[day.shift].day)

    def visit(self, number: int) -> Visit:
        """A visit by its position, with what rides along where it does."""
        return self.plan.problem.jobs[number]

    def hours(self, number: int, day: int) -> tuple[int, int]:
        """When a site is open on a day, the margin before closing included."""
        opens, closes = self.visit(number).window(day) or (0, 0)
        return opens, closes + self.plan.problem.rules.margin_s

    def revision(self, number: int, crew: str, day: int, arrive: str) -> int:
        """How often a visit was changed since its first plan."""
        before = self.visit(number).promise
        if before is None:
            return 0
        same = (before.crew, before.day, before.arrive) == (crew, day, arrive)
        return before.revision + (0 if same else 1)


def ft3(volume_m3: float) -> float:
    """Volume in cubic feet."""
    return volume_m3 / FT3_M3


def load_out(report: RouteReport, day: DayPlan, trip: int | None = None) -> tuple[float, float]:
    """What is loaded for a day, or one trip of it [kg, m3]."""
    jobs = [report.visit(stop.visit) for stop in day.stops if trip is None or stop.trip == trip]
    return sum(job.kg_new for job in jobs), sum(job.m3_new for job in jobs)
