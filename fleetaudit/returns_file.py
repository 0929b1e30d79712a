"""The form for a crew, made from unit names alone or from the audit of a workbook."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from difflib import get_close_matches
from pathlib import Path

from msgspec import Struct, field

from fleetaudit.audit_file import Request, audit_workbook
from fleetaudit.errors import InputError, together
from fleetaudit.language import meanwhile, say, spoken
from fleetaudit.reading.company import settle
from fleetaudit.schema import fleet, visits
from fleetaudit.schema.quantity import FLOW
from fleetaudit.schema.results import NOW, PLAN
from fleetaudit.units import from_si, to_si
from fleetaudit.workbook.book import open_workbook
from fleetaudit.writing.report import UnitRecord
from fleetaudit.writing.returns_sheet import Given, given_of, write_returns


class ReturnsRequest(Struct, frozen=True):
    """What is asked for; without a workbook the form names the units and nothing else."""

    target: Path
    units: tuple[str, ...]
    as_of: date
    workbook: Path | None = None
    settings: Path | None = None
    sheet: str | None = None
    header_map: Mapping[str, str] = field(default_factory=dict)
    force: bool = False
    account: str = ""
    crew: str = ""
    language: str | None = None
    dates: str | None = None


class FormWritten(Struct, frozen=True):
    """What came of it: how many lines the form has, and the language it speaks."""

    lines: int
    language: str
    dates: str


def write_returns_file(request: ReturnsRequest) -> FormWritten:
    """Write the form."""
    with meanwhile(request.language, request.dates):
        book = None if request.workbook is None else open_workbook(request.workbook)
        catalogue, _, language, dates = settle(request.settings, book, request.language, request.dates)
    with spoken(language, dates):
        return FormWritten(_written(request, catalogue.text("units")), language, dates)


def _written(request: ReturnsRequest, system: str) -> int:
    if request.workbook is None:
        if not request.units:
            raise InputError(
                say("Say which units: --units U-104,U-117, or --workbook FILE for all with something to do.")
            )
        lines: Sequence[Given] = [{fleet.UNIT_ID: name} for name in request.units]
    else:
        lines, system = _audited(request, request.workbook)
    write_returns(request.target, lines, system, force=request.force)
    return len(lines)


def _audited(request: ReturnsRequest, workbook: Path) -> tuple[list[Given], str]:
    report, listed = audit_workbook(
        Request(
            workbook,
            request.as_of,
            settings=request.settings,
            sheet=request.sheet,
            header_map=dict(request.header_map),
            account=request.account,
            crew=request.crew,
        )
    )
    labels = listed.frame.text(fleet.VESSEL_LABEL)
    chosen = _chosen(request, workbook, report.units)
    layers, media = listed.frame.text(fleet.LAYERS), listed.frame.text(fleet.MEDIUM)
    beds = {unit: layers[unit] or media[unit] for unit in listed.frame.layers}
    lines = [_line(unit, labels[unit.index], report.system, beds.get(unit.index, "")) for unit in chosen]
    return lines, report.system


def _chosen(request: ReturnsRequest, workbook: Path, units: Sequence[UnitRecord]) -> list[UnitRecord]:
    if not request.units:
        chosen = [unit for unit in units if unit.verdict in (NOW, PLAN)]
        if not chosen:
            raise InputError(
                say("{file}: no unit has anything to do. Name units with --units.", file=workbook.name)
            )
        return chosen
    by_id: dict[str, list[UnitRecord]] = {}
    for unit in units:
        by_id.setdefault(unit.unit_id.casefold(), []).append(unit)
    problems, chosen = [], []
    for name in request.units:
        found = by_id.get(name.casefold(), [])
        chosen += found
        if not found:
            near = get_close_matches(name.casefold(), by_id, 1, 0.7)
            meant = by_id[near[0]][0].unit_id if near else ""
            hint = " " + say('Did you mean "{text}"?', text=meant) if near else ""
            problems.append(say('{file} has no unit "{unit}".', file=workbook.name, unit=name) + hint)
    if problems:
        raise InputError(together(problems))
    return chosen


def _line(unit: UnitRecord, label: str, system: str, bed: str) -> Given:
    name = FLOW.unit(system)

    def shown(gpm: float | None) -> float | None:
        return None if gpm is None else round(float(from_si(to_si(gpm, FLOW.us), name)), 2)

    low, high = shown(unit.needed_gpm.low), shown(unit.needed_gpm.high)
    flow = (
        ""
        if low is None or high is None
        else say("{low:.1f} to {high:.1f} {unit}", low=low, high=high, unit=name)
    )
    numbers = {
        visits.ON_RECORD: shown(unit.restrictor_gpm),
        visits.TO_FIT: shown(unit.restrictor_recommended_gpm),
    }
    return given_of(unit, label, flow, numbers, bed)
