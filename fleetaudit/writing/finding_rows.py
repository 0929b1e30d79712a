"""Lines of the summary page's list: their cells, what an opened line says, and their markup."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from datetime import date
from functools import cache, lru_cache

from markupsafe import escape
from msgspec import Struct

from fleetaudit.assets import read_text
from fleetaudit.checks.registry import BY_SLUG
from fleetaudit.language import dated, say
from fleetaudit.schema.results import NOT_CHECKED
from fleetaudit.writing.page import CELLS_SHOWN, ROWS_SHOWN, environment, plain, shown_cells
from fleetaudit.writing.page_words import KINDS, UNJUDGED, WORDS, money
from fleetaudit.writing.register import Anchors, Line, Unjudged, check_title
from fleetaudit.writing.report import FindingRecord, Report, UnitRecord
from fleetaudit.writing.sentences import Sentences
from fleetaudit.writing.window_drawing import Drawing, drawing

#: texts that many lines share are made fit and escaped once; more of them than a page has are not kept
KEPT = 4096
#: ends of a word that are none of a figure
STOPS = (";", ":", ",", ".")
#: what markup gives a meaning to
_SPECIAL = re.compile("[&<>'\"]")


class Row(Struct, frozen=True, gc=False):
    """Cells of one line of the list."""

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


class FindingList(Struct, frozen=True):
    """Rows of the list with the markup of each, and the sentences, with gaps, that several of them share."""

    rows: list[Row]
    markup: list[str]
    sentences: tuple[str, ...]


def finding_list(listed: Sequence[Line | Unjudged], report: Report) -> FindingList:
    """The list as the page shows it; what its lines have in common stands once."""
    units = {unit.index: unit for unit in report.units}
    anchors, opening, cost = Anchors(), _Opened(report.sheet), lru_cache(KEPT)(money)
    rows: list[Row] = []
    opened: list[list[str]] = []
    drawings: list[str] = []
    for line in listed:
        place = line.unit.index if isinstance(line, Unjudged) else line.finding.unit
        visit = report.route_days.get(place)
        day = day_and_crew(*visit) if visit else ""
        if isinstance(line, Unjudged):
            rows.append(_unjudged_row(line, anchors, day))
            opened.append([plain(_where(line))])
            drawings.append("")
        else:
            finding, caution = line.finding, _caution(line.finding)
            rows.append(_finding_row(line, caution, anchors, day, cost(finding.cost_year)))
            opened.append(opening.texts(line, caution))
            drawings.append("" if line.more else _drawn(finding, units.get(place), report.system))
    sentences = Sentences(text for texts in opened for text in texts)
    markup = _markup(rows, [_pieces(texts, sentences) for texts in opened], drawings)
    return FindingList(rows, markup, sentences.shared)


# --- markup ---


def _markup(rows: Sequence[Row], opened: Sequence[str], drawings: Sequence[str]) -> list[str]:
    """Each line as the table holds it; a page has thousands, too many for templates to put together."""
    line, often = read_text("templates/parts/line.html").replace("\r\n", "\n"), lru_cache(KEPT)(_fit)
    with_days = any(row.day for row in rows)
    return [
        line.format(
            anchor=_fit(row.anchor),
            kind=row.kind,
            word=often(row.word),
            account=often(row.account),
            unit=_fit(row.unit),
            title=often(row.title),
            message=_fit(row.message),
            drawing=drawn,
            opened=behind,
            fix=often(row.fix),
            cost=often(row.cost),
            confidence=often(row.confidence),
            crew=often(row.crew),
            day=f"<td>{often(row.day)}" if with_days else "",
        )
        for row, behind, drawn in zip(rows, opened, drawings, strict=True)
    ]


def _fit(text: str) -> str:
    """Text made fit to show, and escaped."""
    return _escaped(plain(text))


def _escaped(text: str) -> str:
    return str(escape(text)) if _SPECIAL.search(text) else text


def _drawn(finding: FindingRecord, unit: UnitRecord | None, system: str) -> str:
    """Markup of the drawing of a finding on the flow to drain, "" for any other."""
    found = drawing(finding, unit, system)
    return "" if found is None else _window()(found)


@cache
def _window() -> Callable[[Drawing], str]:
    made: Callable[[Drawing], str] = vars(environment().get_template("parts/window.html.j2").module)["window"]
    return made


def _pieces(texts: Sequence[str], sentences: Sentences) -> str:
    """Paragraphs in their order, those that are shortened joined where they follow each other."""
    pieces, short = [], ""
    for text in texts:
        numbered = sentences.short(text)
        if numbered:
            short = f"{short} {numbered}" if short else numbered
        else:
            pieces += [short, f"<p>{_escaped(text)}</p>"]
            short = ""
    return "".join([*pieces, short])


# --- what an opened line says ---


class _Opened:
    """Paragraphs of opened lines, fit to show; what several findings have alike is made once."""

    def __init__(self, sheet: str) -> None:
        self._sheet = sheet
        self._behind: dict[tuple[object, ...], list[str]] = {}
        self._words = lru_cache(KEPT)(_words)

    def texts(self, line: Line, caution: str) -> list[str]:
        """Figures, like findings, cells, the reason, how it follows, the source."""
        finding = line.finding
        alike = (finding.why, caution, finding.derivation, finding.cost_lines, finding.source)
        if alike not in self._behind:
            self._behind[alike] = [plain(text) for text in _behind(*alike)]
        return [*map(plain, self._details(line)), *self._behind[alike]]

    def _details(self, line: Line) -> Iterator[str]:
        """Numbers that the sentences do not say already, units, cells."""
        finding = line.finding
        said = self._words(finding.message) | self._words(finding.fix)
        numbers = [f"{name}: {text}" for name, text in finding.numbers if text.partition(" ")[0] not in said]
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
        yield say("Cells {cells}", cells=_cells(line, self._sheet))


def _words(text: str) -> frozenset[str]:
    """Words of a text without the brackets around them and the stop behind them."""
    bare = [word[:-1] if word.endswith(STOPS) else word for word in text.split(" ")]
    return frozenset(" ".join(bare).replace("(", "").replace(")", "").split(" "))


def _cells(line: Line, home: str) -> str:
    finding = line.finding
    if line.more or finding.sheet != home or len(finding.columns) > CELLS_SHOWN:
        return shown_cells(line.cells, home)
    columns = dict.fromkeys((finding.column, *finding.columns))
    return ", ".join([f"{column}{finding.row}" for column in columns])


def _behind(
    why: str, caution: str, derivation: Sequence[str], cost_lines: Sequence[str], source: str
) -> Iterator[str]:
    """Why it matters, what to take care of, how it follows, what it costs, and the source."""
    if why:
        yield why
    if caution:
        yield caution
    yield from derivation
    if cost_lines:
        yield say("A year: {sum}", sum="; ".join(cost_lines))
    if source:
        yield say("Source: {source}", source=source)


def _where(line: Unjudged) -> str:
    unit = line.unit
    return say(
        "{sheet}, row {row}. {ran} of {every} checks ran.",
        sheet=unit.sheet,
        row=unit.row,
        ran=unit.checks_run,
        every=unit.checks_applied,
    )


# --- cells ---


def _caution(finding: FindingRecord) -> str:
    """The caution that belongs to what is to be done."""
    caution = say(BY_SLUG[finding.check].caution) if finding.check in BY_SLUG else ""
    return caution if finding.fix.endswith(caution) else ""


def day_and_crew(when: date, crew: str) -> str:
    """A day of the plan with its crew, as the list and its filter name it."""
    return f"{dated(when)}, {crew}" if crew else dated(when)


def _finding_row(line: Line, caution: str, anchors: Anchors, day: str, cost: str) -> Row:
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
        # the caution that belongs to it stands where the finding is opened
        fix=finding.fix.removesuffix(caution).rstrip() if caution else finding.fix,
        cost=cost,
        confidence=say(finding.confidence),
        crew=finding.crew,
        day=day,
    )


def _unjudged_row(line: Unjudged, anchors: Anchors, day: str) -> Row:
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
        day=day,
    )
