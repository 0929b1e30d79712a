"""Frozen types of a plan.

Times of day [s] after midnight, days counted from 1970-01-01, money in the company's currency.
"""

from __future__ import annotations

import numpy as np
from msgspec import Struct, field
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
    """Where something is [degrees], and how that is known."""

    latitude: float
    longitude: float
    known_by: str


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
    """Work on one unit: what is carried to it and away, how long it takes, and why it is done."""

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


class Visit(Struct, frozen=True):
    """All work at one site in one stop.

    `open_s` holds opening and closing of each weekday, None where closed.
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

    @property
    def m3_spent(self) -> float:
        """Volume [m3] taken away, that of the bed."""
        return self.m3_new

    @property
    def unit_ids(self) -> tuple[str, ...]:
        """Units worked on, those that only ride along included."""
        return tuple(task.unit_id for task in self.tasks)

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


class Problem(Struct, frozen=True):
    """What is to be planned. Matrices have a row for each crew's depot, then one for each visit."""

    visits: tuple[Visit, ...]
    crews: tuple[Crew, ...]
    shifts: tuple[Shift, ...]
    drive_s: Floats
    road_m: Floats
    rules: Rules
    first_day: int
    last_day: int

    def at(self, visit: int) -> int:
        """Row of a visit in the matrices."""
        return len(self.crews) + visit


class Stop(Struct, frozen=True):
    """One visit on a day: which trip from the depot it belongs to, and its times."""

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
    notes: tuple[str, ...] = field(default_factory=tuple)
