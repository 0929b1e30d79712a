"""One invented fleet as a workbook, as Parquet and as CSV; typed as by a warehouse, and as by people."""

from __future__ import annotations

import csv
import random
from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

import pyarrow as pa
import xlsxwriter
from pyarrow import parquet

AS_OF = date(2026, 11, 1)
Fleet = dict[str, list[Any]]

#: medium, and a wash rate [gpm/ft2] to fit by; practice figures, from memory, unverified
MEDIA = (("filter sand", 15), ("activated carbon 12x40", 10), ("calcite", 10), ("softener resin", 5), ("", 8))
VESSELS = (("10x54", 0.545), ("13x54", 0.922), ("9x48", 0.442), ("2 x 12x52", 0.785))


def made(units: int) -> Fleet:
    """A fleet in columns named as those of a database; some cells are blank, some cannot be used."""
    rng = random.Random(11)
    rows = []
    for number in range(units):
        medium, rate = rng.choice(MEDIA)
        vessel, area = rng.choice(VESSELS[: 4 if number > units // 2 else 3])
        flow = round(rate * area * rng.choice([0.4, 0.9, 1.0, 1.1, 2.0]), 1)
        loaded = AS_OF - timedelta(days=rng.randrange(100, 4000))
        rows.append(
            {
                "unit_id": f"U-{rng.randrange(units):04d}",  # some come twice, in files far apart
                "account_name": f"Account {number // 3} (invented)",
                "vessel": vessel,
                "medium": medium or None,
                "backwash_flow_gpm": rng.choice([flow, flow, flow, None]),
                "media_date": rng.choice([loaded, loaded, None]),
                # day first is proved by some files only
                "install_date": f"{_day(rng, number < units // 4)}/{rng.randrange(1, 13)}/2015",
                "crew": rng.choice(["north", "south", None]),
                "bed_depth_cm": rng.choice([60.0, 91.5, None]),
                # the comma is proved by some files only
                "service_flow_l_min": rng.choice(
                    ["18,5", "0,95", "4,250"] if number < units // 3 else ["4,250", ""]
                ),
                "housing": rng.choice(["small", "medium", "3/4 in", None]),
                # a column that most files leave blank
                "ph": 5.2 if number > units * 0.9 else None,
                "backwash_minutes": rng.choice([8, 10, None]),
                "coldest_water_f": rng.choice([45, 50, "warm"]) if number % 7 == 0 else None,
                "route_note": "shown to nobody",
            }
        )
    return {name: [row[name] for row in rows] for name in rows[0]}


def _day(rng: random.Random, any_day: bool) -> int:
    return rng.randrange(1, 29 if any_day else 13)


def cut(fleet: Fleet, parts: int) -> list[Fleet]:
    """The fleet in parts of about equal length, in its order."""
    units = len(fleet["unit_id"])
    edges = pairwise([units * part // parts for part in range(parts + 1)])
    return [{name: values[first:last] for name, values in fleet.items()} for first, last in edges]


def as_workbook(path: Path, fleet: Fleet) -> Path:
    """The fleet as one sheet, headings in the first row."""
    book = xlsxwriter.Workbook(str(path))
    sheet, days = book.add_worksheet("Units"), book.add_format({"num_format": "yyyy-mm-dd"})
    for place, (name, values) in enumerate(fleet.items()):
        sheet.write_string(0, place, name)
        for row, value in enumerate(values, 1):
            if isinstance(value, date):
                sheet.write_datetime(row, place, value, days)
            elif value is not None:
                sheet.write(row, place, value)
    book.close()
    return path


def _array(values: Sequence[Any]) -> pa.Array:
    """Values as a column with a type; those of several types are text, as in a warehouse."""
    mixed = len({type(value) for value in values if value is not None}) > 1
    return pa.array([None if value is None else str(value) for value in values] if mixed else values)


def as_parquet(folder: Path, fleet: Fleet, parts: int) -> Path:
    """The fleet in a folder of Parquet files."""
    folder.mkdir(parents=True)
    for number, part in enumerate(cut(fleet, parts)):
        table = pa.table({name: _array(values) for name, values in part.items()})
        parquet.write_table(table, folder / f"part-{number:03d}.parquet")
    return folder


def as_csv(folder: Path, fleet: Fleet, parts: int) -> Path:
    """The fleet in a folder of text tables."""
    folder.mkdir(parents=True)
    for number, part in enumerate(cut(fleet, parts)):
        with (folder / f"part-{number:03d}.csv").open("w", newline="", encoding="utf-8") as file:
            writer = csv.writer(file)
            writer.writerow(part)
            writer.writerows(zip(*part.values(), strict=True))
    return folder


def table(folder: Path, name: str) -> list[Mapping[str, Any]]:
    """Rows of one table of the results, file by file."""
    rows: list[Mapping[str, Any]] = []
    for path in sorted((folder / name).glob("*.parquet")):
        rows += parquet.read_table(path).to_pylist()
    return rows
