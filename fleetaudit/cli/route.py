"""`fleetaudit route`: from due units to crew days."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

import click
from msgspec.structs import replace

from fleetaudit.audit_file import Request
from fleetaudit.cli import options
from fleetaudit.cli.printing import wrapped
from fleetaudit.cli.typed import day
from fleetaudit.language import ENGLISH, ISO, dated, say, spoken
from fleetaudit.route_file import Planned, RouteRequest, answered, plan_workbook
from fleetaudit.routing.dates import date_of
from fleetaudit.routing.plan import EFFORTS, GREEDY, NORMAL
from fleetaudit.writing import route_json
from fleetaudit.writing.files import write_text
from fleetaudit.writing.route_files import RouteOutputs, check_free, route_outputs, write_all
from fleetaudit.writing.route_html import lead
from fleetaudit.writing.route_report import RouteReport
from fleetaudit.writing.stop_sheet import GEO_LINK

EXAMPLES = """\b
Examples:
  fleetaudit route fleet.xlsx
  fleetaudit route fleet.xlsx -o monday --start 2026-11-30 --days 5
  fleetaudit route fleet.xlsx --fixes plan --what-if --json plan.json
  fleetaudit route fleet.route.xlsx      the next plan, which keeps the locks

Plans visits to units whose media fall due, and to the fixes you choose.
Depots, days and trucks come from the Crews sheet; places from latitude and
longitude, US postcodes, or your own table of distances. Notes and findings
to be measured first ride along where a site is visited anyway.

