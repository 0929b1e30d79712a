"""Lines of the list of findings, and what like ones share: reasons, workings, drawings."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from datetime import date

from msgspec import Struct
from msgspec.structs import replace

from fleetaudit.checks.registry import BY_SLUG
from fleetaudit.language import dated, say
from fleetaudit.schema.results import NOT_CHECKED
from fleetaudit.writing.page import ROWS_SHOWN, shown_cells
from fleetaudit.writing.page_words import KINDS, UNJUDGED, WORDS, money, rounded
from fleetaudit.writing.register import Anchors, Line, Unjudged, check_title
from fleetaudit.writing.report import FindingRecord, Report, UnitRecord
from fleetaudit.writing.window_drawing import Drawing, drawing


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
    details: tuple[str, ...]
    cost: str
    confidence: str
    crew: str
    #: day and crew of the plan that goes there
    day: str = ""
    #: address of what it shares with like findings, and what it alone tells: how it follows, and the reason
    reason: str = ""
    texts: tuple[str, ...] = ()
    drawing: Drawing | None = None


class Shared(Struct, frozen=True):
    """Texts, and perhaps a drawing, that may be the same for several findings."""

    title: str
    texts: tuple[str, ...]
    drawing: Drawing | None = None


class Reason(Struct, frozen=True):
    """What several findings share, said once."""

    anchor: str
    title: str
    texts: tuple[str, ...]
    drawing: Drawing | None = None


class Told(Struct, frozen=True):
    """All that stands behind a finding; the reason alone; and what only its bed tells, flows and cost."""

    whole: Shared
    why: Shared
    own: tuple[str, ...]


def list_rows(listed: Sequence[Line | Unjudged], report: Report) -> tuple[list[Row], list[Reason]]:
    """Rows of the list, and what several of them share: reasons, and how the flows of like beds follow."""
    units = {unit.index: unit for unit in report.units}
    told = [_told(line, units, report) for line in listed if isinstance(line, Line)]
    counts = Counter(block for one in told for block in dict.fromkeys((one.whole, one.why)))
    several = [block for block, count in counts.items() if count > 1]
    anchors_of = {block: f"w{place}" for place, block in enumerate(several, start=1)}
    used: set[Shared] = set()
    anchors, blocks, rows = Anchors(), iter(told), []
    for line in listed:
        if isinstance(line, Unjudged):
            row = _unjudged_row(line, anchors)
        else:
            told_of = next(blocks)
            block = told_of.whole if told_of.whole in anchors_of else told_of.why
            used.add(block)
            row = _finding_row(line, anchors, report.sheet)
            row = replace(
                row,
                reason=anchors_of.get(block, ""),
                drawing=None if told_of.whole in anchors_of else told_of.whole.drawing,
                texts=_left(told_of, anchors_of),
            )
        unit = line.unit.index if isinstance(line, Unjudged) else line.finding.unit
        visit = report.route_days.get(unit)
        rows.append(replace(row, day=day_and_crew(*visit)) if visit else row)
    shared = [(block, anchor) for block, anchor in anchors_of.items() if block in used]
    return rows, [Reason(anchor, block.title, block.texts, block.drawing) for block, anchor in shared]


def _left(told: Told, anchors_of: Mapping[Shared, str]) -> tuple[str, ...]:
    """What the row itself has to tell, because nothing shared tells it."""
    if told.whole in anchors_of:
        return ()
    return told.own if told.why in anchors_of else told.whole.texts


def _told(line: Line, units: Mapping[int, UnitRecord], report: Report) -> Told:
    """How a finding follows, with its reason; many beds are of one kind."""
    finding, unit = line.finding, units.get(line.finding.unit)
    cost = (say("A year: {sum}", sum="; ".join(finding.cost_lines)),) if finding.cost_lines else ()
    source = (say("Source: {source}", source=finding.source),) if finding.source else ()
    reason = (finding.why,) if finding.why else ()
    drawn = None if line.more else drawing(finding, unit, report.system)
    own = (*finding.derivation, *cost)
    why = Shared(finding.title, (*reason, *_caution(finding), *source))
    title = f"{finding.title}: {_unit_media(unit)}" if unit and finding.derivation else finding.title
    whole = Shared(title, (*reason, *_caution(finding), *own, *source), drawn) if own or drawn else why
    return Told(whole, why, own)


def _caution(finding: FindingRecord) -> tuple[str, ...]:
    caution = say(BY_SLUG[finding.check].caution) if finding.check in BY_SLUG else ""
    return (caution,) if caution and finding.fix.endswith(caution) else ()


def _fix(finding: FindingRecord) -> str:
    """What to do; the caution that belongs to it stands where the finding is opened."""
    return finding.fix.removesuffix(*_caution(finding)).rstrip() if _caution(finding) else finding.fix


def _unit_media(unit: UnitRecord) -> str:
    return f"{say(unit.media)}, {unit.vessel}"


def day_and_crew(when: date, crew: str) -> str:
    """A day of the plan with its crew, as the list and its filter name it."""
    return f"{dated(when)}, {crew}" if crew else dated(when)


def _finding_row(line: Line, anchors: Anchors, sheet: str) -> Row:
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
        details=tuple(_details(line, sheet)),
        cost=money(finding.cost_year),
        confidence=say(finding.confidence),
        crew=finding.crew,
    )


def _details(line: Line, sheet: str) -> Iterator[str]:
    """Numbers that the sentences do not say already, parts of the cost without a working, units, cells."""
    finding = line.finding
    said = re.sub("[()]|[;:,.]?(?= )", "", f" {finding.message} {finding.fix} ")
    numbers = [
        f"{name}: {text}" for name, text in finding.numbers if f" {text.partition(' ')[0]} " not in said
    ]
    if numbers:
        yield "; ".join(numbers)
    if len(finding.cost_parts) > 1 and not finding.cost_lines:
        yield say(
            "A year: {sum}",
            sum=", ".join(f"{say(name)} {rounded(value)}" for name, value in finding.cost_parts),
        )
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
        details=(
            say(
                "{sheet}, row {row}. {ran} of {every} checks ran.",
                sheet=unit.sheet,
                row=unit.row,
                ran=unit.checks_run,
                every=unit.checks_applied,
            ),
        ),
        cost="",
        confidence="",
        crew=unit.crew,
    )
