"""Taking neighbouring visits out of a plan and putting them back better, under the true clock.

The solver plans with an approximation of lunch; here the simulator decides, so that what the approximation
hid is found. The number of days tried is fixed, and so are the draws: the same plan gives the same plan.
"""

from __future__ import annotations

from itertools import combinations
from random import Random

import numpy as np

from fleetaudit.routing.costs import left_cost
from fleetaudit.routing.greedy import Board
from fleetaudit.routing.model import DayPlan

#: most visits taken out at a time, and how many of those left out are tried beside them
OUT, LEFT_TRIED = 5, 2
#: share of turns that take out near ones, and those of a day
NEAR, DAY = 0.4, 0.2
#: share by which a plan may get worse for a while
WORSE = 0.02
#: money below which a plan is no better
LEAST = 0.005
#: turns without a gain after which nothing more is expected, and of those per visit
IDLE, IDLE_EACH = 100, 6


def improve(board: Board, tries: int, seed: int) -> None:
    """Better the plan of a board until so many days were tried, or nothing was gained for long."""
    search = _Search(board, tries, seed)
    while search.goes_on():
        search.turn()
    board.days[:] = search.best
    if tries:
        exchange_days(board)


def exchange_days(board: Board) -> None:
    """Let two crew-days take over each other's visits where that costs less, until no two would."""
    while any(_exchanged(board, one, two) for one, two in combinations(range(len(board.days)), 2)):
        pass


def _exchanged(board: Board, one: int, two: int) -> bool:
    first, second = board.days[one], board.days[two]
    if not first.order and not second.order:
        return False
    pairs = ((one, second.order), (two, first.order))
    if not all(np.isfinite(board.prices[job, shift]) for shift, order in pairs for job in order):
        return False
    gain = _cost(board, first) + _cost(board, second)
    for shift, order in pairs:
        gain -= _cost(board, board.put(shift, order))
    if gain > LEAST and not board.days[one].faults and not board.days[two].faults:
        return True
    board.days[one], board.days[two] = first, second
    return False


def _cost(board: Board, day: DayPlan) -> float:
    return day.cost + sum(float(board.prices[job, day.shift]) for job in day.order)


class _Search:
    """The visits that can be planned, how near they are to each other, and the best plan so far."""

    def __init__(self, board: Board, tries: int, seed: int) -> None:
        self.board, self.problem, self.tries, self.left = board, board.problem, tries, tries
        self.draw = Random(seed)
        problem = self.problem
        possible = np.isfinite(board.prices[: len(problem.visits)]).any(axis=1)
        self.visits = [int(visit) for visit in np.flatnonzero(possible)]
        rows = [problem.at(visit) for visit in self.visits]
        self.near = np.argsort(problem.drive_s[np.ix_(rows, rows)], axis=1, kind="stable")
        self.worth = {visit: left_cost(problem, visit) for visit in self.visits}
        self.cost = self.least = board.objective()
        self.best = list(board.days)
        self.idle = 0

    def goes_on(self) -> bool:
        """True while there is anything left to try."""
        return len(self.visits) > 1 and self.left > 0 and self.idle < IDLE + IDLE_EACH * len(self.visits)

    def turn(self) -> None:
        """Take some visits out and put them back.

        What comes of it stays where it costs less, or little more while there are many tries left.
        """
        board, days = self.board, list(self.board.days)
        out = self._chosen()
        self._insert(self._waiting(out))
        cost = board.objective()
        if cost < self.least - LEAST:
            self.least, self.best, self.idle = cost, list(board.days), 0
        else:
            self.idle += 1
        if cost < self.cost + WORSE * self.least * self.left / self.tries:
            self.cost = cost
        else:
            board.days[:] = days

    def _chosen(self) -> list[int]:
        """A visit and the nearest to it, or all of a day, or any others."""
        middle = self.draw.randrange(len(self.visits))
        count = self.draw.randint(1, min(OUT, len(self.visits)))
        kind = self.draw.random()
        if kind < NEAR:
            return [self.visits[place] for place in self.near[middle][:count].tolist()]
        if kind < NEAR + DAY:
            return list(self.draw.choice(self.board.days).order)
        return self.draw.sample(self.visits, count)

    def _waiting(self, out: list[int]) -> list[int]:
        """Take visits off their days; gives them with some that have waited all along."""
        for shift, day in enumerate(self.board.days):
            order = tuple(visit for visit in day.order if visit not in out)
            if len(order) < len(day.order):
                self.left -= 1
                self.board.put(shift, order)
        planned = self.board.planned()
        others = [visit for visit in self.visits if visit not in planned and visit not in out]
        return [*out, *self.draw.sample(others, min(len(others), LEFT_TRIED))]

    def _insert(self, waiting: list[int]) -> None:
        """Most valuable first, or in any order; each where it adds least, if it is worth that."""
        self.draw.shuffle(waiting)
        if self.draw.random() < 1 / 2:
            waiting.sort(key=lambda visit: -self.worth[visit])
        for visit in waiting:
            found = self.board.cheapest(visit)
            self.left -= sum(len(day.order) + 1 for day in self.board.days)
            if found is not None and found[0] < self.worth[visit]:
                self.board.days[found[1]] = found[2]
