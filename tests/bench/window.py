"""How long the full flow window of very many units takes, against reading the same frame from Parquet.

Run `python -m tests.bench.window` from the top folder (or `--units 100000`). The frame is invented: no two
rows share water, depth and freeboard, so that nothing is worked out once for several. Half of the rows have a
measured freeboard, whose ceilings are solved layer by layer. Both sides run in this process, in turns;
reading ends when the columns are arrays, the window when both ends, ceilings and the target of every unit
are.
"""

from __future__ import annotations

import argparse
import os
import platform
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from fleetaudit.catalogue.shipped import load
from fleetaudit.facts.frame import Frame
from fleetaudit.facts.needed import fit, needed
from fleetaudit.facts.view import View
from fleetaudit.facts.window import flow_window
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Missing, Origin

SEED = 20_262
UNITS = 1_000_000
INCH = 0.0254
GPM = 6.30902e-5
NUMBERS = (
    *(fleet.DIAMETER, fleet.HEIGHT, fleet.DEPTH, fleet.FREEBOARD, fleet.COLD, fleet.WARM, fleet.RESTRICTOR),
)


def invented(units: int) -> Frame:
    """Frame of so many units, with all that the window asks for."""
    rng = np.random.default_rng(SEED)
    catalogue = load()
    usable = [
        code
        for code, medium in enumerate(catalogue.media)
        if "rate_low_m_s" in medium.figures and not medium.layers
    ]
    sizes = np.array([row.diameter_m for row in catalogue.vessels])
    frame = Frame("invented", "Units", np.arange(2, units + 2))
    cold = 273.15 + rng.uniform(2, 14, units)
    depth = rng.uniform(18, 48, units) * INCH
    values = {
        fleet.DIAMETER: rng.choice(sizes, units),
        fleet.HEIGHT: rng.uniform(40, 80, units) * INCH,
        fleet.DEPTH: depth,
        fleet.FREEBOARD: np.where(rng.random(units) < 0.5, depth * rng.uniform(0.2, 0.9, units), np.nan),
        fleet.COLD: cold,
        fleet.WARM: cold + rng.uniform(0, 12, units),
        fleet.RESTRICTOR: rng.choice(np.array([2, 3, 4, 5, 7, 10, 12, 15, 20, 25]), units) * GPM,
    }
    values[fleet.HEIGHT] = np.where(np.isnan(values[fleet.FREEBOARD]), np.nan, values[fleet.HEIGHT])
    for column, numbers in values.items():
        blank = np.isnan(numbers)
        frame.numbers[column.key] = numbers
        frame.missing[column.name] = np.where(blank, int(Missing.BLANK), int(Missing.KNOWN))
        frame.origin[column.name] = np.where(blank, int(Origin.ABSENT), int(Origin.TYPED))
    frame.codes[fleet.MEDIUM.name] = rng.choice(np.array(usable), units)
    frame.codes["mesh_stated"] = np.ones(units, dtype=np.int64)
    frame.missing[fleet.MEDIUM.name] = np.zeros(units, dtype=np.int64)
    frame.origin[fleet.MEDIUM.name] = np.full(units, int(Origin.TYPED))
    return frame


def write(frame: Frame, path: Path) -> None:
    """Write every array of the frame as a column."""
    columns = {f"number.{key}": values for key, values in frame.numbers.items()}
    for part in ("codes", "missing", "origin"):
        columns |= {f"{part}.{key}": values.astype(np.int8) for key, values in getattr(frame, part).items()}
    pq.write_table(pa.table({"rows": frame.rows, **columns}), path)


def read(path: Path) -> Frame:
    """Read the frame back."""
    table = pq.read_table(path)
    frame = Frame("invented", "Units", table["rows"].to_numpy())
    for name in table.column_names[1:]:
        part, _, key = name.partition(".")
        values = table[name].to_numpy()
        if part == "number":
            frame.numbers[key] = values
        else:
            getattr(frame, part)[key] = values.astype(np.int64)
    return frame


class Clock(NamedTuple):
    """Seconds on the wall and of the processor."""

    wall: float
    processor: float


def timed(action: Callable[[], object]) -> Clock:
    """Seconds of one call."""
    wall, processor = time.perf_counter(), time.process_time()
    action()
    return Clock(time.perf_counter() - wall, time.process_time() - processor)


def main() -> None:
    """Print seconds and ratio."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.bench.window", description="Window against Parquet."
    )
    parser.add_argument("--units", type=int, default=UNITS)
    parser.add_argument("--rounds", type=int, default=3)
    asked = parser.parse_args()
    catalogue = load()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "frame.parquet"
        write(invented(asked.units), path)
        flow_window(View(read(path).part(0, 10), catalogue, 0.0, 0.0))  # tables of water, loaded once
        reading, window, restrictor = [], [], []
        for _ in range(asked.rounds):
            reading.append(timed(lambda: read(path)))
            view = View(read(path), catalogue, 0.0, 0.0)
            window.append(timed(lambda view=view: flow_window(view)))
            restrictor.append(timed(lambda view=view: (fit(view), needed(view))))
        size = path.stat().st_size / 1e6
    found = flow_window(view)
    machine = f"{os.cpu_count()} processors, {platform.machine()}"
    print(f"Python {platform.python_version()}, {machine}; load {os.getloadavg()[0]:.1f}")
    cut = int(np.isfinite(found.hard).sum())
    print(f"{asked.units:,} units, {cut:,} with a freeboard ceiling, {size:.0f} MB of Parquet")
    for kind in Clock._fields:
        parts = [
            statistics.median(getattr(one, kind) for one in side) for side in (reading, window, restrictor)
        ]
        print(
            f"{kind:>9}: reading {parts[0]:.2f} s; window {parts[1]:.2f} s, ratio {parts[1] / parts[0]:.0f}; "
            f"restrictor to fit {parts[2]:.2f} s, ratio {parts[2] / parts[0]:.0f}"
        )


if __name__ == "__main__":
    main()
