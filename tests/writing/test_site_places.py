"""Accounts stand on the map where the sheet of sites says, unless the list itself gives a place."""

from __future__ import annotations

from datetime import date

import xlsxwriter
from pagetree import tree

from fleetaudit.audit_file import Request, audit_file

AS_OF = date(2026, 11, 1)
LIST = ["Unit ID", "Account", "City", "Tank size", "Media", "DLFC (gpm)", "Latitude", "Longitude"]
UNITS = [
    ["U-1", "Invented Account 1", "Northtown", "10x54", "filter sand", 1, None, None],
    ["U-2", "invented account 2 ", "Easttown", "10x54", "filter sand", 8, None, None],
    ["U-3", "Invented Account 3", "Northtown", "10x54", "filter sand", 8, 45.5, -93.5],
    ["U-4", "Invented Account 4", "Northtown", "10x54", "filter sand", 8, None, None],
]
SITES = [
    ["Account", "Town", "Latitude", "Longitude"],
    ["Invented Account 1", "Southtown", 44.0, -90.0],
    ["Invented Account 1", "Northtown", 45.0, -93.0],
    ["Invented Account 2", None, 45.1, -93.2],
    ["Invented Account 3", None, 45.9, -93.9],
    ["Invented Account 4", None, "up the hill", -93.0],
]


def test_places_come_from_the_sites_sheet_by_account_and_town(tmp_path):
    path = tmp_path / "fleet.xlsx"
    with xlsxwriter.Workbook(str(path)) as book:
        units, sites = book.add_worksheet("Units"), book.add_worksheet("Sites")
        for row, line in enumerate([LIST, *UNITS]):
            units.write_row(row, 0, line)
        for row, line in enumerate(SITES):
            sites.write_row(row, 0, line)
    written = audit_file(Request(path, AS_OF))
    places = {unit.unit_id: (unit.latitude, unit.longitude) for unit in written.report.units}
    assert places == {"U-1": (45.0, -93.0), "U-2": (45.1, -93.2), "U-3": (45.5, -93.5), "U-4": (None, None)}
    drawn = tree(written.summary_path.read_text(encoding="utf-8")).by_id("c7-d").text
    assert "North is up" in drawn
