"""Workbooks of invented units to measure with, always the same for the same number of units."""

from __future__ import annotations

import random
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import xlsxwriter

SEED = 20_261

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
