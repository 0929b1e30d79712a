"""The last plan, read from the workbook it was written into.

Locks, promises, and what was left out how often.
"""

from __future__ import annotations

from math import isnan

from msgspec import Struct, field

from fleetaudit.catalogue.model import Catalogue
from fleetaudit.errors import InputError, together
from fleetaudit.reading.lines import Lines, read_lines
from fleetaudit.reading.plain import plain
from fleetaudit.routing.model import Lock, Promise
from fleetaudit.schema import route
from fleetaudit.workbook.book import Workbook
from fleetaudit.workbook.place import address, quoted

DAY_WORDS, CREW_WORDS = ("day", "date"), ("crew", "team")
BOTH_WORDS = (
    "both",
    "yes",
    "y",
    "x",
    "true",
    "locked",
    "all",
    "day and crew",
    "crew and day",
    "crew, day",
    "day, crew",
)
NO_WORDS = ("", "no", "n", "none", "-", "false")
CONFIRMED = ("confirm", "agreed", "yes")


class LastPlan(Struct):
    """By visit id: what is pinned, what was promised, the texts people filled in, and times left out."""

    locks: dict[str, Lock] = field(default_factory=dict)
    promises: dict[str, Promise] = field(default_factory=dict)
    kept: dict[str, tuple[str, str]] = field(default_factory=dict)
    times_left: dict[str, int] = field(default_factory=dict)


def read_last_plan(book: Workbook, catalogue: Catalogue) -> LastPlan:
    """Read the sheets of the last plan; a lock that says nothing understandable stops the run."""
    out, problems = LastPlan(), []
    for sheet in book.sheets:
        name = sheet.name.strip().casefold()
        if name.startswith(route.ROUTE_SHEET.casefold()):
            lines = read_lines(book, sheet.name, route.READ_FROM_ROUTE, route.VISIT_ID, catalogue)
            if lines is not None and lines.has(route.LOCK) and lines.has(route.TEAM):
                problems += _route(book, lines, out)
        elif name.startswith(route.LEFT_SHEET.casefold()):
            lines = read_lines(book, sheet.name, route.READ_FROM_LEFT, route.VISIT_ID, catalogue)
            if lines is not None and lines.has(route.TIMES_LEFT):
                _left(lines, out)
    if problems:
        raise InputError(together(problems))
    return out


def _route(book: Workbook, lines: Lines, out: LastPlan) -> list[str]:
    problems = []
    ids, crews, arrive = (lines.names(c) for c in (route.VISIT_ID, route.TEAM, route.ARRIVE))
    days, revisions = lines.values(route.DAY), lines.values(route.REVISION)
    locks, agreed, consent = (lines.texts(c) for c in (route.LOCK, route.APPOINTMENT, route.CONSENT))
    for place, row in enumerate(lines.rows):
        name = ids[place]
        if not name or name in out.promises:
            continue
        number = float("nan") if days is None else float(days.value[place])
        day = None if isnan(number) else round(number)
        crew = plain(crews[place])
        if agreed[place] or consent[place]:
            out.kept[name] = agreed[place], consent[place]
        revision = float("nan") if revisions is None else float(revisions.value[place])
        if day is not None and crew:
            confirmed = agreed[place].strip().casefold().startswith(CONFIRMED)
            out.promises[name] = Promise(
                crew, day, confirmed, arrive[place], 0 if isnan(revision) else round(revision)
            )
        cell = f"{book.path.name}: {quoted(lines.data.name)}!{address(row, lines.number(route.LOCK))}"
        lock, problem = _lock(locks[place], crew, day, cell)
        if problem:
            problems.append(problem)
        elif lock is not None:
            out.locks[name] = lock
    return problems


def _lock(text: str, crew: str, day: int | None, cell: str) -> tuple[Lock | None, str]:
    word = " ".join(plain(text).casefold().split())
    if word in NO_WORDS:
        return None, ""
    wants_day, wants_crew = word in (*DAY_WORDS, *BOTH_WORDS), word in (*CREW_WORDS, *BOTH_WORDS)
    if not wants_day and not wants_crew:
        return None, f'{cell}: "{text}" is no lock. Write day, crew or both, or leave it blank.'
    if wants_day and day is None:
        return None, f"{cell}: the line is locked to its day, but the day cannot be read. Write a date."
    if wants_crew and not crew:
        return None, f"{cell}: the line is locked to its crew, but names none. Fill in the crew."
    return Lock(crew if wants_crew else "", day if wants_day else None, cell), ""


def _left(lines: Lines, out: LastPlan) -> None:
    ids, times = lines.names(route.VISIT_ID), lines.values(route.TIMES_LEFT)
    agreed, consent = (lines.texts(c) for c in (route.APPOINTMENT, route.CONSENT))
    for place, name in enumerate(ids):
        if not name:
            continue
        number = float("nan") if times is None else float(times.value[place])
        out.times_left[name] = 0 if isnan(number) else max(0, round(number))
        if agreed[place] or consent[place]:
            out.kept.setdefault(name, (agreed[place], consent[place]))
