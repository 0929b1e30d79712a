"""One bad input, the answer it must get, and the workbooks it is built into. All units are invented."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import openpyxl

STOP, SKIP, WARN, INFO = "stopped", "not used", "assumed", "noted"
HEADINGS = (
    "Unit ID",
    "Account",
    "Vessel size",
    "Medium",
    "Mesh",
    "Restrictor (gpm)",
    "Media date",
    "Coldest water (F)",
    "Warmest water (F)",
)
GOOD_ROWS = 12
#: row of the sheet that the value under test stands in: below headings and two sound rows
BAD_ROW = 4

Edit = Callable[[openpyxl.Workbook], None]
Build = Callable[[Path], Path]


@dataclass(frozen=True)
class Fault:
    """A bad input: how it is made, the level of the answer, the words one sentence of it must hold.

    `check` is one that must not have run for the unit in `row`; `never` are words that nothing said may hold.
    """

    name: str
    level: str
    words: tuple[str, ...]
    build: Build
    options: tuple[str, ...] = ()
    check: str = ""
    row: int = BAD_ROW
    never: tuple[str, ...] = ()

    @property
    def code(self) -> int:
        """Exit code the run must end with."""
        return 2 if self.level == STOP else 0


def sound(number: int) -> list[Any]:
    """One unit with everything right: 10x54 with 1.5 ft3 or so of carbon, cold and warm water given."""
    return [f"U-{number:03}", f"Site {number}", "10x54", "activated carbon", "12x40", 5, "2025-03-01", 45, 60]


def sheet_of(rows: Sequence[Sequence[Any]], headings: Sequence[Any] = HEADINGS) -> list[list[Any]]:
    """Headings and rows."""
    return [list(headings), *map(list, rows)]


def write(path: Path, sheets: dict[str, Sequence[Sequence[Any]]], edit: Edit | None = None) -> Path:
    """Write a workbook with a general library; text stays text and becomes no formula."""
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(list(row))
    if edit is not None:
        edit(book)
    book.save(path)
    return path


def fleet(
    *,
    rows: int = GOOD_ROWS,
    headings: Sequence[Any] = HEADINGS,
    sheet: str = "Units",
    edit: Edit | None = None,
    others: dict[str, Sequence[Sequence[Any]]] | None = None,
    name: str = "fleet.xlsx",
) -> Build:
    """Build a sound fleet that `edit` then spoils."""

    def build(folder: Path) -> Path:
        good = [sound(number) for number in range(1, rows + 1)]
        return write(folder / name, {sheet: sheet_of(good, headings), **(others or {})}, edit)

    return build


def cell(heading: str, value: Any, code: str = "General", title: str = "") -> Build:
    """Build a sound fleet with one value under one heading, which is added where the sheet lacks it."""

    def spoil(book: openpyxl.Workbook) -> None:
        sheet = book["Units"]
        number = HEADINGS.index(heading) + 1 if heading in HEADINGS else len(HEADINGS) + 1
        if title or heading not in HEADINGS:
            sheet.cell(1, number).value = title or heading
        place = sheet.cell(BAD_ROW, number)
        place.value = value
        place.number_format = code
        if isinstance(value, str) and not value.startswith(("=", "#")):
            place.data_type = "s"

    return fleet(edit=spoil)


def column(heading: str, values: Sequence[Any], title: str = "", rows: int = GOOD_ROWS) -> Build:
    """Build a sound fleet with values down one column, from the first unit on."""

    def spoil(book: openpyxl.Workbook) -> None:
        sheet = book["Units"]
        number = HEADINGS.index(heading) + 1 if heading in HEADINGS else len(HEADINGS) + 1
        if title or heading not in HEADINGS:
            sheet.cell(1, number).value = title or heading
        for row, value in enumerate(values, 2):
            sheet.cell(row, number).value = value

    return fleet(edit=spoil, rows=rows)


def address(heading: str) -> str:
    """Address of the value under test."""
    number = HEADINGS.index(heading) + 1 if heading in HEADINGS else len(HEADINGS) + 1
    return f"{chr(64 + number)}{BAD_ROW}"
