"""A workbook of an invented fleet to plan from, and the command that does."""

from __future__ import annotations

from pathlib import Path

from click.testing import CliRunner, Result
from openpyxl import Workbook

from fleetaudit.cli import main

UNITS = [
    # unit, account, latitude, longitude, vessel, medium, volume ft3, media date, restrictor
    ("U-1", "north dairy", -44.9, -20.0, "10x54", "activated carbon", 1.5, "2015-05-01", 5),
    ("U-2", "north dairy", -44.9, -20.0, "10x54", "activated carbon", 1.5, "2026-09-01", 5),
    ("U-3", "east bakery", -45.0, -19.7, "12x52", "softener resin", 2.0, "2005-05-01", 3.5),
    ("U-4", "west laundry", -45.0, -20.4, "13x54", "activated carbon", 2.5, "2016-05-01", 8),
    ("U-5", "lost clinic", None, None, "13x54", "activated carbon", 2.5, "2016-05-01", 8),
    ("U-6", "far cabins", -45.1, -20.1, "16x65", "filter sand", 5.0, "2009-05-01", 20),
]


def run(*args, code=0) -> Result:
    """Call `route` on the command line; whatever stands in the way is raised."""
    result = CliRunner().invoke(main.cli, ["route", *map(str, args)], standalone_mode=False)
    if result.exception is not None:
        raise result.exception
    assert (result.return_value or 0) == code, result.output
    return result


def write_workbook(path: Path, *, units=UNITS, crews=None, sites=(), extra=None) -> Path:
    """Workbook of an invented fleet round a depot in the open sea."""
    book = Workbook()
    page = book.active
    page.title = "Units"
    page.append(["Unit ID", "Account", "Latitude", "Longitude", "Vessel size (in)", "Medium",
                 "Media volume (ft3)", "Media date", "Restrictor (gpm)"])  # fmt: skip
    for row in units:
        page.append(list(row))
    sheet = book.create_sheet("Crews")
    sheet.append(
        [
            "Crew",
            "Depot latitude",
            "Depot longitude",
            "Payload (kg)",
            "Media room (ft3)",
            "People",
            "Work days",
            "Time zone",
            "Skills",
        ]
    )
    for row in crews or [("Crew A", -45.0, -20.0, 900, 40, 3, "Mon-Fri")]:
        sheet.append(list(row))
    if sites:
        page = book.create_sheet("Sites")
        page.append(["Account", "Site hours", "Closed dates", "Access note", "Skills needed"])
        for row in sites:
            page.append(list(row))
    if extra is not None:
        extra(book)
    book.save(path)
    return path
