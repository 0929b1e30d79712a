"""How good routes are: published instances the caller has on disk, and invented fleets against simpler planning.

    python -m tests.bench.routes                      invented fleets of 120 and 400 sites
    python -m tests.bench.routes --instance C101.txt --best 827.3 --round dimacs
    python -m tests.bench.routes --instance X-n101-k25.vrp --best 27591 --round round

No text of a published instance is kept here. Best-known costs are given by the caller from the source of the file.
"""

from __future__ import annotations

import argparse
import sys
import time
from dataclasses import replace
from pathlib import Path


from fleetaudit.routing import solver
from fleetaudit.routing.costs import left_cost, price_table
from fleetaudit.routing.greedy import Board
from fleetaudit.routing.plan import finished, plan

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "routing"))
from invented_routes import invented

SECONDS = (5, 15, 60)
FLEETS = {120: (2, 10, "normal"), 400: (4, 20, "quick")}
SEED = 3


class CpuSeconds:
    """Stops a search after so many seconds of processor time."""

    def __init__(self, seconds: float) -> None:
        self.end = time.process_time() + seconds

    def __call__(self, best: float) -> bool:
        return time.process_time() >= self.end


def instance(path: Path, best: float | None, rounding: str, seed: int) -> None:
    """Gap to the best known of one published instance, read and solved by the solver the adapter uses."""
    import pyvrp

    data = pyvrp.read(path, round_func=rounding)
    scale = {"dimacs": 10, "exact": 1000}.get(rounding, 1)
    for seconds in SECONDS:
        found = pyvrp.solve(data, stop=CpuSeconds(seconds), seed=seed, collect_stats=False)
        cost = found.cost() / scale
        gap = "" if best is None else f"  gap {100 * (cost / best - 1):6.2f} %"
        print(f"{path.name:24s} {seconds:3d} s CPU  cost {cost:12.1f}{gap}  feasible {found.is_feasible()}")


def single_pass(problem):
    """Straightforward use of the solver: one run, its days taken as they come, those that do not work dropped stop by stop.

    No lunch is allowed for beforehand, and nothing is put into another order or inserted afterwards.
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
            "this plan": lambda: plan(problem, effort),
            "greedy plan": lambda: plan(problem, use_solver=False),
            "single pass": lambda: single_pass(problem),
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
