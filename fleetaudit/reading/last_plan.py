"""The last plan, read from the workbook it was written into.

Locks, promises, and what was left out how often.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from math import isnan

from msgspec import Struct, field

from fleetaudit.catalogue.model import Catalogue
from fleetaudit.errors import InputError, together
from fleetaudit.language import in_every_language, say
from fleetaudit.reading.lines import Lines, read_lines
from fleetaudit.reading.plain import folded, plain
from fleetaudit.routing.model import Lock, Promise
from fleetaudit.schema import route
from fleetaudit.workbook.book import Workbook
from fleetaudit.workbook.place import address, quoted

DAY, CREW, BOTH = route.LOCK.choices
NO_LOCK = ("", "no", "n", "none", "-", "false")
CONFIRMED, AGREED = "confirm", ("agreed", "yes")


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
            out.promises[name] = Promise(
                crew, day, _confirmed(agreed[place]), arrive[place], 0 if isnan(revision) else round(revision)
            )
        cell = f"{book.path.name}: {quoted(lines.data.name)}!{address(row, lines.number(route.LOCK))}"
        lock, problem = _lock(locks[place], crew, day, cell)
        if problem:
            problems.append(problem)
        elif lock is not None:
            out.locks[name] = lock
    return problems


def _lock(text: str, crew: str, day: int | None, cell: str) -> tuple[Lock | None, str]:
    word = _asked(text)
    if word == "":
        return None, ""
    wants_day, wants_crew = word in (DAY, BOTH), word in (CREW, BOTH)
    if word is None:
        return None, say(
            '{cell}: "{text}" is no lock. Write {day}, {crew} or {both}, or leave it blank.',
            cell=cell,
            text=text,
            day=say(DAY),
            crew=say(CREW),
            both=say(BOTH),
        )
    if wants_day and day is None:
        return None, say(
            "{cell}: the line is locked to its day, but the day cannot be read. Write a date.", cell=cell
        )
    if wants_crew and not crew:
        return None, say(
            "{cell}: the line is locked to its crew, but names none. Fill in the crew.", cell=cell
        )
    return Lock(crew if wants_crew else "", day if wants_day else None, cell), ""


def _confirmed(appointment: str) -> bool:
    first = re.split(r"[\s,.;:]", folded(appointment), maxsplit=1)[0]
    return first.startswith(CONFIRMED) or first in _forms(AGREED)


def _asked(text: str) -> str | None:
    """Word of the lock column that a text stands for, in whatever language; "" for none, None if unknown."""
    word = folded(text)
    if word in _forms(NO_LOCK):
        return ""
    return next((key for key, more in route.LOCK.choices.items() if word in _forms((key, *more))), None)


def _forms(words: Iterable[str]) -> tuple[str, ...]:
    return tuple(folded(one) for word in words for one in in_every_language(word))


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
