"""The summary page: one file that opens from disk, asks no network for anything and works without scripts."""

from __future__ import annotations

import base64
import hashlib
import math
import re
from collections import Counter
from collections.abc import Iterator, Mapping, MutableMapping, Sequence
from datetime import date
from functools import cache, lru_cache
from typing import Any
from urllib.parse import quote_plus

from jinja2 import BaseLoader, Environment, StrictUndefined, Template
from jinja2 import __version__ as JINJA
from markupsafe import Markup, escape
from msgspec import Struct
from msgspec.structs import replace

from fleetaudit.assets import prepared, read_text
from fleetaudit.checks.registry import BY_SLUG
from fleetaudit.language import code, dated, say
from fleetaudit.schema.remark import Level
from fleetaudit.schema.results import (
    CLEAN,
    NOT_CHECKED,
    NOT_JUDGED,
    NOTE,
    NOW,
    PLAN,
    VERDICTS,
)
from fleetaudit.writing import crew_words
from fleetaudit.writing.charts import age_chart, check_chart, window_chart
from fleetaudit.writing.cost_chart import cost_chart, two_figures
from fleetaudit.writing.crew_chart import funnel_chart
from fleetaudit.writing.display import Display
from fleetaudit.writing.first import leading, step
from fleetaudit.writing.map_chart import map_chart
from fleetaudit.writing.register import Anchors, Line, Unjudged, check_title, compact, in_order
from fleetaudit.writing.report import FindingRecord, NotCheckedRecord, Report, Span, UnitRecord
from fleetaudit.writing.setup_chart import setup_chart
from fleetaudit.writing.window_drawing import Drawing, drawing

CHUNK = 300
LINES_SHOWN = 30_000
TEXT_SHOWN = 500
CELLS_SHOWN = 8
FIRST_SHOWN = 10
ROWS_SHOWN = 500
UNITS_NAMED = 12
KINDS = {NOW: "now", PLAN: "plan", NOTE: "note", NOT_CHECKED: "unk", CLEAN: "ok", NOT_JUDGED: "soft"}
WORDS = {NOT_CHECKED: "not checked", NOT_JUDGED: "not judged"}
#: names of columns that the style sheet writes, by its own word for each
LABELS = {
    "day": "Route day",
    "account": "Account",
    "unit": "Unit",
    "cost": "A year",
    "confidence": "Confidence",
    "crew": "Crew",
}
#: a range of money
BETWEEN, DASH = "{low} to {high}", "{low}–{high}"
UNJUDGED = "Could not be judged"
LISTED = (NOW, PLAN, NOT_CHECKED, NOTE)
LEVELS = {Level.STOP: "stopped", Level.SKIP: "not used", Level.WARN: "assumed", Level.INFO: "noted"}

# Control characters, and those that turn the direction of the text around them, have no business on a page.
_UNSAFE = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069\ud800-\udfff\ufffe\uffff]"
)


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


class Group(Struct, frozen=True):
    """The lines of one account or route day, counted, and the filter that shows them alone."""

    name: str
    counts: tuple[int, ...]
    query: str


class Whole(str):
    """A text of ours that may be longer than a cell of the user; shown uncut."""

    __slots__ = ()


class Said(Struct, frozen=True):
    """A sentence about a crew, an install year or a housing, and the filter that shows a crew's lines."""

    text: str
    query: str


class Crews(Struct, frozen=True):
    """What the comparison of set-ups says, what it leaves open, and how it was made."""

    purpose: str
    outstanding: tuple[Said, ...]
    others: tuple[Said, ...]
    questions: tuple[str, ...]
    method: tuple[str, ...]


class Gap(Struct, frozen=True):
    """Checks that could not run for one and the same reason."""

    title: str
    reason: str
    core: bool
    count: int
    units: str


