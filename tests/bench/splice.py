"""Reading and annotating alone, without the audit, against openpyxl loading, annotating and saving.

Each side is a process of its own: `python -m tests.bench.splice ours SOURCE TARGET ROWS`, or `theirs`.
"""

from __future__ import annotations

import sys
from pathlib import Path

from tests.bench.processes import in_turns
from tests.bench.table import Figure
from tests.bench.workbooks import build

COLUMNS = 12
#: of the time openpyxl takes for the same, and megabytes for ten times the rows
TIME_BAR, MEMORY_BAR_MB = 0.25, 400
FEW, MANY = 5_000, 50_000
ROUNDS = 5


def ours(source: Path, target: Path, rows: int) -> None:
    """Read the list and write the copy."""
    from fleetaudit.workbook.book import open_workbook  # noqa: PLC0415 - the other side does without
    from fleetaudit.workbook.splice import Column, annotate  # noqa: PLC0415 - as above

    book = open_workbook(source)
    book.read("Units")
    numbers = range(2, rows + 2)
    columns = [Column(f"Audit: {number}", [row * 1.5 for row in numbers]) for number in range(COLUMNS)]
    annotate(source, target, sheet="Units", heading_row=1, rows=numbers, columns=columns,
             own_prefix="Audit: ", force=True, book=book)  # fmt: skip


def theirs(source: Path, target: Path, rows: int) -> None:
    """Load, set the same cells and save."""
    import openpyxl  # noqa: PLC0415 - the other side does without

    book = openpyxl.load_workbook(source)
    sheet = book["Units"]
    first = sheet.max_column + 1
    for number in range(COLUMNS):
        sheet.cell(1, first + number, f"Audit: {number}")
        for row in range(2, rows + 2):
            sheet.cell(row, first + number, row * 1.5)
    book.save(target)


def splice(folder: Path, rounds: int | None) -> list[Figure]:
    """Time at 5,000 rows of 25 columns, and peak memory at 50,000."""
    figures = []
    for rows, turns in ((FEW, rounds or ROUNDS), (MANY, 1)):
        path = folder / f"splice_{rows}.xlsx"
        build(path, rows)
        sides = [
            [
                sys.executable,
                "-m",
                "tests.bench.splice",
                who,
                str(path),
                str(folder / f"{who}.xlsx"),
                str(rows),
            ]
            for who in ("ours", "theirs")
        ]
        one, other = in_turns(folder, sides[0], sides[1], turns)
        if rows == FEW:
            what = f"annotating {rows:,} x 25 : openpyxl doing the same"
            busy = one.busy / other.busy
            figures.append(Figure(what, one.median, other.median, "s", TIME_BAR, TIME_BAR, busy))
        else:
            what = f"  peak memory at {rows:,} : allowed"
            figures.append(Figure(what, one.peak_mb, MEMORY_BAR_MB, "MB", 1.0, 1.0))
    return figures


if __name__ == "__main__":
    {"ours": ours, "theirs": theirs}[sys.argv[1]](Path(sys.argv[2]), Path(sys.argv[3]), int(sys.argv[4]))
