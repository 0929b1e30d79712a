"""Where accounts lie, from the sheet of sites, for units that give no place of their own."""

from __future__ import annotations

from collections.abc import Sequence

from fleetaudit.catalogue.model import Catalogue
from fleetaudit.reading.lines import read_lines
from fleetaudit.reading.plain import plain
from fleetaudit.schema import fleet, route
from fleetaudit.schema.column import Missing
from fleetaudit.workbook.book import Workbook

COLUMNS = (fleet.ACCOUNT, fleet.CITY, fleet.LATITUDE, fleet.LONGITUDE)


def read_places(
    book: Workbook, catalogue: Catalogue, accounts: Sequence[str], cities: Sequence[str]
) -> dict[int, tuple[float, float]]:
    """Latitude and longitude [degrees] of each unit, by its position, whose account and town the sheet knows.

    A line without a town goes for the account in any town.
    """
    known: dict[tuple[str, str], tuple[float, float]] = {}
    for sheet in book.sheets:
        if sheet.name.strip().casefold() != route.SITES_SHEET.casefold():
            continue
        lines = read_lines(book, sheet.name, COLUMNS, fleet.ACCOUNT, catalogue)
        ends = [] if lines is None else [lines.values(column) for column in COLUMNS[2:]]
        if lines is None or len(ends) < 2 or ends[0] is None or ends[1] is None:
            continue
        told = (ends[0].missing == Missing.KNOWN) & (ends[1].missing == Missing.KNOWN)
        places = zip(ends[0].value.tolist(), ends[1].value.tolist(), strict=True)
        names = zip(lines.texts(fleet.ACCOUNT), lines.texts(fleet.CITY), strict=True)
        for (account, city), place, both in zip(names, places, told.tolist(), strict=True):
            if both and account:
                known.setdefault(_key(account, city), place)
    if not known:
        return {}
    keys = [_key(account, city) for account, city in zip(accounts, cities, strict=True)]
    found = [known.get(key) or known.get((key[0], "")) for key in keys]
    return {unit: place for unit, place in enumerate(found) if place is not None}


def _key(account: str, city: str) -> tuple[str, str]:
    return plain(account).casefold(), plain(city).casefold()
