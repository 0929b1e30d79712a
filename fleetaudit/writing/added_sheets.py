"""Content of the sheets added to the workbook; the two writers bring them into a file."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import lru_cache

from fleetaudit.language import say
from fleetaudit.schema import results
from fleetaudit.schema.remark import Level
from fleetaudit.schema.results import (
    CLEAN,
    NOT_CHECKED,
    NOT_JUDGED,
    NOTE,
    NOW,
    PLAN,
    TIERS,
    VERDICTS,
)
from fleetaudit.workbook.place import quoted
from fleetaudit.workbook.sheets import Link, MadeRows, Sheet, SheetToCome, Styled
from fleetaudit.workbook.styles import Look
from fleetaudit.writing.crew_sheet import crew_sheet
from fleetaudit.writing.first import leading, step
from fleetaudit.writing.order_sheets import measuring_sheet, media_sheet, order_sheet, quote_sheet
from fleetaudit.writing.register import (
    Line,
    check_title,
    compact,
    leads_to_cell,
    lines,
    part_totals,
)
from fleetaudit.writing.report import UNKNOWN_SPAN, FindingRecord, NotCheckedRecord, PartLine, Report
from fleetaudit.writing.tables import Row, headings, long_table, table, wrapped

LOOKS = (
    Look(NOW, "F8D7D3", "8A1A13", bold=True),
    Look(PLAN, "FBE7C6", "6B4100", bold=True),
    Look(NOT_CHECKED, "E6DDF5", "4A3080", bold=True),
    Look(NOTE, "DDE7F0", "2B4459"),
    Look(CLEAN, "DDEFE2", "17502C"),
    Look(NOT_JUDGED, "EDEDED", "4F4F4F"),
)
LEVEL_WORDS = {Level.STOP: "stopped", Level.SKIP: "not used", Level.WARN: "assumed", Level.INFO: "noted"}
VERDICT_WORDS = {
    NOW: "see to now: health, harm, or media being lost",
    PLAN: "plan for: performance or money",
    NOT_CHECKED: "something needed is missing, so nothing was passed",
    NOTE: "in order, with a note",
    CLEAN: "in order",
    NOT_JUDGED: "out of service, or no backwashing bed",
}
FIRST_SHOWN = 10
CELLS_NAMED = 2000
MOST_FROZEN = 8

#: styles of the columns in results.FINDING_COLUMNS
FINDING_STYLES = (
    "top", "top", "wrap", "wrap", "", "wrap", "wrap", "wrap", "wrap", "wrap", "integer", "integer", "integer",
    "wrap", "wrap", "top", "wrap", "top",
)  # fmt: skip
#: styles of the columns in results.PART_COLUMNS
PART_STYLES = (
    "wrap", "top", "wrap", "top", "top", "top", "top", "wrap", "top", "top", "top", "top", "wrap",
)  # fmt: skip
#: styles of the columns in results.NOT_CHECKED_COLUMNS
NOT_CHECKED_STYLES = ("top", "wrap", "", "wrap", "top")


def added_sheets(report: Report) -> list[SheetToCome]:
    """All added sheets, in the order they stand in the workbook."""
    found = lines(report)
    sheets: list[tuple[str, Callable[[], Sheet]]] = [
        (results.SHEET_SUMMARY, lambda: _summary(report, found)),
        (results.SHEET_FINDINGS, lambda: _findings(found)),
        (results.SHEET_PARTS, lambda: _parts(report)),
        (results.SHEET_ORDER, lambda: order_sheet(report)),
        (results.SHEET_QUOTE, lambda: quote_sheet(report)),
        (results.SHEET_MEASURING, lambda: measuring_sheet(report)),
        (results.SHEET_MEDIA, lambda: media_sheet(report)),
        (results.SHEET_PROBLEMS, lambda: _problems(report)),
        (results.SHEET_NOT_CHECKED, lambda: _not_checked(report)),
        (results.SHEET_BASIS, lambda: _basis(report)),
    ]
    if report.accepted:
        sheets.append((results.SHEET_ACCEPTED, lambda: _accepted(report)))
    if (crews := report.crews) is not None:
        sheets.append((results.SHEET_CREWS, lambda: crew_sheet(crews, report.system)))
    return [SheetToCome(name, make) for name, make in sheets]


def cost(value: float | None) -> Styled | None:
    """Yearly cost in whole units of money."""
    amount = whole(value)
    return None if amount is None else Styled(amount, "integer")


@lru_cache(maxsize=4_096)
def whole(value: float | None) -> int | None:
    """Whole units of money, None where not known."""
    return None if value is None or not math.isfinite(value) else round(value)


def _summary(report: Report, listed: Sequence[Line]) -> Sheet:
    rows: list[Row] = [
        [Styled(say("Audit of {file}", file=report.file), "title")],
        # `compare` looks for the day in this line, whatever language the rest is in
        [Styled(f"As of {report.as_of.isoformat()}, made by {results.TOOL} {report.version}", "note")],
        [Styled(say("Sheet read: {sheet}", sheet=report.sheet), "note")],
        [Styled(say("Contents of the file (SHA-256): {hash}", hash=report.sha256), "note")],
        [],
    ]
    rows += [[Styled(text, "strong")] for text in report.banner]
    rows += [[], [Styled(say("Units by verdict"), "subtitle")]]
    rows += [
        [verdict, Styled(report.by_verdict.get(verdict, 0), "integer"), f"  {say(VERDICT_WORDS[verdict])}"]
        for verdict in VERDICTS
    ]
    rows += [
        [say("all rows"), Styled(len(report.units), "integer")],
        [],
        [Styled(say("Findings by tier"), "subtitle")],
    ]
    rows.append(
        [Styled(text, "heading") for text in ("Tier", "Findings", "Cost a year, low", "middle", "high")]
    )
    for tier in TIERS:
        span = report.cost_by_tier.get(tier) or UNKNOWN_SPAN
        count = Styled(report.by_tier.get(tier, 0), "integer")
        rows.append([tier, count, cost(span.low), cost(span.target), cost(span.high)])
    if report.sensitivity:
        rows.append([Styled(report.sensitivity, "note")])
    rows += [[], [Styled(say("What to do first"), "subtitle")]]
    first = [line.finding for line in leading(listed)[:FIRST_SHOWN]]
    rows += [
        [
            Styled(found.tier, "top"), _link(found), Styled(found.unit_id, "top"),
            Styled(found.account, "top"), None, wrapped(step(found)),
        ]
        for found in first
    ] or [[say("No finding asks for a visit.")]]  # fmt: skip
    rows += [[], [Styled(say("Findings by check"), "subtitle")]]
    by_check = sorted(report.by_check.items(), key=lambda item: (-item[1], item[0]))
    rows += [[wrapped(check_title(check)), Styled(count, "integer")] for check, count in by_check]
    rows += [[], [Styled(say("Where to read on"), "subtitle")]]
    absent = {*_NOT_LINKED}
    absent |= set() if report.accepted else {results.SHEET_ACCEPTED}
    absent |= set() if report.crews else {results.SHEET_CREWS}
    rows += [[Link(name, f"{quoted(name)}!A1")] for name in results.OWN_SHEETS if name not in absent]
    rows += [[], [Styled("Cautions", "subtitle")], *_cautions(report)]
    return Sheet(results.SHEET_SUMMARY, rows, (34, 22, 15, 15, 15, 66), landscape=True, looks=[(1, LOOKS)])


_NOT_LINKED = (results.SHEET_SUMMARY, results.SHEET_UNITS)


def _link(finding: FindingRecord) -> Link:
    where = f"{quoted(finding.sheet)}!{finding.cell}"
    return Link(where, where)


def _cell_link(cell: str) -> object:
    return Link(cell, cell) if leads_to_cell(cell) else cell or None


def _findings(found: Sequence[Line]) -> Sheet:
    sheet = long_table(
        results.SHEET_FINDINGS,
        results.FINDING_COLUMNS,
        found,
        _finding,
        FINDING_STYLES,
        say("No check found anything to report."),
    )
    sheet.looks = [(1, LOOKS)]
    return sheet


def _finding(line: Line) -> Row:
    finding, others = line.finding, ", ".join([other.unit_id for other in line.more])
    span = finding.cost_year or UNKNOWN_SPAN
    return [
        finding.tier, finding.confidence, f"{finding.unit_id}, {others}" if others else finding.unit_id,
        finding.account, _link(finding), finding.title, finding.message, finding.fix, finding.why,
        "\n".join(map(": ".join, finding.numbers)),
        whole(span.low), whole(span.target), whole(span.high), "\n".join(finding.cost_lines),
        finding.crew, "; ".join(finding.derivation), finding.source, _cells(line),
    ]  # fmt: skip


def _cells(line: Line) -> str:
    """Cells that a line rests on; those of one finding stand in one row, so among them are no ranges."""
    if line.more:
        return _named(line.cells)
    finding = line.finding
    columns, row = _about_first(finding.columns), str(finding.row)
    return f"{quoted(finding.sheet)}!{f'{row}, '.join(columns)}{row}"


@lru_cache(maxsize=256)
def _about_first(columns: tuple[str, ...]) -> tuple[str, ...]:
    """Columns of a finding, the one it is about first."""
    return tuple(dict.fromkeys((*columns[-1:], *columns))) or ("A",)


def _accepted(report: Report) -> Sheet:
    """Findings that are left as they are because somebody answers for it."""
    rows: list[Row] = [
        [
            Styled(one.finding.unit_id, "top"), wrapped(one.finding.account), _link(one.finding),
            wrapped(one.finding.title), Styled(one.finding.tier, "top"), wrapped(one.finding.message),
            wrapped(one.reason), wrapped(one.by), Styled(one.until, "date"),
        ]
        for one in report.accepted
    ]  # fmt: skip
    return table(results.SHEET_ACCEPTED, results.ACCEPTED_COLUMNS, rows)


def _named(cells: Sequence[str]) -> str:
    more = f" {say('and {count:,} more', count=len(cells) - CELLS_NAMED)}" if len(cells) > CELLS_NAMED else ""
    return compact(cells[:CELLS_NAMED]) + more


def _parts(report: Report) -> Sheet:
    parts = report.list_parts()  # not kept: nothing else of an audit wants all of them
    sheet = long_table(
        results.SHEET_PARTS,
        results.PART_COLUMNS,
        parts,
        _part,
        PART_STYLES,
        say("No finding asks for a part."),
    )
    if parts:
        totals: list[Row] = [
            [Styled("total", "strong"), None, what, size, quantity, unit]
            for what, size, quantity, unit in part_totals(parts)
        ]
        # Totals lead, so that the filter below spans the list by unit alone.
        above = [headings(results.PART_TOTAL_COLUMNS), *totals, [], headings(results.PART_COLUMNS)]
        sheet.rows = MadeRows(above, parts, _part)
        sheet.freeze_rows = sheet.head_rows = len(above)
        if len(totals) > MOST_FROZEN:
            sheet.freeze_rows, sheet.filter = 0, False
    return sheet


def _part(part: PartLine) -> Row:
    return [
        part.account, part.unit_id, part.what, part.size, part.quantity, part.unit, part.row, part.note,
        part.mass, part.mass_unit, part.bags, part.bag, part.crew,
    ]  # fmt: skip


def _problems(report: Report) -> Sheet:
    rows: list[Row] = []
    for remark in sorted(report.remarks, key=lambda remark: remark.level):
        first = remark.cells[0] if remark.cells else ""
        rows.append([
            Styled(LEVEL_WORDS[remark.level], "top"), wrapped(remark.kind), wrapped(remark.text),
            wrapped(remark.read), wrapped(remark.assumed), wrapped(remark.effect), wrapped(remark.column),
            _cell_link(first), Styled(len(remark.cells), "integer"), Styled(_named(remark.cells), "top"),
        ])  # fmt: skip
    return table(
        results.SHEET_PROBLEMS,
        results.PROBLEM_COLUMNS,
        rows or [[say("Every filled cell that the audit uses could be read.")]],
    )


def _not_checked(report: Report) -> Sheet:
    """One row a unit: what keeps it from a verdict, then the other checks that could not run."""
    units: dict[int, list[NotCheckedRecord]] = {}
    for record in sorted(report.not_checked, key=lambda record: not record.core):
        units.setdefault(record.unit, []).append(record)
    said: dict[tuple[tuple[str, str, bool], ...], tuple[str, str]] = {}

    def row(records: Sequence[NotCheckedRecord]) -> Row:
        alike = tuple([(record.check, record.reason, record.core) for record in records])
        if alike not in said:
            said[alike] = _gaps(records, core=True), _gaps(records, core=False)
        first = records[0]
        return [first.unit_id, first.account, _row_link(first.sheet, first.row), *said[alike]]

    return long_table(
        results.SHEET_NOT_CHECKED,
        results.NOT_CHECKED_COLUMNS,
        list(units.values()),
        row,
        NOT_CHECKED_STYLES,
        say("Every check that applies could run."),
    )


def _gaps(records: Sequence[NotCheckedRecord], *, core: bool) -> str:
    """Reasons with the checks each keeps from running."""
    reasons: dict[str, list[str]] = {}
    for record in records:
        if record.core == core:
            reasons.setdefault(record.reason, []).append(check_title(record.check))
    return "; ".join(f"{reason} ({', '.join(checks)})" for reason, checks in reasons.items())


def _row_link(sheet: str, row: int) -> Link:
    where = f"{quoted(sheet)}!A{row}"
    return Link(where, where)


def _basis(report: Report) -> Sheet:
    rows: list[Row] = [
        [Styled(say("What this audit rests on"), "title")],
        [],
        [Styled(say("Assumptions"), "subtitle")],
    ]
    rows.append([Styled(column.title, "heading") for column in results.ASSUMPTION_COLUMNS])
    rows += [[wrapped(text) for text in entry] for entry in report.assumptions] or [["None."]]
    rows += [[], [Styled(say("Figures in use and where they come from"), "subtitle")]]
    rows.append([Styled(column.title, "heading") for column in results.SOURCE_COLUMNS])
    rows += [
        [wrapped(line.what), wrapped(line.value), wrapped(line.source), wrapped(line.status)]
        for line in report.sources
    ]
    rows += [[], [Styled("Cautions", "subtitle")], *_cautions(report)]
    return Sheet(results.SHEET_BASIS, rows, [column.width for column in results.SOURCE_COLUMNS])


def _cautions(report: Report) -> list[Row]:
    return [[text] for text in report.cautions]
