"""One unit of one workbook from reading to its explanation."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from datetime import date
from pathlib import Path

from msgspec import Struct, field

from fleetaudit.auditing.run import audit
from fleetaudit.errors import InputError
from fleetaudit.facts.frame import Frame
from fleetaudit.reading.company import load_catalogue
from fleetaudit.reading.fleet import read_fleet
from fleetaudit.schema import fleet
from fleetaudit.workbook.book import open_workbook
from fleetaudit.writing.explanation import Explanation, explain

MOST_OFFERED = 3
_ROW = re.compile(r"row (\d+)", re.IGNORECASE)


class Request(Struct, frozen=True):
    """What is asked for; `unit` is an id, an id with the label of one vessel, or "row 17"."""

    workbook: Path
    unit: str
    as_of: date
    sheet: str | None = None
    settings: Path | None = None
    system: str | None = None
    header_map: Mapping[str, str] = field(default_factory=dict)


def explain_file(request: Request) -> tuple[Explanation, ...]:
    """Explanations of every row that carries the name; one as a rule."""
    workbook = open_workbook(request.workbook)
    catalogue, _ = load_catalogue(request.settings, workbook)
    read = read_fleet(
        request.workbook,
        catalogue,
        sheet=request.sheet,
        header_map=request.header_map,
        workbook=workbook,
        settings=request.settings,
    )
    units = find_units(read.frame, request.unit)
    result = audit(read.frame, catalogue, request.as_of)
    system = request.system or catalogue.text("units")
    return tuple(explain(result, unit, system, read.remarks) for unit in units)


def find_units(frame: Frame, wanted: str) -> list[int]:
    """Rows of a unit; InputError with the nearest names where there is none."""
    row = _ROW.fullmatch(wanted.strip())
    if row is not None:
        found = [unit for unit, number in enumerate(frame.rows.tolist()) if number == int(row[1])]
        if not found:
            raise InputError(f'{frame.file}, sheet "{frame.sheet}": row {row[1]} is no unit.')
        return found
    names, labels = list(frame.text(fleet.UNIT_ID)), list(frame.text(fleet.VESSEL_LABEL))
    plain = _plain(wanted)
    for spelled in (names, [f"{name} {label}" for name, label in zip(names, labels, strict=True)]):
        found = [unit for unit, name in enumerate(spelled) if name and _plain(name) == plain]
        if found:
            return found
    known = {_plain(name): name for name in names if name}
    near = difflib.get_close_matches(plain, known, MOST_OFFERED, 0.5)
    hint = f" Did you mean {' or '.join(known[name] for name in near)}?" if near else ""
    raise InputError(f'{frame.file}, sheet "{frame.sheet}": no unit is called "{wanted}".{hint}')


def _plain(name: str) -> str:
    """Bring a name to the form names are compared in; leading zeros stay."""
    return " ".join(name.casefold().split())
