"""What a visit costs or forbids on a crew-day beside the driving, and what leaving it out loses."""

from __future__ import annotations

from math import inf

import numpy as np

from fleetaudit.language import later
from fleetaudit.routing.model import Crew, Floats, Lock, Problem, Shift, Visit

#: a pinned visit is worth more than any detour
LOCK_VALUE = 100_000.0
#: what rules a crew-day out
PLACE_UNKNOWN, LOAD_UNKNOWN = later("place not known"), later("load not known")
AGAINST_LOCK, CREW_SMALL = later("against the lock"), later("crew too small")
SKILL_LACKS, CLOSED = later("crew without the skill"), later("site closed")
EARLY, LATE = later("before its earliest date"), later("after its latest date")


def left_cost(problem: Problem, visit: int) -> float:
    """What the search is to count for leaving a visit out.

    Its worth, and more than any detour where it is pinned.
    """
    return worth(problem, visit) + (LOCK_VALUE if problem.jobs[visit].lock is not None else 0.0)


def worth(problem: Problem, visit: int) -> float:
    """Value lost where a visit is left out.

    Its own, grown with every plan that left it, and the days it waits. What rides along is not counted.
    """
    job, rules = problem.jobs[visit], problem.rules
    waiting = max(0, problem.last_day + 1 - max(job.due_day, problem.first_day))
    value = (
        rules.value[job.priority - 1] * rules.ageing**job.times_left
        + rules.lateness[job.priority - 1] * waiting
    )
    if job.promise is not None:
        value += _move_price(problem, job)
    return value


def riders_worth(problem: Problem, visit: int) -> float:
    """Value lost where nothing rides along with a visit."""
    riders = problem.visits[problem.visit_of(visit)].riders
    return 0.0 if riders is None else riders.worth


def on_day(problem: Problem, visit: int, shift: Shift) -> float:
    """Price of a visit on a crew-day, infinite where it is ruled out."""
    job = problem.jobs[visit]
    if ruled_out(problem, job, shift):
        return inf
    late = max(0, shift.day - max(job.due_day, problem.first_day))
    price = problem.rules.lateness[job.priority - 1] * late
    before = job.promise
    if before is not None and (before.day, before.crew) != (shift.day, problem.crews[shift.crew].name):
        price += _move_price(problem, job)
    return price


def ruled_out(problem: Problem, job: Visit, shift: Shift) -> str:
    """Why a visit cannot be on a crew-day whatever else is on it; "" where it can."""
    crew = problem.crews[shift.crew]
    if job.place is None and not job.matrix_id:
        return PLACE_UNKNOWN
    if job.no_load:
        return LOAD_UNKNOWN
    unable = _off_day(job, shift.day) or _unable(job, crew)
    if unable:
        return unable
    if job.lock is not None and not keeps(job.lock, crew.name, shift.day):
        return AGAINST_LOCK
    return ""


def _unable(job: Visit, crew: Crew) -> str:
    if job.people > crew.people:
        return CREW_SMALL
    return "" if job.skills <= crew.skills else SKILL_LACKS


def _off_day(job: Visit, day: int) -> str:
    if job.earliest_day is not None and day < job.earliest_day:
        return EARLY
    if job.latest_day is not None and day > job.latest_day:
        return LATE
    return CLOSED if job.window(day) is None else ""


def keeps(lock: Lock, crew: str, day: int) -> bool:
    """True where a crew and a day are what a lock asks for."""
    return (not lock.crew or lock.crew.casefold() == crew.casefold()) and (
        lock.day is None or lock.day == day
    )


def price_table(problem: Problem) -> Floats:
    """Price of each visit, without and with what rides along, on each crew-day; infinite where ruled out."""
    forms = 2 * len(problem.visits)
    table = np.empty((forms, len(problem.shifts)))
    for visit in range(forms):
        for number, shift in enumerate(problem.shifts):
            table[visit, number] = on_day(problem, visit, shift)
    return table


def _move_price(problem: Problem, job: Visit) -> float:
    before, rules = job.promise, problem.rules
    if before is None:
        return 0.0
    soon = before.day - problem.first_day <= rules.soon_days
    return rules.move_price_soon if soon or before.confirmed else rules.move_price
