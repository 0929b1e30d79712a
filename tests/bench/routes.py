"""How good routes are: published instances on the caller's disk, and invented fleets against simpler plans.

    python -m tests.bench.routes                      invented fleets of 120 and 400 sites
    python -m tests.bench.routes --instance C101.txt --best 827.3 --round dimacs
    python -m tests.bench.routes --instance X-n101-k25.vrp --best 27591 --round round

No text of a published instance is kept here. Best-known costs are given by the caller from the source of
the file.
"""

from __future__ import annotations

import argparse
import sys
import time
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from msgspec.structs import replace

from fleetaudit.routing import solver
from fleetaudit.routing.costs import left_cost, price_table, worth
from fleetaudit.routing.greedy import Board
from fleetaudit.routing.model import KM_M, MINUTE_S, Crew, Place, Problem, Shift, Visit
from fleetaudit.routing.plan import finished, plan

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "routing"))
from invented_routes import RULES, invented

SECONDS = (5, 15, 60)
FLEETS = {120: (2, 10, "normal"), 400: (4, 20, "quick")}
SEED = 3
CENTS = 100
#: what must be visited is worth more than any way; a prize is a value of 1 that grew so often
NEVER_LEFT, GROWTH = 20_000.0, 1.0001
NO_LIMIT = 1e9


class CpuSeconds:
    """Stops a search after so many seconds of processor time."""

    def __init__(self, seconds: float) -> None:
        self.end = time.process_time() + seconds

    def __call__(self, best: float) -> bool:
        return time.process_time() >= self.end


def as_problem(path: Path, rounding: str) -> tuple[Problem, float]:
    """Published instance as crew-days of one day, and how many of its integers make one of its units.

    An integer of its ways counts as a cent, one of its times as a minute, one of its loads as a kilogram, of
    its prizes as a cent. What our model does not know (fixed price of a vehicle, longest time on the road
    within a longer day, release times, pairs of pick-up and delivery) is refused.
    """
    data = read(path, rounding)
    ways, times = data.distance_matrix(0), data.duration_matrix(0)
    latest = int(times.max()) * (data.num_clients + 1) + 1
    crews, rows = [], []
    for kind in data.vehicle_types():
        ends = min(kind.tw_late, latest)
        _refuse(path, kind.fixed_cost > 0 or kind.shift_duration < ends - kind.tw_early)
        made = Crew(
            "crew", Place(-45.0, -20.0, "instance"), frozenset(range(7)), kind.tw_early * MINUTE_S,
            ends * MINUTE_S, float(min(kind.capacity[0], NO_LIMIT)), 1.0, 1, 0, 0.0, 0.0,
            float(kind.unit_distance_cost), 0,
        )  # fmt: skip
        crews += [replace(made, name=f"crew {len(crews) + number}") for number in range(kind.num_available)]
        rows += [data.depot(kind.start_depot).location] * kind.num_available
    _refuse(path, data.num_profiles > 1 or data.num_groups > 0 or data.num_clients == 0)
    visits = []
    for number in range(data.num_clients):
        client = data.client(number)
        _refuse(path, client.release_time > 0)
        opens, closes = client.tw_early, min(client.tw_late, latest) + client.service_duration
        worth = NEVER_LEFT if client.required else client.prize / CENTS
        visits.append(Visit(
            f"{number}", "", (), Place(-45.0, -20.0, "instance"), client.service_duration * MINUTE_S,
            float(client.delivery[0]), 0.0, float(client.pickup[0]), 1, 5, 0,
            ((opens * MINUTE_S, closes * MINUTE_S),) * 7,
            times_left=round(np.log(worth) / np.log(GROWTH)),
        ))  # fmt: skip
        rows.append(client.location)
    shifts = tuple(Shift(number, 0) for number in range(len(crews)))
    rules = replace(RULES, lunch_s=0, value=(1.0,) * 5, lateness=(0.0,) * 5, ageing=GROWTH)
    square = np.ix_(rows, rows)
    problem = Problem(
        tuple(visits),
        tuple(crews),
        shifts,
        times[square] * float(MINUTE_S),
        ways[square] / CENTS * KM_M,
        rules,
        0,
        0,
    )
    return problem, {"dimacs": 10, "exact": 1000}.get(rounding, 1)


