"""What is said of sites: on a sheet of sites, else in columns of the list of units."""

from __future__ import annotations

from collections.abc import Mapping
from math import isnan, nan

from msgspec import Struct, field

from fleetaudit.catalogue.model import Catalogue
from fleetaudit.errors import InputError, together
from fleetaudit.language import say
from fleetaudit.reading.hours import dates_of, hours_of, skills_of
from fleetaudit.reading.lines import Lines, read_lines
from fleetaudit.reading.plain import plain
from fleetaudit.schema import fleet, route
from fleetaudit.schema.column import Column
from fleetaudit.workbook.book import Workbook
from fleetaudit.workbook.place import address, quoted

Week = tuple[tuple[int, int] | None, ...]
_KEYS = (fleet.ACCOUNT, fleet.CITY)


class SiteTerms(Struct, frozen=True):
    """Place, hours and wishes of one site; NaN, None and "" where nothing is said."""

    latitude: float = nan
    longitude: float = nan
    postcode: str = ""
    week: Week | None = None
    closed_days: frozenset[int] = field(default_factory=frozenset)
    earliest_day: int | None = None
    latest_day: int | None = None
    people: int = 0
    access: str = ""
    matrix_id: str = ""
    skills: frozenset[str] = frozenset()


def site_key(account: str, city: str) -> tuple[str, str]:
    """What tells sites apart on the sheet: account and town, whatever their capitals and blanks."""
    return plain(account).casefold(), plain(city).casefold()


def read_sites(book: Workbook, list_sheet: str, catalogue: Catalogue) -> dict[tuple[str, str], SiteTerms]:
    """Terms by account and town; a line without a town goes for the account in any town.

    Bad cells stop the run.
    """
    found: dict[tuple[str, str], SiteTerms] = {}
    problems: list[str] = []
    names = [
        sheet.name for sheet in book.sheets if sheet.name.strip().casefold() == route.SITES_SHEET.casefold()
    ]
    for name in dict.fromkeys([*names, list_sheet]):
        columns = (
            route.SITE_COLUMNS
            if name != list_sheet
            else (
                *_KEYS,
                *(
                    c
                    for c in route.SITE_COLUMNS
                    if c not in (*_KEYS, fleet.LATITUDE, fleet.LONGITUDE, fleet.POSTCODE)
                ),
            )
        )
        lines = read_lines(book, name, columns, fleet.ACCOUNT, catalogue)
        if lines is None or not any(lines.has(c) for c in columns if c not in _KEYS):
            continue
        reader = _Reader(book, lines)
        for key, terms in reader.sites():
            found.setdefault(key, terms)
        problems += reader.problems
    if problems:
        raise InputError(together(problems))
    return found


def terms_of(sites: Mapping[tuple[str, str], SiteTerms], account: str, city: str) -> SiteTerms:
    """Terms of a site, those of its account in any town where it has none of its own."""
    key = site_key(account, city)
    return sites.get(key) or sites.get((key[0], "")) or SiteTerms()


class _Reader:
    def __init__(self, book: Workbook, lines: Lines) -> None:
        self.book, self.lines = book, lines
        self.problems: list[str] = []
        self.texts = {column.name: lines.texts(column) for column in route.SITE_COLUMNS}
        self.numbers = {c.name: lines.values(c) for c in route.SITE_COLUMNS if c.numeric}

    def sites(self) -> list[tuple[tuple[str, str], SiteTerms]]:
        """Key and terms of each line that names an account and says anything."""
        out = []
        for place in range(len(self.lines.rows)):
            account, city = (self.texts[column.name][place] for column in _KEYS)
            if account and any(self.texts[c.name][place] for c in route.SITE_COLUMNS if c not in _KEYS):
                out.append((site_key(account, city), self._terms(place)))
        return out

    def _terms(self, place: int) -> SiteTerms:
        hours, closed = (self.texts[c.name][place] for c in (route.SITE_HOURS, route.CLOSED_DATES))
        week, days = hours_of(hours) if hours else None, dates_of(closed)
        if hours and week is None:
            self._problem(
                place,
                route.SITE_HOURS,
                say(
                    '"{text}" are no hours. Write them as {example}.',
                    text=hours,
                    example=route.SITE_HOURS.example,
                ),
            )
        if days is None:
            self._problem(
                place,
                route.CLOSED_DATES,
                say(
                    '"{text}" is no list of dates. Write them as {example}.',
                    text=closed,
                    example=route.DAYS_OFF.example,
                ),
            )
        people = self._number(place, route.PEOPLE_NEEDED)
        return SiteTerms(
            self._number(place, fleet.LATITUDE),
            self._number(place, fleet.LONGITUDE),
            self.texts[fleet.POSTCODE.name][place],
            week,
            days or frozenset(),
            self._day(place, route.EARLIEST),
            self._day(place, route.LATEST),
            0 if isnan(people) else round(people),
            self.texts[route.ACCESS.name][place],
            plain(self.texts[route.PLACE_ID.name][place]),
            skills_of(self.texts[route.SKILLS_NEEDED.name][place]),
        )

    def _number(self, place: int, column: Column) -> float:
        values = self.numbers.get(column.name)
        number = nan if values is None else float(values.value[place])
        text = self.texts[column.name][place]
        if values is not None and text and isnan(number):
            self._problem(
                place,
                column,
                say(
                    '"{text}" cannot be used as "{column}". Correct it or leave it blank.',
                    text=text,
                    column=column.title,
                ),
            )
        return number

    def _day(self, place: int, column: Column) -> int | None:
        number = self._number(place, column)
        return None if isnan(number) else round(number)

    def _problem(self, place: int, column: Column, text: str) -> None:
        cell = address(self.lines.rows[place], self.lines.number(column) or 1)
        self.problems.append(f"{self.book.path.name}: {quoted(self.lines.data.name)}!{cell}: {text}")
