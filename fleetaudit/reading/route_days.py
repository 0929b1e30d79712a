"""Days on which a plan in the workbook sends somebody to a unit; the plan's own sheet says so."""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator
from math import isnan

from fleetaudit.catalogue.model import Catalogue
from fleetaudit.reading.lines import read_lines
from fleetaudit.reading.plain import plain
from fleetaudit.schema import route
from fleetaudit.workbook.book import Workbook

COLUMNS = (route.VISIT_ID, route.DAY, route.TEAM, route.UNITS)


def read_route_days(
    book: Workbook, catalogue: Catalogue, unit_ids: Iterable[str]
) -> dict[str, tuple[int, str]]:
    """Day, counted from 1970-01-01, and crew of the first visit to each of the units that the plan holds."""
    known = {_folded(unit): unit for unit in unit_ids}
    planned: dict[str, tuple[int, str]] = {}
    for sheet in book.sheets:
        if not sheet.name.strip().casefold().startswith(route.ROUTE_SHEET.casefold()):
            continue
        lines = read_lines(book, sheet.name, COLUMNS, route.VISIT_ID, catalogue)
        days = None if lines is None else lines.values(route.DAY)
        if lines is None or days is None:
            continue
        units, crews = lines.names(route.UNITS), lines.names(route.TEAM)
        for listed, crew, day in zip(units, crews, days.value.tolist(), strict=True):
            if isnan(day):
                continue
            visit = round(day), plain(crew)
            for unit in _listed(listed, known):
                planned[unit] = min(visit, planned.get(unit, visit))
    return {unit: planned[name] for name, unit in known.items() if name in planned}


def _listed(text: str, known: Container[str]) -> Iterator[str]:
    """Units of a list parted by commas; a name that holds commas itself is found by what the fleet lists."""
    pieces = text.split(",")
    while pieces:
        longest = next(
            (end for end in range(len(pieces), 0, -1) if _folded(",".join(pieces[:end])) in known), 0
        )
        if longest:
            yield _folded(",".join(pieces[:longest]))
        del pieces[: longest or 1]


def _folded(unit_id: str) -> str:
    return " ".join(plain(unit_id).casefold().split())
