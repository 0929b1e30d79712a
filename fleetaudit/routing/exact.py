"""The best plan of all for a handful of visits: every choice and order on every crew-day is tried."""

from __future__ import annotations

from itertools import permutations
from math import inf, isfinite, perm

from fleetaudit.routing.costs import left_cost
from fleetaudit.routing.model import Floats, Problem
from fleetaudit.routing.simulate import simulate

#: days that are tried at most; more would take longer than a search
MOST_DAYS = 20_000
Orders = tuple[tuple[int, tuple[int, ...]], ...]


def small_enough(problem: Problem) -> bool:
    """Whether every day can be tried in short time."""
    count = len(problem.visits)
    orders = sum(perm(count, size) for size in range(1, count + 1))
    return count > 0 and orders * len(problem.shifts) <= MOST_DAYS


def best(problem: Problem, prices: Floats) -> Orders:
    """Orders of visits by crew-day that cost least, with what they leave out.

    Crew-days are added one by one; of all plans that serve the same visits only the cheapest goes on.
    """
    plans: dict[int, tuple[float, Orders]] = {0: (0.0, ())}
    for shift in range(len(problem.shifts)):
        better = dict(plans)
        for served, (cost, order) in _days(problem, prices, shift).items():
            for before, (so_far, orders) in plans.items():
                both = before | served
                if not before & served and so_far + cost < better.get(both, (inf, ()))[0]:
                    better[both] = so_far + cost, (*orders, (shift, order))
        plans = better
    return min(plans.items(), key=lambda plan: (plan[1][0] + _lost(problem, plan[0]), plan[0]))[1][1]


def _days(problem: Problem, prices: Floats, shift: int) -> dict[int, tuple[float, tuple[int, ...]]]:
    """Cheapest day for every set of visits that a crew-day can serve; sets are bits of an integer."""
    possible = [visit for visit in range(len(problem.visits)) if isfinite(prices[visit, shift])]
    found: dict[int, tuple[float, tuple[int, ...]]] = {}
    for size in range(1, len(possible) + 1):
        for order in permutations(possible, size):
            day = simulate(problem, shift, order)
            served = sum(1 << visit for visit in order)
            cost = day.cost + sum(float(prices[visit, shift]) for visit in order)
            if not day.faults and cost < found.get(served, (inf, ()))[0]:
                found[served] = cost, order
    return found


def _lost(problem: Problem, served: int) -> float:
    return sum(left_cost(problem, visit) for visit in range(len(problem.visits)) if not served >> visit & 1)
