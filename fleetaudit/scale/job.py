"""What is done with one file of a dataset, wherever it runs: read in blocks, counted, audited, written.

Everything here is given as arguments and gives back what adds up, so that an engine may run it anywhere, in
any order, and once more where a machine was lost.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
from msgspec import Struct, field
from msgspec.structs import replace

from fleetaudit.auditing.run import audit
from fleetaudit.catalogue.model import Catalogue
from fleetaudit.errors import FleetAuditError
from fleetaudit.facts.frame import Frame
from fleetaudit.facts.repeats import FleetCounts
from fleetaudit.facts.view import Fleetwide
from fleetaudit.facts.worked import Worked
from fleetaudit.language import ENGLISH, ISO, spoken
from fleetaudit.memory import seldom_searched
from fleetaudit.reading.fleet import read_part
from fleetaudit.reading.sheets import Found, Placed
from fleetaudit.reading.whole import Part, Whole
from fleetaudit.scale import tables
from fleetaudit.scale.partitions import Keys, anywhere, counted_again, held_twice, shortened
from fleetaudit.scale.pieces import TEXT, Piece
from fleetaudit.scale.results import Writer
from fleetaudit.scale.totals import Totals, counted
from fleetaudit.schema.remark import Remark
from fleetaudit.schema.version import VERSION
from fleetaudit.workbook.archive import Limits
from fleetaudit.workbook.book import SheetData, SheetInfo, Workbook
from fleetaudit.workbook.cells import Cells
from fleetaudit.workbook.container import Kind


class Job(Struct, frozen=True):
    """What is the same for all files: columns of the dataset, how they were placed, figures, day, units."""

    columns: tuple[str, ...]
    found: Found
    placed: Placed
    catalogue: Catalogue
    crews: Mapping[str, str]
    as_of: date
    system: str
    folder: str
    due_within_days: float | None = None
    block: int = tables.BLOCK
    language: str = ENGLISH
    dates: str = ISO

    @property
    def wanted(self) -> list[str]:
        """Names of the columns that mean something to the audit."""
        return [self.columns[heading.number - 1] for heading in self.placed.by_name.values()]


class Told(Struct, frozen=True):
    """What one file tells of the whole: columns, counts, eight bytes of each id.

    `alike` is True where every block of the file was read by what the file as a whole tells.
    """

    whole: Whole
    counts: FleetCounts
    keys: Keys
    units: int
    alike: bool


class Answer(Struct, frozen=True):
    """What a task gives back: its result, or the sentence that stands in its way."""

    value: object = None
    trouble: str = ""


class Task(Struct, frozen=True):
    """One file and what is known of the whole by now."""

    number: int
    piece: Piece
    whole: Whole = field(default_factory=Whole)
    again: Keys | None = None
    fleetwide: Fleetwide = field(default_factory=Fleetwide)


class Book(Workbook):
    """A block of rows in the place of a workbook."""

    def __init__(self, name: str, text: bool) -> None:
        super().__init__(Path(name), Kind.CSV if text else Kind.TABLE, b"", Limits())
        self.sheets = (SheetInfo(name),)


def blocks(task: Task, job: Job) -> Iterator[tuple[Frame, list[Remark], Whole]]:
    """Frames of a file, block by block, with what there is to say and what each tells of the whole."""
    piece, wanted = task.piece, set(job.wanted)
    book = Book(piece.name, piece.kind == TEXT)
    for rows in tables.blocks(piece, job.wanted, job.block):
        columns: list[list[Any]] = [
            [name, *rows.values[name]] if name in wanted else [] for name in job.columns
        ]
        data = SheetData(piece.name, Cells.of(columns))
        found, part = replace(job.found, data=data), Part(rows.above, task.whole)
        yield read_part(book, found, job.placed, job.catalogue, job.crews, part)


def survey(task: Task, job: Job) -> Answer:
    """What a file tells of the whole, as a `Told`."""
    with seldom_searched(), spoken(job.language, job.dates):
        try:
            return Answer(_told(task, job))
        except FleetAuditError as trouble:
            return Answer(trouble=trouble.message)


def _told(task: Task, job: Job) -> Told:
    whole, counts, units = Whole(), FleetCounts(), 0
    keys: list[Keys] = []
    settled: list[object] = []
    for frame, _, told in blocks(task, job):
        short, part = shortened(frame, job.catalogue, anywhere)
        keys.append(short)
        whole, counts, units = whole + told, counts + part, units + frame.units
        settled.append(told.settled)
    alike = all(one == whole.settled for one in settled)
    every = np.concatenate(keys) if keys else np.empty(0, dtype=np.uint64)
    return Told(whole, counts, every, units, alike)


def count_again(task: Task, job: Job) -> Answer:
    """Times each unit of a file stands in it, of those that may stand elsewhere too."""
    again = held_twice([]) if task.again is None else task.again
    found: Counter[str] = Counter()
    for frame, _, _ in blocks(task, job):
        found += counted_again(frame, job.catalogue, again, anywhere)
    return Answer(found)


def audit_file(task: Task, job: Job) -> Answer:
    """Audit a file, write its results and give its totals; a worker speaks the job's language."""
    with seldom_searched(), spoken(job.language, job.dates):
        try:
            return Answer(_audited(task, job))
        except FleetAuditError as trouble:
            return Answer(trouble=trouble.message)


def _audited(task: Task, job: Job) -> Totals:
    totals, worked = Totals(), Worked(job.catalogue)
    with Writer(Path(job.folder), task.number, task.piece.name, job.system) as writer:
        for frame, remarks, _ in blocks(task, job):
            result = audit(frame, job.catalogue, job.as_of, task.fleetwide, job.due_within_days, worked)
            part = counted(result, remarks, writer.add(result, remarks), task.piece.name)
            totals += part
        writer.count(totals)
    return totals


def version(task: object, job: object) -> str:
    """Version of this tool where a task runs."""
    return VERSION
