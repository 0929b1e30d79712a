"""What the Crews sheet says of depots, days and trucks."""

from __future__ import annotations

from math import isnan, nan
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from msgspec import Struct, field

from fleetaudit.catalogue.model import Catalogue
from fleetaudit.errors import InputError, together
from fleetaudit.language import say
from fleetaudit.reading.hours import dates_of, days_of, skills_of, time_of
from fleetaudit.reading.lines import Lines, read_lines
from fleetaudit.reading.plain import plain
from fleetaudit.reading.remarks import spoken
from fleetaudit.routing import geocode
from fleetaudit.routing.model import Crew, Place
from fleetaudit.schema import company, route
from fleetaudit.schema.column import Column
from fleetaudit.units import from_si
from fleetaudit.workbook.book import Workbook
from fleetaudit.workbook.place import address, quoted

USUAL_DAYS = frozenset(range(5))


class CrewsSheet(Struct):
    """Crews that can be planned for, what was assumed of each, and names of those that cannot."""

    crews: list[Crew] = field(default_factory=list)
    assumed: list[tuple[str, str, str]] = field(default_factory=list)
    unused: list[str] = field(default_factory=list)


def read_crews_sheet(books: list[Workbook], catalogue: Catalogue) -> CrewsSheet:
    """Crews of the first workbook whose Crews sheet plans any.

    One error names all cells that cannot be used.
    """
    out, problems = CrewsSheet(), []
    for book in books:
        for info in book.sheets:
            if info.name.strip().casefold() != company.CREWS.name.casefold():
                continue
            lines = read_lines(book, info.name, (company.CREW, *route.CREW_COLUMNS), company.CREW, catalogue)
            if lines is not None:
                reader = _Reader(book, lines, catalogue, out)
                reader.read()
                problems += reader.problems
        if out.crews:
            break
    if problems:
        raise InputError(together(problems))
    if not out.crews:
        raise InputError(
            say(
                '{file}: no crew can be planned for. Give each crew of the Crews sheet "{latitude}" and '
                '"{longitude}" (or "{postcode}"), "{payload}" and "{room}".',
                file=books[0].path.name,
                latitude=route.DEPOT_LATITUDE.title,
                longitude=route.DEPOT_LONGITUDE.title,
                postcode=route.DEPOT_POSTCODE.title,
                payload=route.PAYLOAD.title,
                room=route.ROOM.title,
            )
        )
    return out


