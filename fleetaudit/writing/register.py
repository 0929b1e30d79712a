"""Findings as the reports list them: one line each, or one for an account or column where they say so."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from functools import lru_cache

from msgspec import Struct

from fleetaudit.checks.registry import BY_SLUG
from fleetaudit.language import say
from fleetaudit.schema.results import NOT_CHECKED, NOTE
from fleetaudit.workbook.place import parse_range, quoted
from fleetaudit.writing.report import FindingRecord, NotCheckedRecord, PartLine, Report, UnitRecord

#: sheets whose names are turned into addresses once
SHEETS = 64


class Line(Struct, frozen=True, gc=False):
    """One line of the list: the finding that stands for it and the like findings said with it."""

    finding: FindingRecord
    more: tuple[FindingRecord, ...] = ()

    @property
    def cells(self) -> tuple[str, ...]:
        """Cells of all findings of the line, each once, for each finding the one it is about first."""
        every = (
            cell
            for finding in (self.finding, *self.more)
            for cell in (full_cell(finding.sheet, finding.cell), *finding.cells)
        )
        return tuple(dict.fromkeys(every))


def full_cell(sheet: str, cell: str) -> str:
    """Address of a cell with its sheet.

    >>> full_cell("My units", "F17"), full_cell("My units", "Media!B4")
    ("'My units'!F17", 'Media!B4')
    """
    return cell if "!" in cell else f"{quoted(sheet)}!{cell}"


def leads_to_cell(target: str) -> bool:
    """True where a text is the address of a cell, sheet included."""
    sheet, _, where = target.rpartition("!")
    return bool(sheet) and (_NEAR_CELL.fullmatch(where) is not None or parse_range(where) is not None)


def compact(cells: Sequence[str], home: str = "") -> str:
    """Cells as people write them: runs down a column as a range, a sheet named where it changes.

    `home` is the sheet that needs no naming.

    >>> compact(["Units!F7", "Units!F8", "Units!F9", "Units!H9", "Media!B4"])
    'Units!F7:F9, H9, Media!B4'
    """
    if len(cells) == 1 and not home and "$" not in cells[0]:
        return cells[0]
    runs: list[tuple[str, str, int, int]] = []
    other: list[str] = []
    for cell in cells:
        found = _CELL.fullmatch(cell)
        if found is None:
            other.append(cell)
            continue
        sheet, letters, row = found[1] or "", found[2], int(found[3])
        if runs and runs[-1][:2] == (sheet, letters) and runs[-1][3] + 1 == row:
            runs[-1] = (sheet, letters, runs[-1][2], row)
        else:
            runs.append((sheet, letters, row, row))
    said, here = [], f"{quoted(home)}!" if home else ""
    for sheet, letters, first, last in runs:
        where = f"{letters}{first}" if first == last else f"{letters}{first}:{letters}{last}"
        said.append(where if sheet in ("", here) else sheet + where)
        here = sheet or here
    return ", ".join([*said, *other])


#: addresses that need no looking at: within two letters and six digits every sheet has a cell
_NEAR_CELL = re.compile(r"[A-Z]{1,2}[1-9][0-9]{0,5}")
_CELL = re.compile(r"(.*!)?\$?([A-Z]{1,3})\$?([0-9]{1,7})", re.DOTALL)


class Unjudged(Struct, frozen=True):
    """A unit whose verdict is not-checked, with what is missing for it."""

    unit: UnitRecord
    missing: tuple[NotCheckedRecord, ...]


def lines(report: Report) -> list[Line]:
    """All findings in report order, those said once gathered under the first of their kind."""
    groups: dict[tuple[str, ...] | int, list[FindingRecord]] = {}
    for number, finding in enumerate(report.findings):
        group = _group(finding, number) if finding.once else number
        groups.setdefault(group, []).append(finding)
    return [Line(group[0], tuple(group[1:])) for group in groups.values()]


def _group(finding: FindingRecord, number: int) -> tuple[str, ...] | int:
    if "account" in finding.once:
        return (finding.check, finding.tier, finding.sheet, finding.account or f"row {finding.row}")
    if "column" in finding.once:
        return (finding.check, finding.tier, finding.sheet, finding.column)
    return number


def unjudged(report: Report) -> list[Unjudged]:
    """Units that could not be judged, in report order; the core checks say why."""
    missing: dict[int, list[NotCheckedRecord]] = {}
    for record in report.not_checked:
        if record.core:
            missing.setdefault(record.unit, []).append(record)
    return [
        Unjudged(unit, tuple(missing.get(unit.index, ())))
        for unit in report.units
        if unit.verdict == NOT_CHECKED
    ]


def in_order(report: Report) -> list[Line | Unjudged]:
    """Findings and units that could not be judged in one list; the latter stand before the first note."""
    found = lines(report)
    first_note = next((i for i, line in enumerate(found) if line.finding.tier == NOTE), len(found))
    return [*found[:first_note], *unjudged(report), *found[first_note:]]


def part_totals(parts: Sequence[PartLine]) -> list[tuple[str, str, float, str]]:
    """Quantity of each thing to take, all units together: what, size, quantity, unit."""
    totals: dict[tuple[str, str, str], float] = {}
    for part in parts:
        key = (part.what, part.size, part.unit)
        totals[key] = totals.get(key, 0.0) + part.quantity
    places = {what: place for place, what in enumerate(dict.fromkeys(part.what for part in parts))}
    ordered = sorted(
        totals.items(), key=lambda item: (places[item[0][0]], _leading_number(item[0][1]), item[0][1])
    )
    return [(what, size, round(quantity, 6), unit) for (what, size, unit), quantity in ordered]


def _leading_number(text: str) -> float:
    found = re.match(r"[0-9]+(?:\.[0-9]+)?", text)
    return float(found[0]) if found else 0.0


def slug(text: str) -> str:
    """Text as a piece of an address: ASCII, lower case, hyphens.

    >>> slug("Übersicht 2026!")
    'ubersicht-2026'
    """
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode("ascii").lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-") or "sheet"


def check_title(check: str) -> str:
    """Title of a check by its slug."""
    known = BY_SLUG.get(check)
    return say(known.title) if known is not None else check.replace("-", " ").capitalize()


class Anchors:
    """Addresses within the page, each given once."""

    def __init__(self) -> None:
        self._used: dict[str, int] = {}
        self._slug = lru_cache(SHEETS)(slug)

    def finding(self, finding: FindingRecord) -> str:
        """Address of a finding, the same in every run over the same sheet."""
        return self._once(f"f-{self._slug(finding.sheet)}-{finding.row}-{finding.check}")

    def unit(self, unit: UnitRecord) -> str:
        """Address of a unit that could not be judged."""
        return self._once(f"u-{self._slug(unit.sheet)}-{unit.row}")

    def _once(self, wanted: str) -> str:
        count = self._used[wanted] = self._used.get(wanted, 0) + 1
        return wanted if count == 1 else f"{wanted}-{count}"
