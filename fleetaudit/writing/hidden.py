"""Codes in place of the names of crews."""

from __future__ import annotations

from collections.abc import Mapping

from msgspec.structs import replace

from fleetaudit.crews.naming import codes
from fleetaudit.language import say, several
from fleetaudit.schema import fleet
from fleetaudit.schema.remark import Level, Remark
from fleetaudit.writing.report import Report

#: columns whose remarks may quote a crew
CREW_COLUMNS = {word for column in (fleet.CREW, fleet.MEDIA_CREW) for word in (column.name, column.title)}


def crew_codes(report: Report) -> dict[str, str]:
    """A code for the name of each crew, the same for the same name within one report."""
    compared = report.crews.crews if report.crews else ()
    names = [*(unit.crew for unit in report.units), *(group.name for group in compared)]
    return codes([*names, *(crew for _, crew in report.route_days.values())], report.sha256)


def hide_crews(report: Report, code: Mapping[str, str]) -> None:
    """Put the codes in place of the names; lists that are made later take them by themselves."""
    report.crews = report.crews and report.crews.hidden(code)
    report.units = [replace(unit, crew=code[unit.crew]) for unit in report.units]
    report.findings = [replace(finding, crew=code[finding.crew]) for finding in report.findings]
    report.route_days = {unit: (when, code.get(crew, "")) for unit, (when, crew) in report.route_days.items()}
    report.measuring = [replace(line, crew=code[line.crew]) for line in report.measuring]
    report.accepted = [
        replace(one, finding=replace(one.finding, crew=code[one.finding.crew])) for one in report.accepted
    ]
    named = [remark for remark in report.remarks if remark.column in CREW_COLUMNS]
    if named:
        count = several(len(named), "1 remark", "{count} remarks")
        report.remarks = [remark for remark in report.remarks if remark.column not in CREW_COLUMNS]
        report.remarks.append(
            Remark(
                max(min(remark.level for remark in named), Level.WARN),
                "crews-hidden",
                say(
                    "{count} on the crew columns would show names and were left out. Run without "
                    "--hide-crew-names to read them.",
                    count=count,
                ),
            )
        )
