"""One workbook of the corpus: how it is made, what it shows, and what must be read from it.

All units, names and figures are invented.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from .office import Office

OPENPYXL, XLSXWRITER, OFFICE, HAND = "openpyxl", "XlsxWriter", "LibreOffice", "by hand"
MAKERS = (OPENPYXL, XLSXWRITER, OFFICE, HAND)

#: what a copy must keep or say, and what reading must manage; every one needs a workbook that shows it
ITEMS = (
    "workbook",
    "macro workbook",
    "strict",
    "transitional",
    "1904 dates",
    "table with totals",
    "autofilter",
    "protected sheet",
    "print area",
    "prefixed namespaces",
    "shared strings",
    "inline strings",
    "signed",
    "text box",
    "drop-down from another sheet",
    "slicer",
    "picture",
    "threaded comments",
    "stored results",
    "extension elements",
    "two-row headings",
    "merged banner",
    "several blocks",
    "totals row",
    "repeated headings",
    "hidden rows",
    "size became a date",
    "numbers stored as text",
    "unit in the number format",
    "error cells",
    "formulas without a result",
    "day-first dates",
    "month-first dates",
    "leading zeros",
    "no-break spaces",
    "full-width digits",
    "decimal comma",
    "fractions",
    "inch marks",
    "merged cells in the list",
    "xls",
    "xlsb",
    "ods",
    "csv",
)

#: exact by definition of the inch; gallon of 231 cubic inches a minute (NIST SP 811, appendix B.8)
INCH_M = 0.0254
GPM_M3_S = 231 * INCH_M**3 / 60

HEADINGS = ("Unit ID", "Vessel size", "Medium", "Restrictor (gpm)", "Media date", "Hours")
UNITS = 6
Row = list[Any]
Edit = Callable[[Any], None]
Build = Callable[[Path, Office], Path]
Readings = Mapping[tuple[int, str], object]


@dataclass(frozen=True)
class Case:
    """A workbook with what is known of it beforehand.

    `reads` gives the SI value, text or day (ordinal counted from 1970) that a row must have under a key of
    the frame, None for one that must not be read; each entry of `told` must stand in some remark.
    """

    name: str
    maker: str
    shows: tuple[str, ...]
    build: Build
    units: int = UNITS
    reads: Readings = field(default_factory=dict)
    told: tuple[str, ...] = ()
    sheet: str = "Units"
    suffix: str = ".xlsx"
    spliced: bool = True
    heading_row: int = 1
    headings: Mapping[str, str] = field(default_factory=dict)
    office_opens: bool = True


def day(year: int, month: int, date: int) -> int:
    """Days since 1970 began."""
    return (dt.date(year, month, date) - dt.date(1970, 1, 1)).days


def unit(number: int) -> Row:
    """One sound unit."""
    size = ("10x54", "12x52", "13x54")[number % 3]
    medium = ("activated carbon", "calcite", "filter sand")[number % 3]
    return [f"U-{number:03}", size, medium, (5, 8, 12)[number % 3], dt.date(2023, 1 + number % 12, 9), number]


def units(count: int = UNITS) -> list[Row]:
    """Sound units, numbered from 1."""
    return [unit(number) for number in range(1, count + 1)]


def with_column(heading: str, values: Sequence[object], rows: Sequence[Row] | None = None) -> list[Row]:
    """Headings and units with other values under one of the usual headings, from the first unit on."""
    rows = [list(row) for row in (rows or units(max(UNITS, len(values))))]
    for row, value in zip(rows, values, strict=False):
        row[HEADINGS.index(heading)] = value
    return [list(HEADINGS), *rows]


def usual(first_row: int = 2) -> dict[tuple[int, str], object]:
    """What the first two sound units say."""
    return {
        (first_row, "unit_id"): "U-001",
        (first_row, "vessel_diameter_m"): 12 * INCH_M,
        (first_row, "vessel_height_m"): 52 * INCH_M,
        (first_row, "restrictor_m3_s"): 8 * GPM_M3_S,
        (first_row, "media_date_day"): day(2023, 2, 9),
        (first_row + 1, "restrictor_m3_s"): 12 * GPM_M3_S,
    }
