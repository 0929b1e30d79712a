"""A dataset from its files to results beside it: surveyed, counted as a whole, audited file by file."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Generator, Iterator, Mapping, Sequence
from contextlib import closing
from datetime import date
from hashlib import sha256
from pathlib import Path

import numpy as np
from msgspec import Struct, field
from msgspec.structs import replace

from fleetaudit.catalogue.model import Catalogue
from fleetaudit.errors import HeaderError, InputError, together
from fleetaudit.facts import repeats
from fleetaudit.facts.repeats import FleetCounts
from fleetaudit.facts.view import Fleetwide
from fleetaudit.language import ENGLISH, ISO, code, say, several, spoken
from fleetaudit.reading import sheets
from fleetaudit.reading.company import crew_names, heading_map, settle
from fleetaudit.reading.remarks import Log
from fleetaudit.reading.whole import Whole
from fleetaudit.scale import job as work
from fleetaudit.scale import pieces, results, tables
from fleetaudit.scale.engine import Engine
from fleetaudit.scale.job import Answer, Book, Job, Task, Told
from fleetaudit.scale.page import FleetTotals, banner, render_totals
from fleetaudit.scale.partitions import Keys, held_twice
from fleetaudit.scale.totals import Totals
from fleetaudit.schema import dataset
from fleetaudit.schema.remark import Level, Remark
from fleetaudit.schema.results import JSON_VERSION, TOOL
from fleetaudit.schema.version import VERSION
from fleetaudit.workbook.atomic import refuse_existing
from fleetaudit.workbook.book import SheetData, open_workbook
from fleetaudit.workbook.cells import Cells
from fleetaudit.workbook.place import Range
from fleetaudit.workbook.structure import Table
from fleetaudit.writing.files import write_text

#: sheets about single units, which are looked for in the workbook of these units only
NOT_USED = ("accepted", "stock", "history")


class Wish(Struct, frozen=True):
    """What is asked for; `as_of` is given by the caller, since nothing below reads the clock."""

    dataset: Path
    as_of: date
    folder: Path | None = None
    header_map: Mapping[str, str] = field(default_factory=dict)
    settings: Path | None = None
    due_within_days: int | None = None
    system: str | None = None
    hide_crew_names: bool = False
    force: bool = False
    language: str | None = None
    dates: str | None = None
    block: int = tables.BLOCK

    @property
    def home(self) -> Path:
        """Folder of the results."""
        path = self.dataset.resolve()
        beside = self.folder or path.parent
        return beside / f"{path.stem if path.is_file() else path.name}{dataset.RESULTS}"

    @property
    def page(self) -> Path:
        """The page of the totals, beside the folder of the results."""
        return self.home.with_name(self.home.name.removesuffix(dataset.RESULTS) + dataset.PAGE)


class Done(Struct, frozen=True):
    """What came of it: totals, what there is to say of the dataset as a whole, where the results are.

    `banner` is what stands in the way of a full audit, as the page says it first.
    """

    totals: Totals
    remarks: list[Remark]
    folder: Path
    page: Path
    files: int
    banner: list[str]
    language: str = ENGLISH
    dates: str = ISO


def audit_dataset(wish: Wish, engine: Engine, stage: Callable[[str], None] = lambda _: None) -> Done:
    """Audit every file of a dataset on an engine and write what came of it."""
    with spoken(wish.language or code(), wish.dates or ISO):
        stage(say("reading names of columns"))
        files = pieces.find(wish.dataset)
        job, remarks = plan(wish, files)
        refuse_existing(wish.page, force=wish.force)
    with spoken(job.language, job.dates):
        return _audited(wish, files, job, remarks, engine, stage)


def _audited(
    wish: Wish,
    files: Sequence[pieces.Piece],
    job: Job,
    remarks: list[Remark],
    engine: Engine,
    stage: Callable[[str], None],
) -> Done:
    stage(
        several(
            len(files),
            "counting what only the whole tells, 1 file",
            "counting what only the whole tells, {count:,} files",
        )
    )
    tasks, whole = _whole_known(files, job, engine)
    results.prepare(wish.home, force=wish.force)
    totals = Totals()
    try:
        with closing(_valued(engine.run(work.audit_file, tasks, job), tasks)) as answers:
            for number, part in enumerate(answers, 1):
                assert isinstance(part, Totals)
                totals += part
                stage(
                    say("checking every unit, {number:,} of {count:,} files", number=number, count=len(files))
                )
    finally:
        results.tidy(wish.home)
    results.complete(wish.home, len(files))
    remarks += _about(whole)
    said = FleetTotals(totals, remarks, job.catalogue, job.as_of, wish.dataset.name, job.system)
    text = json.dumps(_document(totals, wish, job), ensure_ascii=False, indent=1) + "\n"
    write_text(wish.home / dataset.TOTALS, text, force=True)
    write_text(wish.page, render_totals(said, _mark(files) if wish.hide_crew_names else ""), force=wish.force)
    return Done(totals, remarks, wish.home, wish.page, len(files), banner(said), job.language, job.dates)


def plan(wish: Wish, files: Sequence[pieces.Piece]) -> tuple[Job, list[Remark]]:
    """What every task has to know, and what there is to say about columns and figures."""
    catalogue, remarks, language, dates = settle(wish.settings, None, wish.language, wish.dates)
    with spoken(language, dates):
        job, said = _placed(wish, files, catalogue)
    return replace(job, language=language, dates=dates), [*remarks, *said]


def _placed(wish: Wish, files: Sequence[pieces.Piece], catalogue: Catalogue) -> tuple[Job, list[Remark]]:
    """The job in English, and what there is to say about the columns."""
    columns = tuple(dict.fromkeys(name for piece in files for name in tables.names(piece)))
    name = wish.dataset.name
    book = Book(name, files[0].kind == pieces.TEXT)
    area = Range(1, 1, 1, max(1, len(columns)))
    headings = Cells.of([column] for column in columns)
    data = SheetData(name, headings, tables=(Table(name, area, 1, 0, columns),))
    book._read[name] = data
    mapped = sheets.mapping(book, {**heading_map(wish.settings, None), **wish.header_map})
    found, log = sheets.find(book, None, mapped), Log(name)
    placed = sheets.place(name, found, mapped, log)
    missing = sheets.unused(wish.header_map, found)
    log.problems += [
        say(
            '"{name}" has no column "{theirs}" to map. It has {columns}.',
            name=name,
            theirs=theirs,
            columns=", ".join(columns),
        )
        for theirs in missing
    ]
    if log.problems:
        raise HeaderError(together(log.problems))
    job = Job(
        columns,
        found,
        placed,
        catalogue,
        crew_names(wish.settings, None),
        wish.as_of,
        wish.system or catalogue.text("units"),
        str(wish.home.resolve()),
        wish.due_within_days,
        wish.block,
    )
    return job, [*_left_alone(wish.settings), *log.remarks]


def _whole_known(files: Sequence[pieces.Piece], job: Job, engine: Engine) -> tuple[list[Task], Fleetwide]:
    """Tasks that know of the whole fleet what their rows need, and what the whole fleet tells."""
    tasks = [Task(number, piece) for number, piece in enumerate(files)]
    told = _told(engine.run(work.survey, tasks, job), tasks)
    whole = sum((one.whole for one in told), start=Whole())
    tasks = [replace(task, whole=whole) for task in tasks]
    # what was counted by a way of reading that the whole does not bear out is counted anew
    anew = [number for number, one in enumerate(told) if not one.alike or one.whole.settled != whole.settled]
    again = [tasks[number] for number in anew]
    for number, one in zip(anew, _told(engine.run(work.survey, again, job), again), strict=True):
        told[number] = one
    if not any(one.units for one in told):
        raise InputError(say('"{name}" has columns but no units.', name=job.found.data.name))
    counts = sum((one.counts for one in told), start=FleetCounts())
    mine = [one.counts.repeats for one in told]
    twice = held_twice([one.keys for one in told])
    if len(twice):
        mine = _again(tasks, twice, told, job, engine)
        counts.repeats = sum(mine, start=Counter())
    fleetwide = repeats.report(counts)
    return [
        replace(task, fleetwide=_concerning(fleetwide, own)) for task, own in zip(tasks, mine, strict=True)
    ], fleetwide


def _again(
    tasks: Sequence[Task], twice: Keys, told: Sequence[Told], job: Job, engine: Engine
) -> list[Counter[str]]:
    """Times each unit stands in each file, of those that may stand in several; other files are left alone."""
    mine = [one.counts.repeats for one in told]
    shared = [np.intersect1d(one.keys, twice) for one in told]
    asked = [replace(task, again=keys) for task, keys in zip(tasks, shared, strict=True) if len(keys)]
    for task, answer in zip(asked, _valued(engine.run(work.count_again, asked, job), asked), strict=True):
        assert isinstance(answer, Counter)
        mine[task.number] = answer
    return mine


def _concerning(fleetwide: Fleetwide, own: Counter[str]) -> Fleetwide:
    """What the whole tells of the units of one file."""
    repeated = {key: fleetwide.repeats[key] for key in own if key in fleetwide.repeats}
    return Fleetwide(repeated, fleetwide.restrictor_unit_doubtful, fleetwide.restrictor_unit_better)


def _valued(answers: Iterator[Answer], tasks: Sequence[Task]) -> Generator[object]:
    """Results of the answers; the first that has none ends the run with its sentence."""
    for _, answer in zip(tasks, answers, strict=True):
        if answer.trouble:
            raise InputError(answer.trouble)
        yield answer.value


def _told(answers: Iterator[Answer], tasks: Sequence[Task]) -> list[Told]:
    found = []
    for value in _valued(answers, tasks):
        assert isinstance(value, Told)
        found.append(value)
    return found


def _about(whole: Fleetwide) -> list[Remark]:
    if not whole.restrictor_unit_doubtful:
        return []
    text = say(
        "The restrictor column has no unit and fits the fleet better as {unit}: all restrictor findings are "
        "measure-first until its name says which.",
        unit=whole.restrictor_unit_better,
    )
    return [Remark(Level.WARN, "restrictor-unit", text)]


def _mark(files: Sequence[pieces.Piece]) -> str:
    """A digest of the names of the files."""
    return sha256("\n".join(piece.name for piece in files).encode("utf-8", "replace")).hexdigest()


def _document(totals: Totals, wish: Wish, job: Job) -> dict[str, object]:
    """Totals for other programs; sums of whole numbers, so that those of several runs add up."""
    by_verdict, by_check, by_tier = totals.counts.tables()
    return {
        "schema_version": JSON_VERSION,
        "tool": {"name": TOOL, "version": VERSION},
        "input": {"dataset": wish.dataset.name, "files": totals.files},
        "as_of": wish.as_of.isoformat(),
        "catalogue": job.catalogue.hash,
        "units": totals.counts.units,
        "by_verdict": by_verdict,
        "by_check": by_check,
        "by_tier": by_tier,
        "by_finding": [
            {"check": check, "tier": tier, "confidence": confidence, "count": count}
            for (check, tier, confidence), count in sorted(totals.by_finding.items())
        ],
        "not_checked": [
            {"check": check, "reason": reason.lower(), "count": count}
            for (check, reason), count in sorted(totals.blind.items())
        ],
        "cost_year_hundredths": [
            {"tier": tier, "end": end, "sum": number} for (tier, end), number in sorted(totals.cost.items())
        ],
    }


def _left_alone(settings: Path | None) -> list[Remark]:
    """Sheets of the settings workbook that an audit of a dataset does not read."""
    names = [] if settings is None else [sheet.name for sheet in open_workbook(settings).sheets]
    unread = [name for name in names if name.strip().casefold() in NOT_USED]
    if not unread or settings is None:
        return []
    text = say(
        "{file}: {sheets} not used. What they say of units is kept with a workbook of these units, not with "
        "a dataset.",
        file=settings.name,
        sheets=", ".join(unread),
    )
    return [Remark(Level.WARN, "settings-left-alone", text)]
