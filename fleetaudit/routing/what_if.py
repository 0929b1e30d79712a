"""What a plan would be with one thing changed: a crew more, other overtime, a day more."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from fleetaudit.language import later
from fleetaudit.routing.model import HOUR_S, Crew, Plan, Problem, Shift, weekday
from fleetaudit.routing.plan import plan

#: differences of cost below this share are within what another seed of the search would change
UNCLEAR = 0.015
MORE_OVERTIME_S = 2 * HOUR_S
_YEAR_DAYS = 366


class Answer(Struct, frozen=True):
    """One changed plan beside the one that stands."""

    question: str
    plan: Plan
    clear: bool


def answers(base: Plan, effort: str, *, use_solver: bool) -> list[Answer]:
    """Plans of the usual questions, each with the effort of the base plan and no worse than it need be.

    The days of the base plan compete with those searched for.
    """
    found = []
    shifts = base.problem.shifts
    for question, problem in questions(base.problem):
        place = {(shift.crew, shift.day): number for number, shift in enumerate(problem.shifts)}
        start = [(place[shifts[day.shift].crew, shifts[day.shift].day], day.order) for day in base.days]
        orders = [(shift, tuple(map(problem.visit_of, order))) for shift, order in start]
        changed = plan(problem, effort, use_solver=use_solver, start=orders)
        gap = abs(changed.objective - base.objective) / max(abs(base.objective), 1.0)
        found.append(Answer(question, changed, gap >= UNCLEAR))
    return found


def questions(problem: Problem) -> Iterator[tuple[str, Problem]]:
    """Each question with its problem.

    What is left out is priced over the days of the base plan in all of them.
    """
    yield later("one crew more"), _crew_more(problem)
    yield later("no overtime"), _overtime(problem, 0)
    yield later("two hours of overtime"), _overtime(problem, MORE_OVERTIME_S)
    yield later("one day more"), _day_more(problem)


def _overtime(problem: Problem, seconds: int) -> Problem:
    return replace(problem, crews=tuple(replace(crew, overtime_s=seconds) for crew in problem.crews))


def _crew_more(problem: Problem) -> Problem:
    """A second crew like the first, on the same days."""
    twin = replace(problem.crews[0], name=f"{problem.crews[0].name}, second")
    at = len(problem.crews)
    shifts = [*problem.shifts, *(Shift(at, s.day) for s in problem.shifts if s.crew == 0)]

    def widened(
        matrix: np.ndarray[tuple[int, ...], np.dtype[np.float64]],
    ) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
        rows = [*range(at), 0, *range(at, len(matrix))]
        return np.asarray(matrix[np.ix_(rows, rows)])

    return replace(
        problem,
        crews=(*problem.crews, twin),
        shifts=tuple(sorted(shifts, key=lambda s: (s.day, s.crew))),
        drive_s=widened(problem.drive_s),
        road_m=widened(problem.road_m),
    )


def _day_more(problem: Problem) -> Problem:
    day = max((shift.day for shift in problem.shifts), default=problem.last_day) + 1
    for _ in range(_YEAR_DAYS):
        more = tuple(Shift(number, day) for number, crew in enumerate(problem.crews) if works(crew, day))
        if more:
            return replace(problem, shifts=(*problem.shifts, *more))
        day += 1
    return problem


def works(crew: Crew, day: int) -> bool:
    """True where a crew works on a day."""
    return weekday(day) in crew.weekdays and day not in crew.days_off
