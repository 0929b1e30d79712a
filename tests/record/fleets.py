"""Small invented fleets and return sheets for the tests of recording."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import openpyxl

DAY = dt.date(2026, 11, 25)
VISITED = dt.date(2026, 11, 20)
HEADINGS = (
    "Unit ID", "Account", "Vessel size", "Medium", "Mesh", "DLFC (gpm)", "Housing", "Bucket test (gpm)",
    "Media date",
    "Media crew", "Coldest water (F)", "Warmest water (F)",
)  # fmt: skip


def moment(year: int, month: int, day: int) -> dt.datetime:
    """A day as openpyxl reads it."""
    return dt.datetime.combine(dt.date(year, month, day), dt.time())


def unit(number: int, **cells: Any) -> dict[str, Any]:
    """A unit with everything right: a 10 inch vessel of carbon with a restrictor of 5 gpm."""
    usual = (
        f"U-{number:03}", f"Site {number}", "10x54", "activated carbon", "12x40", 5, "small", None,
        dt.date(2025, 3, 1),
        None, 45, 60,
    )  # fmt: skip
    return {**dict(zip(HEADINGS, usual, strict=True)), **cells}


def write(path: Path, rows: Sequence[Mapping[str, Any]], headings: Sequence[str] = HEADINGS) -> Path:
    """List of units as a workbook."""
    book = openpyxl.Workbook()
    page = book.worksheets[0]
    page.title = "Units"
    page.append(list(headings))
    for row in rows:
        page.append([row.get(heading) for heading in headings])
    book.save(path)
    return path


def returns(path: Path, *rows: Mapping[str, Any]) -> Path:
    """Return sheet; visit date and initials are filled in unless a row says otherwise."""
    full = [{"Unit ID": "", "Visit date": VISITED, "Initials": "AB", **row} for row in rows]
    headings = list(dict.fromkeys(key for row in full for key in row))
    book = openpyxl.Workbook()
    page = book.worksheets[0]
    page.title = "Returns"
    page.append(headings)
    for row in full:
        page.append([row.get(heading) for heading in headings])
    book.save(path)
    return path


def cells(path: Path, sheet: str = "Units") -> list[dict[str, Any]]:
    """Rows of a sheet by heading."""
    page = openpyxl.load_workbook(path)[sheet]
    lines = list(page.iter_rows(values_only=True))
    return [dict(zip(lines[0], line, strict=True)) for line in lines[1:]]
