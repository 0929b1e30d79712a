"""The sheet of accepted findings: who answers for leaving what, why, and until when."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from math import isnan, nan

from msgspec import Struct, field

from fleetaudit.accepting import Acceptance
from fleetaudit.catalogue.model import Catalogue
from fleetaudit.checks.registry import CHECKS
from fleetaudit.language import say
from fleetaudit.reading.lines import Lines, read_lines
from fleetaudit.schema import fleet, visits
from fleetaudit.schema.remark import Level, Remark
from fleetaudit.workbook.book import Workbook
from fleetaudit.workbook.place import address, quoted

KIND = "accepted findings"
_NEEDED = (fleet.UNIT_ID, visits.CHECK, visits.REASON, visits.ACCEPTED_BY, visits.UNTIL)


class AcceptedSheet(Struct):
    """Acceptances that can be used, remarks on those that cannot, and where marks go ("" where no sheet)."""

    sheet: str = ""
    acceptances: list[Acceptance] = field(default_factory=list)
    remarks: list[Remark] = field(default_factory=list)
    heading_row: int = 0
    mark_column: int = 0
    has_marks: bool = False


def read_accepted(book: Workbook, catalogue: Catalogue) -> AcceptedSheet:
    """Read the sheet; a line that leaves open what, who, why or until when accepts nothing."""
    name = next(
        (s.name for s in book.sheets if s.name.strip().casefold() == visits.ACCEPTED_SHEET.casefold()), None
    )
    if name is None or not book.read(name).n_rows:
        return AcceptedSheet()
    lines = read_lines(book, name, visits.ACCEPTED.columns, visits.CHECK, catalogue)
    if lines is None:
        text = say(
            '{file}, sheet {sheet} has no headings "{check}" and "{unit}"; nothing of it '
            "was used. `fleetaudit template` shows how it is laid out.",
            file=book.path.name,
            sheet=quoted(name),
            check=visits.CHECK.title,
            unit=fleet.UNIT_ID.title,
        )
        return AcceptedSheet(remarks=[Remark(Level.WARN, KIND, text)])
    there = lines.number(visits.DATA_MARK)
    out = AcceptedSheet(name, [], [], lines.heading_row, there or lines.data.n_columns + 1, bool(there))
    _read(lines, out)
    out.remarks += [remark for remark in lines.log.remarks if remark.level <= Level.WARN]
    return out


def _meant(check: str) -> str:
    """Offer of the check whose name comes closest, "" where none does."""
    from difflib import get_close_matches  # noqa: PLC0415 - for a mistyped name only

    near = get_close_matches(_folded(check), _checks(), 1)
    return " " + say('Did you mean "{text}"?', text=_checks()[near[0]]) if near else ""


def _read(lines: Lines, out: AcceptedSheet) -> None:
    ids, labels, marks = (lines.names(c) for c in (fleet.UNIT_ID, fleet.VESSEL_LABEL, visits.DATA_MARK))
    checks, reasons, names = (lines.texts(c) for c in (visits.CHECK, visits.REASON, visits.ACCEPTED_BY))
    on, until = lines.values(visits.ACCEPTED_ON), lines.values(visits.UNTIL)
    for place, row in enumerate(lines.rows):
        cell = f"{quoted(out.sheet)}!{address(row, lines.number(visits.CHECK))}"
        last = nan if until is None else float(until.value[place])
        values = (ids[place], checks[place], reasons[place], names[place], "" if isnan(last) else "given")
        if not any(values):
            continue
        missing = [column.title.lower() for column, value in zip(_NEEDED, values, strict=True) if not value]
        slug = check_named(checks[place])
        if missing:
            _left(
                out, cell, say("accepts nothing without {missing}. Fill it in.", missing=", ".join(missing))
            )
        elif slug is None:
            hint = _meant(checks[place])
            _left(
                out,
                cell,
                say(
                    '"{text}" is no check.{hint} The findings sheet names them.',
                    text=checks[place],
                    hint=hint,
                ),
            )
        else:
            day = nan if on is None else float(on.value[place])
            out.acceptances.append(
                Acceptance(
                    ids[place],
                    labels[place],
                    slug,
                    reasons[place],
                    names[place],
                    day,
                    last,
                    marks[place],
                    row,
                    cell,
                )
            )


def _left(out: AcceptedSheet, cell: str, text: str) -> None:
    effect = say("the finding counts as before")
    out.remarks.append(Remark(Level.SKIP, KIND, f"{cell} {text}", (cell,), "", "", effect))


def check_named(text: str) -> str | None:
    """Slug of a check by its slug or title."""
    return _checks().get(_folded(text))


@cache
def _checks() -> Mapping[str, str]:
    return {_folded(name): check.slug for check in CHECKS for name in (check.slug, check.title)}


def _folded(text: str) -> str:
    return " ".join(text.casefold().replace("-", " ").replace("_", " ").split())
