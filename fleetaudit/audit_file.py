"""One workbook from reading to written results; what the command line and other front ends call."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from functools import partial
from pathlib import Path

from msgspec import Struct, field
from msgspec.structs import replace

from fleetaudit.accepting import Accepted, Standing, accept
from fleetaudit.aside import Aside
from fleetaudit.auditing.run import audit
from fleetaudit.catalogue.model import Catalogue
from fleetaudit.checks.registry import BY_SLUG
from fleetaudit.errors import FleetAuditError, InputError, OutputError, together
from fleetaudit.facts.history import Before
from fleetaudit.language import ENGLISH, ISO, meanwhile, say, spoken
from fleetaudit.memory import give_back
from fleetaudit.needs import Stocked
from fleetaudit.reading.accepted import AcceptedSheet, read_accepted
from fleetaudit.reading.company import load_catalogue, settle
from fleetaudit.reading.fleet import Fleet, read_asked
from fleetaudit.reading.route_days import read_route_days
from fleetaudit.reading.site_places import read_places
from fleetaudit.reading.stock import read_stock
from fleetaudit.schema import visits
from fleetaudit.schema.fleet import ACCOUNT, CITY, CREW, UNIT_ID
from fleetaudit.schema.remark import Level, Remark
from fleetaudit.schema.version import VERSION
from fleetaudit.workbook.atomic import refuse_existing, write_atomic
from fleetaudit.workbook.book import Workbook, open_workbook
from fleetaudit.writing import acceptance_words
from fleetaudit.writing.annotate import annotate_copy
from fleetaudit.writing.assemble import assemble
from fleetaudit.writing.files import Outputs, check_free, numbered, plan_outputs, write_text
from fleetaudit.writing.nobody import nobody
from fleetaudit.writing.origin import Origin
from fleetaudit.writing.report import Report


class NothingChosen(InputError):
    """The account or crew that the reports are narrowed to has no unit in the workbook."""


class Request(Struct, frozen=True):
    """What is asked for; `as_of` is given by the caller, since nothing below reads the clock."""

    workbook: Path
    as_of: date
    folder: Path | None = None
    json_file: Path | None = None
    json_wanted: bool = False
    sheet: str | None = None
    header_map: dict[str, str] = field(default_factory=dict)
    settings: Path | None = None
    due_within_days: int | None = None
    account: str = ""
    crew: str = ""
    system: str | None = None
    hide_crew_names: bool = False
    force: bool = False
    owner_page: bool = False
    letters: bool = False
    language: str | None = None
    dates: str | None = None
    password: str | None = None
    allow_unencrypted: bool = False
    #: a number in the names of the results where earlier ones lie, which are never replaced then
    numbered: bool = False
    #: what earlier workbooks left of the stock that the settings workbook lists; None where this is the first
    stock_left: tuple[Stocked, ...] | None = None
    #: True where other workbooks are audited with it and share that stock
    among_others: bool = False

    def __repr__(self) -> str:
        """Name the workbook alone: a password must not end up in a log."""
        return f"Request({self.workbook})"


class Written(Struct, frozen=True):
    """What came of it: the report, the files in the order written, the JSON text where it was wanted."""

    report: Report
    paths: tuple[Path, ...]
    summary_path: Path
    json_text: str
    language: str = ENGLISH
    dates: str = ISO


def catalogue_in_force(settings: Path | None) -> Catalogue:
    """The shipped catalogue with the company sheets of a settings workbook laid over."""
    catalogue, _ = load_catalogue(settings)
    return catalogue


def _untold(stage: str) -> None:
    """Nobody waits for the stages of an audit."""


def audit_file(request: Request, stage: Callable[[str], None] = _untold) -> Written:
    """Audit one workbook and write what is asked for; `stage` is told what comes next."""
    with meanwhile(request.language, request.dates):
        stage(say("reading"))
        workbook = open_workbook(request.workbook, password=request.password)
        _refuse_to_lay_open(workbook, request)
        outputs = _outputs(request)
        catalogue, remarks, language, dates = settle(
            request.settings, workbook, request.language, request.dates
        )
    with spoken(language, dates):
        fleet = read_asked(request, workbook, catalogue)
        workbook.forget(fleet.sheet)  # all of it is in the frame now
        stage(say("checking every unit"))
        report, heading_row = audited(fleet, catalogue, request, workbook, remarks), fleet.heading_row
        stage(say("writing the results"))
        del fleet  # all that is written of it is in the report now
        give_back()
        written = _write(report, workbook, heading_row, outputs, request, catalogue.hash)
        return replace(written, language=language, dates=dates)


def _outputs(request: Request) -> Outputs:
    """Names of the results, all of them free to be written."""
    plan = partial(
        plan_outputs,
        request.workbook,
        request.as_of,
        folder=request.folder,
        json=request.json_file,
        owner=request.owner_page,
        letters=request.letters,
    )
    if request.folder is not None:
        request.folder.mkdir(parents=True, exist_ok=True)
    outputs = numbered(plan) if request.numbered else plan()
    check_free(outputs, request.workbook, force=request.force)
    return outputs


def _stage_of(request: Request, stage: Callable[[str], None]) -> Callable[[str], None]:
    """Stages of one workbook among several, each with its name."""
    return lambda what: stage(f"{request.workbook.name}: {what}")


def _refuse_to_lay_open(workbook: Workbook, request: Request) -> None:
    """Results of a protected workbook are not protected, which somebody has to allow."""
    if workbook.was_encrypted and not request.allow_unencrypted:
        raise InputError(
            say(
                "{name} is protected by a password; the annotated copy, the summary and all "
                "other results are not. Say --allow-unencrypted to have them written, best with "
                "-o into a folder that only those can open who may see them.",
                name=workbook.path.name,
            )
        )


class Several(Struct, frozen=True):
    """What came of several workbooks: what was asked and written, the page over all, what went wrong.

    `without` says which have nothing of the account or crew asked for; that is no trouble while another has.
    """

    audited: tuple[tuple[Request, Written], ...]
    page: Path
    troubles: tuple[str, ...]
    without: tuple[str, ...] = ()


def audit_files(requests: Sequence[Request], stage: Callable[[str], None] = _untold) -> Several:
    """Audit workbooks in turn and write one page over all; one that cannot be audited holds up no other."""
    # the page over several workbooks is seldom wanted, and what is not wanted is not loaded
    from fleetaudit.writing.across import Audited, page_name, render_across  # noqa: PLC0415 - seldom wanted

    first = requests[0]
    page = (first.folder or first.workbook.parent) / page_name([request.workbook for request in requests])
    _check_apart(requests, page)
    done: list[tuple[Request, Written]] = []
    troubles: list[str] = []
    without: list[str] = []
    left: tuple[Stocked, ...] | None = None
    for request in requests:
        try:
            mine = replace(request, stock_left=left, among_others=True)
            written = audit_file(mine, _stage_of(request, stage))
            left = written.report.stock_left
            done.append((request, written))
        except NothingChosen as nothing:
            without.append(nothing.message)
        except FleetAuditError as trouble:
            troubles.append(trouble.message)
    if done:
        pages = [Audited(written.report, written.summary_path) for _, written in done]
        with spoken(done[0][1].language, done[0][1].dates):
            write_text(page, render_across(pages, [*troubles, *without], page), force=first.force)
    else:
        troubles += without
    return Several(tuple(done), page, tuple(troubles), tuple(without) if done else ())


def _check_apart(requests: Sequence[Request], page: Path) -> None:
    """Raise before anything is written where two results share a name or the page over all exists already."""
    problems, seen = [], {page.resolve(): say("the page over all workbooks")}
    for request in requests:
        for path in plan_outputs(
            request.workbook, request.as_of, folder=request.folder, owner=request.owner_page
        ).every:
            other = seen.setdefault(path.resolve(), str(request.workbook))
            if other != str(request.workbook):
                problems.append(
                    say(
                        "{name} would be written for {other} and for {workbook}. Audit them one by one, "
                        "each with a folder of its own (-o).",
                        name=path.name,
                        other=other,
                        workbook=request.workbook,
                    )
                )
    if len({request.workbook.resolve() for request in requests}) < len(requests):
        problems.append(say("A workbook is named twice. Name each once."))
    try:
        refuse_existing(page, force=requests[0].force)
    except OutputError as trouble:
        problems.append(trouble.message)
    if problems:
        raise OutputError(together(problems))


def audit_workbook(request: Request) -> tuple[Report, Fleet]:
    """Audit one workbook and write nothing."""
    workbook = open_workbook(request.workbook, password=request.password)
    catalogue, remarks = load_catalogue(request.settings, workbook)
    fleet = read_asked(request, workbook, catalogue)
    return audited(fleet, catalogue, request, workbook, remarks), fleet


def _write(
    report: Report,
    workbook: Workbook,
    heading_row: int,
    outputs: Outputs,
    request: Request,
    catalogue_hash: str,
) -> Written:
    with Aside(lambda: _page(report, catalogue_hash)) as page:
        copy, said = annotate_copy(
            report,
            request.workbook,
            outputs.workbook,
            heading_row,
            request.force,
            book=workbook,
        )
        if workbook.was_encrypted:
            said.append(
                say("{name} is protected by a password. None of the results is.", name=request.workbook.name)
            )
        report.remarks += [Remark(Level.INFO, "annotated copy", sentence) for sentence in said]
        # what the copy had to say was not known when the page was begun beside it
        summary = _page(report, catalogue_hash) if said else page.answer()
    written = [copy]
    text = _json(report) if request.json_wanted else ""
    try:
        write_atomic(outputs.summary, [summary], force=request.force)
        written.append(outputs.summary)
        if outputs.json is not None:
            write_text(outputs.json, text, force=request.force)
            written.append(outputs.json)
        if outputs.owner is not None:
            # most audits write no such page, and what is not wanted is not loaded
            from fleetaudit.writing.owner import render_owner  # noqa: PLC0415 - seldom wanted

            write_text(outputs.owner, render_owner(report), force=request.force)
            written.append(outputs.owner)
        if outputs.letters is not None:
            from fleetaudit.writing.letters import write_letters  # noqa: PLC0415 - seldom wanted

            write_letters(report, outputs.letters, force=request.force)
            written.append(outputs.letters)
    except OutputError as trouble:
        done = ", ".join(str(path) for path in written)
        raise OutputError(
            say("{message}\nWritten before that: {done}.", message=trouble.message, done=done)
        ) from trouble
    return Written(report, tuple(written), outputs.summary, text)


def _page(report: Report, catalogue_hash: str) -> bytes:
    """The summary page; what makes it is loaded where it is made."""
    from fleetaudit.writing.html import pieces  # noqa: PLC0415 - loaded beside the rest

    return b"".join([piece.encode("utf-8") for piece in pieces(report, catalogue_hash=catalogue_hash)])


def audited(
    fleet: Fleet, catalogue: Catalogue, request: Request, workbook: Workbook, remarks: list[Remark]
) -> Report:
    """The report of a fleet that was read."""
    result = audit(fleet.frame, catalogue, request.as_of, due_within_days=request.due_within_days)
    sheet = read_accepted(workbook, catalogue)
    history = _visits(workbook, catalogue) if sheet.acceptances else ()
    result, accepted = accept(result, sheet.acceptances, history)
    stock, about_stock = read_stock([workbook], catalogue)
    shared = request.stock_left or ()
    if request.settings is not None and request.stock_left is None:
        listed, about_shared = read_stock([open_workbook(request.settings)], catalogue)
        shared, about_stock = tuple(listed), [*about_stock, *about_shared]
    said = [
        *about_stock,
        *sheet.remarks,
        *acceptance_words.remarks(accepted, lambda slug: BY_SLUG[slug].title),
    ]
    origin = Origin(
        version=VERSION,
        path=str(request.workbook),
        file=request.workbook.name,
        sheets=tuple(sheet.name for sheet in workbook.sheets),
        sha256=workbook.sha256,
        remarks=[*remarks, *fleet.remarks, *said],
        as_of=request.as_of,
        system=request.system or catalogue.text("units"),
        every_not_checked=request.json_wanted,
        account=request.account,
        crew=request.crew,
        hide_crew_names=request.hide_crew_names,
        accepted=accepted,
        stock=stock,
        places=read_places(workbook, catalogue, fleet.frame.text(ACCOUNT), fleet.frame.text(CITY)),
        route_days=read_route_days(workbook, catalogue, fleet.frame.text(UNIT_ID)),
        shared_stock=shared,
        others_share=request.among_others,
    )
    report = assemble(result, origin)
    report.marks = _marks(sheet, accepted)
    if not report.units:
        where = say('{name}, sheet "{sheet}"', name=request.workbook.name, sheet=fleet.sheet)
        names = (fleet.frame.text(column) for column in (ACCOUNT, CREW))
        raise NothingChosen(nobody(where, request.account, request.crew, *names))
    return report


def _visits(workbook: Workbook, catalogue: Catalogue) -> Sequence[Before]:
    """Visits that the workbook keeps; only acceptances ask for them."""
    from fleetaudit.reading.returns import read_history  # noqa: PLC0415 - seldom wanted

    return read_history(workbook, catalogue).lines


def _json(report: Report) -> str:
    """The results as one document."""
    from fleetaudit.writing import results_json  # noqa: PLC0415 - seldom wanted

    return results_json.text(report)


def _marks(sheet: AcceptedSheet, accepted: Sequence[Accepted]) -> dict[str, dict[tuple[int, int], object]]:
    """Marks of the data that acceptances without one hold for, to be filled in on the annotated copy."""
    cells: dict[tuple[int, int], object] = {
        (one.acceptance.row, sheet.mark_column): one.mark
        for one in accepted
        if one.standing is Standing.HOLDS and not one.acceptance.mark
    }
    if cells and not sheet.has_marks:
        cells[sheet.heading_row, sheet.mark_column] = visits.DATA_MARK.title
    return {sheet.sheet: cells} if cells else {}
