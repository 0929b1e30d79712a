"""`fleetaudit record`: return sheets of the crews into a copy of the workbook."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

import click

from fleetaudit.cli import options
from fleetaudit.cli.printing import wrapped
from fleetaudit.record_file import Recorded, RecordRequest, record_file
from fleetaudit.schema.remark import Level
from fleetaudit.writing.visit_record import shown

MOST_LINES = 40

EXAMPLES = """\b
Examples:
  fleetaudit template --returns monday.xlsx --workbook fleet.xlsx
                      --units U-104,U-117       a sheet for the crew
  fleetaudit record fleet.xlsx monday.xlsx --dry-run
  fleetaudit record fleet.xlsx monday.xlsx tuesday.xlsx
  fleetaudit record fleet.xlsx monday.xlsx --add-columns

Takes what crews filled in over into <name>.recorded.xlsx, a copy of the
workbook in which nothing else changes; the workbook itself is never written.
Each change goes onto the sheet History: old and new value, who, when, from
which file. What cannot be taken over for certain is listed and left alone.

Exit code: 0 all was taken over, 1 something was left and is listed,
2 it could not run.
"""


@click.command("record", help=EXAMPLES)
@click.argument("workbook", type=click.Path(path_type=Path))
@click.argument("returns", type=click.Path(path_type=Path), nargs=-1, required=True)
@options.folder("copy")
@click.option("--dry-run", is_flag=True, help="Only show what would change.")
@click.option(
    "--add-columns",
    is_flag=True,
    help="Add columns the list lacks at its right end, instead of keeping such values on History alone.",
)
@options.as_of("Day of recording; today if not given.")
@options.sheet()
@options.headings()
@options.settings("Media, Vessels, Crews")
@click.option("--force", is_flag=True, help="Replace a copy that is already there.")
def command(
    workbook: Path,
    returns: tuple[Path, ...],
    folder: Path | None,
    dry_run: bool,
    add_columns: bool,
    as_of: date | None,
    sheet: str | None,
    header_map: dict[str, str],
    settings: Path | None,
    force: bool,
) -> int:
    """Record return sheets."""
    request = RecordRequest(
        workbook=workbook,
        returns=returns,
        as_of=as_of or datetime.now().astimezone().date(),
        folder=folder,
        sheet=sheet,
        header_map=header_map,
        settings=settings,
        add_columns=add_columns,
        dry_run=dry_run,
        force=force,
    )
    done = record_file(request)
    for line in _complaints(done):
        click.echo(line, err=True)
    for line in _changes(done, request):
        click.echo(line)
    return 1 if done.refused else 0


def _complaints(done: Recorded) -> list[str]:
    """What was left alone, with the cells that could not be read first."""
    unread = [remark.text for remark in done.returns.remarks if remark.level is Level.SKIP]
    assumed = [remark.text for remark in done.returns.remarks if remark.level is Level.WARN]
    lines: list[str] = []
    for title, texts in (("Not read:", unread), ("Assumed:", assumed), ("Not taken over:", done.refused)):
        if texts:
            lines.append(title)
            for text in texts[:MOST_LINES]:
                lines += wrapped(text, "  ", "    ")
            if len(texts) > MOST_LINES:
                lines.append(f"  and {len(texts) - MOST_LINES} more")
            lines.append("")
    return lines


def _changes(done: Recorded, request: RecordRequest) -> list[str]:
    files = "1 file" if len(request.returns) == 1 else f"{len(request.returns)} files"
    count = len(done.returns.visits)
    lines = [f'{request.workbook.name}, sheet "{done.sheet}": {count} filled-in lines from {files}', ""]
    if done.repeated:
        lines += [f"{done.repeated} lines say the same as another one and count once.", ""]
    for title, several in (("Changes:", done.lines), ("On the sheet History alone:", done.history_only)):
        if several:
            lines.append(title)
            for line in several[:MOST_LINES]:
                lines += wrapped(shown(line), "  ", "    ")
            if len(several) > MOST_LINES:
                lines.append(f"  and {len(several) - MOST_LINES} more, all on the sheet History")
            lines.append("")
    if done.no_column:
        names = ", ".join(done.no_column).lower()
        lines += [*wrapped(f"The list has no column for: {names}. --add-columns adds one."), ""]
    for remark in done.remarks:
        lines += [*wrapped(remark, "! "), ""]
    if done.path is not None:
        return [*lines, "Written:", f"  {done.path}", "", *wrapped(f'Next: fleetaudit audit "{done.path}"')]
    if not (done.lines or done.history_only):
        return [*lines, "Nothing to change; nothing was written."]
    return [*lines, "Nothing was written (--dry-run)."]
