"""Parts and media that each crew-day of a plan takes, and what of them is to be ordered."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from fleetaudit.auditing.result import AuditResult
from fleetaudit.facts import site
from fleetaudit.parts import Part, PartKind, Stocked, bed, drawn, needs, parts
from fleetaudit.routing.dates import date_of
from fleetaudit.routing.model import DayPlan, Plan, Task
from fleetaudit.routing.tasks import MEDIA_DUE, MEDIA_DUE_LATER
from fleetaudit.writing.orders import Clerk, totals
from fleetaudit.writing.report import OrderGroup

DAY, ROUTE, ALL_DAYS = "route day", "route", "all days"
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
    """A list for each crew-day in turn, then one for all days together.

    Stock goes to the day that comes first; the list of all days has all of it taken off once.
    """
    there = list(stock)
    by_unit: dict[int, list[Part]] = {}
    for part in parts(result):
        by_unit.setdefault(part.unit, []).append(part)
    groups, every, left = [], [], there
    for day in sorted(plan.days, key=lambda one: _when(plan, one)):
        lines = [
            part
            for stop in day.stops
            for task in plan.problem.jobs[stop.visit].tasks
            for part in _parts(task, by_unit.get(task.unit, ()), result)
        ]
        every += lines
        found = needs(lines, clerk.catalogue)
        left = [line for line, _ in drawn(found, left, clerk.catalogue)]
        name = f"{date_of(_when(plan, day)[0]).isoformat()}, {_when(plan, day)[1]}"
        groups.append(OrderGroup(DAY, name, tuple(clerk.order(need) for need in found), netted=True))
    if groups:
        groups.append(OrderGroup(ROUTE, ALL_DAYS, totals(clerk, every, there).lines, netted=True))
    return tuple(groups)


def _when(plan: Plan, day: DayPlan) -> tuple[int, str]:
    """Day and crew of a crew-day."""
    shift = plan.problem.shifts[day.shift]
    return shift.day, plan.problem.crews[shift.crew].name


def _parts(task: Task, own: Iterable[Part], result: AuditResult) -> list[Part]:
    """Parts for the work of a task; a bed renewed before its day has none among the findings."""
    asked = [part for part in own if set(task.why) & set(ASKED_BY[part.kind])]
    if MEDIA_DUE_LATER in task.why:
        asked += bed(result.view, task.unit, float(site.vessels(result.view)[task.unit]))
    return asked
