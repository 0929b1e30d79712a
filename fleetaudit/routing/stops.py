"""From tasks to visits: one for each site, with what rides along if there is time."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Mapping, Sequence
from math import ceil

from msgspec import Struct
from msgspec.structs import replace

from fleetaudit.catalogue.model import Catalogue
from fleetaudit.routing.model import MINUTE_S, WEEK, Crew, Lock, Place, Promise, Riders, Task, Visit

_ID_LENGTH = 5


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
    skills: frozenset[str] = frozenset()


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
            along = _riders(riders, catalogue) if number == 0 else None
            made.append(_visit(label, here, part, along, catalogue, first_day))
        if blocked:
            along = None if usable else _riders(riders, catalogue)
            alone = _visit(f"{name}-X" if usable else name, here, blocked, along, catalogue, first_day)
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


def _riders(tasks: Sequence[Task], catalogue: Catalogue) -> Riders | None:
    """What may ride along with a visit, None where there is nothing."""
    if not tasks:
        return None
    work_s = sum(task.work_s for task in tasks) * (1 + catalogue.number("route_service_margin"))
    return Riders(
        tuple(tasks),
        ceil(work_s / MINUTE_S) * MINUTE_S,
        sum(t.kg_new for t in tasks),
        sum(t.m3_new for t in tasks),
        sum(t.kg_spent for t in tasks),
        max(t.people for t in tasks),
        catalogue.number("route_value_along") * len(tasks),
    )


def _visit(
    name: str,
    here: Site,
    tasks: Sequence[Task],
    riders: Riders | None,
    catalogue: Catalogue,
    first_day: int,
) -> Visit:
    margin = round(catalogue.number("route_window_margin"))
    hours = tuple(None if h is None or h[1] - margin <= h[0] else (h[0], h[1] - margin) for h in here.open_s)
    days = [task.due_day for task in tasks if task.due_day is not None]
    return Visit(
        name,
        here.name,
        tuple(tasks),
        here.place,
        service_s(tasks, catalogue),
        sum(t.kg_new for t in tasks),
        sum(t.m3_new for t in tasks),
        sum(t.kg_spent for t in tasks),
        max(here.people, *(t.people for t in tasks)),
        max(t.priority for t in tasks),
        min(days, default=first_day),
        hours,
        here.closed_days,
        here.earliest_day,
        here.latest_day,
        matrix_id=here.matrix_id,
        no_place=here.no_place,
        skills=here.skills,
        riders=riders,
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
