"""Sheets and headings that leave open what the audit should read."""

from __future__ import annotations

import openpyxl

from .fault import (
    HEADINGS,
    INFO,
    SKIP,
    STOP,
    WARN,
    Fault,
    cell,
    column,
    fleet,
    sheet_of,
    sound,
)

TWO = {"Units old": sheet_of([sound(1), sound(2)])}
WITHOUT_VESSEL = [*HEADINGS[:2], "Vesel", *HEADINGS[3:]]
WITHOUT_MEDIUM = [*HEADINGS[:3], "Medja", *HEADINGS[4:]]
WITHOUT_BOTH = ["Unit ID", "Account", "Colour", "Shape", "Mesh", "Restrictor (gpm)", "Media date", "x", "y"]
TWO_DIAMETERS = [*HEADINGS[:2], "Diameter", *HEADINGS[3:7], "Tank dia", "Warmest water (F)"]
TWO_DATES = [*HEADINGS[:6], "Rebed date", "Rebed date", "Warmest water (F)"]
TWO_NOTES = [*HEADINGS[:7], "Notes", "Notes"]
BARE = [heading.partition(" (")[0] for heading in HEADINGS]


def _title_rows(book: openpyxl.Workbook) -> None:
    book["Units"].insert_rows(1, 3)
    book["Units"]["A1"] = "Fleet of an invented company"


def _hide(book: openpyxl.Workbook) -> None:
    for row in (3, 4, 5):
        book["Units"].row_dimensions[row].hidden = True


def _merge(book: openpyxl.Workbook) -> None:
    book["Units"].merge_cells("B5:B7")


def _own_column(book: openpyxl.Workbook) -> None:
    book["Units"]["J1"] = "Audit: verdict"
    book["Units"]["J2"] = "clean"


def _totals(book: openpyxl.Workbook) -> None:
    book["Units"]["A15"], book["Units"]["F15"] = "Total", 60


def _again(book: openpyxl.Workbook) -> None:
    for number, heading in enumerate(HEADINGS, 1):
        book["Units"].cell(14, number).value = heading
    for number, value in enumerate(sound(99), 1):
        book["Units"].cell(15, number).value = value


def _second_list(book: openpyxl.Workbook) -> None:
    for number, heading in enumerate(("Medium", "Unit ID", "Vessel size", "Restrictor (gpm)"), 1):
        book["Units"].cell(18, number).value = heading
    for number, value in enumerate(("sand", "U-900", "12x52", 5), 1):
        book["Units"].cell(19, number).value = value


def _lone_note(book: openpyxl.Workbook) -> None:
    book["Units"]["B16"] = "Ring before you come"


def _stray(book: openpyxl.Workbook) -> None:
    book["Units"].cell(1_048_576, 1).number_format = "0.00"


FAULTS = (
    Fault(
        "two sheets that fit",
        STOP,
        ("fleet.xlsx", '"Units" and "Units old"', '--sheet "Units"'),
        fleet(others=TWO),
    ),
    Fault("headings below title rows", INFO, ("Units", "row 4", "3 title rows"), fleet(edit=_title_rows)),
    Fault("headings without units", STOP, ("fleet.xlsx", "Units", "headings but no units"), fleet(rows=0)),
    Fault(
        "no headings at all",
        STOP,
        ("fleet.xlsx", "headings", "fleetaudit template"),
        fleet(headings=["red", "green", "blue"], rows=3),
    ),
    Fault(
        "an empty workbook",
        STOP,
        ("fleet.xlsx", "headings", "fleetaudit template"),
        fleet(headings=[], rows=0),
    ),
    Fault("hidden rows", WARN, ("Units", "3 rows are hidden", "audited", "hidden_rows"), fleet(edit=_hide)),
    Fault("merged cells", WARN, ("Units!B5:B7", "merged", '"Site 4"', "5-7"), fleet(edit=_merge)),
    Fault("audit columns from before", INFO, ("Units", "audit columns", "replaced"), fleet(edit=_own_column)),
    Fault("a totals row", INFO, ("Units", "row 15", "totals"), fleet(edit=_totals)),
    Fault("headings repeated further down", INFO, ("Units", "row 14", "headings again"), fleet(edit=_again)),
    Fault(
        "a second list below",
        WARN,
        ("Units", "another list", "row 18", "sheet of its own"),
        fleet(edit=_second_list),
    ),
    Fault("a lone note", WARN, ("Units", "row 16", "note"), fleet(edit=_lone_note)),
    Fault("formatting down to the last row", INFO, ("Units", "1,048,576", "13"), fleet(edit=_stray)),
    Fault(
        "no column for the vessel",
        STOP,
        ("fleet.xlsx", "Units", "vessel", '"Vesel" (C1)', "--map"),
        fleet(headings=WITHOUT_VESSEL),
    ),
    Fault(
        "no column for the medium",
        STOP,
        ("fleet.xlsx", "Units", "medium", '"Medja" (D1)', "--map"),
        fleet(headings=WITHOUT_MEDIUM),
    ),
    Fault("neither vessel nor medium", STOP, ("no column for the vessel",), fleet(headings=WITHOUT_BOTH)),
    Fault("neither medium nor vessel", STOP, ("no column for the medium",), fleet(headings=WITHOUT_BOTH)),
    Fault(
        "two columns for one field",
        STOP,
        ('"Diameter" (C1)', '"Tank dia" (H1)', "vessel diameter", "--map"),
        fleet(headings=TWO_DIAMETERS),
    ),
    Fault(
        "one heading twice, needed",
        STOP,
        ('"Restrictor" (F1)', '"Restrictor" (G1)', "Rename"),
        fleet(headings=[*HEADINGS[:5], "Restrictor", "Restrictor", *HEADINGS[7:]]),
    ),
    Fault(
        "one heading twice, not needed",
        WARN,
        ('"Notes" (H1)', '"Notes" (I1)', "neither was used", "Rename"),
        fleet(headings=TWO_NOTES),
    ),
    Fault("columns of the user's own", INFO, ("Units", "not read", '"Van"'), cell("Van", "white")),
    Fault(
        "a heading nearly ours",
        WARN,
        ("Units!F1", '"Restricter"', "not used", '"restrictor"', "Rename"),
        fleet(headings=[*HEADINGS[:5], "Restricter", *HEADINGS[6:]]),
    ),
    Fault(
        "no unit anywhere",
        WARN,
        ('"Restrictor"', "no unit", "gpm", "(L/min)", "heading"),
        fleet(headings=BARE),
    ),
    Fault(
        "a heading in a unit that measures something else",
        SKIP,
        ("Units!F2", '"Restrictor (psi)"', "psi", "no flow", "Correct the heading"),
        fleet(headings=[*HEADINGS[:5], "Restrictor (psi)", *HEADINGS[6:]]),
    ),
    Fault(
        "no restrictor column",
        WARN,
        ("No row gives", "restrictor", "did not run"),
        fleet(headings=[*HEADINGS[:5], "Colour", *HEADINGS[6:]]),
        check="restrictor-too-small",
    ),
    Fault(
        "rows without names", INFO, ("Units!A2, A3", "without a name", "row"), column("Unit ID", [None, None])
    ),
)
