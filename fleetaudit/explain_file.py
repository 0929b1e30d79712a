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
from fleetaudit.language import meanwhile, say, spoken
from fleetaudit.reading.company import settle
from fleetaudit.reading.fleet import read_asked
from fleetaudit.schema import fleet
from fleetaudit.workbook.book import open_workbook
from fleetaudit.writing.explanation import Explanation, explain

MOST_OFFERED = 3
#: a row as it is asked for, in any language there is a file for
_ROW = re.compile(r"(?:row|fila) (\d+)", re.IGNORECASE)


class Request(Struct, frozen=True):
    """What is asked for; `unit` is an id, an id with the label of one vessel, or "row 17"."""

    workbook: Path
    unit: str
    as_of: date
    sheet: str | None = None
    settings: Path | None = None
    system: str | None = None
    header_map: Mapping[str, str] = field(default_factory=dict)
    language: str | None = None
    dates: str | None = None


class Explained(Struct, frozen=True):
    """Explanations of every row that carries the name, one as a rule, and the language they are in."""

    units: tuple[Explanation, ...]
    language: str
    dates: str


def explain_file(request: Request) -> Explained:
    """Explain every row that carries the name."""
    with meanwhile(request.language, request.dates):
        workbook = open_workbook(request.workbook)
        catalogue, _, language, dates = settle(request.settings, workbook, request.language, request.dates)
    with spoken(language, dates):
        read = read_asked(request, workbook, catalogue)
        units = find_units(read.frame, request.unit)
        result = audit(read.frame, catalogue, request.as_of)
        system = request.system or catalogue.text("units")
        explained = tuple(explain(result, unit, system, read.remarks) for unit in units)
    return Explained(explained, language, dates)


def find_units(frame: Frame, wanted: str) -> list[int]:
    """Rows of a unit; InputError with the nearest names where there is none."""
    row = _ROW.fullmatch(wanted.strip())
    if row is not None:
        found = [unit for unit, number in enumerate(frame.rows.tolist()) if number == int(row[1])]
        if not found:
            raise InputError(
                say(
                    '{file}, sheet "{sheet}": row {row} is no unit.',
                    file=frame.file,
                    sheet=frame.sheet,
                    row=row[1],
                )
            )
        return found
    names, labels = list(frame.text(fleet.UNIT_ID)), list(frame.text(fleet.VESSEL_LABEL))
    plain = _plain(wanted)
    for spelled in (names, [f"{name} {label}" for name, label in zip(names, labels, strict=True)]):
        found = [unit for unit, name in enumerate(spelled) if name and _plain(name) == plain]
        if found:
            return found
    known = {_plain(name): name for name in names if name}
    near = difflib.get_close_matches(plain, known, MOST_OFFERED, 0.5)
    wrong = say(
        '{file}, sheet "{sheet}": no unit is called "{name}".',
        file=frame.file,
        sheet=frame.sheet,
        name=wanted,
    )
    if near:
        offered = f" {say('or')} ".join(known[name] for name in near)
        wrong += f" {say('Did you mean {names}?', names=offered)}"
    raise InputError(wrong)


def _plain(name: str) -> str:
    """Bring a name to the form names are compared in; leading zeros stay."""
    return " ".join(name.casefold().split())