def render(report: Report, *, catalogue_hash: str = "") -> str:
    """Summary page of a report."""
    style, script = (
        lean(read_text("templates/summary.css")) + _labels(),
        lean(read_text("templates/summary.js")),
    )
    listed = in_order(report)
    rows, reasons = _rows(listed[:LINES_SHOWN], report)
    return (
        environment()
        .get_template("summary.html.j2")
        .render(
            report=report,
            catalogue_hash=catalogue_hash,
            style=Markup(style),
            script=Markup(script),
            style_hash=content_hash(style),
            script_hash=content_hash(script),
            headline=_headline(report),
            first=_first(listed, rows),
            charts=(
                window_chart(report),
                age_chart(report),
                check_chart(report),
                setup_chart(report),
                cost_chart(report),
                map_chart(report),
            ),
            crews=_crews(report),
            funnel=funnel_chart(report.crews),
            first_rows=rows[:CHUNK],
            other_rows=rows[CHUNK:],
            reasons=reasons,
            lines=len(listed),
            rows_shown=LINES_SHOWN,
            tiers=_by_tier(listed),
            accounts=_groups(rows, "account"),
            days=_by_day(rows, report),
            off_route=sum(not row.day for row in rows),
            shown=len(rows),
            gaps=_gaps(report.not_checked),
            unjudged_link=f"tier={_query(say(WORDS[NOT_CHECKED]))}",
            unjudged=report.by_verdict.get(NOT_CHECKED, 0),
            problems=sorted(report.remarks, key=lambda remark: remark.level)[:ROWS_SHOWN],
            cited={
                source: number
                for number, source in enumerate(dict.fromkeys(s.source for s in report.sources), start=1)
            },
            judged=len(report.units) - report.by_verdict.get(NOT_JUDGED, 0),
            verdicts=[(KINDS[v], say(WORDS.get(v, v)), report.by_verdict.get(v, 0)) for v in VERDICTS],
        )
    )


def _labels() -> str:
    """Names of the columns that the style sheet puts before the cells of a narrow page."""
    words = "".join(f'--{name}:"{say(title)}: ";' for name, title in LABELS.items())
    return f"\n:root{{{words}}}"


def content_hash(text: str) -> str:
    """Hash of an inline script or style as a Content-Security-Policy names it."""
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")


def whole(text: str) -> Whole:
    """A text of ours with words of the user in it, fit to show and not cut."""
    return Whole(_UNSAFE.sub("\ufffd", text))


def phrase(text: str, **values: object) -> Whole | Markup:
    """A text of ours in the language spoken, with what fills its holes made fit to show.

    Where a hole is filled with markup of ours, such as a link, everything else is escaped here.
    """
    fit = {name: _finalize(value) for name, value in values.items()}
    if any(isinstance(value, Markup) for value in fit.values()):
        return Markup(escape(say(text)).format_map(fit))
    return Whole(say(text, **fit))


def _link(target: str, text: str, kind: str = "") -> Markup:
    start = (
        Markup('<a class="{}" href="{}">').format(kind, target)
        if kind
        else Markup('<a href="{}">').format(target)
    )
    return start + text + Markup("</a>")


def plain(value: str) -> str:
    """Text of a cell made fit to show: no control or direction characters, cut where too long."""
    if len(value) <= TEXT_SHOWN and value.isascii() and value.isprintable():
        return value
    text = _UNSAFE.sub("\ufffd", value)
    return (
        text
        if len(text) <= TEXT_SHOWN
        else say("{start}… (cut, {count} characters)", start=text[:TEXT_SHOWN], count=len(text))
    )


def rounded(value: float) -> str:
    """Amount of money to two figures, as nobody knows it better.

    >>> rounded(1234.0), rounded(0.0)
    ('1,200', '0')
    """
    return two_figures(value)


def money(span: Span | None, between: str = BETWEEN) -> str:
    """Yearly cost as a range, or "" where there is none."""
    if span is None:
        return ""
    known = [
        value for value in (span.low, span.target, span.high) if value is not None and math.isfinite(value)
    ]
    if not known:
        return ""
    low, high = rounded(min(known)), rounded(max(known))
    return low if low == high else say(between, low=low, high=high)


class _Shipped(BaseLoader):
    """Loads the shipped templates, compiled by an earlier run where they have not changed since."""

    def load(
        self, environment: Environment, name: str, globals: MutableMapping[str, Any] | None = None
    ) -> Template:
        """Load a template by its name."""
        code = prepared(
            f"templates/{name}", lambda text: environment.compile(text.replace("\r\n", "\n"), name), JINJA
        )
        return environment.template_class.from_code(environment, code, globals or {})


