"""How long the whole audit command takes, against a library merely loading and saving the same workbook.

Run `python -m tests.bench` from the top folder (or `python tests/bench`). Both sides are processes of their
own, taken in turns so that a busy machine slows both; start-up and writing count. The bar is the ratio of the
medians.
"""

from __future__ import annotations

import argparse
import os
import platform
import random
import statistics
import sys
import tempfile
import time
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import xlsxwriter

ROOT = Path(__file__).resolve().parent.parent.parent
AS_OF = "2026-11-01"
SEED = 20_261
#: units -> rounds, and the most the ratio may be (None: stated, not judged)
SIZES: dict[int, tuple[int, float | None]] = {300: (9, 1.5), 5_000: (5, 1.0), 50_000: (3, None)}

LINE = "{:>7} {:>6} | {:>8} {:>5} | {:>11} {:>5} | {:>6} {:>11}  {}"

LOAD_AND_SAVE = """
import sys
import openpyxl
openpyxl.load_workbook(sys.argv[1]).save(sys.argv[2])
"""

#: heading and how a cell of the column is drawn; 25 columns
HEADINGS = (
    "Unit ID",
    "Account",
    "City",
    "Status",
    "Vessel label",
    "Vessel size",
    "Medium",
    "Mesh",
    "Purpose",
    "Media volume (ft3)",
    "Install date",
    "Crew",
    "Media date",
    "Restrictor (gpm)",
    "Restrictor labelled",
    "Housing",
    "Connections",
    "Backwash minutes",
    "Days between washes",
    "Service flow (gpm)",
    "Supply flow (gpm)",
    "Water source",
    "pH",
    "Route",
    "Note",
)
#: medium, mesh, purpose, gpm per ft2 to fit; practice figures, from memory, unverified
MEDIA = (
    ("activated carbon", "12x40", "chlorine", 10),
    ("softener resin", "", "hardness", 5),
    ("filter sand", "", "sediment", 15),
    ("calcite", "16x40", "low pH", 10),
    ("manganese greensand", "18x60", "iron", 11),
    ("anthracite", "", "sediment", 15),
    ("multi-media", "", "sediment", 17),
    ("zeolite", "14x40", "sediment", 15),
    ("coconut carbon", "12x40", "chlorine", 10),
)
#: size, nominal area ft2, usual volume ft3
VESSELS = (
    ("9x48", 0.442, 1.0),
    ("10x54", 0.545, 1.5),
    ("12x52", 0.785, 2.0),
    ("13x54", 0.922, 2.5),
    ("14x65", 1.069, 3.5),
)
STOCK = (1.5, 2, 2.5, 3, 3.5, 4, 5, 6, 7, 8, 9, 10, 12, 15, 17, 20, 25)


@dataclass
class Side:
    """Seconds and peak memory of one of the two sides."""

    seconds: list[float] = field(default_factory=list)
    peak_mb: float = 0.0

    def add(self, command: list[str]) -> None:
        """Run the command once."""
        seconds, peak = _run(command)
        self.seconds.append(seconds)
        self.peak_mb = max(self.peak_mb, peak)

    @property
    def median(self) -> float:
        """Median of the seconds."""
        return statistics.median(self.seconds)


def _run(command: list[str]) -> tuple[float, float]:
    """Seconds and peak resident memory [MB] of a child process; what it said is shown if it fails."""
    with tempfile.TemporaryFile() as said:
        start = time.perf_counter()
        child = os.posix_spawn(
            command[0],
            command,
            os.environ | {"PYTHONPATH": str(ROOT)},
            file_actions=[(os.POSIX_SPAWN_DUP2, said.fileno(), 1), (os.POSIX_SPAWN_DUP2, said.fileno(), 2)],
        )
        _, status, used = os.wait4(child, 0)
        seconds = time.perf_counter() - start
        if os.waitstatus_to_exitcode(status) != 0:
            said.seek(0)
            sys.exit(f"{' '.join(command)} failed:\n{said.read().decode(errors='replace')}")
    per_mb = 1024 if sys.platform == "linux" else 1024 * 1024
    return seconds, used.ru_maxrss / per_mb


