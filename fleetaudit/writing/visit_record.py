"""What recording return sheets does, in words for the screen and in lines for the history sheet."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta

from msgspec import Struct

from fleetaudit.language import say
from fleetaudit.recording import Change, Refusal, Refused, Told, Visit
from fleetaudit.schema import fleet, visits
from fleetaudit.schema.column import Column
from fleetaudit.workbook.place import quoted
from fleetaudit.workbook.sheets import Sheet, Styled
from fleetaudit.writing.wording import shorten

EPOCH = date(1970, 1, 1)
WIDTHS = {visits.WHAT: 24, visits.OLD_VALUE: 22, visits.NEW_VALUE: 22, visits.SOURCE: 36, visits.WHY: 44}
USUAL_WIDTH = 14.0

#: why something was not taken over; {what} is the column, {detail} what the reason is about
REASONS: Mapping[Refused, str] = {
    Refused.NO_UNIT: "no unit is named. Fill in the unit ID.",
    Refused.UNKNOWN_UNIT: 'the list has no unit "{unit}". {near}',
    Refused.SEVERAL_ROWS: 'unit "{unit}" stands in rows {detail}. Fill in the vessel label to say which.',
    Refused.TWO_RETURNS: 'unit "{unit}" has another return that says otherwise ({detail}). Keep one of them.',
    Refused.NO_DATE: "the day of the visit is missing. Fill in the visit date.",
    Refused.IN_THE_FUTURE: 'the visit date "{detail}" lies in the future. Correct it.',
    Refused.NOBODY: "nobody signed. Fill in the initials, or the crew.",
    Refused.UNREADABLE: "{what}: the cell could not be used; see above. The rest of the line stands.",
    Refused.BED_WORK_UNSAID: 'media were loaded, but the column "{what}" does not say whether the whole '
    "bed was replaced or topped up. Fill it in.",
    Refused.MEDIUM_UNSAID: "a new bed, but not of which medium. Fill in the media loaded.",
    Refused.UNKNOWN_MEDIUM: '"{detail}" is no medium of the catalogue. Use a name the Media sheet or '
    "`fleetaudit catalogue media` lists.",
    Refused.LAYERED: 'the list describes the bed in layers, of which "{detail}" is one. Write all of them '
    "from the top down, as anthracite 18 in; sand 12 in; or its depth too, if it is the whole bed now.",
    Refused.OLDER: "{what}: the list or its history holds a later value. Nothing was put over it.",
    Refused.NOT_SETTABLE: "{what}: {detail}. Change it by hand.",
}


class Line(Struct, frozen=True):
    """One change as shown; `cell` is "" for what goes onto the history alone."""

    unit_id: str
    label: str
    what: str
    cell: str
    old: str
    new: str
    visit: Visit
    why: str = ""


def changed(change: Change, names: tuple[str, str], cell: str, old: str, new: str) -> Line:
    """Line of a change of a cell."""
    why = ""
    if change.because is not None:
        what = say(change.because.title).lower()
        why = say("emptied: it was true of the {what} before", what=what)
    return Line(*names, change.column.title, cell, old, new, change.visit, why)


def told(entry: Told, names: tuple[str, str]) -> Line:
    """Line of something that goes into the history alone."""
    return Line(*names, entry.column.title, "", "", entry.text, entry.visit)


def refused(refusal: Refusal) -> str:
    """Sentence that says what was not taken over, why, and what to do."""
    visit = refusal.visit
    near = (
        say('Did you mean "{text}"?', text=refusal.detail)
        if refusal.detail
        else say("Correct the unit ID, or add the unit first.")
    )
    text = say(
        REASONS[refusal.reason], unit=shorten(visit.unit_id), near=near, detail=shorten(refusal.detail),
        what="" if refusal.column is None else say(refusal.column.title),
    )  # fmt: skip
    return f"{where(visit)}: {text}"


def where(visit: Visit) -> str:
    """Where a line of a return stands."""
    return say("{file}, {sheet} row {row}", file=visit.file, sheet=quoted(visit.sheet), row=visit.row)


def shown(line: Line) -> str:
    """One change in one line."""
    unit = f"{line.unit_id} {line.label}".strip()
    blank = f"({say('blank')})"
    old, new = shorten(line.old) or blank, shorten(line.new) or blank
    title = say(line.what).lower()
    what = f"{title}: {old} -> {new}" if line.cell else f"{title}: {new}"
    place = f"  {line.cell}" if line.cell else ""
    return f"{unit}{place}  {what}" + (f" ({line.why})" if line.why else "")


def history_cells(
    lines: Sequence[Line], as_of: date, first_row: int, columns: Sequence[tuple[Column, int]]
) -> dict[tuple[int, int], object]:
    """Cells of further lines of a history sheet that is there already."""
    found: dict[tuple[int, int], object] = {}
    for row, line in enumerate(lines, start=first_row):
        values = _values(line, as_of)
        for column, number in columns:
            if values[column] not in (None, ""):
                found[row, number] = _styled(values[column])
    return found


def history_sheet(lines: Sequence[Line], as_of: date) -> Sheet:
    """A history sheet of its own."""
    columns = visits.HISTORY.columns
    rows: list[list[object]] = [[Styled(column.title, "heading") for column in columns]]
    for line in lines:
        values = _values(line, as_of)
        rows.append([_styled(values[column]) for column in columns])
    widths = [float(WIDTHS.get(column, USUAL_WIDTH)) for column in columns]
    return Sheet(visits.HISTORY_SHEET, rows, widths, freeze_rows=1)


def _styled(value: object) -> object:
    return Styled(value, "date" if isinstance(value, date) else "top") if value not in (None, "") else None


def _values(line: Line, as_of: date) -> dict[Column, object]:
    return {
        visits.WHEN: EPOCH + timedelta(days=int(line.visit.day)),
        fleet.UNIT_ID: line.unit_id,
        fleet.VESSEL_LABEL: line.label,
        visits.WHAT: line.what,
        visits.CELL: line.cell,
        visits.OLD_VALUE: line.old,
        visits.NEW_VALUE: line.new,
        visits.BY: line.visit.who,
        visits.SOURCE: where(line.visit),
        visits.RECORDED: as_of,
        visits.WHY: line.why,
    }
