"""`fleetaudit compare`: what changed between two audits of a fleet."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

import click

from fleetaudit.cli import options, typed
from fleetaudit.compare_file import CompareRequest, compare_files
from fleetaudit.comparing import Became
from fleetaudit.language import say, spoken
from fleetaudit.writing import comparison

EXAMPLES = """\b
Examples:
  fleetaudit compare june.xlsx july.xlsx
  fleetaudit compare june.audited.xlsx july.audited.xlsx --html changes.html
  fleetaudit compare june.xlsx july.xlsx --old-as-of 2026-06-01
  fleetaudit compare june.xlsx july.xlsx --json - --fail-on now

Audits both workbooks, raw or annotated, and says of every finding whether it
is new, worse, still open, better or fixed, and which units came or went. A
finding that vanished because a cell was emptied is "no longer checked", never
fixed. Prints Markdown; --html, --workbook and --json write files.

Exit code: 0 it ran, 1 new or graver findings at or over --fail-on, 2 it could
not run.
"""
TIERS = ("now", "plan", "note")


@click.command("compare", help=EXAMPLES)
@click.argument("old", metavar="OLD", type=click.Path(path_type=Path))
@click.argument("new", metavar="NEW", type=click.Path(path_type=Path))
@click.option(
    "--html", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE", help="Write a page too."
)
@click.option(
    "--workbook",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE.xlsx",
    help="Write a workbook too.",
)
@click.option(
    "--json",
    "json_file",
    metavar="FILE",
    help="Write one JSON document too; - for stdout, in place of the Markdown.",
)
@options.as_of("Day of the newer audit; that of the annotated copy, or today, if not given.")
@click.option(
    "--old-as-of",
    callback=typed.day,
    metavar="YYYY-MM-DD",
    help="Day of the older audit; that of the annotated copy if not given.",
)
@options.sheet(", in both")
@options.headings(", in both.")
@options.settings("Media, Vessels, Crews")
@click.option("--account", default="", help="Only this account.")
@click.option("--crew", default="", help="Only units set up by this crew.")
@click.option("--units", "system", type=click.Choice(["us", "metric"]), help="Units of the output.")
@options.language("the output")
@options.dates()
@click.option(
    "--fail-on",
    type=click.Choice(["now", "plan", "any", "never"]),
    default="never",
    show_default=True,
    help="Leave with code 1 if a new or graver finding is of that tier or a graver one.",
)
@click.option("--force", is_flag=True, help="Replace files that are already there.")
def command(
    old: Path,
    new: Path,
    html: Path | None,
    workbook: Path | None,
    json_file: str | None,
    as_of: date | None,
    old_as_of: date | None,
    sheet: str | None,
    header_map: dict[str, str],
    settings: Path | None,
    account: str,
    crew: str,
    system: str | None,
    language: str | None,
    dates: str | None,
    fail_on: str,
    force: bool,
) -> int:
    """Compare two workbooks."""
    to_stdout = json_file == "-"
    done = compare_files(
        CompareRequest(
            old=old,
            new=new,
            today=datetime.now().astimezone().date(),
            as_of=as_of,
            old_as_of=old_as_of,
            sheet=sheet,
            header_map=header_map,
            settings=settings,
            system=system,
            account=account,
            crew=crew,
            html=html,
            workbook=workbook,
            json=None if json_file is None or to_stdout else Path(json_file),
            force=force,
            language=language,
            dates=dates,
        )
    )
    with spoken(done.language, done.dates):
        shown = comparison.document_text(done.report) if to_stdout else comparison.text(done.report)
        told = [say("Written: {file}", file=path) for path in done.paths]
    click.echo(shown, nl=False)
    for line in told:
        click.echo(line, err=True)
    if fail_on == "never":
        return 0
    tiers = TIERS[: len(TIERS) if fail_on == "any" else TIERS.index(fail_on) + 1]
    grave = (Became.NEW, Became.WORSE, Became.ADDED)
    return int(any(entry.became in grave and entry.tier_now in tiers for entry in done.report.entries))
