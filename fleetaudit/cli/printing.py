"""What `audit` prints: remarks, counts, what to do first, files written, the next command; 80 columns."""

from __future__ import annotations

import textwrap
from collections import Counter

import click

from fleetaudit.audit_file import Request, Written
from fleetaudit.language import dated, say, several, spoken
from fleetaudit.schema.remark import Level, Remark
from fleetaudit.writing.first import MEASURE_FIRST, leading, to_measure
from fleetaudit.writing.register import lines as listed_lines
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
#: columns that a verdict takes
VERDICT_WIDTH = 13
LEVELS = {Level.SKIP: "Not used", Level.WARN: "Assumed"}


def findings_at_or_over(report: Report, fail_on: str) -> bool:
    """Whether a finding of the tier, or a graver one, was made; "any" takes notes too."""
    tiers = tiers_at_or_over(fail_on)
    return any(finding.tier in tiers for finding in report.findings)


def tiers_at_or_over(fail_on: str) -> tuple[str, ...]:
    """Tiers that --fail-on is about; "any" takes notes too, "never" none."""
    if fail_on == "never":
        return ()
    return TIERS if fail_on == "any" else TIERS[: TIERS.index(fail_on) + 1]


def print_summary(written: Written, request: Request, *, to_stderr: bool) -> None:
    """Remarks to stderr, the summary to stdout (or stderr where stdout carries JSON)."""
    report = written.report
    with spoken(written.language, written.dates):
        remarks, summary = _remarks(report.remarks), _summary(report, written, request)
    for line in remarks:
        click.echo(line, err=True)
    for line in summary:
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
        found = [remark for remark in remarks if remark.level is level]
        if not found:
            continue
        lines.append(f"{say(title)}:")
        for remark in found[:MOST_LINES]:
            lines += wrapped(remark.text, "  ", "    ")
        if len(found) > MOST_LINES:
            lines.append(
                "  " + say("and {count:,} more, see the problems sheet", count=len(found) - MOST_LINES)
            )
        lines.append("")
    return lines


def _summary(report: Report, written: Written, request: Request) -> list[str]:
    lines = wrapped(
        say(
            '{file}, sheet "{sheet}": {units} as of {date}',
            file=report.file,
            sheet=report.sheet,
            units=several(len(report.units), "1 unit", "{count:,} units"),
            date=dated(report.as_of),
        ),
        "",
        "  ",
    )
    lines += [
        "",
        *(
            f"  {number:>6}  {say(verdict):<{VERDICT_WIDTH}} {say(WORDS[verdict])}"
            for verdict, number in report.by_verdict.items()
            if number
        ),
        "",
    ]
    for text in report.banner:
        lines += wrapped(text, "! ", "  ")
    if report.banner:
        lines.append("")
    urgent = [line.finding for line in leading(listed_lines(report))]
    if urgent:
        lines.append(say("First:"))
        for finding in urgent[:FIRST]:
            unit, account = shorten(finding.unit_id), shorten(finding.account)
            unit = f"{unit} ({account})" if account else unit
            asked = f"{to_measure(finding)} " if finding.confidence == MEASURE_FIRST else ""
            lines += wrapped(
                f"{say(finding.tier)}  {unit}: {asked}{finding.title}. {finding.message}", "  ", "        "
            )
        lines.append("")
    doubtful = Counter(finding.confidence for finding in report.findings)[MEASURE_FIRST]
    if doubtful:
        lines += wrapped(
            several(
                doubtful,
                "1 finding is to be measured before anybody acts on it; the sheet Audit measuring says "
                "what and with what.",
                "{count:,} findings are to be measured before anybody acts on them; the sheet Audit "
                "measuring says what and with what.",
            ),
            "",
            "  ",
        )
        lines.append("")
    if report.accepted:
        count = len(report.accepted)
        lines += [
            *wrapped(
                several(
                    count,
                    "1 finding is accepted and not counted; the summary lists it apart.",
                    "{count:,} findings are accepted and not counted; the summary lists them apart.",
                ),
                "",
                "  ",
            ),
            "",
        ]
    lines.append(say("Written:"))
    lines += [f"  {path}" for path in written.paths]
    advice = say("This advises; local codes, the maker's sheet and licensed practice come first.")
    lines += ["", *wrapped(advice, "", "  "), ""]
    lines += wrapped(say("Next: open {page} in a browser.", page=written.summary_path), "", "  ")
    return lines
