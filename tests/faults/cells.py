"""Cells that cannot be read, cannot be true, or can be read in more than one way."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time
from typing import Any

import openpyxl

from .fault import BAD_ROW, HEADINGS, INFO, SKIP, STOP, WARN, Fault, address, cell, column, fleet


def skipped(name: str, heading: str, value: Any, check: str, *words: str, code: str = "General") -> Fault:
    """A value that is not used: named with its cell, and the check that needs it did not run."""
    return Fault(name, SKIP, (f"Units!{address(heading)}", *words), cell(heading, value, code), check=check)


def _one_formula(book: openpyxl.Workbook) -> None:
    book["Units"].cell(BAD_ROW, HEADINGS.index("Restrictor (gpm)") + 1).value = "=2+3"


def _all_formulas(book: openpyxl.Workbook) -> None:
    for row in range(2, 14):
        book["Units"].cell(row, HEADINGS.index("Restrictor (gpm)") + 1).value = "=2+3"


LONG = "five gallons a minute or so, said the man in the yard, who had it from his brother in law"
SIZE = "restrictor-too-small"

FAULTS = (
    skipped("a word for a number", "Restrictor (gpm)", "ten", SIZE, '"ten"', "Type"),
    skipped("a word for a size", "Vessel size", "big one", SIZE, '"big one"', "Type it as 10x54"),
    replace(
        skipped("a very long text is cut", "Restrictor (gpm)", LONG, SIZE, LONG[:50], "Type"),
        never=(LONG[:61],),
    ),
    replace(
        skipped("a very long medium is cut", "Medium", LONG * 9, SIZE, LONG[:50], "Type"), never=(LONG[:61],)
    ),
    skipped(
        "a comma that is decimal or thousands",
        "Restrictor (gpm)",
        "1,5",
        SIZE,
        '"1,5"',
        "1.5",
        "decimal mark",
    ),
    skipped("an estimate", "Restrictor (gpm)", "about 5", SIZE, '"about 5"', "estimate"),
    skipped(
        "a range where one number belongs",
        "Restrictor (gpm)",
        "5-7",
        SIZE,
        '"5-7"',
        "range",
        "Type one number",
    ),
    skipped("an error value", "Restrictor (gpm)", "#N/A", SIZE, "#N/A", "Repair the formula"),
    skipped("a division by nothing", "Vessel size", "#DIV/0!", SIZE, "#DIV/0!", "Repair the formula"),
    skipped("zero", "Vessel diameter (in)", 0, SIZE, "0 in", "Expected 6 to 72 in"),
    skipped("below zero", "Restrictor (gpm)", -5, SIZE, "-5 gpm", "Expected 0.2 to 400 gpm"),
    skipped("absurdly large", "Restrictor (gpm)", 5000, SIZE, "5000 gpm", "Expected 0.2 to 400 gpm"),
    skipped("a size that cannot be", "Vessel size", "540x10", SIZE, "540x10", "Expected 6 to 72 in"),
    skipped("a unit of another kind", "Restrictor (gpm)", "5 psi", SIZE, '"5 psi"', "psi"),
    skipped(
        "cell and heading give two units", "Restrictor (gpm)", "19 L/min", SIZE, "L/min", "gpm", "Measure"
    ),
    skipped("per cent where a flow belongs", "Restrictor (gpm)", 0.62, SIZE, "per cent", code="0%"),
    skipped(
        "a date where a flow belongs",
        "Restrictor (gpm)",
        date(2024, 5, 6),
        SIZE,
        "2024-05-06",
        "date",
        code="yyyy-mm-dd",
    ),
    skipped("truth where a flow belongs", "Restrictor (gpm)", True, SIZE, '"TRUE"', "is not a number"),
    skipped(
        "a size the spreadsheet made a date",
        "Vessel size",
        date(1954, 10, 1),
        SIZE,
        "date",
        "10x54",
        "text",
        code="mmm-yy",
    ),
    skipped(
        "a size with the year of entry",
        "Vessel size",
        date(2026, 10, 12),
        SIZE,
        "10x12",
        "12x10",
        code="d-mmm",
    ),
    skipped("a time of day for a size", "Vessel size", time(10, 54), SIZE, "Type it as 10x54", code="h:mm"),
    skipped("a medium nobody knows", "Medium", "unobtainium", SIZE, '"unobtainium"', "Media sheet"),
    Fault(
        "a mesh the medium does not come in",
        SKIP,
        ("Units!D4", '"3x5"', "mesh", "12x40"),
        cell("Mesh", "3x5"),
        check=SIZE,
    ),
    skipped(
        "a word for a date", "Media date", "before winter", "media-overdue", '"before winter"', "2021-04-05"
    ),
    skipped("a date that can be two days", "Media date", "03/04/2021", "media-overdue", "3 April", "4 March"),
    skipped("no day of the calendar", "Media date", "2021-02-30", "media-overdue", "2021-02-30", "calendar"),
    skipped("a year out of any service life", "Media date", "1750", "media-overdue", "1750", "Type it as"),
    skipped(
        "a serial of the far future",
        "Media date",
        3000000,
        "media-overdue",
        "3000000",
        "1950",
        code="General",
    ),
    skipped(
        "a date in the future",
        "Media date",
        "2031-05-01",
        "media-overdue",
        "2031-05-01",
        "after",
        "2026-11-01",
        "Correct",
    ),
    skipped(
        "a word no list has", "Housing", "gigantic", "housing-too-small", '"gigantic"', "small, medium, large"
    ),
    skipped(
        "neither yes nor no", "Restrictor labelled", "maybe", "restrictor-unlabelled", '"maybe"', "yes or no"
    ),
    skipped(
        "a connection in other words",
        "Connections",
        "sideways",
        "connections-reversed",
        '"sideways"',
        "right, reversed",
    ),
    skipped("a purpose nobody knows", "Purpose", "good luck", "media-unsuited", '"good luck"', "purpose"),
    skipped(
        "water below freezing",
        "Measured drain flow (gpm)",
        0,
        "flow-differs-from-restrictor",
        "0 gpm",
        "Expected",
    ),
    skipped("a pH off the scale", "pH", 70, "media-unsuited", "70", "Expected 2 to 12.5"),
    skipped("water that boils", "Coldest water (F)", 240, "season-conflict", "240", "Expected"),
    skipped(
        "layers in other words",
        "Layers",
        "a bit of this",
        SIZE,
        '"a bit of this"',
        "anthracite 18 in; sand 12 in",
    ),
    Fault(
        "one formula never calculated",
        SKIP,
        (f"Units!{address('Restrictor (gpm)')}", "formula", "save it"),
        fleet(edit=_one_formula),
        check=SIZE,
    ),
    Fault(
        "a column of formulas never calculated",
        STOP,
        ("fleet.xlsx", "Units!F2:F13", "never calculated", "save it"),
        fleet(edit=_all_formulas),
    ),
    Fault(
        "blanks in the restrictor column",
        WARN,
        ("2 units have no", "restrictor", "Units!F2:F3"),
        column("Restrictor (gpm)", [None, None]),
        check=SIZE,
        row=2,
    ),
    Fault(
        "inch marks and fractions",
        INFO,
        ("Restrictor", "numbers stored as text", "read as numbers"),
        column("Restrictor (gpm)", ["5", "4 1/2"]),
    ),
    Fault(
        "numbers stored as text",
        INFO,
        ('"Restrictor (gpm)"', "12 numbers stored as text", "read as numbers"),
        column("Restrictor (gpm)", ["5"] * 12),
    ),
    Fault(
        "a serial without a date format",
        INFO,
        (f"Units!{address('Media date')}", "44291", "2021-04-05"),
        cell("Media date", 44291),
    ),
    Fault(
        "a date with a time of day is a date",
        INFO,
        ("kept as they are", '"Visit"'),
        cell("Visit", datetime.fromisoformat("2025-01-02 03:04")),
        never=("Visit date",),
    ),
    Fault(
        "a size in four digits",
        WARN,
        (f"Units!{address('Vessel size')}", '"1054"', "10x54"),
        cell("Vessel size", 1054),
    ),
    Fault(
        "month and year that could be a day",
        WARN,
        (f"Units!{address('Media date')}", '"Mar 21"', "Type the whole date"),
        cell("Media date", "Mar 21"),
    ),
    Fault(
        "a number of seventeen digits for a name",
        WARN,
        (f"Units!{address('Unit ID')}", "15 digits", "text"),
        cell("Unit ID", 12345678901234567),
    ),
    Fault(
        "a name the spreadsheet made a date",
        WARN,
        (f"Units!{address('Unit ID')}", "date", "text"),
        cell("Unit ID", date(1954, 10, 1), "mmm-yy"),
    ),
    Fault(
        "commas settled by the rest of the column",
        WARN,
        ("commas", "decimals", "decimal_mark"),
        column("Restrictor (gpm)", ["5,25", "5,0", "4,9"]),
    ),
    Fault(
        "dates settled by the rest of the column",
        WARN,
        ('"03/04/2025"', "day first", "1 other allows nothing else"),
        column("Media date", ["03/04/2025", "25/04/2025"]),
    ),
    Fault(
        "dates in two orders",
        WARN,
        ('"Media date"', "day first", "month first", "2021-04-05"),
        column("Media date", ["25/04/2025", "04/25/2025"]),
    ),
)
