"""What `audit` prints: remarks, counts, what to do first, files written, the next command; 80 columns."""

from __future__ import annotations

import textwrap
from collections import Counter

import click

from fleetaudit.audit_file import Request, Written
from fleetaudit.schema.remark import Level, Remark
from fleetaudit.writing.report import Report
from fleetaudit.writing.wording import shorten

WIDTH = 80
MOST_LINES = 6
FIRST = 5
TIERS = ("now", "plan", "note")
WORDS = {
    "now": "health, harm, or media going down the drain",
    "plan": "performance or money",
    "not-checked": "something that matters could not be checked",
    "note": "small things only",
    "clean": "nothing found",
    "not-judged": "out of service, or no backwashing bed",
}
LEVELS = {Level.SKIP: "Not used", Level.WARN: "Assumed"}


def findings_at_or_over(report: Report, fail_on: str) -> bool:
    """Whether a finding of the tier, or a graver one, was made; "any" takes notes too."""
    if fail_on == "never":
        return False
    last = len(TIERS) if fail_on == "any" else TIERS.index(fail_on) + 1
    return any(finding.tier in TIERS[:last] for finding in report.findings)


def print_summary(written: Written, request: Request, *, to_stderr: bool) -> None:
    """Remarks to stderr, the summary to stdout (or stderr where stdout carries JSON)."""
    report = written.report
    for line in _remarks(report.remarks):
        click.echo(line, err=True)
    for line in _summary(report, written, request):
        click.echo(line, err=to_stderr)


def wrapped(text: str, first: str = "", rest: str = "  ") -> list[str]:
    """Lines of at most 80 columns."""
    return textwrap.wrap(
        text,
        WIDTH,
        initial_indent=first,
        subsequent_indent=rest,
        break_long_words=False,
        break_on_hyphens=False,
    ) or [first.rstrip()]


def _remarks(remarks: list[Remark]) -> list[str]:
    lines: list[str] = []
    for level, title in LEVELS.items():
        several = [remark for remark in remarks if remark.level is level]
        if not several:
            continue
        lines.append(f"{title}:")
        for remark in several[:MOST_LINES]:
            lines += wrapped(remark.text, "  ", "    ")
        if len(several) > MOST_LINES:
            lines.append(f"  and {len(several) - MOST_LINES} more, see the problems sheet")
        lines.append("")
    return lines


def _summary(report: Report, written: Written, request: Request) -> list[str]:
    lines = wrapped(
        f'{report.file}, sheet "{report.sheet}": {len(report.units)} units as of {report.as_of.isoformat()}',
        "",
        "  ",
    )
    lines += [
        "",
        *(
            f"  {number:>6}  {verdict:<12} {WORDS[verdict]}"
            for verdict, number in report.by_verdict.items()
            if number
        ),
        "",
    ]
    for text in report.banner:
        lines += wrapped(text, "! ", "  ")
    if report.banner:
        lines.append("")
    urgent = [
        finding
        for finding in report.findings
        if finding.tier in TIERS[:2] and finding.confidence != "measure-first"
    ]
    if urgent:
        lines.append("First:")
        for finding in urgent[:FIRST]:
            unit, account = shorten(finding.unit_id), shorten(finding.account)
            unit = f"{unit} ({account})" if account else unit
            lines += wrapped(f"{finding.tier}  {unit}: {finding.title}. {finding.message}", "  ", "        ")
        lines.append("")
    doubtful = Counter(finding.confidence for finding in report.findings)["measure-first"]
    if doubtful:
        lines += wrapped(
            f"{doubtful} findings are to be measured before anybody acts on them; "
            "the sheet Audit measuring says what and with what.",
            "",
            "  ",
        )
        lines.append("")
    if report.accepted:
        count = len(report.accepted)
        what = (
            "1 finding is accepted and not counted"
            if count == 1
            else f"{count} findings are accepted and not counted"
        )
        lines += [
            *wrapped(f"{what}; the summary lists {'it' if count == 1 else 'them'} apart.", "", "  "),
            "",
        ]
    lines.append("Written:")
    lines += [f"  {path}" for path in written.paths]
    lines += ["", "This advises; local codes, the maker's sheet and licensed practice come first.", ""]
    lines += wrapped(f"Next: open {written.summary_path} in a browser.", "", "  ")
    return lines
