"""What the summary page says around its list: headline, what to do first, counts, crews, gaps."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

from msgspec import Struct
from msgspec.structs import replace

from fleetaudit.language import say
from fleetaudit.schema.results import CLEAN, NOT_CHECKED, NOTE, NOW, PLAN
from fleetaudit.writing import crew_words
from fleetaudit.writing.display import Display
from fleetaudit.writing.finding_rows import Row, day_and_crew
from fleetaudit.writing.first import leading, step
from fleetaudit.writing.measuring import DUE_SOON, NOT_DUE, SILENT
from fleetaudit.writing.page import ROWS_SHOWN, query, whole
from fleetaudit.writing.page_words import DASH, KINDS, LISTED, UNJUDGED, WORDS, money
from fleetaudit.writing.register import Line, Unjudged, check_title
from fleetaudit.writing.report import MediaLine, NotCheckedRecord, Report, Span

FIRST_SHOWN = 10
UNITS_NAMED = 12


class Group(Struct, frozen=True):
    """The lines of one account or route day, counted, and the filter that shows them alone."""

    name: str
    counts: tuple[int, ...]
    query: str


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


class MediaDue(Struct, frozen=True):
    """Media that ask for work, and how many are overdue, due soon, and due on no day that can be told."""

    lines: list[MediaLine]
    overdue: int
    soon: int
    untold: int


class Gap(Struct, frozen=True):
    """Checks that could not run for one and the same reason."""

    title: str
    reason: str
    core: bool
    count: int
    units: str


def headline(report: Report) -> list[tuple[str, str, str, str, str]]:
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
            f"#tier={query(say(NOW))}",
            f"{counts.get(NOW, 0):,}",
            say("units to see to now"),
            say("health, harm, or media being lost"),
        ),
        (
            "plan",
            f"#tier={query(say(PLAN))}",
            f"{counts.get(PLAN, 0):,}",
            say("units to plan for"),
            say("performance or money"),
        ),
        (
            "unk",
            f"#tier={query(say(WORDS[NOT_CHECKED]))}",
            f"{counts.get(NOT_CHECKED, 0):,}",
            say("units not checked"),
            say("something needed is missing"),
        ),
        (
            "ok",
            f"#tier={query(say(NOTE))}",
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


def first(listed: Sequence[Line | Unjudged], rows: Sequence[Row]) -> list[tuple[str, list[Row]]]:
    """What to do first: the leading lines of the tiers now and plan, gathered by account."""
    chosen: dict[str, list[Row]] = {}
    row_of = {id(line): row for line, row in zip(listed, rows, strict=False)}
    for line in leading(line for line in listed if isinstance(line, Line))[:FIRST_SHOWN]:
        row = row_of[id(line)]
        chosen.setdefault(row.account, []).append(replace(row, fix=step(line.finding)))
    return list(chosen.items())


def by_tier(
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
        link = f"tier={query(word)}"
        counts = Counter({title: count for (of, title), count in lines.items() if of == tier})
        checks = [(title, count, f"{link}&check={query(title)}") for title, count in counts.most_common()]
        found.append((KINDS[tier], word, link, counts.total(), checks))
    return found


def groups(rows: Sequence[Row], field: str) -> list[Group]:
    """Lines by account or by route day, in the order of the list."""
    words = [say(WORDS.get(tier, tier)) for tier in LISTED]
    names = [getattr(row, field) for row in rows]
    counts = Counter(zip(names, [row.word for row in rows], strict=True))
    return [
        Group(name, tuple(counts[name, word] for word in words), f"{field}={query(name)}")
        for name in dict.fromkeys(names)
    ]


def by_day(rows: Sequence[Row], report: Report) -> list[Group]:
    """Lines by day and crew of the plan, the next day first; nothing where the workbook holds no plan."""
    order = {day_and_crew(*visit): visit for visit in report.route_days.values()}
    found = [group for group in groups(rows, "day") if group.name]
    return sorted(found, key=lambda group: order[group.name])


def media_due(report: Report) -> MediaDue:
    """Media that are due, or may be."""
    asked = [line for line in report.media if line.state != NOT_DUE]
    return MediaDue(
        asked,
        sum(line.overdue_days is not None for line in asked),
        sum(line.state in (DUE_SOON, f"{DUE_SOON}, {SILENT}") for line in asked),
        sum(line.day is None for line in report.media),
    )


def crews(report: Report) -> Crews | None:
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
                f"crew={query(group.name)}" if subject is crew_words.Subject.CREW else "",
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


def gaps(records: Sequence[NotCheckedRecord]) -> list[Gap]:
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
    found_gaps = []
    for (reason, core, units), checks in alike.items():
        more = (
            f" {say('and {count:,} more', count=len(units) - UNITS_NAMED)}"
            if len(units) > UNITS_NAMED
            else ""
        )
        which = ", ".join(names[unit] for unit in units[:UNITS_NAMED]) + more
        found_gaps.append(Gap(", ".join(checks), reason, core, len(units), which))
    return sorted(found_gaps, key=lambda gap: (not gap.core, -gap.count, gap.title))[:ROWS_SHOWN]
