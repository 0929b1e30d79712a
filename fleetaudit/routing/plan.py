"""plan(): from a problem to a plan that was checked and says why visits wait."""

from __future__ import annotations

from collections.abc import Iterable

from msgspec import Struct
from msgspec.structs import replace

from fleetaudit.errors import RouteError
from fleetaudit.routing import exact, solver
from fleetaudit.routing.check import wrong_with
from fleetaudit.routing.costs import price_table
from fleetaudit.routing.greedy import Board, greedy, objective
from fleetaudit.routing.left_out import broken_locks, explain, explain_riders
from fleetaudit.routing.model import Floats, Plan, Problem
from fleetaudit.routing.repair import repair

Orders = Iterable[tuple[int, tuple[int, ...]]]
GREEDY, SOLVED = "greedy plan", "solver plan"
QUICK, NORMAL, THOROUGH = "quick", "normal", "thorough"


class Effort(Struct, frozen=True):
    """How hard the solver tries: iterations, and the seeds of which the best plan is kept."""

    iterations: int
    tries: int
    seeds: tuple[int, ...]


EFFORTS = {
    QUICK: Effort(1_000, 20_000, (1,)),
    NORMAL: Effort(2_500, 60_000, (1,)),
    THOROUGH: Effort(25_000, 300_000, (1, 2, 3)),
}


def plan(problem: Problem, effort: str = NORMAL, *, use_solver: bool = True, start: Orders = ()) -> Plan:
    """Plan of a problem: the better of the solver's repaired proposals and the greedy one.

    With a handful of visits every plan is tried instead; orders of crew-days to `start` from compete too.
    Same input, same plan.
    """
    prices, tries = price_table(problem), EFFORTS[effort]
    solved = use_solver and solver.installed()
    any_work = bool(problem.visits and problem.shifts)
    whole = solved and any_work and exact.small_enough(problem)
    boards = [greedy(problem, prices)]
    if start:
        boards.append(_board(problem, prices, start))
    if whole:
        boards.append(_board(problem, prices, exact.best(problem, prices)))
    elif solved and any_work:
        proposals = (solver.propose(problem, prices, tries.iterations, seed) for seed in tries.seeds)
        boards += [_board(problem, prices, orders) for orders in proposals]
    for board in boards:
        repair(board)
    board = min(boards, key=lambda one: round(one.objective(), 2))
    if not whole:
        _improve(board, tries.tries)
    return finished(problem, board, SOLVED if solved else GREEDY)


def _improve(board: Board, tries: int) -> None:
    """Better a plan further; what rides along may lose by it, and then the plan stays as it was."""
    days, cost = list(board.days), board.objective()
    repair(board, tries)
    if board.objective() > cost:
        board.days[:] = days


def _board(problem: Problem, prices: Floats, orders: Orders) -> Board:
    board = Board(problem, prices)
    for shift, order in orders:
        board.put(shift, order)
    return board


def finished(problem: Problem, board: Board, method: str) -> Plan:
    """Plan of a board with its reasons, checked.

    A plan that fails its check is an error of ours and stops the run.
    """
    planned = board.planned()
    left = [explain(board, visit) for visit in range(len(problem.visits)) if visit not in planned]
    short = {job for day in board.days for job in day.order if job < len(problem.visits)}
    left += [explain_riders(board, visit) for visit in sorted(short) if problem.visits[visit].riders]
    days = tuple(day for day in board.days if day.order)
    cost = objective(problem, days, board.prices)
    made = Plan(problem, days, tuple(left), tuple(broken_locks(board, left)), cost, method)
    made = replace(made, moved=_moved(made))
    wrong = wrong_with(made)
    if wrong:
        raise RouteError(
            "The plan failed its own check, so nothing was written: " + "; ".join(wrong[:3]) + "."
        )
    return made


def _moved(made: Plan) -> tuple[int, ...]:
    """Visits that the last plan had on another crew-day, or at all where this one leaves them."""
    now = {
        made.problem.visit_of(stop.visit): made.problem.shifts[day.shift]
        for day in made.days
        for stop in day.stops
    }
    moved = []
    for number, job in enumerate(made.problem.visits):
        before = job.promise
        if before is None:
            continue
        shift = now.get(number)
        if shift is None or (made.problem.crews[shift.crew].name, shift.day) != (before.crew, before.day):
            moved.append(number)
    return tuple(moved)
