"""`fleetaudit template`: a blank workbook to fill in, or a return sheet for a crew."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

import click

from fleetaudit.audit_file import catalogue_in_force
from fleetaudit.cli import options
from fleetaudit.errors import InputError
from fleetaudit.language import meanwhile, say, several, spoken
from fleetaudit.reading.company import tongue
from fleetaudit.returns_file import ReturnsRequest, write_returns_file
from fleetaudit.writing.blank import write_template

EXAMPLES = """\b
Examples:
  fleetaudit template fleet.xlsx
  fleetaudit template --returns monday.xlsx --units U-104,U-117
  fleetaudit template --returns monday.xlsx --workbook fleet.xlsx
                      --units U-104,U-117

The first writes a workbook with all columns, a note on each, drop-downs, a
page that explains them, and the sheets for your own figures. Leave out what
you do not know; a blank is reported as not checked, never as right.

The others write a return sheet for a crew: one line a unit, to be filled in
and read back by `fleetaudit record`. With --workbook it also says what is on
record, what to fit and which flow to confirm; without --units it then holds
every unit that has something to do now or to plan for.
"""


@click.command("template", help=EXAMPLES)
@click.argument("file", metavar="[FILE]", type=click.Path(path_type=Path, dir_okay=False), required=False)
@click.option(
    "--returns",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Write a return sheet for a crew to this file.",
)
@click.option("--units", metavar="U1,U2", default="", help="Units on the return sheet, parted by commas.")
@click.option(
    "--workbook",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="List of units the return sheet is filled from.",
)
@click.option("--account", default="", help="Only units of this account, with --workbook.")
@click.option("--crew", default="", help="Only units set up by this crew, with --workbook.")
@options.sheet(", with --workbook")
@options.headings(", with --workbook. Repeat as needed.")
@options.settings()
@options.language("the notes or the return sheet, and of what is printed")
@options.dates()
@options.as_of()
@click.option("--force", is_flag=True, help="Replace a file that is already there.")
def command(
    file: Path | None,
    returns: Path | None,
    units: str,
    workbook: Path | None,
    account: str,
    crew: str,
    sheet: str | None,
    header_map: dict[str, str],
    settings: Path | None,
    as_of: date | None,
    language: str | None,
    dates: str | None,
    force: bool,
) -> None:
    """Write the blank workbook, or a return sheet."""
    if (file is None) == (returns is None):
        raise InputError(
            say("Give the file to write: `fleetaudit template FILE`, or `--returns FILE` for a return sheet.")
        )
    if (account or crew or sheet or header_map) and workbook is None:
        raise InputError(say("--account, --crew, --sheet and --map go with --workbook FILE."))
    if file is not None:
        if units or workbook is not None or dates:
            raise InputError(say("--units, --workbook and --dates go with --returns FILE."))
        _blank(file, settings, language, force)
        return
    assert returns is not None
    names = tuple(dict.fromkeys(name.strip() for name in units.split(",") if name.strip()))
    today = as_of or datetime.now().astimezone().date()
    done = write_returns_file(
        ReturnsRequest(
            returns,
            names,
            today,
            workbook,
            settings,
            sheet,
            header_map,
            force=force,
            account=account,
            crew=crew,
            language=language,
            dates=dates,
        )
    )
    known = workbook if workbook is not None else "fleet.xlsx"
    with spoken(done.language, done.dates):
        written = say(
            "Written: {file} ({lines})", file=returns, lines=several(done.lines, "1 line", "{count:,} lines")
        )
        then = say("Next: have it filled in, then {command}", command=f"fleetaudit record {known} {returns}")
    click.echo(f"{written}\n\n{then}")


def _blank(file: Path, settings: Path | None, language: str | None, force: bool) -> None:
    with meanwhile(language):
        catalogue = catalogue_in_force(settings)
    with spoken(*tongue(catalogue, language, None)):
        write_template(file, catalogue, force)
        written = say("Written: {path}", path=file)
        then = say("Next: fill in the sheet Units, then {command}", command=f"fleetaudit audit {file}")
    click.echo(f"{written}\n\n{then}")
