"""Two audits compared, in words: lines that the page, the workbook, the document and the screen share."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from markupsafe import Markup
from msgspec import Struct, field

from fleetaudit.assets import read_text
from fleetaudit.auditing.result import State
from fleetaudit.comparing import Age, Became, Comparison, Item
from fleetaudit.language import dated, say, several
from fleetaudit.schema import fleet
from fleetaudit.schema.results import JSON_VERSION, TOOL, ResultColumn
from fleetaudit.workbook.place import quoted
from fleetaudit.workbook.sheets import Sheet, Styled
from fleetaudit.writing.page import content_hash, environment, lean
from fleetaudit.writing.report import FindingRecord
from fleetaudit.writing.tables import Row, table, wrapped
from fleetaudit.writing.wording import Speaker

#: what each kind is called at the head of its part, and what it means
PARTS: Mapping[Became, tuple[str, str]] = {
    Became.NEW: ("New", "found now and not before"),
    Became.WORSE: ("Worse", "found before, and graver now"),
    Became.NO_LONGER_CHECKED: (
        "No longer checked",
        "not found now only because something that was known is missing; nothing was fixed",
    ),
    Became.BETTER: ("Better", "found before, and less grave now"),
    Became.FIXED: ("Fixed", "found before; the check ran again and found nothing"),
    Became.ACCEPTED: ("Accepted", "found before; somebody answers for leaving it"),
    Became.ADDED: ("Units added", "findings of units that the older list does not have"),
    Became.GONE: ("Units gone", "findings of units that are no longer listed, or no longer in service"),
    Became.STILL_OPEN: ("Still open", "found before and now"),
}  # fmt: skip
LINES_IN_TEXT = 100
COLUMNS = (
    ResultColumn("What became of it", width=18),
    ResultColumn("Unit", width=14),
    ResultColumn("Account", width=26),
    ResultColumn("Check", width=26),
    ResultColumn("Tier before", width=10),
    ResultColumn("Tier now", width=10),
    ResultColumn("Found", width=60),
    ResultColumn("Open for", width=28),
    ResultColumn("Cell", width=20),
    ResultColumn("Remark", width=44),
)
WAS_UNCHECKED = "could not be checked before"
OUT_OF_SERVICE = "the unit is out of service now"
BY_THE_CALENDAR = "nobody did anything; only the day of the audit is another"
CANNOT_RUN = "the check cannot run now"
VALUE_LOST = "a value that was known is missing now"


class Side(Struct, frozen=True):
    """One of the two lists: its file, sheet, contents, and the day it was audited for."""

    file: str
    sheet: str
    sha256: str
    as_of: date
    units: int


class Entry(Struct, frozen=True):
    """One finding as shown."""

    became: Became
    unit_id: str
    account: str
    check: str
    title: str
    tier_before: str
    tier_now: str
    confidence: str
    message: str
    age: Age | None
    cell: str
    remark: str

    @property
    def open_for(self) -> str:
        """Age in words."""
        return "" if self.age is None else said(self.age)


class ComparisonReport(Struct):
    """All that is said of a comparison."""

    version: str
    old: Side
    new: Side
    entries: list[Entry] = field(default_factory=list)
    matched: int = 0
    renamed: list[tuple[str, str]] = field(default_factory=list)
    added: list[str] = field(default_factory=list)
    gone: list[str] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)

    def of(self, became: Became) -> list[Entry]:
        """Entries of one kind."""
        return [entry for entry in self.entries if entry.became is became]

    @property
    def counts(self) -> list[tuple[str, str, int]]:
        """Name, meaning and number of every kind that occurs; six of them always."""
        found = [(*part(became), len(self.of(became))) for became in Became]
        return [one for became, one in zip(Became, found, strict=True) if one[2] or became in ALWAYS]


def part(became: Became) -> tuple[str, str]:
    """Name and meaning of a kind in the language spoken."""
    name, meaning = PARTS[became]
    return say(name), say(meaning)


ALWAYS = (
    Became.NEW, Became.WORSE, Became.NO_LONGER_CHECKED, Became.STILL_OPEN, Became.BETTER, Became.FIXED,
)  # fmt: skip


def report_of(
    found: Comparison, old: Side, new: Side, system: str, version: str, remarks: Sequence[str]
) -> ComparisonReport:
    """Put a comparison into words."""
    maker = _Maker(found, system)
    before, after = found.old.view.frame.text(fleet.UNIT_ID), found.new.view.frame.text(fleet.UNIT_ID)
    return ComparisonReport(
        version, old, new, [maker.entry(item) for item in found.items], len(found.pairs),
        [(before[a], after[b]) for a, b in found.renamed], [after[unit] for unit in found.added],
        [before[unit] for unit in found.gone], list(remarks),
    )  # fmt: skip


class _Maker:
    def __init__(self, found: Comparison, system: str) -> None:
        self.found = found
        self.before, self.after = Speaker(found.old, system), Speaker(found.new, system)

    def entry(self, item: Item) -> Entry:
        """One finding; its sentence is that of the newer list where it is found there, else of the older."""
        was = now = None
        gone = (Became.FIXED, Became.NO_LONGER_CHECKED, Became.GONE)
        if item.old_check >= 0:
            was = self._record(self.before, item.old_unit, item.old_check)
        if item.new_check >= 0 and item.new_unit >= 0 and item.became not in gone:
            now = self._record(self.after, item.new_unit, item.new_check)
        shown = now or was
        assert shown is not None
        ran = item.became is Became.NO_LONGER_CHECKED and self.before_clean(item)
        return Entry(
            item.became, shown.unit_id, shown.account, shown.check, shown.title,
            "" if was is None or ran else was.tier, "" if now is None else now.tier, shown.confidence,
            say("ran before and found nothing") if ran else shown.message, item.age,
            f"{quoted(shown.sheet)}!{shown.cell}", self._remark(item),
        )  # fmt: skip

    def before_clean(self, item: Item) -> bool:
        """True where the older list was found in order by the check."""
        return bool(self.found.old.checks[item.old_check].state[item.old_unit] == State.CLEAN)

    @staticmethod
    def _record(speaker: Speaker, unit: int, check: int) -> FindingRecord:
        return speaker.finding(unit, speaker.result.checks[check], None)

    def _remark(self, item: Item) -> str:
        if item.was_unchecked:
            return say(WAS_UNCHECKED)
        if item.out_of_service:
            return say(OUT_OF_SERVICE)
        if item.by_the_calendar:
            return say(BY_THE_CALENDAR)
        if item.became is Became.NO_LONGER_CHECKED:
            result = self.found.new.checks[item.new_check]
            reason = self.after.reason(result, item.new_unit)
            return f"{say(CANNOT_RUN)} ({reason})" if reason else say(VALUE_LOST)
        return ""


def said(age: Age) -> str:
    """Age in words.

    >>> said(Age(75, None, "the older list")), said(Age(0, 12, "the last recorded change"))
    ('at least 75 days', 'at most 12 days')
    """
    if age.most is not None and age.least == age.most:
        return days(age.most)
    if age.most is None:
        return say("at least {time}", time=days(age.least))
    if not age.least:
        return say("at most {time}", time=days(age.most))
    return say("{least:,} to {time}", least=age.least, time=days(age.most))


def days(count: int) -> str:
    """Days in words."""
    return several(count, "1 day", "{count:,} days")


def text(report: ComparisonReport) -> str:
    """The comparison as Markdown."""
    lines = [f"# {compared(_plain(report.old.file), _plain(report.new.file))}", ""]
    for name, side in ((say("Older"), report.old), (say("Newer"), report.new)):
        told = say(
            '{file}, sheet "{sheet}", {units}, as of {date}',
            file=_plain(side.file),
            sheet=_plain(side.sheet),
            units=several(side.units, "1 unit", "{count:,} units"),
            date=dated(side.as_of),
        )
        lines.append(f"- {name}: {told}")
    lines += [f"- {on_both(report)}", ""]
    lines += [f"> {_plain(remark)}\n" for remark in report.remarks]
    lines += [f"| | {say('findings')} | |", "| --- | ---: | --- |"]
    lines += [f"| {name} | {count} | {meaning} |" for name, meaning, count in report.counts]
    for became in PARTS:
        entries = report.of(became)
        if entries:
            lines += ["", f"## {part(became)[0]} ({len(entries)})", "", *_table(entries)]
    for title, names in ((say("Units added"), report.added), (say("Units gone"), report.gone)):
        if names:
            shown = ", ".join(_plain(name) for name in names[:LINES_IN_TEXT])
            if len(names) > LINES_IN_TEXT:
                shown += " " + say("and {count:,} more", count=len(names) - LINES_IN_TEXT)
            lines += ["", f"{title}: {shown}."]
    if report.renamed:
        pairs = ", ".join(renaming(_plain(a), _plain(b)) for a, b in report.renamed[:LINES_IN_TEXT])
        lines += ["", say("Known by account, address and vessel under another id: {pairs}.", pairs=pairs)]
    lines += ["", say("This advises; local codes, the maker's sheet and licensed practice come first.")]
    return "\n".join(lines) + "\n"


def compared(old: str, new: str) -> str:
    """Title of a comparison."""
    return say("{old} and {new} compared", old=old, new=new)


def on_both(report: ComparisonReport) -> str:
    """How many units could be compared."""
    return several(report.matched, "1 unit is on both lists", "{count:,} units are on both lists")


def renaming(old: str, new: str) -> str:
    """A unit under two ids."""
    return say("{old} is {new}", old=old, new=new)


def _table(entries: Sequence[Entry]) -> list[str]:
    heads = [say(text) for text in ("Unit", "Account", "Finding", "Tier", "Found", "Open for")]
    lines = [f"| {' | '.join(heads)} |", f"|{' --- |' * len(heads)}"]
    for entry in entries[:LINES_IN_TEXT]:
        tier = said_tier(entry.tier_now or entry.tier_before)
        if entry.tier_before and entry.tier_now and entry.tier_before != entry.tier_now:
            tier = say("{first} to {last}", first=said_tier(entry.tier_before), last=tier)
        found = f"{entry.message} ({entry.remark})" if entry.remark else entry.message
        cells = (entry.unit_id, entry.account, entry.title, tier, found, entry.open_for)
        lines.append("| " + " | ".join(_plain(cell) for cell in cells) + " |")
    if len(entries) > LINES_IN_TEXT:
        more = len(entries) - LINES_IN_TEXT
        lines += ["", say("and {count:,} more; --workbook FILE or --html FILE has them all.", count=more)]
    return lines


def said_tier(tier: str) -> str:
    """Tier in the language spoken, "" where there is none."""
    return say(tier) if tier else ""


def _plain(cell: str) -> str:
    """Text of a workbook that stays text in Markdown."""
    for mark in "\\`*_[]<>|#":
        cell = cell.replace(mark, f"\\{mark}")
    return " ".join(cell.split())


def document(report: ComparisonReport) -> dict[str, Any]:
    """The comparison as plain values."""
    return {
        "schema_version": JSON_VERSION,
        "tool": {"name": TOOL, "version": report.version},
        "old": _side(report.old),
        "new": _side(report.new),
        "units": {
            "matched": report.matched,
            "renamed": [{"old": a, "new": b} for a, b in report.renamed],
            "added": report.added,
            "gone": report.gone,
        },
        "counts": {became.value.replace(" ", "_"): len(report.of(became)) for became in Became},
        "findings": [_finding(entry) for entry in report.entries],
        "remarks": report.remarks,
    }


def document_text(report: ComparisonReport) -> str:
    """Document as text, one line at the end."""
    whole = json.dumps(document(report), ensure_ascii=False, allow_nan=False, indent=1) + "\n"
    return whole.encode("utf-8", "replace").decode("utf-8")


def _side(side: Side) -> dict[str, Any]:
    return {"file": side.file, "sheet": side.sheet, "sha256": side.sha256, "as_of": side.as_of.isoformat()}


def _finding(entry: Entry) -> dict[str, Any]:
    age = entry.age
    return {
        "became": entry.became.value.replace(" ", "_"),
        fleet.UNIT_ID.name: entry.unit_id,
        "account": entry.account,
        "check": entry.check,
        "tier_before": entry.tier_before or None,
        "tier_now": entry.tier_now or None,
        "confidence": entry.confidence,
        "message": entry.message,
        "cell": entry.cell,
        "open_days": None if age is None else {"least": age.least, "most": age.most, "basis": age.basis},
        "remark": entry.remark or None,
    }


def sheets(report: ComparisonReport) -> list[Sheet]:
    """The comparison as sheets of a workbook of its own."""
    made = say(
        "As of {old} and {new}, made by {tool}",
        old=dated(report.old.as_of),
        new=dated(report.new.as_of),
        tool=f"{TOOL} {report.version}",
    )
    heads = (say("What became of the findings"), say("Findings"), say("Meaning"))
    rows: list[Row] = [
        [Styled(compared(report.old.file, report.new.file), "title")],
        [Styled(made, "note")],
        [on_both(report)],
        *[list[object]([wrapped(remark)]) for remark in report.remarks],
        [],
        [Styled(title, "heading") for title in heads],
        *([name, Styled(count, "integer"), meaning] for name, meaning, count in report.counts),
    ]
    renamed = [renaming(a, b) for a, b in report.renamed]
    for title, names in (
        (say("Units added"), report.added), (say("Units gone"), report.gone),
        (say("Known under another id"), renamed),
    ):  # fmt: skip
        if names:
            rows += [[], [Styled(title, "subtitle")]]
            rows += [[name] for name in names]
    listed: list[Row] = [
        [
            Styled(part(e.became)[0], "top"), Styled(e.unit_id, "top"), wrapped(e.account), wrapped(e.title),
            Styled(said_tier(e.tier_before), "top"), Styled(said_tier(e.tier_now), "top"), wrapped(e.message),
            Styled(e.open_for, "top"), Styled(e.cell, "top"), wrapped(e.remark),
        ]
        for e in report.entries
    ]  # fmt: skip
    columns = [ResultColumn(say(column.title), width=column.width) for column in COLUMNS]
    return [
        Sheet(say("Comparison"), rows, (46, 12, 70), landscape=True),
        table(say("Findings"), columns, listed or [[say("No finding on either list.")]]),
    ]


def page(report: ComparisonReport) -> str:
    """The comparison as one page that asks no network for anything."""
    style = lean(read_text("templates/summary.css"))
    parts = [(*part(became), report.of(became)) for became in PARTS]
    return (
        environment()
        .get_template("comparison.html.j2")
        .render(report=report, style=Markup(style), style_hash=content_hash(style), parts=parts)
    )
