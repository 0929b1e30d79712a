"""Values that can be read but clash with each other, with the calendar, or with the rest of the fleet."""

from __future__ import annotations

import openpyxl

from .fault import HEADINGS, SKIP, WARN, Fault, cell, column, fleet, sound


def _twice(book: openpyxl.Workbook) -> None:
    sheet = book["Units"]
    for number, value in enumerate(sound(1), 1):
        sheet.cell(9, number).value = value
    sheet["C9"] = "12x52"


def _older_than_the_set_up(book: openpyxl.Workbook) -> None:
    sheet = book["Units"]
    sheet["J1"], sheet["J4"], sheet["G4"] = "Install date", "2024-06-01", "2019-06-01"


def _other_diameter(book: openpyxl.Workbook) -> None:
    sheet = book["Units"]
    sheet["J1"], sheet["J4"] = "Vessel diameter (in)", 12


METRIC_FLOWS = [round(flow * 3.785412) for flow in (5, 5, 4, 5, 5, 4, 5, 5, 4, 5, 5, 4)]

FAULTS = (
    Fault(
        "a medium with a slip of the pen",
        WARN,
        ("Units!D4", '"activatd carbon"', "Activated carbon"),
        cell("Medium", "activatd carbon"),
    ),
    Fault(
        "a medium that could be several",
        SKIP,
        ("Units!D4", '"greensnd mix"', "Not guessed", "Media sheet"),
        cell("Medium", "greensnd mix"),
        check="restrictor-too-small",
    ),
    Fault("a unit that comes twice", WARN, ("U-001", "rows 2 and 9", "10", "12", "Both"), fleet(edit=_twice)),
    Fault(
        "media older than the set-up",
        WARN,
        ("Units!G4", "2019-06-01", "2024-06-01"),
        fleet(edit=_older_than_the_set_up),
    ),
    Fault(
        "diameter and size contradict",
        SKIP,
        ("Units!J4", "C4", '"12"', '"10x54"', "Measure"),
        fleet(edit=_other_diameter),
        check="restrictor-too-small",
    ),
    Fault(
        "flows without a unit that fit litres",
        WARN,
        ("Restrictor", "no unit", "L/min"),
        column("Restrictor (gpm)", METRIC_FLOWS, "Restrictor"),
    ),
    Fault(
        "one crew in three spellings",
        WARN,
        ('"J. Pell"', '"Pell J"', "Not merged", "Crews sheet"),
        column("Crew", ["J. Pell", "Pell J", "pell, j.", "Crew B"]),
    ),
    Fault(
        "more than a fifth of the rows unusable",
        WARN,
        ("4 of 12 rows", "could not be used"),
        column("Restrictor (gpm)", ["ten", "lots", "some", "none at all"]),
        check="restrictor-too-small",
        row=2,
    ),
)
assert "Crew" not in HEADINGS