Exit code: 0 planned, 1 a lock cannot be kept, 2 it could not run.
"""
LEFT_SHOWN = 8


@click.command("route", help=EXAMPLES)
@click.argument("workbook", metavar="WORKBOOK", type=click.Path(path_type=Path))
@options.folder()
@click.option(
    "--json", "json_file", metavar="FILE", help="Write the plan as one JSON document too; - for stdout."
)
@options.as_of()
@click.option(
    "--start",
    callback=day,
    metavar="YYYY-MM-DD",
    help="First day planned; the day after the audit if not given.",
)
@click.option("--days", type=click.IntRange(1, 60), help="Working days planned (Settings: 10).")
@click.option(
    "--due-within",
    type=click.IntRange(0, 36500),
    metavar="DAYS",
    help="Media due so many days ahead are planned (Settings: 90).",
)
@click.option(
    "--fixes",
    multiple=True,
    default=("now",),
    show_default=True,
    metavar="WORD",
    help="Fixes that make a trip: now, plan, none, or a check such as restrictor-too-small. Repeat "
    "as needed.",
)
@click.option(
    "--matrix",
    multiple=True,
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE.csv",
    help="Your own distances: from_id,to_id,km,minutes, or square tables that begin with km or minutes. "
    "Repeat as needed.",
)
@click.option(
    "--roads",
    default="",
    metavar="URL",
    help="Routing engine of your own to ask for ways, as http://localhost:5000. None is asked "
    "unless you name one.",
)
@click.option(
    "--effort",
    type=click.Choice(list(EFFORTS)),
    default=NORMAL,
    show_default=True,
    help="How hard the solver tries.",
)
@click.option("--greedy", is_flag=True, help="Plan without the solver.")
@click.option("--what-if", is_flag=True, help="Also plan with one crew more, other overtime, one day more.")
@click.option(
    "--place-link",
    default=GEO_LINK,
    show_default=True,
    metavar="URL",
    help="What the code on a stop sheet opens, with {lat} and {lon} in it.",
)
@options.sheet()
@options.headings()
@options.settings("Media, Vessels, Crews")
@options.language()
@options.dates()
@click.option("--force", is_flag=True, help="Replace results that are already there.")
def command(
    workbook: Path,
    folder: Path | None,
    json_file: str | None,
    as_of: date | None,
    start: date | None,
    days: int | None,
    due_within: int | None,
    fixes: tuple[str, ...],
    matrix: tuple[Path, ...],
    roads: str,
    effort: str,
    greedy: bool,
    what_if: bool,
    place_link: str,
    sheet: str | None,
    header_map: dict[str, str],
    settings: Path | None,
    language: str | None,
    dates: str | None,
    force: bool,
) -> int:
    """Plan a route."""
    asked = Request(
        workbook=workbook,
        as_of=as_of or datetime.now().astimezone().date(),
        folder=folder,
        sheet=sheet,
        header_map=header_map,
        settings=settings,
        due_within_days=due_within,
        force=force,
        language=language,
        dates=dates,
    )
    request = RouteRequest(asked, start, days, fixes, matrix, effort, use_solver=not greedy, roads=roads)
    target = Path(json_file) if json_file not in (None, "-") and json_file is not None else None
    with spoken(language or ENGLISH, dates or ISO):
        outputs = _outputs(request, target)
        planned = plan_workbook(request)
    with spoken(planned.language, planned.dates):
        return _written(request, planned, outputs, place_link, what_if=what_if, to_stdout=json_file == "-")


def _outputs(request: RouteRequest, json: Path | None) -> RouteOutputs:
    """Names of the files of the plan, all of them free to be written."""
    asked = request.audit
    if asked.folder is not None:
        asked.folder.mkdir(parents=True, exist_ok=True)
    outputs = route_outputs(asked.workbook, request.start or asked.as_of, asked.folder, json)
    check_free(outputs, asked.workbook, force=asked.force)
    return outputs


def _written(
    request: RouteRequest,
    planned: Planned,
    outputs: RouteOutputs,
    link: str,
    *,
    what_if: bool,
    to_stdout: bool,
) -> int:
    asked, report = request.audit, planned.report
    if what_if:
        report = replace(report, what_if=answered(report.plan, request))
    paths, said = write_all(
        report,
        planned.audit_report,
        asked.workbook,
        outputs,
        planned.listed.heading_row,
        link=link,
        force=asked.force,
    )
    if planned.ways_csv:
        write_text(outputs.named("ways.csv"), planned.ways_csv, force=asked.force)
        paths.append(outputs.named("ways.csv"))
    if to_stdout:
        click.echo(route_json.text(report), nl=False)
    for line in [
        *_summary(report),
        say("Written:"),
        *(f"  {path}" for path in paths),
        *(part for text in said for part in wrapped(text, "  ")),
    ]:
        click.echo(line, err=to_stdout)
    return 1 if report.plan.broken_locks else 0


def _summary(report: RouteReport) -> list[str]:
    plan = report.plan
    lines: list[str] = []
    for broken in plan.broken_locks:
        lines += wrapped(broken.text, "! ", "  ")
    first, last = (dated(date_of(number)) for number in (plan.problem.first_day, plan.problem.last_day))
    lines += wrapped(
        say(
            "{file}: {first} to {last}, {method}.",
            file=report.file,
            first=first,
            last=last,
            method=say(plan.method),
        ),
        "",
        "  ",
    )
    if plan.method == GREEDY:
        lines += wrapped(say("The solver was not used; its plans usually cost less."), "", "  ")
    for text in lead(report):
        lines += wrapped(text, "", "  ")
    lines.append("")
    for one_day in plan.days:
        names = ", ".join(report.visit(stop.visit).site for stop in one_day.stops)
        lines += wrapped(f"{dated(report.date(one_day))}  {report.crew(one_day)}: {names}", "  ", "      ")
    if plan.left_visits:
        lines += ["", say("Left out:")]
    for item in plan.left_visits[:LEFT_SHOWN]:
        lines += wrapped(f"{report.visit(item.visit).site}: {item.reason}", "  ", "      ")
    if len(plan.left_visits) > LEFT_SHOWN:
        lines.append(
            "  " + say("and {count:,} more, see the sheet Left out", count=len(plan.left_visits) - LEFT_SHOWN)
        )
    for one in report.what_if:
        told = say(
            "What if {question}: {count} left out, {verdict}.",
            question=one.question,
            count=one.left_out,
            verdict=one.verdict,
        )
        lines += wrapped(told, "", "  ")
    return [*lines, ""]
