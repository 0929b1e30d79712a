"""Return sheets taken over into a copy of the workbook, from reading to writing."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path

from msgspec import Struct, field

from fleetaudit.catalogue.model import Catalogue
from fleetaudit.errors import OutputError
from fleetaudit.facts import repeats
from fleetaudit.language import ENGLISH, ISO, meanwhile, say, spoken
from fleetaudit.reading.company import settle
from fleetaudit.reading.fleet import Fleet, read_asked
from fleetaudit.reading.forms import Forms
from fleetaudit.reading.returns import History, Returns, read_history, read_returns
from fleetaudit.recording import Change, Plan, Refusal, Refused, plan
from fleetaudit.schema import fleet, visits
from fleetaudit.schema.column import Column
from fleetaudit.schema.quantity import Kind
from fleetaudit.schema.results import OWN_PREFIX
from fleetaudit.workbook.atomic import refuse_existing
from fleetaudit.workbook.book import Workbook, open_workbook
from fleetaudit.workbook.job import Column as NewColumn
from fleetaudit.workbook.place import Place
from fleetaudit.workbook.setting import set_values, why_not_set
from fleetaudit.writing import visit_record
from fleetaudit.writing.visit_record import Line

EPOCH = date(1970, 1, 1)
_DONE = re.compile(r"\.recorded(\.\d{4}-\d{2}-\d{2})?$", re.IGNORECASE)
#: columns that may be added where the list lacks them
ADDABLE = (
    *dict.fromkeys(column for _, column in visits.SAME_AS),
    fleet.MEDIA_DATE,
    fleet.TOP_UP_DATE,
    fleet.DEPTH_LEFT, fleet.VOLUME, fleet.MEDIA_CREW,
)  # fmt: skip


class RecordRequest(Struct, frozen=True):
    """What is asked for; `as_of` is given by the caller, since nothing below reads the clock."""

    workbook: Path
    returns: tuple[Path, ...]
    as_of: date
    folder: Path | None = None
    sheet: str | None = None
    header_map: Mapping[str, str] = field(default_factory=dict)
    settings: Path | None = None
    add_columns: bool = False
    dry_run: bool = False
    force: bool = False
    language: str | None = None
    dates: str | None = None


class Recorded(Struct):
    """What came of it; `path` is None where nothing was written."""

    sheet: str
    lines: list[Line]
    history_only: list[Line]
    refused: list[str]
    remarks: list[str]
    returns: Returns
    repeated: int
    path: Path | None = None
    no_column: list[str] = field(default_factory=list)
    language: str = ENGLISH
    dates: str = ISO


def record_target(source: Path, as_of: date, folder: Path | None) -> Path:
    """Name of the copy: ".recorded" before the suffix, and the day where the source is such a copy."""
    home = source.parent if folder is None else folder
    suffix = ".xlsm" if source.suffix.lower() == ".xlsm" else ".xlsx"
    again = _DONE.search(source.stem)
    stem = f"{source.stem}.recorded"
    if again is not None:
        stem = f"{source.stem[: again.start()]}.recorded.{as_of.isoformat()}"
    return home / f"{stem}{suffix}"


def record_file(request: RecordRequest) -> Recorded:
    """Show what the returns change and, unless it is a dry run, write the copy that holds it."""
    with meanwhile(request.language, request.dates):
        book = open_workbook(request.workbook)
        catalogue, _, language, dates = settle(request.settings, book, request.language, request.dates)
    with spoken(language, dates):
        done = _recorded(request, book, catalogue)
    done.language, done.dates = language, dates
    return done


def _recorded(request: RecordRequest, book: Workbook, catalogue: Catalogue) -> Recorded:
    target = record_target(request.workbook, request.as_of, request.folder)
    if not request.dry_run:
        if target.resolve() == request.workbook.resolve():
            raise OutputError(
                say("{file} is the input itself. Choose another folder with -o.", file=target.name)
            )
        refuse_existing(target, force=request.force)
    listed = read_asked(request, book, catalogue)
    returns = read_returns(request.returns, catalogue)
    history = read_history(book, catalogue)
    wanted = ADDABLE if request.add_columns else ()
    day = float((request.as_of - EPOCH).days)
    dissolving = {code for code, medium in enumerate(catalogue.media) if medium.dissolves}
    builds = {code for code, medium in enumerate(catalogue.media) if medium.layers}
    made = plan(listed.frame, returns.visits, day, wanted, history.lines, dissolving, builds)
    doubtful = repeats.report(repeats.count(listed.frame, catalogue)).restrictor_unit_doubtful
    recorder = _Recorder(listed, Forms(listed, catalogue, doubtful=doubtful), made, request, history)
    result = recorder.recorded(returns)
    if not request.dry_run and (result.lines or result.history_only):
        if request.folder is not None:
            request.folder.mkdir(parents=True, exist_ok=True)
        result.remarks += recorder.write(target)
        result.path = target
    return result


class _Recorder:
    """Carries a plan over to cells."""

    def __init__(
        self, listed: Fleet, forms: Forms, made: Plan, request: RecordRequest, history: History
    ) -> None:
        self.listed, self.frame, self.forms, self.request, self.history = (
            listed, listed.frame, forms, request, history,
        )  # fmt: skip
        self.values: dict[tuple[int, int], object] = {}
        self.new_columns: dict[Column, dict[int, object]] = {}
        self.lines: list[Line] = []
        self.refused = list(made.refused)
        self.told = made.told
        self.lacking = made.lacking
        self.repeated = len(made.repeated)
        self._changes(made.changes)

    def _changes(self, changes: Sequence[Change]) -> None:
        places = [self.forms.place(change.unit, change.column) for change in changes]
        barred = why_not_set(self.request.workbook, self.listed.sheet, [place for place in places if place])
        for change, place in zip(changes, places, strict=True):
            if place is None:
                value, shown = self.forms.added(change.column, change.value)
                self.new_columns.setdefault(change.column, {})[change.unit] = value
                self.lines.append(self._line(change, say("new column"), "", shown))
            elif place in barred:
                cell = str(Place("", self.listed.sheet, *place))
                self.refused.append(
                    Refusal(change.visit, Refused.NOT_SETTABLE, change.column, f"{cell}: {barred[place]}")
                )
            else:
                value, shown = self.forms.new(change.unit, change.column, change.value)
                self.values[place] = value
                cell = str(Place("", self.listed.sheet, *place))
                self.lines.append(self._line(change, cell, self.forms.old(change.unit, change.column), shown))

    def _names(self, unit: int) -> tuple[str, str]:
        return self.frame.text(fleet.UNIT_ID)[unit], self.frame.text(fleet.VESSEL_LABEL)[unit]

    def _line(self, change: Change, cell: str, old: str, new: str) -> Line:
        return visit_record.changed(change, self._names(change.unit), cell, old, new)

    def recorded(self, returns: Returns) -> Recorded:
        """What is shown, before anything is written."""
        only = [visit_record.told(entry, self._names(entry.unit)) for entry in self.told]
        lacking = [say(column.title) for column in self.lacking if column in ADDABLE]
        return Recorded(
            self.listed.sheet, self.lines, only, [visit_record.refused(refusal) for refusal in self.refused],
            self._remarks(), returns, self.repeated, None, lacking,
        )  # fmt: skip

    def _remarks(self) -> list[str]:
        if self.listed.own_columns and self.lines:
            return [
                say(
                    'The columns that begin with "{prefix}" and the audit sheets are from before these '
                    "changes. Audit the copy to bring them up to date.",
                    prefix=OWN_PREFIX.strip(),
                )
            ]
        return []

    def write(self, target: Path) -> list[str]:
        """Write the copy; gives what the user should know about it."""
        only = [visit_record.told(entry, self._names(entry.unit)) for entry in self.told]
        lines = [*self.lines, *only]
        there = self.history
        also = {}
        if there.sheet:
            also[there.sheet] = visit_record.history_cells(
                lines, self.request.as_of, there.next_row, there.columns
            )
        return set_values(
            self.request.workbook,
            target,
            self.listed.sheet,
            self.values,
            heading_row=self.listed.heading_row,
            rows=[int(row) for row in self.frame.rows],
            columns=[self._new_column(column, values) for column, values in self.new_columns.items()],
            also=also,
            sheets=[] if there.sheet else [visit_record.history_sheet(lines, self.request.as_of)],
            force=self.request.force,
        )

    def _new_column(self, column: Column, values: Mapping[int, object]) -> NewColumn:
        unit = column.quantity.unit(self.forms.system)
        heading = f"{column.title} ({unit})" if unit else column.title
        code = "yyyy-mm-dd" if column.quantity.kind is Kind.DATE else None
        return NewColumn(heading, [values.get(unit_) for unit_ in range(self.frame.units)], code)
