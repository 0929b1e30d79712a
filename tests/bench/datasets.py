"""Datasets of Parquet: how time and memory grow with size, and what more processors and workers give."""

from __future__ import annotations

import filecmp
import sys
from datetime import date, timedelta
from pathlib import Path

import numpy as np

from tests.bench.processes import Side
from tests.bench.table import Figure

AS_OF = "2026-11-01"
SEED = 20_263
A_FILE = 10_000
FILES = 30  # enough that starting workers, which takes as long as two files, is not what is measured
MEDIA = ("filter sand", "activated carbon 12x40", "calcite", "softener resin", "manganese greensand")
VESSELS = ("9x48", "10x54", "12x52", "13x54", "14x65")


def build(folder: Path, files: int) -> Path:
    """An invented fleet in files of equal length, in columns named as those of a database."""
    import pyarrow as pa  # noqa: PLC0415 - what is measured starts without it
    from pyarrow import parquet  # noqa: PLC0415 - as above

    folder.mkdir()
    last = date.fromisoformat(AS_OF)
    for number in range(files):
        rng = np.random.default_rng((SEED, number))

        def drawn(values: tuple[object, ...], rng: np.random.Generator = rng) -> list[object]:
            return [values[place] for place in rng.integers(0, len(values), A_FILE).tolist()]

        ages = rng.integers(60, 3000, A_FILE).tolist()
        table = pa.table(
            {
                "unit_id": [f"U-{number}-{row}" for row in range(A_FILE)],
                "account": [f"Account {number}-{row // 3} (invented)" for row in range(A_FILE)],
                "vessel": drawn(VESSELS),
                "medium": drawn(MEDIA),
                "restrictor_gpm": drawn((1.5, 2.0, 3.5, 5.0, 7.0, 10.0, 12.0)),
                "media_date": [last - timedelta(days=age) for age in ages],
                "housing": drawn(("3/4 in", "1 in")),
                "crew": drawn(("north", "south", "east")),
                "coldest_water_c": drawn((5.0, 8.0, None)),
                "warmest_water_c": drawn((15.0, 18.0, None)),
            }
        )
        parquet.write_table(table, folder / f"part-{number:03d}.parquet")
    return folder


def _audit(folder: Path, source: Path, out: str, *more: str) -> Side:
    command = [sys.executable, "-m", "fleetaudit", "audit", str(source), "--as-of", AS_OF, "--force"]
    return Side(folder, [*command, "-o", str(folder / out), *more])


def datasets(folder: Path) -> list[Figure]:
    """Many files against one; all processors, and two workers, against one process: with the same bytes."""
    small, large = build(folder / "small", 1), build(folder / "large", FILES)
    plain = ("--engine", "plain")
    one, whole = _audit(folder, small, "one", *plain), _audit(folder, large, "many", *plain)
    two = _audit(folder, large, "two", "--engine", "dask", "--workers", "2")
    usual = _audit(folder, large, "usual")
    one.run()  # compiles what all of them load
    one.forget()
    for side in (one, whole, two, usual):
        side.run()
    for out in ("two", "usual"):
        _same(folder / "many" / "large.audited", folder / out / "large.audited")
    linear = FILES * 1.05
    many, few = f"{FILES * A_FILE:,}", f"{A_FILE:,}"
    return [
        Figure(f"dataset of {many} units : {few}, time", whole.median, one.median, "s", linear, linear),
        Figure(f"dataset of {many} units : {few}, peak memory", whole.peak_mb, one.peak_mb, "MB", 1.5, 1.2),
        Figure(f"{many} units, 2 workers of Dask : one process", two.median, whole.median, "s", 1.0, 0.7),
        Figure(f"{many} units, all processors : one process", usual.median, whole.median, "s", 1.0, 0.7),
    ]


def _same(one: Path, other: Path) -> None:
    """Fail where a result differs or is missing."""
    names = [path.relative_to(one).as_posix() for path in one.rglob("*") if path.is_file()]
    _, differs, missing = filecmp.cmpfiles(one, other, names, shallow=False)
    if differs or missing:
        sys.exit(f"{other.parent.name} gave other results: {', '.join([*differs, *missing])}")