def read(path: Path, rounding: str) -> Any:
    """Instance as the solver's own reader has it."""
    import pyvrp  # noqa: PLC0415 - optional, and slow to load

    return pyvrp.read(path, round_func=rounding)


def _refuse(path: Path, unlike: bool) -> None:
    if unlike:
        raise SystemExit(f"{path.name} asks for something our model does not know.")


def instance(path: Path, best: float | None, rounding: str, seed: int) -> None:
    """Gap to the best known of one published instance, through the adapter, its days run by our clock.

    Beside it stands the solver used on the file as its own reader gives it, with the same budget. A cost is
    the way driven and the prizes not collected.
    """
    import pyvrp  # noqa: PLC0415 - as above

    problem, scale = as_problem(path, rounding)
    prices, data = price_table(problem), read(path, rounding)
    for seconds in SECONDS:
        board = Board(problem, prices)
        for shift, order in solver.propose(problem, prices, 0, seed, CpuSeconds(seconds)):
            board.put(shift, order)
        faults = sum(len(day.faults) for day in board.days)
        left = set(range(len(problem.visits))) - board.planned()
        cost = sum(day.cost for day in board.days) + sum(worth(problem, visit) for visit in left)
        direct = pyvrp.solve(data, stop=CpuSeconds(seconds), seed=seed, display=False, collect_stats=False)
        gaps = [
            f"{number * unit:10.1f}"
            + ("" if best is None else f" ({100 * (number * unit / best - 1):5.2f} %)")
            for number, unit in ((cost, CENTS / scale), (direct.cost(), 1 / scale))
        ]
        print(
            f"{path.name:20s} {seconds:3d} s CPU  adapter {gaps[0]}  solver alone {gaps[1]}"
            f"  left out {len(left)}  days that fail {faults}",
            flush=True,
        )


def single_pass(problem):
    """Straightforward use of the solver: one run, its days taken as they come.

    From a day that does not work, stops are dropped one by one. No lunch is allowed for beforehand, and
    nothing is put into another order or inserted afterwards.
    """
    prices = price_table(problem)
    without = replace(problem, rules=replace(problem.rules, lunch_s=0))
    board = Board(problem, prices)
    for shift, order in solver.propose(without, prices, 2_500, 1):
        day = board.put(shift, order)
        while day.faults:
            least = min(day.order, key=lambda visit: left_cost(problem, visit))
            day = board.put(shift, tuple(visit for visit in day.order if visit != least))
    return finished(problem, board, "single pass")


def fleets(wanted: list[int]) -> None:
    """Invented fleets: this plan, the greedy plan, and a single pass of the solver."""
    for sites in wanted:
        crews, days, effort = FLEETS[sites]
        problem = invented(sites, crews, days, SEED)
        ways = {
            "this plan": partial(plan, problem, effort),
            "greedy plan": partial(plan, problem, use_solver=False),
            "single pass": partial(single_pass, problem),
        }
        for name, make in ways.items():
            start = time.process_time()
            made = make()
            used = time.process_time() - start
            print(
                f"{sites:4d} sites  {name:12s} cost {made.objective:10,.0f}  left out {len(made.left_out):4d}"
                f"  of {sites}  {used:6.1f} s CPU"
            )


def main() -> None:
    """Run what was asked for."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument(
        "--instance", type=Path, action="append", default=[], help="file of a published instance"
    )
    parser.add_argument("--best", type=float, help="its best known cost")
    parser.add_argument("--round", default="dimacs", choices=["dimacs", "round", "exact", "trunc", "none"])
    parser.add_argument(
        "--sites", type=int, action="append", choices=sorted(FLEETS), help="size of the invented fleet"
    )
    given = parser.parse_args()
    for path in given.instance:
        instance(path, given.best, given.round, SEED)
    if not given.instance:
        fleets(given.sites or sorted(FLEETS))


if __name__ == "__main__":
    main()
