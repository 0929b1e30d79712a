"""Reading and annotating are the small part of a run; openpyxl on the same machine is the measure."""

# ruff: noqa: DTZ001  the cells of a workbook know no time zone
from __future__ import annotations

import datetime as dt
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import openpyxl
import xlsxwriter

from fleetaudit.workbook.book import open_workbook
from fleetaudit.workbook.splice import Column, annotate

ROWS, WIDTH = 1500, 25


def large_workbook(path: Path) -> Path:
    book = xlsxwriter.Workbook(str(path))
    sheet = book.add_worksheet("Units")
    day = book.add_format({"num_format": "yyyy-mm-dd"})
    sheet.write_row(0, 0, [f"Heading {number}" for number in range(WIDTH)])
    for row in range(1, ROWS + 1):
        for column in range(WIDTH):
            kind = column % 5
            if kind == 0:
                sheet.write_datetime(row, column, dt.datetime(2020, 1, 1) + dt.timedelta(days=row % 900), day)
            elif kind < 3:
                sheet.write_number(row, column, row * 0.37 + column)
            elif (row + column) % 7:
                sheet.write_string(row, column, f"text {(row * column) % 211}")
    book.close()
    return path


def best_of(count: int, action: Callable[[], object]) -> float:
    times = []
    for _ in range(count):
        start = time.process_time()
        action()
        times.append(time.process_time() - start)
    return min(times)


def test_read_and_annotate_take_under_a_quarter_of_load_and_save(tmp_path: Path) -> None:
    source, target = large_workbook(tmp_path / "a.xlsx"), tmp_path / "b.xlsx"
    rows = range(2, ROWS + 2)
    columns = [Column(f"Audit: {number}", [row * 1.5 for row in rows]) for number in range(12)]

    def ours() -> None:
        open_workbook(source).read("Units")
        annotate(source, target, sheet="Units", heading_row=1, rows=rows, columns=columns,
                 own_prefix="Audit: ", force=True)  # fmt: skip

    def theirs() -> None:
        book = openpyxl.load_workbook(source)
        sheet = book["Units"]
        for number, column in enumerate(columns, start=WIDTH + 1):
            for row, value in zip(rows, column.values, strict=True):
                sheet.cell(row, number, value)
        book.save(tmp_path / "c.xlsx")

    assert best_of(3, ours) < 0.25 * best_of(2, theirs)


def test_importing_loads_nothing_heavy() -> None:
    code = (
        "import sys; import fleetaudit.workbook.splice, fleetaudit.workbook.book; "
        "print(*sorted({name.split('.')[0] for name in sys.modules}))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    heavy = {"numpy", "pandas", "openpyxl", "python_calamine", "lxml", "jinja2", "difflib", "tempfile"}
    assert not heavy & set(done.stdout.split())
