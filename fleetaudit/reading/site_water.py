"""The water of a site, from the sheet of sites, for units that give none of their own."""

from __future__ import annotations

import numpy as np

from fleetaudit.catalogue.model import Catalogue
from fleetaudit.facts.frame import Codes, Flags, Frame
from fleetaudit.language import say
from fleetaudit.reading.lines import Lines, read_lines
from fleetaudit.reading.plain import plain
from fleetaudit.reading.remarks import CELLS, Log, spoken
from fleetaudit.schema import fleet, route
from fleetaudit.schema.column import Column, Missing, Origin
from fleetaudit.schema.quantity import Kind
from fleetaudit.schema.remark import Level
from fleetaudit.workbook.book import Workbook
from fleetaudit.workbook.place import quoted

#: what the sheet may say of a site's water; temperatures are taken together, so that ends of one range match
TEMPERATURES = (fleet.COLD, fleet.WARM)
COLUMNS = (*TEMPERATURES, fleet.WATER_SOURCE)
_KEYS = (fleet.ACCOUNT, fleet.CITY)


def fill(frame: Frame, book: Workbook, catalogue: Catalogue, log: Log) -> None:
    """Give units without any temperature, or without a source of water, that of their account and town.

    A line without a town goes for the account in any town. Origin is that of a value taken over from another
    cell, so that whatever rests on it is likely at most.
    """
    if fleet.ACCOUNT.name not in frame.columns:
        return
    for name in dict.fromkeys(sheet.name for sheet in book.sheets):
        if name.strip().casefold() != route.SITES_SHEET.casefold() or name == log.sheet:
            continue
        lines = read_lines(book, name, (*_KEYS, *COLUMNS), fleet.ACCOUNT, catalogue)
        if lines is not None and any(lines.has(column) for column in COLUMNS):
            line = _line_of_each_unit(frame, lines)
            own = [~_blank(frame, column) for column in (*TEMPERATURES, fleet.TEMPERATURE)]
            free = ~np.logical_or.reduce(own)
            for column in COLUMNS:
                taken = free if column in TEMPERATURES else _blank(frame, column)
                _take(frame, lines, column, np.where(taken, line, -1), log)
            log.remarks += lines.log.remarks


def _line_of_each_unit(frame: Frame, lines: Lines) -> Codes:
    """Position of the line that goes for each unit, -1 where none does."""
    places: dict[tuple[str, str], int] = {}
    for place, key in enumerate(zip(*(lines.texts(column) for column in _KEYS), strict=True)):
        if key[0]:
            places.setdefault(_key(*key), place)
    sites = zip(frame.text(fleet.ACCOUNT), frame.text(fleet.CITY), strict=True)
    keys = (_key(account, city) for account, city in sites)
    found = [places.get(key, places.get((key[0], ""), -1)) if key[0] else -1 for key in keys]
    return np.array(found, dtype=np.int64)


def _key(account: str, city: str) -> tuple[str, str]:
    return plain(account).casefold(), plain(city).casefold()


def _blank(frame: Frame, column: Column) -> Flags:
    return np.asarray(np.isin(frame.why_missing(column), (Missing.BLANK, Missing.NO_COLUMN)))


def _take(frame: Frame, lines: Lines, column: Column, line: Codes, log: Log) -> None:
    """Take over one column where a line is named for the unit and says something that can be used."""
    values = lines.values(column)
    if values is None or not (line >= 0).any():
        return
    told = (line >= 0) & (values.missing[line] == Missing.KNOWN)
    if not told.any():
        return
    key = column.name
    if not frame.has(column):
        frame.missing[key] = np.full(frame.units, int(Missing.BLANK))
        frame.origin[key] = np.full(frame.units, int(Origin.ABSENT))
    frame.missing[key] = np.where(told, int(Missing.KNOWN), frame.missing[key])
    frame.origin[key] = np.where(told, int(Origin.FILLED), frame.origin[key])
    if column.quantity.kind is Kind.CHOICE:
        codes = np.where(told, values.value[line], frame.code(key))
        frame.codes[key] = codes.astype(np.int64)
    else:
        frame.numbers[column.key] = np.where(told, values.value[line], frame.number(column))
    log.add(
        Level.INFO,
        "water-of-the-site",
        say(
            "{cells}: {column} taken from the sheet {sheet}, by account, for units that give none.",
            cells=CELLS,
            column=spoken(column),
            sheet=quoted(lines.data.name),
        ),
        log.cells(frame.rows[told], frame.columns.get(key, frame.columns[fleet.ACCOUNT.name])),
        assumed="water of the account",
        effect="a finding that rests on it is likely at most",
        column=key,
    )
