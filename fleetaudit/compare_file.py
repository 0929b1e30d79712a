"""Two workbooks compared, from reading to written results."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date
from pathlib import Path

from msgspec import Struct, field

from fleetaudit.accepting import accept
from fleetaudit.auditing.result import AuditResult
from fleetaudit.auditing.run import audit
from fleetaudit.catalogue.model import Catalogue, Figure
from fleetaudit.comparing import compare
from fleetaudit.errors import InputError, OutputError
from fleetaudit.facts.history import Before
from fleetaudit.language import ENGLISH, ISO, dated, meanwhile, say, spoken
from fleetaudit.reading.accepted import read_accepted
from fleetaudit.reading.company import load_catalogue, settle
from fleetaudit.reading.fleet import read_asked
from fleetaudit.reading.returns import read_history
from fleetaudit.schema import fleet
from fleetaudit.schema.results import SHEET_SUMMARY
from fleetaudit.schema.version import VERSION
from fleetaudit.workbook.atomic import refuse_existing, write_atomic
from fleetaudit.workbook.book import Workbook, open_workbook
from fleetaudit.writing import comparison
from fleetaudit.writing.comparison import ComparisonReport, Side
from fleetaudit.writing.files import write_text
from fleetaudit.writing.nobody import nobody

_AS_OF = re.compile(r"As of (\d{4}-\d{2}-\d{2})\b")
ROWS_LOOKED_AT = 6


class CompareRequest(Struct, frozen=True):
    """What is asked for; `today` is given by the caller, since nothing below reads the clock."""

    old: Path
    new: Path
    today: date
    as_of: date | None = None
    old_as_of: date | None = None
    sheet: str | None = None
    header_map: Mapping[str, str] = field(default_factory=dict)
    settings: Path | None = None
    system: str | None = None
    account: str = ""
    crew: str = ""
    html: Path | None = None
    workbook: Path | None = None
    json: Path | None = None
    force: bool = False
    language: str | None = None
    dates: str | None = None


class Compared(Struct, frozen=True):
    """What came of it."""

    report: ComparisonReport
    paths: tuple[Path, ...]
    language: str = ENGLISH
    dates: str = ISO


class _Audited(Struct, frozen=True):
    result: AuditResult
    side: Side
    history: tuple[Before, ...]
    system: str


def compare_files(request: CompareRequest) -> Compared:
    """Audit both workbooks, compare them, and write what is asked for.

    Language and days are as the newer workbook has them where none are asked for.
    """
    with meanwhile(request.language, request.dates):
        wanted = _wanted(request)
        old_book, new_book = open_workbook(request.old), open_workbook(request.new)
        _, _, language, dates = settle(request.settings, new_book, request.language, request.dates)
    with spoken(language, dates):
        report = _reported(request, old_book, new_book)
        _write(request, report)
    return Compared(report, tuple(wanted), language, dates)


def _wanted(request: CompareRequest) -> list[Path]:
    """Files to be written, all of them free."""
    wanted = [path for path in (request.html, request.workbook, request.json) if path is not None]
    for path in wanted:
        if any(path.resolve() == source.resolve() for source in (request.old, request.new)):
            raise OutputError(
                say("{file} is one of the workbooks compared; it is never written over.", file=path.name)
            )
        refuse_existing(path, force=request.force)
    if len({path.resolve() for path in wanted}) < len(wanted):
        raise OutputError(say("Two of the results would be written to one file. Give each its own name."))
    return wanted


def _reported(request: CompareRequest, old_book: Workbook, new_book: Workbook) -> ComparisonReport:
    new_day = request.as_of or stated_day(new_book) or request.today
    stated = request.old_as_of or stated_day(old_book)
    old = _audited(old_book, request, min(stated, new_day) if stated else new_day)
    new = _audited(new_book, request, new_day)
    found = compare(old.result, new.result, new.history, old_day_known=stated is not None)
    found = found.narrowed(request.account, request.crew)
    if (request.account or request.crew) and not (found.pairs or found.gone or found.added):
        accounts, crews = (
            [*old.result.view.frame.text(column), *new.result.view.frame.text(column)]
            for column in (fleet.ACCOUNT, fleet.CREW)
        )
        where = f"{request.old.name}, {request.new.name}"
        raise InputError(nobody(where, request.account, request.crew, accounts, crews))
    remarks = _remarks(old, new, stated, request)
    return comparison.report_of(found, old.side, new.side, new.system, VERSION, remarks)


def _write(request: CompareRequest, report: ComparisonReport) -> None:
    if request.html is not None:
        write_text(request.html, comparison.page(report), force=request.force)
    if request.workbook is not None:
        # openpyxl takes longer to load than both audits, so it is loaded where it is wanted only
        from fleetaudit.writing.report_workbook import book_bytes  # noqa: PLC0415 - as said above

        day = report.new.as_of
        write_atomic(request.workbook, [book_bytes(comparison.sheets(report), day)], force=request.force)
    if request.json is not None:
        write_text(request.json, comparison.document_text(report), force=request.force)


def stated_day(book: Workbook) -> date | None:
    """Day an annotated copy says it is as of."""
    for sheet in book.sheets:
        if not sheet.name.startswith(SHEET_SUMMARY):
            continue
        data = book.read(sheet.name)
        for row in range(1, min(data.n_rows, ROWS_LOOKED_AT) + 1):
            said = _AS_OF.match(str(data.value(row, 1) or ""))
            if said is not None:
                return date.fromisoformat(said[1])
    return None


def _audited(book: Workbook, request: CompareRequest, day: date) -> _Audited:
    catalogue, _ = load_catalogue(request.settings, book)
    listed = read_asked(request, book, catalogue)
    history = read_history(book, catalogue).lines
    accepted = read_accepted(book, catalogue).acceptances
    result, _ = accept(audit(listed.frame, catalogue, day), accepted, history)
    side = Side(book.path.name, listed.sheet, book.sha256, day, listed.frame.units)
    return _Audited(result, side, history, request.system or catalogue.text("units"))


def _remarks(old: _Audited, new: _Audited, stated: date | None, request: CompareRequest) -> list[str]:
    remarks = []
    if request.account:
        remarks.append(
            say('Only what concerns the account "{name}", as either list has it.', name=request.account)
        )
    if request.crew:
        remarks.append(say('Only what concerns the crew "{name}", as either list has it.', name=request.crew))
    if old.side.sha256 == new.side.sha256:
        remarks.append(say("Both files have the same contents."))
    if stated is None:
        remarks.append(
            say(
                "{file} does not say which day it is from, so both are audited as of {date}; what fell due "
                "in between shows as still open. Say the day with --old-as-of.",
                file=old.side.file,
                date=dated(new.side.as_of),
            )
        )
    elif stated > new.side.as_of:
        remarks.append(
            say(
                "{file} is as of {old}, later than {new}; both are audited as of the earlier day. Was the "
                "older workbook given first?",
                file=old.side.file,
                old=dated(stated),
                new=dated(new.side.as_of),
            )
        )
    if _figures(old.result.view.catalogue) != _figures(new.result.view.catalogue):
        remarks.append(
            say(
                "The two workbooks bring different figures or settings of their own; some changes may come "
                "from these alone."
            )
        )
    return remarks


def _figures(catalogue: Catalogue) -> str:
    """Everything in force that decides a finding, whatever file it is from."""

    def bare(figures: Mapping[str, Figure]) -> dict[str, tuple[float, float, float]]:
        return {key: (figure.value, figure.low, figure.high) for key, figure in figures.items()}

    media = [
        (m.key, m.mesh, m.guard, m.layers, bare(m.figures), bare(m.life_by_purpose)) for m in catalogue.media
    ]
    settings = {key: (one.value, one.low, one.high) for key, one in catalogue.settings.items()}
    fits = [(one.rating_m3_s, one.stocked) for one in catalogue.restrictors]
    houses = [(one.key, one.limit_m3_s) for one in catalogue.housings]
    vessels = [(one.diameter_m, one.heights_m) for one in catalogue.vessels]
    return repr((media, settings, fits, houses, vessels))
