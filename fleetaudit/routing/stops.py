"""From the audit to visits.

The work due at each site, what rides along, what is carried, and how urgent it is.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Mapping, Sequence
from math import ceil, isnan

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from fleetaudit.auditing.result import AuditResult, State
from fleetaudit.catalogue.model import Catalogue
from fleetaudit.checks.check import Confidence, Tier
from fleetaudit.checks.registry import CHECKS
from fleetaudit.facts import site
from fleetaudit.facts.due import due
from fleetaudit.parts import PartKind, parts
from fleetaudit.routing.model import MINUTE_S, WEEK, Crew, Lock, Place, Promise, Task, Visit
from fleetaudit.schema import fleet

#: findings that mean media to replace, and those that a visit does not mend
MEDIA_DUE = ("media-overdue", "media-due-soon")
NO_VISIT = ("data-unreadable", "data-implausible", "duplicate-unit", "media-date-unknown")
_PRIORITIES = {Tier.NOW: (4, 5), Tier.PLAN: (2, 3), Tier.NOTE: (1, 1)}
_ID_LENGTH = 5


class Wishes(Struct, frozen=True):
    """What is planned: media due, and fixes of these tiers or checks.

    `first_day` is the first day of the plan.
    """

    first_day: int
    tiers: frozenset[int]
    checks: frozenset[str]


class Site(Struct, frozen=True):
    """What is known of one site beside its units."""

    key: tuple[str, str, str]
    name: str
    place: Place | None
    no_place: str
    open_s: tuple[tuple[int, int] | None, ...]
    closed_days: frozenset[int] = frozenset()
    earliest_day: int | None = None
    latest_day: int | None = None
    people: int = 0
    matrix_id: str = ""


class Work(Struct, frozen=True):
    """Tasks of the fleet, and units whose work cannot be loaded for lack of data."""

    tasks: tuple[Task, ...]
    no_load: Mapping[int, str]
    density_assumed: int


def work(result: AuditResult, wishes: Wishes) -> Work:
    """Task of each unit with something to do; those of notes and doubtful findings only ride along."""
    view, catalogue = result.view, result.view.catalogue
    unit, check = result.pairs(State.FOUND)
    media = {part.unit: part for part in parts(result) if part.kind is PartKind.MEDIUM}
    density = view.figure("bulk_density_kg_m3")[0]
    day = due(view).day
    names = view.frame.text(fleet.UNIT_ID)
    vessels = site.vessels(view)
    by_unit: dict[int, list[int]] = {}
    for row, place in zip(unit.tolist(), check.tolist(), strict=True):
        if CHECKS[place].slug not in NO_VISIT:
            by_unit.setdefault(row, []).append(place)
    tasks, no_load, assumed = [], {}, 0
    for row, places in by_unit.items():
        chosen = [place for place in places if _chosen(result, row, place, wishes)]
        due_day = int(day.value[row]) if day.known[row] else None
        slugs = tuple(CHECKS[place].slug for place in (chosen or places))
        kg = m3 = 0.0
        minutes = 0.0
        if any(slug in MEDIA_DUE for slug in slugs) and chosen:
            volume = media[row].size * media[row].count if row in media else float("nan")
            if isnan(volume):
                no_load[row] = f"the bed of {names[row]} has no volume"
            else:
                known = not np.isnan(density[row])
                assumed += not known
                m3, kg = (
                    volume,
                    volume * (float(density[row]) if known else catalogue.number("route_default_density")),
                )
                minutes += catalogue.number("route_rebed") * float(vessels[row])
                minutes += catalogue.number("route_rebed_per_ft3") * volume / _CUBIC_FOOT_M3
        fixes = [slug for slug in slugs if slug not in MEDIA_DUE]
        minutes += (
            catalogue.number("route_fix") * len(fixes) if chosen else catalogue.number("route_ride_along")
        )
        tier = min(int(result.checks[place].tier[row]) for place in (chosen or places))
        tasks.append(
            Task(
                row,
                names[row],
                kg,
                m3,
                kg * catalogue.number("route_wet_mass"),
                minutes,
                _people(kg / max(float(vessels[row]), 1.0), catalogue),
                due_day,
                _priority(tier, due_day, wishes.first_day, catalogue),
                not chosen,
                slugs,
            )
        )
    return Work(tuple(tasks), no_load, assumed)


_CUBIC_FOOT_M3 = 0.3048**3


def _chosen(result: AuditResult, row: int, place: int, wishes: Wishes) -> bool:
    """Whether a finding makes a trip of its own."""
    check = result.checks[place]
    if int(check.confidence[row]) == Confidence.MEASURE_FIRST:
        return False
    slug = CHECKS[place].slug
    if slug in MEDIA_DUE or slug in wishes.checks:
        return True
    return int(check.tier[row]) in wishes.tiers and int(check.tier[row]) != Tier.NOTE


def _priority(tier: int, due_day: int | None, first_day: int, catalogue: Catalogue) -> int:
    usual, urgent = _PRIORITIES[Tier(tier)]
    late = 0 if due_day is None else first_day - due_day
    return urgent if late * _DAY_S >= catalogue.number("route_overdue_urgent") else usual


_DAY_S = 86400.0


def _people(kg_each: float, catalogue: Catalogue) -> int:
    """How many people the heaviest vessel takes."""
    return 1 + sum(kg_each >= catalogue.number(f"route_{word}_people_from") for word in ("two", "three"))


def visits(
    tasks: Iterable[Task],
    no_load: Mapping[int, str],
    site_of: Callable[[int], Site],
    catalogue: Catalogue,
    crews: Sequence[Crew],
    first_day: int,
) -> list[Visit]:
    """One visit for each site with work that makes a trip.

    In parts where a truck or a day cannot take all of it.
    """
    by_site: dict[tuple[str, str, str], tuple[Site, list[Task]]] = {}
    for task in tasks:
        place = site_of(task.unit)
        by_site.setdefault(place.key, (place, []))[1].append(task)
    made, ids = [], set()
    for key in sorted(by_site):
        here, listed = by_site[key]
        trips = [task for task in listed if not task.rides]
        if not trips:
            continue
        name = visit_id(key)
        while name in ids:
            name = visit_id((*key[:2], key[2] + name))
        ids.add(name)
        blocked = [task for task in trips if task.unit in no_load]
        usable = [task for task in trips if task.unit not in no_load]
        riders = [task for task in listed if task.rides]
        for number, part in enumerate(_parts(usable, catalogue, crews)):
            label = name if number == 0 else f"{name}-{number + 1}"
            made.append(_visit(label, here, [*part, *(riders if number == 0 else [])], catalogue, first_day))
        if blocked:
            alone = _visit(f"{name}-X" if usable else name, here, blocked, catalogue, first_day)
            made.append(replace(alone, no_load="; ".join(no_load[task.unit] for task in blocked)))
    return made


def _parts(tasks: Sequence[Task], catalogue: Catalogue, crews: Sequence[Crew]) -> list[list[Task]]:
    """Tasks of a site in as few lots as the largest truck and the longest day take."""
    kg = max((crew.payload_kg for crew in crews), default=0.0)
    m3 = max((crew.volume_m3 for crew in crews), default=0.0)
    longest = max((crew.end_s - crew.start_s for crew in crews), default=0)
    lots: list[list[Task]] = []
    for task in tasks:
        for lot in lots:
            both = [*lot, task]
            fits = max(sum(t.kg_new for t in both), sum(t.kg_spent for t in both)) <= kg
            if fits and sum(t.m3_new for t in both) <= m3 and service_s(both, catalogue) <= longest / 2:
                lot.append(task)
                break
        else:
            lots.append([task])
    return lots


def service_s(tasks: Iterable[Task], catalogue: Catalogue) -> int:
    """Time at the site [s], whole minutes: one set-up, all the work, and a margin."""
    work_s = catalogue.number("route_set_up") + sum(task.work_s for task in tasks)
    return ceil(work_s * (1 + catalogue.number("route_service_margin")) / MINUTE_S) * MINUTE_S


def _visit(name: str, here: Site, tasks: Sequence[Task], catalogue: Catalogue, first_day: int) -> Visit:
    own = [task for task in tasks if not task.rides]
    margin = round(catalogue.number("route_window_margin"))
    hours = tuple(None if h is None or h[1] - margin <= h[0] else (h[0], h[1] - margin) for h in here.open_s)
    days = [task.due_day for task in own if task.due_day is not None]
    return Visit(
        name,
        here.name,
        tuple(tasks),
        here.place,
        service_s(tasks, catalogue),
        sum(t.kg_new for t in tasks),
        sum(t.m3_new for t in tasks),
        sum(t.kg_spent for t in tasks),
        max(here.people, *(t.people for t in own)),
        max(t.priority for t in own),
        min(days, default=first_day),
        hours,
        here.closed_days,
        here.earliest_day,
        here.latest_day,
        matrix_id=here.matrix_id,
        no_place=here.no_place,
    )


def visit_id(key: tuple[str, str, str]) -> str:
    """Name of a visit that stays the same as long as account, town and address do.

    >>> visit_id(("dairy", "", ""))
    'V-75932'
    """
    return "V-" + hashlib.sha256("\x1f".join(key).encode()).hexdigest()[:_ID_LENGTH].upper()


def usual_week(catalogue: Catalogue) -> tuple[tuple[int, int] | None, ...]:
    """Hours of a site that gives none."""
    hours = round(catalogue.number("route_site_opens")), round(catalogue.number("route_site_closes"))
    weekends = catalogue.switch("route_site_weekends")
    return tuple(hours if weekends or day < _WORKING else None for day in range(WEEK))


_WORKING = 5


def with_memory(
    made: Sequence[Visit],
    locks: Mapping[str, Lock],
    promises: Mapping[str, Promise],
    times_left: Mapping[str, int],
) -> list[Visit]:
    """Visits with their locks, promises and times left out, by id."""
    return [
        replace(
            one, lock=locks.get(one.id), promise=promises.get(one.id), times_left=times_left.get(one.id, 0)
        )
        for one in made
    ]
