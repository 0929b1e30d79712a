"""The audit without any workbook: a large invented fleet in parts, and the same table through Parquet.

`python -m tests.bench.pure audit UNITS` or `... parquet UNITS FOLDER` prints the seconds of the work alone;
making the fleet does not count.
"""

from __future__ import annotations

import multiprocessing
import sys
import time
from collections.abc import Sequence
from datetime import date
from pathlib import Path

import numpy as np

from fleetaudit.auditing.result import AuditResult
from fleetaudit.catalogue import shipped
from fleetaudit.facts.frame import Frame
from fleetaudit.scale.partitions import audit_parts
from fleetaudit.scale.workers import processors
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Column, Missing, Origin
from fleetaudit.units import to_si

AS_OF = date(2026, 11, 1)
PART = 50_000
SEED = 20_262
BLANK_SHARE = 0.05
CATALOGUE = shipped.load()
#: medium and a wash rate [gpm/ft2] to fit by; practice figures, from memory, unverified
MEDIA = {
    "activated-carbon-12x40": 10,
    "cation-resin": 5,
    "filter-sand": 15,
    "calcite-16x40": 10,
    "manganese-greensand": 11,
    "multi-media": 17,
    "zeolite-14x40": 15,
    "anthracite-fine": 15,
    "coconut-carbon-12x40": 10,
}
#: share of restrictors fitted at random, and of sites whose water temperature was measured
RANDOM_SHARE, MEASURED_SHARE = 0.1, 0.3
DIAMETERS_IN = (9, 10, 12, 13, 14, 16, 18, 21)
STOCK_GPM = (1.5, 2, 2.5, 3, 3.5, 4, 5, 6, 7, 8, 9, 10, 12, 15, 17, 20, 25)


class Fleet(Sequence[Frame]):
    """An invented fleet, each part made when it is asked for and the same each time.

    `making` adds up the seconds that making takes, in whatever process.
    """

    def __init__(self, units: int) -> None:
        self.units = units
        self.making = multiprocessing.Value("d")

    def __len__(self) -> int:
        return len(range(0, self.units, PART))

    def __getitem__(self, number: int) -> Frame:
        if not 0 <= number < len(self):
            raise IndexError(number)
        start = time.perf_counter()
        made = _part(number * PART, min(PART, self.units - number * PART))
        with self.making:
            self.making.value += time.perf_counter() - start
        return made


def _part(first: int, units: int) -> Frame:
    rng = np.random.default_rng((SEED, first))
    made = Frame("invented", "Units", np.arange(first, first + units))
    made.codes["bed"] = np.ones(units, dtype=np.int64)
    _texts(made, fleet.UNIT_ID, [f"U-{number}" for number in range(first, first + units)])
    _texts(made, fleet.ACCOUNT, [f"Account {number // 3}" for number in range(first, first + units)])
    _texts(made, fleet.CREW, [f"crew {number % 9}" for number in range(first, first + units)])
    keys = np.array([CATALOGUE.codes[key] for key in MEDIA])
    medium = rng.integers(0, len(keys), units)
    _codes(made, fleet.MEDIUM, keys[medium])
    diameter_in, stock = rng.choice(DIAMETERS_IN, units).astype(float), np.array(STOCK_GPM, dtype=float)
    best = np.array([*MEDIA.values()])[medium] * np.pi / 4 * (diameter_in / 12) ** 2
    nearest = stock[np.abs(stock[:, None] - best).argmin(axis=0)]
    fitted = np.where(rng.random(units) < RANDOM_SHARE, rng.choice(stock, units), nearest)
    for column, choices in (
        (fleet.STATUS, 1), (fleet.HOUSING, 2), (fleet.CONNECTIONS, 1), (fleet.WATER_SOURCE, 3),
        (fleet.LABEL, 2),
    ):  # fmt: skip
        _codes(made, column, rng.integers(0, choices, units))
    day = float((AS_OF - date(1970, 1, 1)).days)
    for column, values in (
        (fleet.DIAMETER, to_si(diameter_in, "in")),
        (fleet.RESTRICTOR, to_si(fitted, "gpm")),
        (fleet.VOLUME, to_si(rng.choice((1.0, 1.5, 2.0, 2.5, 3.5), units), "ft3")),
        (fleet.MEDIA_DATE, day - rng.integers(60, 3000, units)),
        (fleet.INSTALL_DATE, day - rng.integers(3000, 4000, units)),
        (fleet.WASH_MINUTES, to_si(rng.choice((8.0, 10.0, 12.0), units), "min")),
        (fleet.WASH_INTERVAL, to_si(rng.choice((2.0, 3.0, 7.0), units), "d")),
        (fleet.SERVICE_FLOW, to_si(rng.uniform(1.0, 6.0, units).round(1), "gpm")),
        (fleet.SUPPLY_FLOW, to_si(rng.uniform(4.0, 20.0, units).round(1), "gpm")),
        (fleet.PH, rng.uniform(6.2, 7.8, units).round(1)),
        (fleet.COLD, to_si(rng.uniform(4.0, 12.0, units).round(0), "degC")),
        (fleet.WARM, to_si(rng.uniform(13.0, 22.0, units).round(0), "degC")),
    ):
        known = MEASURED_SHARE if column in (fleet.COLD, fleet.WARM) else 1 - BLANK_SHARE
        _numbers(made, column, values, rng.random(units) >= known)
    return made


