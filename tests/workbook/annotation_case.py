"""Results for the twelve invented units, the same in all tests of annotated copies."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from workbook_samples import FIRST_ROW, HEADING_ROW, LAST_ROW, UNITS

from fleetaudit.workbook.splice import Column, Link, Look, Sheet, Styled, annotate

LOOKS = [("Audit: verdict", [Look("plan", "F8CBAD", "7F1D1D", bold=True), Look("clean", "D5E8D4", "14532D")])]
HOSTILE = [
    '=HYPERLINK("x")',
    "+1",
    "-1",
    "@SUM(A1)",
    "a_x000D_b",
    "<b>&amp;",
    "tab\there",
    " two\nlines ",
    "\x07bell",
]
OWN = ["Audit: verdict", "Audit: low", "Audit: due", "Audit: unit"]


def columns() -> list[Column]:
    """Result columns for the twelve units."""
    return [
        Column("Audit: verdict", ["plan" if index % 3 else "clean" for index in range(UNITS)], width=10),
        Column("Audit: low", [4.25 + index if index != 5 else None for index in range(UNITS)], "0.0"),
        Column("Audit: due", [dt.date(2027, 1, 1) + dt.timedelta(days=index) for index in range(UNITS)]),
        Column("Audit: unit", [f"U-{index + 101}" for index in range(UNITS)]),
    ]


def sheets() -> list[Sheet]:
    """Added sheets with hostile text, a link, numbers and dates."""
    rows = [[text, index, Link("to the cell", "'Units'!A4")] for index, text in enumerate(HOSTILE)]
    heads = [Styled("Text", "heading"), Styled("Count", "heading"), Styled("Where", "heading")]
    long = Styled("a long sentence about nothing in particular " * 5, "wrap")
    return [
        Sheet(
            "Summary", [[Styled("Summary", "title")], [long], [dt.date(2026, 1, 2), True, 2.5]], [40, 10, 10]
        ),
        Sheet("Findings", [heads, *rows], [30, 8, 14], freeze_rows=1, filter=True, looks=[(1, LOOKS[0][1])]),
    ]


def run(source: Path, target: Path, **changes: object) -> list[str]:
    """Annotate with everything usual unless said otherwise."""
    options: dict[str, object] = {
        "sheet": "Units",
        "heading_row": HEADING_ROW,
        "rows": range(FIRST_ROW, LAST_ROW + 1),
        "columns": columns(),
        "looks": LOOKS,
        "own_prefix": "Audit: ",
        "own_sheets": {"Summary", "Findings"},
        "sheets": sheets(),
    }
    return annotate(source, target, **{**options, **changes})  # type: ignore[arg-type]  # options by name
