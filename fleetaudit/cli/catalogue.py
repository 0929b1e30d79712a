"""`fleetaudit catalogue`: the figures in force and where each comes from."""

from __future__ import annotations

from pathlib import Path

import click

from fleetaudit.audit_file import catalogue_in_force
from fleetaudit.catalogue.listing import SECTIONS, Line, lines
from fleetaudit.cli import options

EXAMPLES = f"""\b
Examples:
  fleetaudit catalogue                      all figures
  fleetaudit catalogue media                one part only
  fleetaudit catalogue "activated carbon"   one medium
  fleetaudit catalogue --settings own.xlsx  with your own sheets laid over

\b
Parts: {", ".join(SECTIONS)}

Prints each figure with its range, its source and what it took the place of.
"""


@click.command("catalogue", help=EXAMPLES)
@click.argument("only", metavar="[ONLY]", required=False)
@options.settings()
@click.option(
    "--units",
    "system",
    type=click.Choice(["us", "metric"]),
    default="us",
    show_default=True,
    help="Units of the figures.",
)
def command(only: str | None, settings: Path | None, system: str) -> None:
    """Print the catalogue."""
    heading = ""
    for line in lines(catalogue_in_force(settings), system, only):
        if (title := f"{line.section}: {line.what}") != heading:
            click.echo(("\n" if heading else "") + title)
            heading = title
        for text in _texts(line):
            click.echo(text)


def _texts(line: Line) -> list[str]:
    shown = f"{line.value:.4g}" if isinstance(line.value, float) else str(line.value)
    spread = f" ({line.low:.4g} to {line.high:.4g})" if line.low < line.high else ""
    unit = "" if line.unit == "1" else f" {line.unit}"
    at = f" at {line.at}" if line.at else ""
    trust = f", trust {line.trust}" if line.trust else ""
    texts = [f"  {line.figure}: {shown}{unit}{spread}{at}", f"      {line.source}{trust}"]
    return [*texts, f"      instead of {line.replaced}"] if line.replaced else texts
