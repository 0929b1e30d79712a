"""`fleetaudit size`: wash flow, restrictor and housing of one vessel without a workbook."""

from __future__ import annotations

import json
from math import isnan
from pathlib import Path

import click

from fleetaudit.cli import options, typed
from fleetaudit.errors import InputError
from fleetaudit.reading.company import load_catalogue
from fleetaudit.reading.one_bed import read_bed
from fleetaudit.schema import fleet
from fleetaudit.sizing import Question, document, size
from fleetaudit.writing.files import write_text
from fleetaudit.writing.size_text import assumed, text

EXAMPLES = """\b
Examples:
  fleetaudit size --media "activated carbon 12x40" --vessel 13x54
  fleetaudit size --media calcite --vessel 10x54 --cold 41F --warm 64F
  fleetaudit size --media "filter sand" --inside-diameter 12.8in
                  --rate 15gpm/ft2 --restrictor 12gpm --json -

Works out, for one vessel, how much backwash flow its bed takes, which
restrictor to fit and in which housing. Numbers without a unit are in the
units of --units. Water that is not given is assumed, and said so.
"""


@click.command("size", help=EXAMPLES)
@click.option("--media", required=True, metavar="NAME", help='Medium, such as "activated carbon 12x40".')
@click.option("--vessel", metavar="13x54", help="Nominal diameter x height.")
@click.option(
    "--inside-diameter", metavar="12.8in", help="Measured inside diameter; the area is then that of it."
)
@click.option(
    "--rate", metavar="10gpm/ft2", help="Wash rate, one or a range (8-12gpm/ft2), instead of the catalogue's."
)
@click.option("--bed-depth", metavar="30in", help="Depth of the settled bed, without gravel.")
@click.option(
    "--freeboard", metavar="16in", help="From the settled bed to the underside of the upper distributor."
)
@click.option("--cold", metavar="5C", help="Coldest water of the year.")
@click.option("--warm", metavar="18C", help="Warmest water of the year.")
@click.option("--restrictor", metavar="9gpm", help="Rating of the restrictor that is fitted, to be judged.")
@click.option("--tolerance", metavar="10%", help="How far a restrictor may be off its rating.")
@options.settings()
@click.option("--units", "system", type=click.Choice(["us", "metric"]), help="Units (Settings: us).")
@click.option(
    "--json", "json_file", metavar="FILE", help="Write the answer as JSON, in US units; - for stdout."
)
def command(
    media: str,
    vessel: str | None,
    inside_diameter: str | None,
    rate: str | None,
    bed_depth: str | None,
    freeboard: str | None,
    cold: str | None,
    warm: str | None,
    restrictor: str | None,
    tolerance: str | None,
    settings: Path | None,
    system: str | None,
    json_file: str | None,
) -> None:
    """Answer for one vessel."""
    catalogue, _ = load_catalogue(settings)
    system = system or catalogue.text("units")
    diameter, height = typed.vessel("--vessel", vessel, catalogue.vessels, system)
    if vessel is None and inside_diameter is None:
        raise InputError("Give the vessel: --vessel 13x54, or --inside-diameter 12.8in")
    inside = typed.of_column("--inside-diameter", inside_diameter, fleet.INSIDE, system)
    question = Question(
        bed=read_bed(media, catalogue, diameter if isnan(inside) else inside),
        diameter_m=diameter,
        height_m=height,
        inside_m=inside,
        rate=typed.rates("--rate", rate, system),
        depth_m=typed.of_column("--bed-depth", bed_depth, fleet.DEPTH, system),
        freeboard_m=typed.of_column("--freeboard", freeboard, fleet.FREEBOARD, system),
        cold_k=typed.of_column("--cold", cold, fleet.COLD, system),
        warm_k=typed.of_column("--warm", warm, fleet.WARM, system),
        restrictor_m3_s=typed.of_column("--restrictor", restrictor, fleet.RESTRICTOR, system),
        tolerance=typed.share("--tolerance", tolerance),
    )
    if question.cold_k > question.warm_k:
        raise InputError(
            f"--cold {cold} is warmer than --warm {warm}. Give the coldest and the warmest of the year."
        )
    answer = size(question, catalogue)
    if json_file is None:
        click.echo(text(answer, system), nl=False)
        return
    if remark := assumed(answer, system):
        click.echo(remark, err=True)
    written = json.dumps(document(answer), indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    if json_file == "-":
        click.echo(written, nl=False)
        return
    write_text(Path(json_file), written, force=False)
    click.echo(f"Written: {json_file}", err=True)
