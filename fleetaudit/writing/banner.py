"""What stands in the way of a full audit, said before everything else."""

from __future__ import annotations

import numpy as np

from fleetaudit.auditing.result import AuditResult, State
from fleetaudit.auditing.verdict import Verdict
from fleetaudit.facts.frame import Frame
from fleetaudit.language import say, several
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Column, Missing
from fleetaudit.writing.origin import Origin
from fleetaudit.writing.report import Report

#: share of rows with skipped values above which the report leads with it
MUCH_SKIPPED = 0.2


def banner(result: AuditResult, origin: Origin, report: Report) -> list[str]:
    """What stands in the way of a full audit, most important first."""
    frame, lines = result.view.frame, _narrowed(result, origin, report)
    skipped = sum(
        1
        for unit in report.units
        if any(slug in ("data-unreadable", "data-implausible") for slug in unit.findings)
    )
    if report.units and skipped > MUCH_SKIPPED * len(report.units):
        lines.append(
            say(
                "{count} of {rows} rows hold cells that could not be used; see the problems below.",
                count=skipped,
                rows=len(report.units),
            )
        )
    blind = report.by_verdict.get(Verdict.NOT_CHECKED.word, 0)
    if blind:
        lines.append(
            several(
                blind,
                "1 unit was not checked for something that matters; not checked is not the same as sound.",
                "{count} units were not checked for something that matters; not checked is not the same "
                "as sound.",
            )
        )
    if result.view.fleetwide.restrictor_unit_doubtful:
        lines.append(
            say(
                "The restrictor column has no unit and fits the fleet better as "
                "{better} than as {taken}: all restrictor findings are "
                "measure-first until the heading says which.",
                better=result.view.fleetwide.restrictor_unit_better,
                taken=fleet.RESTRICTOR.quantity.us,
            )
        )
    absent: dict[str, None] = {}
    silent: list[str] = []
    for item in result.checks:
        if np.any((item.state == State.NOT_CHECKED) & (item.reason == Missing.NO_COLUMN)):
            absent |= {
                say(column.title).lower(): None for column in item.check.needs if not _present(frame, column)
            }
            silent.append(say(item.check.title).lower())
    if silent:
        lines.append(
            say(
                "No row gives {absent}; without them these checks did not run: {silent}.",
                absent=", ".join(absent),
                silent=", ".join(silent),
            )
        )
    return lines


def _narrowed(result: AuditResult, origin: Origin, report: Report) -> list[str]:
    """That the report is about some of the units only, and which."""
    crew = say("of one crew") if origin.hide_crew_names else say('of the crew "{name}"', name=origin.crew)
    told = [
        *([say('of the account "{name}"', name=origin.account)] if origin.account else []),
        *([crew] if origin.crew else []),
    ]
    if not told:
        return []
    return [
        say(
            "Only the units {which}: {count:,} of the {every:,} on the list. Nothing is told of the others.",
            which=", ".join(told),
            count=len(report.units),
            every=result.view.units,
        )
    ]


def _present(frame: Frame, column: Column) -> bool:
    return frame.has(column) or (column is fleet.SIZE and frame.has(fleet.DIAMETER))