def _row(rng: random.Random, number: int) -> list[Any]:
    medium, mesh, purpose, rate = rng.choice(MEDIA)
    size, area, volume = rng.choice(VESSELS)
    flow = min(STOCK, key=lambda rating: abs(rating - rate * area))
    if rng.random() < 0.1:
        flow = rng.choice(STOCK)
    day = date(2026, 11, 1) - timedelta(days=rng.randint(60, 3000))
    cell: list[Any] = [
        f"U-{number:05d}",
        f"Account {number // 3} (invented)",
        f"Town {number % 40}",
        "removed" if rng.random() < 0.05 else rng.choice(["", "in service"]),
        "",
        size,
        medium,
        mesh,
        purpose,
        volume,
        day - timedelta(days=rng.randint(0, 900)),
        f"crew {number % 9}",
        day,
        flow if rng.random() < 0.95 else None,
        rng.choice(["yes", "no"]),
        "small" if flow <= 7 else "medium",
        rng.choice(["right", "right", ""]),
        rng.choice([8, 10, 12]),
        rng.choice([2, 3, 7]),
        round(3 * area, 1),
        round(flow * rng.uniform(1.0, 2.0), 1),
        rng.choice(["well", "mixed", "surface"]),
        round(rng.uniform(6.2, 7.8), 1),
        f"R{number % 30}",
        rng.choice(["", "", "by the back door", "call first"]),
    ]
    return cell


def build(path: Path, units: int) -> None:
    """Write a workbook of so many invented units."""
    rng = random.Random(SEED)
    book = xlsxwriter.Workbook(str(path), {"constant_memory": units > 5_000})
    day = book.add_format({"num_format": "yyyy-mm-dd"})
    sheet = book.add_worksheet("Units")
    sheet.write_row(0, 0, HEADINGS, book.add_format({"bold": True}))
    for number in range(1, units + 1):
        for column, value in enumerate(_row(rng, number)):
            if isinstance(value, date):
                sheet.write_datetime(number, column, value, day)
            elif value not in ("", None):
                sheet.write(number, column, value)
    book.close()


def measure(folder: Path, units: int, rounds: int) -> tuple[Side, Side]:
    """Both sides, taken in turns; the first turn warms the disk cache and does not count."""
    workbook = folder / f"bench_{units}.xlsx"
    build(workbook, units)
    audit = [
        sys.executable,
        "-m",
        "fleetaudit",
        "audit",
        str(workbook),
        "--as-of",
        AS_OF,
        "--force",
        "-o",
        str(folder),
    ]
    plain = [sys.executable, "-c", LOAD_AND_SAVE, str(workbook), str(folder / "saved.xlsx")]
    ours, theirs = Side(), Side()
    for turn in range(rounds + 1):
        if turn == 1:
            ours, theirs = Side(), Side()
        ours.add(audit)
        theirs.add(plain)
    return ours, theirs


def main() -> int:
    """Print the table; exit 1 where a bar is missed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--units", type=int, nargs="*", help="sizes to run (default: 300 5000 50000)")
    parser.add_argument("--rounds", type=int, help="rounds of each size instead of the usual number")
    wanted = parser.parse_args()
    machine = f"{platform.system()} {platform.machine()}"
    print(f"Python {platform.python_version()}, {os.cpu_count()} processors, {machine}")
    print(LINE.format("units", "rounds", "audit s", "MB", "load+save s", "MB", "ratio", "of turns", "bar"))
    missed = 0
    with tempfile.TemporaryDirectory() as folder:
        for units in wanted.units or SIZES:
            rounds, bar = SIZES.get(units, (3, None))
            rounds = wanted.rounds or rounds
            ours, theirs = measure(Path(folder), units, rounds)
            ratio = ours.median / theirs.median
            turns = [mine / other for mine, other in zip(ours.seconds, theirs.seconds, strict=True)]
            held = "none stated" if bar is None else f"at most {bar}: {'held' if ratio <= bar else 'MISSED'}"
            missed += bar is not None and ratio > bar
            cells = (
                f"{units:,}",
                rounds,
                f"{ours.median:.2f}",
                f"{ours.peak_mb:.0f}",
                f"{theirs.median:.2f}",
                f"{theirs.peak_mb:.0f}",
                f"{ratio:.2f}",
                f"{min(turns):.2f}-{max(turns):.2f}",
                held,
            )
            print(LINE.format(*cells), flush=True)
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
