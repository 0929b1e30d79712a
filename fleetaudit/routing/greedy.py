"""Cheapest insertion, most urgent first.

The plan where no solver is installed, and the last step after one.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import inf

from fleetaudit.routing.costs import LOCK_VALUE, left_cost, riders_worth, worth
from fleetaudit.routing.model import DayPlan, Floats, Problem
from fleetaudit.routing.simulate import simulate


class Board:
    """Orders of all crew-days with their costs, changed one insertion at a time."""

    def __init__(self, problem: Problem, prices: Floats) -> None:
        self.problem, self.prices = problem, prices
        self.days: list[DayPlan] = [simulate(problem, shift, ()) for shift in range(len(problem.shifts))]

    def put(self, shift: int, order: tuple[int, ...]) -> DayPlan:
        """Give a crew-day another order."""
        self.days[shift] = simulate(self.problem, shift, order)
        return self.days[shift]

    def planned(self) -> set[int]:
        """Visits on any day, with or without what rides along."""
        return {self.problem.visit_of(job) for day in self.days for job in day.order}

    def insert(self, waiting: Iterable[int]) -> None:
        """Put each visit, most valuable first, where it costs least.

        It stays out where that is more than leaving it loses.
        """
        worth = {visit: left_cost(self.problem, visit) for visit in waiting}
        for visit in sorted(worth, key=lambda one: (-worth[one], self.problem.visits[one].id)):
            found = self.cheapest(visit)
            if found is not None and found[0] < worth[visit]:
                self.days[found[1]] = found[2]

    def drop_riders(self) -> None:
        """Take every visit in its shorter form."""
        for shift, day in enumerate(self.days):
            order = tuple(map(self.problem.visit_of, day.order))
            if order != day.order:
                self.put(shift, order)

    def take_riders(self) -> None:
        """Let ride along what has room on the day of its visit and costs less than it is worth."""
        planned = [(shift, job) for shift, day in enumerate(self.days) for job in day.order]
        named = {job: (-riders_worth(self.problem, job), self.problem.jobs[job].id) for _, job in planned}
        for shift, job in sorted(planned, key=lambda one: named[one[1]]):
            if riders_worth(self.problem, job) > 0 and job == self.problem.visit_of(job):
                longer, cost = self.with_riders(shift, job)
                if not longer.faults and cost < riders_worth(self.problem, job):
                    self.days[shift] = longer

    def with_riders(self, shift: int, visit: int) -> tuple[DayPlan, float]:
        """How a day runs where a visit on it is made in its longer form, and what that adds to its cost."""
        day, job = self.days[shift], self.problem.longer(visit)
        tried = simulate(self.problem, shift, tuple(job if one == visit else one for one in day.order))
        return tried, tried.cost - day.cost + float(self.prices[job, shift] - self.prices[visit, shift])

    def cheapest(self, visit: int) -> tuple[float, int, DayPlan] | None:
        """Least added cost of a visit, the crew-day, and how that day then runs."""
        best: tuple[float, int, DayPlan] | None = None
        for shift, day in enumerate(self.days):
            price = float(self.prices[visit, shift])
            limit = inf if best is None else best[0]
            if price >= limit:
                continue
            for place in range(len(day.order) + 1):
                order = (*day.order[:place], visit, *day.order[place:])
                tried = simulate(self.problem, shift, order)
                added = tried.cost - day.cost + price
                if not tried.faults and added < limit:
                    best, limit = (added, shift, tried), added
        return best

    def objective(self) -> float:
        """Cost of all days, prices of what is on them, and value of what is not.

        A lost lock outweighs all of it.
        """
        lost = set(range(len(self.problem.visits))) - self.planned()
        locks = sum(self.problem.visits[visit].lock is not None for visit in lost)
        return objective(self.problem, self.days, self.prices) + LOCK_VALUE * locks


def objective(problem: Problem, days: Iterable[DayPlan], prices: Floats) -> float:
    """Money a plan costs, with what it leaves out counted as value lost."""
    total = 0.0
    planned: set[int] = set()
    for day in days:
        total += day.cost + sum(float(prices[visit, day.shift]) for visit in day.order)
        planned.update(day.order)
    for visit in range(len(problem.visits)):
        if problem.longer(visit) not in planned:
            total += riders_worth(problem, visit) + (0.0 if visit in planned else worth(problem, visit))
    return total


def greedy(problem: Problem, prices: Floats) -> Board:
    """Plan by cheapest insertion."""
    board = Board(problem, prices)
    board.insert(visit for visit, job in enumerate(problem.visits) if job.place is not None or job.matrix_id)
    return board
