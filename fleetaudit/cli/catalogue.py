"""`fleetaudit catalogue`: the figures in force and where each comes from."""

from __future__ import annotations

from pathlib import Path

import click

from fleetaudit.audit_file import catalogue_in_force
from fleetaudit.catalogue.listing import SECTIONS, Line, lines
from fleetaudit.cli import options
from fleetaudit.language import meanwhile, say, spoken
from fleetaudit.reading.company import tongue

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
@options.language("what is printed")
def command(only: str | None, settings: Path | None, system: str, language: str | None) -> None:
    """Print the catalogue."""
    with meanwhile(language):
        catalogue = catalogue_in_force(settings)
        chosen = lines(catalogue, system, only)
    heading = ""
    with spoken(*tongue(catalogue, language, None)):
        for line in chosen:
            if (title := f"{line.section}: {line.what}") != heading:
                click.echo(("\n" if heading else "") + title)
                heading = title
            for text in _texts(line):
                click.echo(text)


def _texts(line: Line) -> list[str]:
    shown = f"{line.value:.4g}" if isinstance(line.value, float) else str(line.value)
    ends = {"low": f"{line.low:.4g}", "high": f"{line.high:.4g}"}
    spread = f" ({say('{low} to {high}', **ends)})" if line.low < line.high else ""
    unit = "" if line.unit == "1" else f" {line.unit}"
    at = " " + say("at {temperature}", temperature=line.at) if line.at else ""
    trust = ", " + say(f"trust: {line.trust}") if line.trust else ""
    texts = [f"  {say(line.figure)}: {shown}{unit}{spread}{at}", f"      {line.source}{trust}"]
    return [*texts, f"      {say('instead of {value}', value=line.replaced)}"] if line.replaced else texts