def _state(made: Frame, column: Column, blank: np.ndarray) -> None:
    made.columns[column.name] = len(made.columns) + 1
    made.missing[column.name] = np.where(blank, np.int8(Missing.BLANK), np.int8(Missing.KNOWN))
    made.origin[column.name] = np.where(blank, np.int8(Origin.ABSENT), np.int8(Origin.TYPED))


def _numbers(made: Frame, column: Column, values: np.ndarray, blank: np.ndarray) -> None:
    made.numbers[column.key] = np.where(blank, np.nan, values)
    if column is fleet.MEDIA_DATE or column is fleet.INSTALL_DATE:
        made.date_low[column.key] = made.date_high[column.key] = made.numbers[column.key]
    _state(made, column, blank)


def _codes(made: Frame, column: Column, values: np.ndarray) -> None:
    made.codes[column.name] = values.astype(np.int64)
    _state(made, column, np.zeros(made.units, dtype=bool))


def _texts(made: Frame, column: Column, values: list[str]) -> None:
    made.texts[column.key] = values
    _state(made, column, np.zeros(made.units, dtype=bool))


def audit_seconds(units: int) -> float:
    """Seconds of counting, all checks, findings built and counts merged, over the parts.

    Two workers or more share the parts as in the product; the making that does not count goes on in all of
    them, in turn with the audit, so that each is spared its even share of it.
    """
    parts = Fleet(units)
    workers = min(processors(), len(parts))
    start = time.perf_counter()
    found = audit_parts(parts, CATALOGUE, AS_OF, workers=workers, each=AuditResult.findings)
    spent = time.perf_counter() - start - parts.making.value / workers
    assert found.counts.units == units
    return spent


def parquet_seconds(units: int, folder: Path) -> float:
    """Seconds that writing the table as Parquet and reading it takes."""
    import pyarrow as pa  # noqa: PLC0415 - the audit must not carry it in its memory
    from pyarrow import parquet  # noqa: PLC0415

    columns: dict[str, list[object]] = {}
    for part in Fleet(units):
        for held in (part.texts, part.numbers, part.codes):
            for name, values in held.items():
                columns.setdefault(name, []).append(pa.array(values))
    table = pa.table({name: pa.chunked_array(chunks) for name, chunks in columns.items()})
    path = folder / "fleet.parquet"
    start = time.perf_counter()
    parquet.write_table(table, path)
    back = parquet.read_table(path)
    spent = time.perf_counter() - start
    assert back.num_rows == units
    return spent


if __name__ == "__main__":
    number = int(sys.argv[2].replace("_", ""))
    print(audit_seconds(number) if sys.argv[1] == "audit" else parquet_seconds(number, Path(sys.argv[3])))
