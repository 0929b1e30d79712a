"""Print how long reading takes beside opening the file: `python tests/reading/measure_reading.py [rows]`.

A rough check by hand, no test: the goal is 50,000 units in a second on an idle machine.
"""

from __future__ import annotations

import datetime as dt
import random
import sys
import tempfile
import time
from itertools import pairwise
from pathlib import Path

import xlsxwriter

from fleetaudit.catalogue.shipped import load
from fleetaudit.reading.fleet import read_fleet
from fleetaudit.workbook.book import open_workbook

HEADINGS = (
    "Unit ID", "Account", "Address", "Tank size", "Media type", "Mesh", "Removes", "Cu ft", "Bed depth (in)",
    "Rebed date", "Date installed", "DLFC (gpm)", "Labelled", "DLFC housing", "Bucket test", "PSI", "pH",
    "Installed by",
)  # fmt: skip
SIZES = ("10x54", "12x52", "9x48", "948", "250x1370 mm")
MEDIA = ("carbon", "GAC", "sand", "calcite", "softener resin", "actvated carbon")


def write(path: Path, rows: int) -> None:
    """Write an invented fleet."""
    pick = random.Random(3)
    book = xlsxwriter.Workbook(str(path), {"default_date_format": "yyyy-mm-dd"})
    sheet = book.add_worksheet("Units")
    sheet.write_row(0, 0, HEADINGS)
    for row in range(1, rows + 1):
        days = [dt.date(2014, 1, 1) + dt.timedelta(days=pick.randrange(4000)) for _ in range(2)]
        sheet.write_row(
            row, 0, (f"U-{row:06d}", f"Account {row % 9000}", f"{row} Example Road", pick.choice(SIZES))
        )
        sheet.write_row(
            row, 4, (pick.choice(MEDIA), pick.choice(("12x40", "")), pick.choice(("chlorine", "iron")))
        )
        sheet.write_row(row, 7, (pick.choice((1, 1.5, 2)), round(pick.uniform(20, 40), 1)))
        for place, day in enumerate(days, 9):
            sheet.write_datetime(row, place, dt.datetime.combine(day, dt.time()))
        sheet.write_row(row, 11, (pick.choice((5, 7, "5 gpm", "7", 12)), "yes", pick.choice("SML")))
        flow, acid = round(pick.uniform(3, 12), 2), round(pick.uniform(5.5, 8.5), 2)
        sheet.write_row(row, 14, (flow, pick.randrange(30, 80), acid, f"crew {pick.randrange(12)}"))
    book.close()


def main(rows: int) -> None:
    """Write, open and read once, and print the seconds."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "fleet.xlsx"
        write(path, rows)
        marks = [time.perf_counter()]
        book = open_workbook(path)
        book.read("Units")
        marks.append(time.perf_counter())
        fleet = read_fleet(path, load(), workbook=book)
        marks.append(time.perf_counter())
    opened, read = (after - before for before, after in pairwise(marks))
    print(f"{fleet.frame.units:,} units: file {opened:.2f} s, reading {read:.2f} s")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 50_000)