class _Reader:
    """Reads one sheet line by line."""

    def __init__(self, book: Workbook, lines: Lines, catalogue: Catalogue, out: CrewsSheet) -> None:
        self.book, self.lines, self.catalogue, self.out = book, lines, catalogue, out
        self.problems: list[str] = []
        self.numbers = {c.name: lines.values(c) for c in route.CREW_COLUMNS if c.numeric}
        self.texts = {c.name: lines.texts(c) for c in route.CREW_COLUMNS}

    def read(self) -> None:
        """Every line with a crew; one that says nothing of depot and truck is only a name."""
        for place, name in enumerate(self.lines.names(company.CREW)):
            said = any(self.texts[column.name][place] for column in route.CREW_COLUMNS)
            if not name or not said:
                if name:
                    self.out.unused.append(plain(name))
                continue
            crew = self._crew(place, plain(name))
            if crew is not None:
                self.out.crews.append(crew)

    def _crew(self, place: int, name: str) -> Crew | None:
        where = self._place(place, name)
        payload, room = self._number(place, route.PAYLOAD), self._number(place, route.ROOM)
        for column, value in ((route.PAYLOAD, payload), (route.ROOM, room)):
            if isnan(value):
                self._problem(
                    place,
                    column,
                    say(
                        'crew "{crew}" has no "{column}" that can be used. Fill it in.',
                        crew=name,
                        column=column.title,
                    ),
                )
        before = len(self.problems)
        start = self._time(place, route.DAY_STARTS, "route_crew_starts", name)
        end = self._time(place, route.DAY_ENDS, "route_crew_ends", name)
        if end <= start and len(self.problems) == before:
            self._problem(
                place,
                route.DAY_ENDS,
                say('crew "{crew}" ends its day before it starts. Correct one of the two.', crew=name),
            )
        crew = (
            None
            if where is None
            else Crew(
                name,
                where,
                self._days(place, name),
                start,
                end,
                payload,
                room,
                round(self._or(place, route.PEOPLE, "route_crew_people", name)),
                round(self._or(place, route.OVERTIME, "route_overtime", name)),
                self._or(place, route.OVERTIME_PRICE, "route_overtime_price", name),
                self._or(place, route.HOUR_PRICE, "route_hour_price", name),
                self._or(place, route.KM_PRICE, "route_km_price", name),
                round(self._filled(place, route.RELOADS, 1.0, "1", name)),
                self._off(place),
                plain(self.texts[route.PLACE_ID.name][place]),
                skills_of(self.texts[route.CREW_SKILLS.name][place]),
                self._time_zone(place),
            )
        )
        return crew if len(self.problems) == before and not isnan(payload + room) else None

    def _place(self, place: int, name: str) -> Place | None:
        latitude, longitude = (self._number(place, c) for c in (route.DEPOT_LATITUDE, route.DEPOT_LONGITUDE))
        found, why = geocode.by_coordinates(latitude, longitude)
        code = self.texts[route.DEPOT_POSTCODE.name][place]
        if found is None and code:
            found, why = geocode.by_postcode(code)
        if found is None:
            self._problem(
                place,
                route.DEPOT_LATITUDE,
                say('the depot of crew "{crew}" has no place: {why}. Fill it in.', crew=name, why=why),
            )
        return found

    def _number(self, place: int, column: Column) -> float:
        values = self.numbers[column.name]
        if values is None:
            return nan
        number = float(values.value[place])
        text = self.texts[column.name][place]
        if text and isnan(number):
            self._problem(
                place,
                column,
                say('"{text}" cannot be read as "{column}". Write a number.', text=text, column=column.title),
            )
        low, high = column.bounds or (-float("inf"), float("inf"))
        if not isnan(number) and not low <= number <= high:
            self._problem(
                place,
                column,
                say('"{text}" cannot be true as "{column}". Correct it.', text=text, column=column.title),
            )
            return nan
        return number

    def _or(self, place: int, column: Column, setting: str, name: str) -> float:
        shown = self.catalogue.settings[setting]
        return self._filled(place, column, float(shown.value), f"Settings: {setting}", name)

    def _filled(self, place: int, column: Column, usual: float, source: str, name: str) -> float:
        number = self._number(place, column)
        if isnan(number):
            unit = column.quantity.us
            shown = f"{float(from_si(usual, unit)):g} {unit}" if unit else f"{usual:g}"
            self.out.assumed.append((f"{name}: {spoken(column)}", shown, source))
            return usual
        return number

    def _time(self, place: int, column: Column, setting: str, name: str) -> int:
        text = self.texts[column.name][place]
        usual = round(self.catalogue.number(setting))
        if not text:
            self.out.assumed.append(
                (f"{name}: {spoken(column)}", f"{usual / 3600:g} h", f"Settings: {setting}")
            )
            return usual
        found = time_of(text)
        if found is None:
            self._problem(
                place,
                column,
                say('"{text}" is no time of day. Write it as {example}.', text=text, example=column.example),
            )
        return usual if found is None else found

    def _days(self, place: int, name: str) -> frozenset[int]:
        text = self.texts[route.WORK_DAYS.name][place]
        if not text:
            self.out.assumed.append(
                (f"{name}: {spoken(route.WORK_DAYS)}", say("Monday to Friday"), say("usual week"))
            )
            return USUAL_DAYS
        found = days_of(text)
        if found is None:
            self._problem(
                place,
                route.WORK_DAYS,
                say(
                    '"{text}" names no days. Write them as {example}.',
                    text=text,
                    example=route.WORK_DAYS.example,
                ),
            )
        return found or USUAL_DAYS

    def _time_zone(self, place: int) -> str:
        name = plain(self.texts[route.TIME_ZONE.name][place]).strip()
        if not name:
            return ""
        try:
            ZoneInfo(name)
        except (ZoneInfoNotFoundError, ValueError, OSError):
            self._problem(
                place,
                route.TIME_ZONE,
                say(
                    '"{text}" is no time zone that this computer knows. Write it as {example}.',
                    text=name,
                    example=route.TIME_ZONE.example,
                ),
            )
            return ""
        return name

    def _off(self, place: int) -> frozenset[int]:
        text = self.texts[route.DAYS_OFF.name][place]
        found = dates_of(text)
        if found is None:
            self._problem(
                place,
                route.DAYS_OFF,
                say(
                    '"{text}" is no list of dates. Write them as {example}.',
                    text=text,
                    example=route.DAYS_OFF.example,
                ),
            )
        return found or frozenset()

    def _problem(self, place: int, column: Column, text: str) -> None:
        number = self.lines.number(column) or self.lines.number(company.CREW)
        cell = address(self.lines.rows[place], number)
        self.problems.append(f"{self.book.path.name}: {quoted(self.lines.data.name)}!{cell}: {text}")
