"""`fleetaudit template`: a blank workbook to fill in."""

from __future__ import annotations

from pathlib import Path

import click

from fleetaudit.audit_file import catalogue_in_force
from fleetaudit.writing.blank import write_template

EXAMPLES = """\b
Examples:
  fleetaudit template fleet.xlsx

Writes a workbook with all columns, a note on each, drop-downs, a page that
explains them, and the sheets for your own figures. Leave out what you do not
know; a blank is reported as not checked, never as right.
"""


@click.command("template", help=EXAMPLES)
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--force", is_flag=True, help="Replace a file that is already there.")
def command(file: Path, force: bool) -> None:
    """Write the blank workbook."""
    write_template(file, catalogue_in_force(None), force)
    click.echo(f"Written: {file}\n\nNext: fill in the sheet Units, then fleetaudit audit {file}")
