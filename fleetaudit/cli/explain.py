"""`fleetaudit explain`: the whole working behind one unit of a workbook."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

import click

from fleetaudit.cli import options
from fleetaudit.explain_file import Request, explain_file
from fleetaudit.language import say, spoken
from fleetaudit.schema.version import VERSION
from fleetaudit.writing.explain_text import text
from fleetaudit.writing.files import refuse_input, write_text

EXAMPLES = """\b
Examples:
  fleetaudit explain fleet.xlsx U-104
  fleetaudit explain fleet.xlsx "row 17" --units metric
  fleetaudit explain fleet.xlsx U-104 --html U-104.html

Prints for one unit which cells were read and how, every equation with its
numbers, each limit with its source, the flow window drawn beside what goes
to drain, and what would have to change for the findings to change.
"""


@click.command("explain", help=EXAMPLES)
@click.argument("workbook", metavar="WORKBOOK", type=click.Path(path_type=Path))
@click.argument("unit", metavar="UNIT")
@click.option(
    "--html",
    "page",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Write it as a page as well.",
)
@options.as_of()
@options.sheet()
@options.headings()
@options.settings()
@click.option("--units", "system", type=click.Choice(["us", "metric"]), help="Units (Settings: us).")
@options.language("what is printed and of the page")
@options.dates()
@click.option("--force", is_flag=True, help="Replace a page that is already there.")
def command(
    workbook: Path,
    unit: str,
    page: Path | None,
    as_of: date | None,
    sheet: str | None,
    header_map: dict[str, str],
    settings: Path | None,
    system: str | None,
    language: str | None,
    dates: str | None,
    force: bool,
) -> None:
    """Explain one unit."""
    if page is not None:
        refuse_input(page, workbook)
    today = as_of or datetime.now().astimezone().date()
    asked = Request(workbook, unit, today, sheet, settings, system, header_map, language, dates)
    explained = explain_file(asked)
    with spoken(explained.language, explained.dates):
        click.echo("\n".join(text(one) for one in explained.units), nl=False)
        if page is not None:
            from fleetaudit.writing.explain_html import render  # noqa: PLC0415 - slow to load, seldom wanted

            write_text(page, render(explained.units, VERSION), force=force)
            click.echo(say("Written: {path}", path=page), err=True)
