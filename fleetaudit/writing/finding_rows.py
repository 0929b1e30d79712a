"""Lines of the list of findings, and what stands behind each: reason, working, drawing."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from datetime import date
from itertools import groupby

from msgspec import Struct
from msgspec.structs import replace

from fleetaudit.checks.registry import BY_SLUG
from fleetaudit.language import dated, say
from fleetaudit.schema.results import NOT_CHECKED
from fleetaudit.writing.page import ROWS_SHOWN, Whole, plain, shown_cells
from fleetaudit.writing.page_words import KINDS, UNJUDGED, WORDS, money
from fleetaudit.writing.register import Anchors, Line, Unjudged, check_title
from fleetaudit.writing.report import FindingRecord, Report
from fleetaudit.writing.sentences import Sentences
from fleetaudit.writing.window_drawing import Drawing, drawing


class Piece(Struct, frozen=True):
    """A paragraph of an opened finding, or several of them by the numbers of their sentences."""

    text: str
    short: bool = False


class Row(Struct, frozen=True):
    """One line of the list as the page shows it."""

    anchor: str
    kind: str
    word: str
    account: str
    unit: str
    title: str
    message: str
    fix: str
    cost: str
    confidence: str
    crew: str
    #: day and crew of the plan that goes there
    day: str = ""
    #: figures, cells, the reason, how it follows, the source
    pieces: tuple[Piece, ...] = ()
    drawing: Drawing | None = None


class FindingList(Struct, frozen=True):
    """Rows of the list, and the sentences that several of them share, with gaps for the figures."""

    rows: list[Row]
    sentences: tuple[str, ...]


def finding_list(listed: Sequence[Line | Unjudged], report: Report) -> FindingList:
    """The list as the page shows it; what its lines have in common stands once."""
    units = {unit.index: unit for unit in report.units}
    anchors = Anchors()
    rows: list[tuple[Row, list[str]]] = []
    for line in listed:
        if isinstance(line, Unjudged):
            row, texts = _unjudged_row(line, anchors), [_where(line)]
            visit = report.route_days.get(line.unit.index)
        else:
            unit = units.get(line.finding.unit)
            visit = report.route_days.get(line.finding.unit)
            row, texts = _finding_row(line, anchors), [*_details(line, report.sheet), *_behind(line.finding)]
            row = replace(row, drawing=None if line.more else drawing(line.finding, unit, report.system))
        row = replace(row, day=day_and_crew(*visit)) if visit else row
        rows.append((row, [plain(text) for text in texts]))
    sentences = Sentences(text for _, texts in rows for text in texts)
    return FindingList(
        [replace(row, pieces=tuple(_pieces(texts, sentences))) for row, texts in rows], sentences.shared
    )


def _pieces(texts: Sequence[str], sentences: Sentences) -> Iterator[Piece]:
    """Paragraphs in their order, those that are shortened joined where they follow each other."""
    found = [(sentences.short(text), text) for text in texts]
    for shortened, run in groupby(found, key=lambda pair: bool(pair[0])):
        if shortened:
            yield Piece(Whole(" ".join(short for short, _ in run)), True)
        else:
            yield from (Piece(text) for _, text in run)


def _behind(finding: FindingRecord) -> Iterator[str]:
    """Why it matters, what to take care of, how it follows, what it costs, and the source."""
    if finding.why:
        yield finding.why
    yield from _caution(finding)
    yield from finding.derivation
    if finding.cost_lines:
        yield say("A year: {sum}", sum="; ".join(finding.cost_lines))
    if finding.source:
        yield say("Source: {source}", source=finding.source)


def _caution(finding: FindingRecord) -> tuple[str, ...]:
    caution = say(BY_SLUG[finding.check].caution) if finding.check in BY_SLUG else ""
    return (caution,) if caution and finding.fix.endswith(caution) else ()


def _fix(finding: FindingRecord) -> str:
    """What to do; the caution that belongs to it stands where the finding is opened."""
    return finding.fix.removesuffix(*_caution(finding)).rstrip() if _caution(finding) else finding.fix


def day_and_crew(when: date, crew: str) -> str:
    """A day of the plan with its crew, as the list and its filter name it."""
    return f"{dated(when)}, {crew}" if crew else dated(when)


def _finding_row(line: Line, anchors: Anchors) -> Row:
    finding = line.finding
    return Row(
        anchor=anchors.finding(finding),
        kind=KINDS[finding.tier],
        word=say(finding.tier),
        account=finding.account,
        unit=say("{unit} and {count} more", unit=finding.unit_id, count=len(line.more))
        if line.more
        else finding.unit_id,
        title=finding.title,
        message=finding.message,
        fix=_fix(finding),
        cost=money(finding.cost_year),
        confidence=say(finding.confidence),
        crew=finding.crew,
    )


def _details(line: Line, sheet: str) -> Iterator[str]:
    """Numbers that the sentences do not say already, units, cells."""
    finding = line.finding
    said = re.sub("[()]|[;:,.]?(?= )", "", f" {finding.message} {finding.fix} ")
    numbers = [
        f"{name}: {text}" for name, text in finding.numbers if f" {text.partition(' ')[0]} " not in said
    ]
    if numbers:
        yield "; ".join(numbers)
    if line.more:
        others = [other.unit_id for other in line.more]
        more = (
            f" {say('and {count:,} more', count=len(others) - ROWS_SHOWN)}"
            if len(others) > ROWS_SHOWN
            else ""
        )
        yield say("Also: {units}", units=", ".join(others[:ROWS_SHOWN]) + more)
    if line.cells:
        yield say("Cells {cells}", cells=shown_cells(line.cells, sheet))


def _where(line: Unjudged) -> str:
    unit = line.unit
    return say(
        "{sheet}, row {row}. {ran} of {every} checks ran.",
        sheet=unit.sheet,
        row=unit.row,
        ran=unit.checks_run,
        every=unit.checks_applied,
    )


def _unjudged_row(line: Unjudged, anchors: Anchors) -> Row:
    unit = line.unit
    wanted = [f"{check_title(record.check)}: {record.reason}" for record in line.missing]
    return Row(
        anchor=anchors.unit(unit),
        kind="unk",
        word=say(WORDS[NOT_CHECKED]),
        account=unit.account,
        unit=unit.unit_id,
        title=say(UNJUDGED),
        message="; ".join(wanted) or say("The inputs for its main checks are missing."),
        fix="",
        cost="",
        confidence="",
        crew=unit.crew,
    )
