"""Names of the files of a plan, and writing all of them."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date
from pathlib import Path

from msgspec import Struct

from fleetaudit.errors import OutputError, together
from fleetaudit.language import say
from fleetaudit.workbook.atomic import refuse_existing
from fleetaudit.writing import route_json
from fleetaudit.writing.calendar import calendar
from fleetaudit.writing.files import write_text
from fleetaudit.writing.geo import geojson, gpx
from fleetaudit.writing.report import Report
from fleetaudit.writing.returns_sheet import write_returns
from fleetaudit.writing.route_csv import table
from fleetaudit.writing.route_html import render
from fleetaudit.writing.route_report import RouteReport
from fleetaudit.writing.route_sheets import write_copy
from fleetaudit.writing.stop_sheet import load_list, return_lines, stop_sheets

_ROUTED = re.compile(r"\.route(\.\d{4}-\d{2}-\d{2})?$", re.IGNORECASE)


class RouteOutputs(Struct, frozen=True):
    """Where the files of a plan go."""

    workbook: Path
    stem: Path
    json: Path | None = None

    def named(self, ending: str) -> Path:
        """File of the plan with an ending of its own."""
        return self.stem.with_name(f"{self.stem.name}.{ending}")


#: ending and writer of each text file
TEXTS: dict[str, Callable[[RouteReport], str]] = {
    "html": render,
    "loads.html": load_list,
    "csv": table,
    "geojson": geojson,
    "gpx": gpx,
    "ics": calendar,
}
STOPS, RETURNS = "stops.html", "returns.xlsx"


def route_outputs(source: Path, first: date, folder: Path | None, json: Path | None) -> RouteOutputs:
    """Names beside the workbook or in a folder; a plan of a plan gets the date of its first day."""
    home = source.parent if folder is None else folder
    suffix = ".xlsm" if source.suffix.lower() == ".xlsm" else ".xlsx"
    again = _ROUTED.search(source.stem)
    stem = (
        source.stem + ".route"
        if again is None
        else f"{source.stem[: again.start()]}.route.{first.isoformat()}"
    )
    return RouteOutputs(home / f"{stem}{suffix}", home / stem, json)


def check_free(outputs: RouteOutputs, source: Path, *, force: bool) -> None:
    """Raise before anything is planned where a file would fall on another."""
    problems = []
    paths = [
        outputs.workbook,
        *(outputs.named(e) for e in (*TEXTS, STOPS, RETURNS)),
        *([outputs.json] if outputs.json else []),
    ]
    for path in paths:
        if path.resolve() == source.resolve():
            problems.append(
                say(
                    "{file} is the workbook that is planned from; it is never written over. Choose another "
                    "folder with -o.",
                    file=path.name,
                )
            )
            continue
        try:
            refuse_existing(path, force=force)
        except OutputError as trouble:
            problems.append(trouble.message)
    if problems:
        raise OutputError(together(problems))


def write_all(
    report: RouteReport,
    audit: Report,
    source: Path,
    outputs: RouteOutputs,
    heading_row: int,
    *,
    link: str,
    force: bool,
) -> tuple[list[Path], list[str]]:
    """Write every file of a plan; gives their paths and what the user should know of the workbook."""
    texts = {outputs.named(ending): write(report) for ending, write in TEXTS.items()}
    texts = {path: text for path, text in texts.items() if text}
    texts[outputs.named(STOPS)] = stop_sheets(report, link)
    if outputs.json is not None:
        texts[outputs.json] = route_json.text(report)
    copy, said = write_copy(report, audit, source, outputs.workbook, heading_row, force=force)
    for path, text in texts.items():
        write_text(path, text, force=force)
    write_returns(outputs.named(RETURNS), return_lines(report), report.system, force=force)
    return [copy, *texts, outputs.named(RETURNS)], said
