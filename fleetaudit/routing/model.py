"""Frozen types of a plan.

Times of day [s] after midnight, days counted from 1970-01-01, money in the company's currency.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray

Floats = NDArray[np.float64]

MINUTE_S, HOUR_S, DAY_S = 60, 3600, 86400
KM_M = 1000.0
WEEK = 7
#: weekday (Monday is 0) of 1970-01-01, the day 0 of the count
_FIRST_WEEKDAY = 3


def weekday(day: int) -> int:
    """Weekday of a day, Monday 0.

    >>> weekday(20782)  # 2026-11-25, a Wednesday
    2
    """
    return (day + _FIRST_WEEKDAY) % WEEK


class Place(Struct, frozen=True):
    """Where something is [degrees], and how that is known.

    `town` is given for the middle of an area: whether that is one of several in a town.
    """

    latitude: float
    longitude: float
    known_by: str
    town: bool | None = None


class Lock(Struct, frozen=True):
    """What a manager pinned: a crew, a day, or both; `where` is the cell that says so."""

    crew: str = ""
    day: int | None = None
    where: str = ""


class Promise(Struct, frozen=True):
    """Where the last plan put a visit; `confirmed` where the customer has agreed to it."""

    crew: str
    day: int
    confirmed: bool = False
    arrive: str = ""
    revision: int = 0


class Task(Struct, frozen=True):
    """Work on one unit: what is carried to it and away with its gravel, how long it takes, and why."""

    unit: int
    unit_id: str
    kg_new: float
    m3_new: float
    kg_spent: float
    work_s: float
    people: int
    due_day: int | None
    priority: int
    rides: bool
    why: tuple[str, ...]
    #: gravel under the new bed, a part of `kg_new` and `m3_new`
    kg_gravel: float = 0.0
    m3_gravel: float = 0.0


class Riders(Struct, frozen=True):
    """Work that is done only where a visit has time left for it, and what that is worth.

    No set-up: the crew is there already.
    """

    tasks: tuple[Task, ...]
    service_s: int
    kg_new: float
    m3_new: float
    kg_spent: float
    people: int
    worth: float


class Visit(Struct, frozen=True):
    """All work at one site in one stop.

    `open_s` holds opening and closing of each weekday, None where closed. `riders` may come along; a visit
    has them among its tasks only in its longer form (see `Problem.jobs`).
    """

    id: str
    site: str
    tasks: tuple[Task, ...]
    place: Place | None
    service_s: int
    kg_new: float
    m3_new: float
    kg_spent: float
    people: int
    priority: int
    due_day: int
    open_s: tuple[tuple[int, int] | None, ...]
    closed_days: frozenset[int] = frozenset()
    earliest_day: int | None = None
    latest_day: int | None = None
    lock: Lock | None = None
    promise: Promise | None = None
    times_left: int = 0
    matrix_id: str = ""
    no_place: str = ""
    no_load: str = ""
    skills: frozenset[str] = frozenset()
    riders: Riders | None = None

    @property
    def m3_spent(self) -> float:
        """Volume [m3] taken away, that of the bed."""
        return self.m3_new

    @property
    def unit_ids(self) -> tuple[str, ...]:
        """Units worked on, those that only ride along included."""
        return tuple(task.unit_id for task in self.tasks)

    def with_riders(self) -> Visit:
        """The visit in its longer form."""
        more = self.riders
        if more is None:
            return self
        return replace(
            self,
            tasks=(*self.tasks, *more.tasks),
            service_s=self.service_s + more.service_s,
            kg_new=self.kg_new + more.kg_new,
            m3_new=self.m3_new + more.m3_new,
            kg_spent=self.kg_spent + more.kg_spent,
            people=max(self.people, more.people),
        )

    def only_riders(self) -> Visit:
        """What stays behind where the visit is made in its shorter form."""
        more = self.riders
        if more is None:
            return self
        return replace(
            self,
            id=f"{self.id}-R",
            tasks=more.tasks,
            service_s=more.service_s,
            kg_new=more.kg_new,
            m3_new=more.m3_new,
            kg_spent=more.kg_spent,
            people=more.people,
            priority=1,
            lock=None,
            promise=None,
            times_left=0,
        )

    def window(self, day: int) -> tuple[int, int] | None:
        """Opening hours on a day; None where the site is closed."""
        return None if day in self.closed_days else self.open_s[weekday(day)]


class Crew(Struct, frozen=True):
    """A crew with its vehicle; prices per hour [money/h] and per km."""

    name: str
    place: Place
    weekdays: frozenset[int]
    start_s: int
    end_s: int
    payload_kg: float
    volume_m3: float
    people: int
    overtime_s: int
    overtime_price: float
    hour_price: float
    km_price: float
    reloads: int
    days_off: frozenset[int] = frozenset()
    matrix_id: str = ""
    skills: frozenset[str] = frozenset()
    time_zone: str = ""


class Shift(Struct, frozen=True):
    """One crew on one day."""

    crew: int
    day: int


class Rules(Struct, frozen=True):
    """Switches and prices of planning; `value` and `lateness` by priority 1 to 5."""

    lunch_s: int
    lunch_from_s: int
    lunch_to_s: int
    reload_s: int
    value: tuple[float, ...]
    lateness: tuple[float, ...]
    ageing: float
    move_price: float
    move_price_soon: float
    soon_days: int
    #: work ends so long before a site closes; the hours of visits have it taken off
    margin_s: int = 0


class Problem(Struct, frozen=True, dict=True):
    """What is to be planned. Matrices have a row for each crew's depot, then one for each visit.

    A stop of a day is named by its place in `jobs`: visits as they are, then in the same order visits with
    what rides along, then what rides along alone, which is only ever left out.
    """

    visits: tuple[Visit, ...]
    crews: tuple[Crew, ...]
    shifts: tuple[Shift, ...]
    drive_s: Floats
    road_m: Floats
    rules: Rules
    first_day: int
    last_day: int

    @cached_property
    def jobs(self) -> tuple[Visit, ...]:
        """Every form of every visit."""
        longer = (visit.with_riders() for visit in self.visits)
        return (*self.visits, *longer, *(visit.only_riders() for visit in self.visits))

    def visit_of(self, job: int) -> int:
        """Visit whose form a job is."""
        return job % len(self.visits)

    def longer(self, visit: int) -> int:
        """The job of a visit with what rides along."""
        return visit + len(self.visits)

    def left_riders(self, visit: int) -> int:
        """What rides along with a visit, as something left out."""
        return visit + 2 * len(self.visits)

    def rides_alone(self, job: int) -> bool:
        """True for what rides along and was left out."""
        return job >= 2 * len(self.visits)

    def at(self, job: int) -> int:
        """Row of a visit in the matrices."""
        return len(self.crews) + self.visit_of(job)


class Stop(Struct, frozen=True):
    """One visit on a day, by its place in the jobs: its trip from the depot, and its times."""

    visit: int
    trip: int
    arrive_s: int
    start_s: int
    depart_s: int
    drive_s: int
    road_m: float


class Fault(Struct, frozen=True):
    """What makes a day impossible, and by how much (seconds, kg or m3)."""

    kind: str
    amount: float
    visit: int = -1


class DayPlan(Struct, frozen=True):
    """One crew-day as the simulator found it."""

    shift: int
    order: tuple[int, ...]
    stops: tuple[Stop, ...]
    out_s: int
    back_s: int
    drive_s: int
    work_s: int
    wait_s: int
    lunch_s: int | None
    overtime_s: int
    road_m: float
    reloads: int
    cost: float
    faults: tuple[Fault, ...] = ()


class LeftOut(Struct, frozen=True):
    """A visit that is not in the plan, and why, with the numbers the sentence rests on."""

    visit: int
    kind: str
    reason: str
    numbers: dict[str, float | str]


class BrokenLock(Struct, frozen=True):
    """A lock that cannot be kept."""

    visit: int
    text: str


class Plan(Struct, frozen=True):
    """Days with their stops, and what is left out.

    `objective` is what it costs, with what is left counted as lost value.
    """

    problem: Problem
    days: tuple[DayPlan, ...]
    left_out: tuple[LeftOut, ...]
    broken_locks: tuple[BrokenLock, ...]
    objective: float
    method: str
    moved: tuple[int, ...] = ()

    @property
    def left_visits(self) -> tuple[LeftOut, ...]:
        """Whole visits left out."""
        return tuple(item for item in self.left_out if not self.problem.rides_alone(item.visit))

    @property
    def left_riders(self) -> tuple[LeftOut, ...]:
        """What rides along with visits that are planned, and had no room there."""
        return tuple(item for item in self.left_out if self.problem.rides_alone(item.visit))
