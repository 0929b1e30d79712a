"""How long things take, each beside the same work done by a general library in the same run.

Run `python -m tests.bench` from the top folder. The two sides of a figure are processes of their own, taken
in turns so that a busy machine slows both; start-up, reading and writing count. A figure is the ratio of the
medians: its bar must hold, its aim is where it should go. `--quick` leaves out what takes minutes: 10 million
units, 2,000 workbooks through the server, datasets.
"""

from __future__ import annotations

import argparse
import os
import platform
import sys
import tempfile
from pathlib import Path
from statistics import median

from tests.bench.datasets import datasets
from tests.bench.processes import Side, in_turns
from tests.bench.splice import splice
from tests.bench.table import Figure, line, title
from tests.bench.workbooks import build

AS_OF = "2026-11-01"
MILLION = 1_000_000
#: units -> rounds, bar and aim of the time, aim of the memory
SIZES: dict[int, tuple[int, float, float, float | None]] = {
    300: (9, 1.5, 1.0, None),
    5_000: (5, 1.0, 0.5, None),
    50_000: (2, 1.0, 0.35, 0.5),
}
HELP_ROUNDS = 15
PURE_ROUNDS = 5
SOAKED = 2_000

LOAD_AND_SAVE = """
import sys
import openpyxl
openpyxl.load_workbook(sys.argv[1]).save(sys.argv[2])
"""


def workbook(folder: Path, units: int, rounds: int | None) -> list[Figure]:
    """The whole `audit` command against openpyxl loading and saving the same workbook."""
    usual, bar, aim, memory = SIZES.get(units, (3, 1.0, 0.5, None))
    path = folder / f"bench_{units}.xlsx"
    build(path, units)
    audit = [
        sys.executable,
        "-m",
        "fleetaudit",
        "audit",
        str(path),
        "--as-of",
        AS_OF,
        "--force",
        "-o",
        str(folder),
    ]
    plain = [sys.executable, "-c", LOAD_AND_SAVE, str(path), str(folder / "saved.xlsx")]
    ours, theirs = in_turns(folder, audit, plain, rounds or usual)
    what = f"audit of {units:,} units : openpyxl load and save"
    figures = [Figure(what, ours.median, theirs.median, "s", bar, aim, ours.busy / theirs.busy)]
    if memory is not None:
        figures.append(Figure(f"  peak memory at {units:,}", ours.peak_mb, theirs.peak_mb, "MB", 1.0, memory))
    return figures


def start(folder: Path) -> list[Figure]:
    """The help text against the import of the library that the command line is made with."""
    ours, theirs = in_turns(
        folder,
        [sys.executable, "-m", "fleetaudit", "--help"],
        [sys.executable, "-c", "import click"],
        HELP_ROUNDS,
    )
    return [
        Figure("--help : import click", ours.median, theirs.median, "s", 1.6, 1.6, ours.busy / theirs.busy)
    ]


def soaked(folder: Path) -> list[Figure]:
    """Memory after 2,000 workbooks through the page's server in one process, over that after 400."""
    side = Side(folder, [sys.executable, "-m", "tests.bench.soak", "--workbooks", str(SOAKED), "--figures"])
    late, early = (float(word) for word in side.run().split()[-2:])
    return [Figure(f"memory after {SOAKED:,} workbooks : a fifth of them", late, early, "MB", 1.2, 1.05)]


def pure(folder: Path, *, long: bool) -> list[Figure]:
    """All checks on a frame in parts against the same table through Parquet, and ten times the units."""
    audits, tables = (
        Side(folder, [sys.executable, "-m", "tests.bench.pure", what, str(MILLION), str(folder)])
        for what in ("audit", "parquet")
    )
    # in turns; the first one compiles, and does not count
    turns = [(audits.told(), tables.told()) for _ in range(1 + PURE_ROUNDS)][1:]
    seconds, theirs = (median(side[0] for side in sides) for sides in zip(*turns, strict=True))
    one = seconds, max(ours[1] for ours, _ in turns)
    figures = [Figure("checks on 1 million units : Parquet written and read", seconds, theirs, "s", 4.0, 4.0)]
    if long:
        more = [sys.executable, "-m", "tests.bench.pure", "audit", str(10 * MILLION), str(folder)]
        ten = Side(folder, more).told()
        figures += [
            Figure("10 million units : 1 million, time", ten[0], one[0], "s", 10.5, 10.5),
            Figure("10 million units : 1 million, peak memory", ten[1], one[1], "MB", 1.5, 1.2),
        ]
    return figures


def main() -> int:
    """Print the table; exit 1 where a bar is missed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument(
        "--units", type=int, nargs="*", help="sizes of workbook to run (default: 300 5000 50000)"
    )
    parser.add_argument("--rounds", type=int, help="rounds of each size instead of the usual number")
    kinds = ["workbook", "splice", "start", "pure", "dataset", "soak"]
    parser.add_argument("--only", choices=kinds, help="one kind of figure alone")
    parser.add_argument("--quick", action="store_true", help="leave out what takes minutes")
    wanted = parser.parse_args()
    print(f"Python {platform.python_version()}, {os.cpu_count()} processors, {platform.machine()}")
    print(title())
    missed = 0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        jobs = {
            "workbook": [
                lambda units=units: workbook(folder, units, wanted.rounds) for units in wanted.units or SIZES
            ],
            "splice": [lambda: splice(folder, wanted.rounds)],
            "start": [lambda: start(folder)],
            "pure": [lambda: pure(folder, long=not wanted.quick)],
            "dataset": [] if wanted.quick else [lambda: datasets(folder)],
            "soak": [] if wanted.quick else [lambda: soaked(folder)],
        }
        for kind, calls in jobs.items():
            for call in calls if wanted.only in (None, kind) else ():
                for figure in call():
                    print(line(figure), flush=True)
                    missed += figure.missed
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
