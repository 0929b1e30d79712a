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
from fleetaudit.schema import fleet
from fleetaudit.schema.results import JSON_VERSION, TOOL, ResultColumn
from fleetaudit.workbook.place import quoted
from fleetaudit.workbook.sheets import Sheet, Styled
from fleetaudit.writing.added_sheets import Row, table, wrapped
from fleetaudit.writing.page import content_hash, environment, lean
from fleetaudit.writing.report import FindingRecord
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
        several = [(*PARTS[became], len(self.of(became))) for became in Became]
        return [one for became, one in zip(Became, several, strict=True) if one[2] or became in ALWAYS]


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
            "ran before and found nothing" if ran else shown.message, item.age,
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
            return WAS_UNCHECKED
        if item.out_of_service:
            return OUT_OF_SERVICE
        if item.by_the_calendar:
            return BY_THE_CALENDAR
        if item.became is Became.NO_LONGER_CHECKED:
            result = self.found.new.checks[item.new_check]
            reason = self.after.reason(result, item.new_unit)
            return f"{CANNOT_RUN} ({reason})" if reason else VALUE_LOST
        return ""


def said(age: Age) -> str:
    """Age in words.

    >>> said(Age(75, None, "the older list")), said(Age(0, 12, "the last recorded change"))
    ('at least 75 days', 'at most 12 days')
    """
    if age.most is not None and age.least == age.most:
        return days(age.most)
    if age.most is None:
        return f"at least {days(age.least)}"
    return f"{age.least:,} to {days(age.most)}" if age.least else f"at most {days(age.most)}"


def days(count: int) -> str:
    """Days in words."""
    return "1 day" if count == 1 else f"{count:,} days"


def text(report: ComparisonReport) -> str:
    """The comparison as Markdown."""
    lines = [f"# {_plain(report.old.file)} and {_plain(report.new.file)} compared", ""]
    for name, side in (("Older", report.old), ("Newer", report.new)):
        lines.append(
            f'- {name}: {_plain(side.file)}, sheet "{_plain(side.sheet)}", {side.units} units, '
            f"as of {side.as_of}"
        )
    lines += [f"- {report.matched} units are on both lists", ""]
    lines += [f"> {_plain(remark)}\n" for remark in report.remarks]
    lines += ["| | findings | |", "| --- | ---: | --- |"]
    lines += [f"| {name} | {count} | {meaning} |" for name, meaning, count in report.counts]
    for became, (title, _) in PARTS.items():
        entries = report.of(became)
        if entries:
            lines += ["", f"## {title} ({len(entries)})", "", *_table(entries)]
    for title, names in (("Units added", report.added), ("Units gone", report.gone)):
        if names:
            shown = ", ".join(_plain(name) for name in names[:LINES_IN_TEXT])
            more = f" and {len(names) - LINES_IN_TEXT} more" if len(names) > LINES_IN_TEXT else ""
            lines += ["", f"{title}: {shown}{more}."]
    if report.renamed:
        pairs = ", ".join(f"{_plain(a)} is {_plain(b)}" for a, b in report.renamed[:LINES_IN_TEXT])
        lines += ["", f"Known by account, address and vessel under another id: {pairs}."]
    lines += ["", "This advises; local codes, the maker's sheet and licensed practice come first."]
    return "\n".join(lines) + "\n"


def _table(entries: Sequence[Entry]) -> list[str]:
    heads = ("Unit", "Account", "Finding", "Tier", "Found", "Open for")
    lines = [f"| {' | '.join(heads)} |", f"|{' --- |' * len(heads)}"]
    for entry in entries[:LINES_IN_TEXT]:
        tier = entry.tier_now or entry.tier_before
        if entry.tier_before and entry.tier_now and entry.tier_before != entry.tier_now:
            tier = f"{entry.tier_before} to {entry.tier_now}"
        found = f"{entry.message} ({entry.remark})" if entry.remark else entry.message
        cells = (entry.unit_id, entry.account, entry.title, tier, found, entry.open_for)
        lines.append("| " + " | ".join(_plain(cell) for cell in cells) + " |")
    if len(entries) > LINES_IN_TEXT:
        more = len(entries) - LINES_IN_TEXT
        lines += ["", f"and {more} more; --workbook FILE or --html FILE has them all."]
    return lines


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
    rows: list[Row] = [
        [Styled(f"{report.old.file} and {report.new.file} compared", "title")],
        [Styled(f"As of {report.old.as_of} and {report.new.as_of}, made by {TOOL} {report.version}", "note")],
        [f"{report.matched} units are on both lists"],
        *[list[object]([wrapped(remark)]) for remark in report.remarks],
        [],
        [Styled(text_, "heading") for text_ in ("What became of the findings", "Findings", "Meaning")],
        *([name, Styled(count, "integer"), meaning] for name, meaning, count in report.counts),
    ]
    renamed = [f"{a} is {b}" for a, b in report.renamed]
    for title, names in (
        ("Units added", report.added), ("Units gone", report.gone), ("Known under another id", renamed),
    ):  # fmt: skip
        if names:
            rows += [[], [Styled(title, "subtitle")]]
            rows += [[name] for name in names]
    listed: list[Row] = [
        [
            Styled(PARTS[e.became][0], "top"), Styled(e.unit_id, "top"), wrapped(e.account), wrapped(e.title),
            Styled(e.tier_before, "top"), Styled(e.tier_now, "top"), wrapped(e.message),
            Styled(e.open_for, "top"), Styled(e.cell, "top"), wrapped(e.remark),
        ]
        for e in report.entries
    ]  # fmt: skip
    return [
        Sheet("Comparison", rows, (46, 12, 70), landscape=True),
        table("Findings", COLUMNS, listed or [["No finding on either list."]]),
    ]


def page(report: ComparisonReport) -> str:
    """The comparison as one page that asks no network for anything."""
    style = lean(read_text("templates/summary.css"))
    parts = [(title, meaning, report.of(became)) for became, (title, meaning) in PARTS.items()]
    return (
        environment()
        .get_template("comparison.html.j2")
        .render(report=report, style=Markup(style), style_hash=content_hash(style), parts=parts)
    )
