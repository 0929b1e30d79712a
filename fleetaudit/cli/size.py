"""`fleetaudit size`: wash flow, restrictor and housing of one vessel without a workbook."""

from __future__ import annotations

import json
from math import isnan
from pathlib import Path

import click

from fleetaudit.catalogue.model import Catalogue
from fleetaudit.cli import options, typed
from fleetaudit.errors import InputError
from fleetaudit.language import meanwhile, say, spoken
from fleetaudit.reading.company import load_catalogue, tongue
from fleetaudit.reading.one_bed import read_bed
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Column
from fleetaudit.sizing import Answer, Question, document, size
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
@options.language("what is printed")
@click.option(
    "--json", "json_file", metavar="FILE", help="Write the answer as JSON, in US units; - for stdout."
)
def command(
    media: str,
    settings: Path | None,
    system: str | None,
    language: str | None,
    json_file: str | None,
    **given: str | None,
) -> None:
    """Answer for one vessel."""
    with meanwhile(language):
        catalogue, _ = load_catalogue(settings)
        system = system or catalogue.text("units")
        question = _question(media, given, catalogue, system)
    with spoken(*tongue(catalogue, language, None)):
        _tell(size(question, catalogue), system, json_file)


def _question(media: str, given: dict[str, str | None], catalogue: Catalogue, system: str) -> Question:
    """The question as typed; InputError where an option cannot be read."""

    def text_of(option: str) -> str | None:
        return given[option.removeprefix("--").replace("-", "_")]

    def value(option: str, column: Column) -> float:
        return typed.of_column(option, text_of(option), column, system)

    vessel = text_of("--vessel")
    diameter, height = typed.vessel("--vessel", vessel, catalogue.vessels, system)
    if vessel is None and text_of("--inside-diameter") is None:
        raise InputError(say("Give the vessel: --vessel 13x54, or --inside-diameter 12.8in"))
    inside = value("--inside-diameter", fleet.INSIDE)
    question = Question(
        bed=read_bed(media, catalogue, diameter if isnan(inside) else inside),
        diameter_m=diameter,
        height_m=height,
        inside_m=inside,
        rate=typed.rates("--rate", text_of("--rate"), system),
        depth_m=value("--bed-depth", fleet.DEPTH),
        freeboard_m=value("--freeboard", fleet.FREEBOARD),
        cold_k=value("--cold", fleet.COLD),
        warm_k=value("--warm", fleet.WARM),
        restrictor_m3_s=value("--restrictor", fleet.RESTRICTOR),
        tolerance=typed.share("--tolerance", text_of("--tolerance")),
    )
    if question.cold_k > question.warm_k:
        raise InputError(
            say(
                "--cold {cold} is warmer than --warm {warm}. Give the coldest and the warmest of the year.",
                cold=text_of("--cold"),
                warm=text_of("--warm"),
            )
        )
    return question


def _tell(answer: Answer, system: str, json_file: str | None) -> None:
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
    click.echo(say("Written: {path}", path=json_file), err=True)
