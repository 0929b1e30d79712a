"""Parts and media that each crew-day of a plan takes, and what of them is to be ordered."""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping
from itertools import pairwise

from fleetaudit.auditing.result import AuditResult
from fleetaudit.facts import site
from fleetaudit.language import say
from fleetaudit.needs import Asked, Stocked
from fleetaudit.parts import Part, PartKind, beds, parts
from fleetaudit.routing.dates import date_of
from fleetaudit.routing.model import Plan, Task
from fleetaudit.routing.tasks import MEDIA_DUE, MEDIA_DUE_LATER
from fleetaudit.writing.orders import Clerk, by_day
from fleetaudit.writing.report import OrderGroup, OrderLine

_FLOW = ("restrictor-too-small", "restrictor-too-large", "restrictor-missing", "housing-too-small")
#: findings that a part is taken along for
ASKED_BY: Mapping[PartKind, tuple[str, ...]] = {
    PartKind.RESTRICTOR: _FLOW,
    PartKind.HOUSING: ("housing-too-small",),
    PartKind.EXTERNAL: (*_FLOW, "needs-external-flow-control"),
    PartKind.MEDIUM: MEDIA_DUE,
    PartKind.GRAVEL: MEDIA_DUE,
}


def route_orders(
    plan: Plan, result: AuditResult, clerk: Clerk, stock: Iterable[Stocked]
) -> tuple[OrderGroup, ...]:
    """A list for each crew-day in turn, then one for all days together, stock taken off."""
    by_unit: dict[int, list[Part]] = {}
    for part in parts(result):
        by_unit.setdefault(part.unit, []).append(part)
    days = []
    for day in plan.days:
        shift = plan.problem.shifts[day.shift]
        tasks = [task for stop in day.stops for task in plan.problem.jobs[stop.visit].tasks]
        lines = [part for task in tasks for part in _parts(task, by_unit.get(task.unit, ()), result)]
        days.append((date_of(shift.day), plan.problem.crews[shift.crew].name, lines))
    return tuple(by_day(clerk, days, stock))


def unit_parts(plan: Plan, result: AuditResult, clerk: Clerk) -> dict[int, tuple[str, ...]]:
    """What is fitted at each unit of the plan besides its bed, in words: as many, what, and of which size."""
    return _in_words(plan, result, clerk, set(PartKind) - {PartKind.MEDIUM, PartKind.GRAVEL})


def unit_gravel(plan: Plan, result: AuditResult, clerk: Clerk) -> dict[int, str]:
    """Gravel under the new bed of each unit of the plan, in words."""
    found = _in_words(plan, result, clerk, {PartKind.GRAVEL})
    return {unit: ", ".join(words) for unit, words in found.items() if words}


def _in_words(
    plan: Plan, result: AuditResult, clerk: Clerk, kinds: Container[PartKind]
) -> dict[int, tuple[str, ...]]:
    by_unit: dict[int, list[Part]] = {}
    for part in parts(result):
        by_unit.setdefault(part.unit, []).append(part)
    tasks = [task for visit in plan.problem.jobs for task in visit.tasks]
    taken = [
        (number, part)
        for number, task in enumerate(tasks)
        for part in _parts(task, by_unit.get(task.unit, ()), result)
        if part.kind in kinds
    ]
    needs = Asked([part for _, part in taken], clerk.catalogue).by([task for task, _ in taken], len(tasks))
    words = [_words(line) for line in clerk.lines(needs)]
    return {
        task.unit: tuple(words[first:last])
        for task, (first, last) in zip(tasks, pairwise(needs.starts), strict=True)
    }


def _words(line: OrderLine) -> str:
    amount = (
        f"{line.needed:g} {line.unit} "
        if line.mass_unit
        else f"{line.needed:g} × "
        if line.needed > 1
        else ""
    )
    what = f"{amount}{line.what} {line.size}".strip()
    return say("{what}, measure first", what=what) if line.doubtful else what


def _parts(task: Task, own: Iterable[Part], result: AuditResult) -> list[Part]:
    """Parts for the work of a task; a bed renewed before its day has none among the findings."""
    asked = [part for part in own if set(task.why) & set(ASKED_BY[part.kind])]
    if MEDIA_DUE_LATER in task.why:
        asked += beds(result.view).of(task.unit, float(site.vessels(result.view)[task.unit]))
    return asked
