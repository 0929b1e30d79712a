"""After a proposal.

The best order of short days, impossible stops dropped, left ones inserted where it pays.
"""

from __future__ import annotations

from itertools import permutations

from fleetaudit.routing.costs import left_cost
from fleetaudit.routing.greedy import Board
from fleetaudit.routing.improve import improve
from fleetaudit.routing.model import DayPlan
from fleetaudit.routing.simulate import simulate

#: stops of a day up to which every order is tried, and one more where the day does not work
TRIED, TRIED_HARD = 6, 7


def repair(board: Board, tries: int = 0, seed: int = 1) -> None:
    """Make every day possible, and no worse than it was.

    What rides along comes last, so that it takes the place of nothing.
    """
    board.drop_riders()
    for shift, day in enumerate(board.days):
        board.days[shift] = _possible(board, resequenced(board, day))
    board.insert(set(range(len(board.problem.visits))) - board.planned() - _placeless(board))
    improve(board, tries, seed)
    for shift, day in enumerate(board.days):
        board.days[shift] = resequenced(board, day)
    board.take_riders()


def _placeless(board: Board) -> set[int]:
    return {
        number for number, job in enumerate(board.problem.visits) if job.place is None and not job.matrix_id
    }


def resequenced(board: Board, day: DayPlan) -> DayPlan:
    """Best order of a short day; longer ones stay as they are."""
    most = TRIED_HARD if day.faults else TRIED
    if not 1 < len(day.order) <= most:
        return day
    best, best_key = day, (_trouble(day), day.cost)
    for order in permutations(sorted(day.order)):
        tried = simulate(board.problem, day.shift, order)
        key = (_trouble(tried), tried.cost)
        if key < best_key:
            best, best_key = tried, key
    return best


def _trouble(day: DayPlan) -> float:
    return sum(fault.amount + 1 for fault in day.faults)


def _possible(board: Board, day: DayPlan) -> DayPlan:
    """Drop the stops that are worth least until the day works."""
    while day.faults:
        least = min(
            day.order, key=lambda visit: (left_cost(board.problem, visit), board.problem.visits[visit].id)
        )
        order = tuple(visit for visit in day.order if visit != least)
        day = resequenced(board, simulate(board.problem, day.shift, order))
    return day
