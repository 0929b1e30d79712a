"""A route from a workbook: audit, visits, plan, files."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from fleetaudit.accepting import accept
from fleetaudit.audit_file import Request, audited
from fleetaudit.auditing.run import audit
from fleetaudit.catalogue.model import Catalogue
from fleetaudit.checks.check import Tier
from fleetaudit.checks.registry import BY_SLUG
from fleetaudit.errors import InputError, RouteError
from fleetaudit.language import ENGLISH, ISO, meanwhile, say, spoken
from fleetaudit.reading.accepted import read_accepted
from fleetaudit.reading.company import settle
from fleetaudit.reading.crews_sheet import read_crews_sheet
from fleetaudit.reading.fleet import Fleet, read_asked
from fleetaudit.reading.last_plan import read_last_plan
from fleetaudit.reading.matrix import Matrix, read_matrix
from fleetaudit.reading.returns import read_history
from fleetaudit.reading.roads import as_csv, ask_roads
from fleetaudit.reading.sites_sheet import SiteTerms, read_sites, terms_of
from fleetaudit.reading.stock import read_stock
from fleetaudit.routing import geocode
from fleetaudit.routing.dates import day_of
from fleetaudit.routing.distance import Legs, Roads, legs
from fleetaudit.routing.model import Crew, Place, Plan, Problem, Rules, Shift, Visit, weekday
from fleetaudit.routing.plan import NORMAL, plan
from fleetaudit.routing.stops import Site, usual_week, visits, with_memory
from fleetaudit.routing.tasks import Wishes, work
from fleetaudit.routing.what_if import answers
from fleetaudit.schema import fleet
from fleetaudit.schema.remark import Remark
from fleetaudit.workbook.book import Workbook, open_workbook
from fleetaudit.writing.orders import DAY, ROUTE, Clerk
from fleetaudit.writing.report import Report
from fleetaudit.writing.route_assumptions import Basis, assumptions
from fleetaudit.writing.route_json import document
from fleetaudit.writing.route_orders import route_orders, unit_gravel, unit_parts
from fleetaudit.writing.route_report import RouteReport, WhatIf

PRIORITIES = range(1, 6)
SAME_PLACE_DEGREES = 0.01


class RouteRequest(Struct, frozen=True):
    """What is asked for; `start` is the first day planned, the day after `audit.as_of` if not given."""

    audit: Request
    start: date | None = None
    days: int | None = None
    fixes: tuple[str, ...] = ("now",)
    matrix: tuple[Path, ...] = ()
    effort: str = NORMAL
    use_solver: bool = True
    roads: str = ""


class Planned(Struct, frozen=True):
    """A plan with all that the writers want to know beside it."""

    report: RouteReport
    audit_report: Report
    listed: Fleet
    catalogue: Catalogue
    ways_csv: str = ""
    language: str = ENGLISH
    dates: str = ISO


def plan_workbook(request: RouteRequest) -> Planned:
    """Audit a workbook and plan its visits; nothing is written."""
    asked = request.audit
    with meanwhile(asked.language, asked.dates):
        book = open_workbook(asked.workbook)
        catalogue, remarks, language, dates = settle(asked.settings, book, asked.language, asked.dates)
    with spoken(language, dates):
        planned = _planned(request, book, catalogue, remarks)
    return replace(planned, language=language, dates=dates)


def _planned(request: RouteRequest, book: Workbook, catalogue: Catalogue, remarks: list[Remark]) -> Planned:
    asked = request.audit
    listed = read_asked(asked, book, catalogue)
    books = [book, *([open_workbook(asked.settings)] if asked.settings is not None else [])]
    crews = read_crews_sheet(books, catalogue)
    last = read_last_plan(book, catalogue)
    matrix = read_matrix(request.matrix)
    sites = read_sites(book, listed.sheet, catalogue)
    result = audit(listed.frame, catalogue, asked.as_of, due_within_days=asked.due_within_days)
    sheet = read_accepted(book, catalogue)
    history = read_history(book, catalogue).lines if sheet.acceptances else ()
    result, _ = accept(result, sheet.acceptances, history)
    first = day_of(request.start) if request.start is not None else day_of(asked.as_of) + 1
    wishes = _wishes(request.fixes, first)
    found = work(result, wishes)
    finder = _Finder(listed, sites, matrix, catalogue)
    made = visits(found.tasks, found.no_load, finder.site, catalogue, crews.crews, first)
    made = with_memory(made, last.locks, last.promises, last.times_left)
    asked_pairs = ask_roads(request.roads, _placed(made, crews.crews)) if request.roads else {}
    matrix = Matrix({**asked_pairs, **matrix.pairs})
    problem, ways = problem_of(made, crews.crews, catalogue, matrix, first, _days(request, catalogue))
    made_plan = plan(problem, request.effort, use_solver=request.use_solver)
    report = audited(listed, catalogue, asked, book, remarks)
    placed = {task.unit for one in made for task in one.with_riders().tasks}
    alone = sum(task.rides and task.unit not in placed for task in found.tasks)
    basis = Basis(
        made_plan,
        ways,
        matrix.ids,
        crews.assumed,
        crews.unused,
        finder.usual_hours,
        finder.doubtful,
        found.density_assumed,
        alone,
        last.locks,
    )
    stock, _ = read_stock(books, catalogue)
    clerk = Clerk(catalogue, report.system)
    orders = route_orders(made_plan, result, clerk, stock)
    report.order_groups = [*(one for one in report.order_groups if one.kind not in (DAY, ROUTE)), *orders]
    labels = listed.frame.text(fleet.VESSEL_LABEL)
    layers, media = (listed.frame.text(column) for column in (fleet.LAYERS, fleet.MEDIUM))
    access = {visit.id: finder.terms(visit.tasks[0].unit).access for visit in made}
    units = {unit.index: unit for unit in report.units}
    shown = RouteReport(
        report.version,
        report.file,
        asked.as_of,
        report.system,
        made_plan,
        tuple(assumptions(basis, catalogue)),
        units,
        access,
        dict(last.kept),
        {index: labels[index] for index in units},
        _media(report),
        tuple(request.fixes),
        catalogue.number("route_circuity"),
        own_ways=bool(matrix.ids),
        orders=orders,
        parts=unit_parts(made_plan, result, clerk),
        gravel=unit_gravel(made_plan, result, clerk),
        renews_gravel=catalogue.switch("renew_gravel"),
        beds={unit: layers[unit] or media[unit] for unit in listed.frame.layers},
    )
    return Planned(shown, report, listed, catalogue, as_csv(asked_pairs) if asked_pairs else "")


def answered(base: Plan, request: RouteRequest) -> tuple[WhatIf, ...]:
    """The table of what a change would bring, against the plan that stands."""
    found = []
    for one in answers(base, request.effort, use_solver=request.use_solver):
        gap = one.plan.objective - base.objective
        verdict = say("no clear difference")
        if one.clear:
            verdict = say("{amount:,.0f} more" if gap > 0 else "{amount:,.0f} less", amount=abs(gap))
        found.append(WhatIf(say(one.question), len(one.plan.left_visits), one.plan.objective, verdict))
    return tuple(found)


def _placed(made: list[Visit], crews: list[Crew]) -> dict[str, Place]:
    """Places a routing engine is asked for, by the names the distance table knows them under."""
    named = {crew.matrix_id or crew.name: crew.place for crew in crews}
    return {**named, **{one.matrix_id or one.id: one.place for one in made if one.place is not None}}


def _media(report: Report) -> dict[int, str]:
    return {unit.index: unit.media for unit in report.units}


def _wishes(fixes: tuple[str, ...], first: int) -> Wishes:
    tiers, checks = set(), set()
    for word in fixes:
        if word == "now":
            tiers.add(int(Tier.NOW))
        elif word == "plan":
            tiers |= {int(Tier.NOW), int(Tier.PLAN)}
        elif word in BY_SLUG:
            checks.add(word)
        elif word != "none":
            raise InputError(
                say(
                    '--fixes "{word}" is neither now, plan or none nor a check, as restrictor-too-small.',
                    word=word,
                )
            )
    return Wishes(first, frozenset(tiers), frozenset(checks))


def _days(request: RouteRequest, catalogue: Catalogue) -> int:
    return request.days or round(catalogue.number("route_horizon_days") / 86400)


def problem_of(
    made: list[Visit], crews: list[Crew], catalogue: Catalogue, matrix: Matrix, first: int, working_days: int
) -> tuple[Problem, Legs]:
    """Problem of visits and crews over a number of days on which any crew works."""
    days: list[int] = []
    day = first
    while len(days) < working_days and day < first + 7 * working_days + 366:
        if any(weekday(day) in crew.weekdays and day not in crew.days_off for crew in crews):
            days.append(day)
        day += 1
    if not days:
        raise RouteError(
            say("No crew works on any day ahead. See the work days and days off of the Crews sheet.")
        )
    shifts = tuple(
        Shift(number, day)
        for day in days
        for number, crew in enumerate(crews)
        if weekday(day) in crew.weekdays and day not in crew.days_off
    )
    roads = Roads(
        catalogue.number("route_circuity"),
        (
            catalogue.number("route_speed_near"),
            catalogue.number("route_speed_middle"),
            catalogue.number("route_speed_far"),
        ),
        (catalogue.number("route_near_ends") / 1000, catalogue.number("route_middle_ends") / 1000),
        (catalogue.number("route_apart_town"), catalogue.number("route_apart_country")),
    )
    places: list[Place | None] = [*(crew.place for crew in crews), *(one.place for one in made)]
    ids = [*(crew.matrix_id or crew.name for crew in crews), *(one.matrix_id or one.id for one in made)]
    ways = legs(places, roads, ids, matrix.pairs)
    return Problem(
        tuple(made), tuple(crews), shifts, ways.drive_s, ways.road_m, rules_of(catalogue), first, days[-1]
    ), ways


def rules_of(catalogue: Catalogue) -> Rules:
    """Rules of planning as the settings in force have them."""
    number: Callable[[str], float] = lambda key: catalogue.number(f"route_{key}")  # noqa: E731 - a short name for many uses
    return Rules(
        round(number("lunch")),
        round(number("lunch_from")),
        round(number("lunch_to")),
        round(number("reload")),
        tuple(number(f"value_{p}") for p in PRIORITIES),
        tuple(number(f"lateness_{p}") for p in PRIORITIES),
        number("ageing"),
        number("move_price"),
        number("move_price_soon"),
        round(number("soon_days") / 86400),
        round(number("window_margin")),
    )


class _Finder:
    """Site of a unit, worked out once for each site."""

    def __init__(
        self, listed: Fleet, sites: dict[tuple[str, str], SiteTerms], matrix: Matrix, catalogue: Catalogue
    ) -> None:
        frame = listed.frame
        self.accounts, self.cities, self.addresses = (
            frame.text(column) for column in (fleet.ACCOUNT, fleet.CITY, fleet.ADDRESS)
        )
        self.names, self.postcodes = frame.text(fleet.UNIT_ID), frame.text(fleet.POSTCODE)
        self.latitude, self.longitude = frame.number(fleet.LATITUDE), frame.number(fleet.LONGITUDE)
        self.sites, self.matrix, self.week = sites, matrix, usual_week(catalogue)
        self.memory: dict[tuple[str, str, str], Site] = {}
        self.rows: dict[tuple[str, str, str], list[int]] = {}
        for unit in range(frame.units):
            self.rows.setdefault(self._key(unit), []).append(unit)
        self.usual_hours: set[str] = set()
        self.doubtful: list[str] = []

    def _key(self, unit: int) -> tuple[str, str, str]:
        key = tuple(
            " ".join(t[unit].casefold().split()) for t in (self.accounts, self.cities, self.addresses)
        )
        return (key[0], key[1], key[2]) if any(key) else ("", "", self.names[unit])

    def terms(self, unit: int) -> SiteTerms:
        """What is said of the site of a unit."""
        return terms_of(self.sites, self.accounts[unit], self.cities[unit])

    def site(self, unit: int) -> Site:
        """Site of a unit."""
        key = self._key(unit)
        if key not in self.memory:
            self.memory[key] = self._made(key, unit)
        return self.memory[key]

    def _made(self, key: tuple[str, str, str], unit: int) -> Site:
        terms = self.terms(unit)
        name = self.accounts[unit] or self.addresses[unit] or self.names[unit]
        matrix_id = terms.matrix_id or (self.accounts[unit] if self.accounts[unit] in self.matrix.ids else "")
        matrix_id = matrix_id if matrix_id in self.matrix.ids else ""
        place, why = self._place(key, terms, unit, name)
        if terms.week is None:
            self.usual_hours.add(name)
        return Site(
            key,
            name,
            place,
            "" if place is not None else why,
            terms.week or self.week,
            terms.closed_days,
            terms.earliest_day,
            terms.latest_day,
            terms.people,
            matrix_id,
            terms.skills,
        )

    def _place(
        self, key: tuple[str, str, str], terms: SiteTerms, unit: int, name: str
    ) -> tuple[Place | None, str]:
        rows = [row for row in self.rows[key] if not np.isnan(self.latitude[row] + self.longitude[row])]
        if rows:
            spread = max(float(np.ptp(self.latitude[rows])), float(np.ptp(self.longitude[rows])))
            if spread > SAME_PLACE_DEGREES:
                self.doubtful.append(
                    say(
                        "{site}: its units have different coordinates; those of {unit} were used",
                        site=name,
                        unit=self.names[rows[0]],
                    )
                )
            return geocode.by_coordinates(float(self.latitude[rows[0]]), float(self.longitude[rows[0]]))
        place, why = geocode.by_coordinates(terms.latitude, terms.longitude, geocode.BY_SHEET)
        code = terms.postcode or self.postcodes[unit]
        if place is None and code:
            place, why = geocode.by_postcode(code, self.addresses[unit])
            if place is not None and why:
                self.doubtful.append(f"{name}: {why}")
        return place, why


def plan_route(request: RouteRequest) -> dict[str, Any]:
    """Plan of a workbook as plain values, the same as `fleetaudit route --json` writes."""
    return document(plan_workbook(request).report)