@cache
def environment() -> Environment:
    """Templates of the pages; every text is escaped and made fit to show."""
    """Templates as every page uses them: all text escaped, unknown names an error."""
    made = Environment(
        loader=_Shipped(),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_finalize,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["levels"] = lambda remark: say(LEVELS[remark.level])
    made.filters["cells"] = _cells
    made.filters["said"] = say
    made.filters["dated"] = lambda day: "" if day is None else dated(day)
    made.globals |= {"_": phrase, "link": _link, "strong": Markup("<b>{}</b>").format}
    made.globals["several"] = lambda count, one, many, **values: phrase(
        one if count == 1 else many, count=count, **values
    )
    made.globals["language"] = code
    made.filters["quantity"] = lambda value: f"{value:.4g}"
    made.filters["outline"] = Markup  # numbers and path letters only, and longer than a text may be
    return made


#: for texts of no other type, since one that is marked as safe equals one that is not
_fit = lru_cache(maxsize=8_192)(plain)


def _finalize(value: object) -> object:
    return _fit(value) if type(value) is str else value


def lean(source: str) -> str:
    """Style sheet or script without indents and whole-line comments."""
    stripped = (line.strip() for line in source.replace("\r\n", "\n").split("\n"))
    return "\n".join(line for line in stripped if line and not line.startswith("//"))


def _cells(cells: Sequence[str], home: str = "") -> str:
    pieces = compact(cells, home).split(", ")
    shown = ", ".join(pieces[:CELLS_SHOWN])
    return say("{cells} and more", cells=shown) if len(pieces) > CELLS_SHOWN else shown


def _rows(listed: Sequence[Line | Unjudged], report: Report) -> tuple[list[Row], list[Reason]]:
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
        rows.append(replace(row, day=_day(*visit)) if visit else row)
    shared = [(block, anchor) for block, anchor in anchors_of.items() if block in used]
    return rows, [Reason(anchor, block.title, block.texts, block.drawing) for block, anchor in shared]


class Told(Struct, frozen=True):
    """All that stands behind a finding; the reason alone; and what only its bed tells, flows and cost."""

    whole: Shared
    why: Shared
    own: tuple[str, ...]


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


def _day(when: date, crew: str) -> str:
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
        yield say("Cells {cells}", cells=_cells(line.cells, sheet))


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


def _headline(report: Report) -> list[tuple[str, str, str, str, str]]:
    """Class, link, number, what it counts, and a word on it."""
    counts = report.by_verdict
    fine = counts.get(CLEAN, 0) + counts.get(NOTE, 0)
    costs = [span for span in report.cost_by_tier.values() if span is not None]
    whole = Span(
        *(math.fsum(getattr(span, end) or 0.0 for span in costs) for end in ("low", "target", "high"))
    )
    entries = [
        (
            "now",
            f"#tier={_query(say(NOW))}",
            f"{counts.get(NOW, 0):,}",
            say("units to see to now"),
            say("health, harm, or media being lost"),
        ),
        (
            "plan",
            f"#tier={_query(say(PLAN))}",
            f"{counts.get(PLAN, 0):,}",
            say("units to plan for"),
            say("performance or money"),
        ),
        (
            "unk",
            f"#tier={_query(say(WORDS[NOT_CHECKED]))}",
            f"{counts.get(NOT_CHECKED, 0):,}",
            say("units not checked"),
            say("something needed is missing"),
        ),
        (
            "ok",
            f"#tier={_query(say(NOTE))}",
            f"{fine:,}",
            say("units in order"),
            say("{count:,} of them with a note", count=counts.get(NOTE, 0)),
        ),
    ]
    if any(span.high for span in costs):
        entries.append(
            (
                "soft",
                "#findings",
                money(whole, DASH),
                say("a year if nothing is done"),
                say("in the currency of your prices"),
            )
        )
    return entries


def _first(listed: Sequence[Line | Unjudged], rows: Sequence[Row]) -> list[tuple[str, list[Row]]]:
    """What to do first: the leading lines of the tiers now and plan, gathered by account."""
    chosen: dict[str, list[Row]] = {}
    row_of = {id(line): row for line, row in zip(listed, rows, strict=False)}
    for line in leading(line for line in listed if isinstance(line, Line))[:FIRST_SHOWN]:
        row = row_of[id(line)]
        chosen.setdefault(row.account, []).append(replace(row, fix=step(line.finding)))
    return list(chosen.items())


def _by_tier(
    listed: Sequence[Line | Unjudged],
) -> list[tuple[str, str, str, int, list[tuple[str, int, str]]]]:
    """Class, word, filter, count, and for each check its title, count and filter."""
    lines = Counter(
        (line.finding.tier, line.finding.title) if isinstance(line, Line) else (NOT_CHECKED, say(UNJUDGED))
        for line in listed
    )
    found = []
    for tier in LISTED:
        word = say(WORDS.get(tier, tier))
        link = f"tier={quote_plus(word)}"
        counts = Counter({title: count for (of, title), count in lines.items() if of == tier})
        checks = [(title, count, f"{link}&check={_query(title)}") for title, count in counts.most_common()]
        found.append((KINDS[tier], word, link, counts.total(), checks))
    return found


def _query(text: str) -> str:
    return quote_plus(_UNSAFE.sub("\ufffd", text))


def _groups(rows: Sequence[Row], field: str) -> list[Group]:
    """Lines by account or by route day, in the order of the list."""
    grouped: dict[str, list[Row]] = {}
    for row in rows:
        grouped.setdefault(getattr(row, field), []).append(row)
    groups = []
    for name, own in grouped.items():
        words = Counter(row.word for row in own)
        counts = tuple(words[say(WORDS.get(tier, tier))] for tier in LISTED)
        query = f"{field}={_query(name)}"
        groups.append(Group(name, counts, query))
    return groups


def _by_day(rows: Sequence[Row], report: Report) -> list[Group]:
    """Lines by day and crew of the plan, the next day first; nothing where the workbook holds no plan."""
    order = {_day(*visit): visit for visit in report.route_days.values()}
    groups = [group for group in _groups(rows, "day") if group.name]
    return sorted(groups, key=lambda group: order[group.name])


def _crews(report: Report) -> Crews | None:
    """What is said of crews, and of years and housings that differ; None in a report of one account."""
    found = report.crews
    if found is None:
        return None
    show = Display(report.system)
    said = [
        (
            crew_words.speaks(group),
            Said(
                whole(crew_words.sentence(group, found.rules, show, subject)),
                f"crew={_query(group.name)}" if subject is crew_words.Subject.CREW else "",
            ),
        )
        for subject, groups in crew_words.subjects(found)
        for group in groups
        if subject is crew_words.Subject.CREW or crew_words.speaks(group)
    ]
    return Crews(
        say(crew_words.PURPOSE),
        tuple(one for speaks, one in said if speaks),
        tuple(one for speaks, one in said if not speaks),
        tuple(say(text) for text in crew_words.QUESTIONS),
        tuple(whole(text) for text in crew_words.method(found)),
    )


def _gaps(records: Sequence[NotCheckedRecord]) -> list[Gap]:
    """Checks that could not run, those silent for the same reason on the same units in one line."""
    silent: dict[tuple[str, str, bool], list[NotCheckedRecord]] = {}
    for record in records:
        silent.setdefault((record.check, record.reason, record.core), []).append(record)
    alike: dict[tuple[str, bool, tuple[int, ...]], list[str]] = {}
    for (check, reason, core), found in silent.items():
        alike.setdefault((reason, core, tuple(record.unit for record in found)), []).append(
            check_title(check)
        )
    names = {record.unit: record.unit_id for record in records}
    gaps = []
    for (reason, core, units), checks in alike.items():
        more = (
            f" {say('and {count:,} more', count=len(units) - UNITS_NAMED)}"
            if len(units) > UNITS_NAMED
            else ""
        )
        which = ", ".join(names[unit] for unit in units[:UNITS_NAMED]) + more
        gaps.append(Gap(", ".join(checks), reason, core, len(units), which))
    return sorted(gaps, key=lambda gap: (not gap.core, -gap.count, gap.title))[:ROWS_SHOWN]
