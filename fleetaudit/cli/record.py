"""`fleetaudit record`: return sheets of the crews into a copy of the workbook."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

import click

from fleetaudit.cli import options
from fleetaudit.cli.printing import wrapped
from fleetaudit.language import say, several, spoken
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
@click.argument("workbook", metavar="WORKBOOK", type=click.Path(path_type=Path))
@click.argument("returns", metavar="RETURNS...", type=click.Path(path_type=Path), nargs=-1, required=True)
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
@options.language("what is printed and noted")
@options.dates()
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
    language: str | None,
    dates: str | None,
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
        language=language,
        dates=dates,
    )
    done = record_file(request)
    with spoken(done.language, done.dates):
        complaints, changes = _complaints(done), _changes(done, request)
    for line in complaints:
        click.echo(line, err=True)
    for line in changes:
        click.echo(line)
    return 1 if done.refused else 0


def _complaints(done: Recorded) -> list[str]:
    """What was left alone, with the cells that could not be read first."""
    unread = [remark.text for remark in done.returns.remarks if remark.level is Level.SKIP]
    assumed = [remark.text for remark in done.returns.remarks if remark.level is Level.WARN]
    lines: list[str] = []
    for title, texts in (
        (say("Not read:"), unread),
        (say("Assumed:"), assumed),
        (say("Not taken over:"), done.refused),
    ):
        if texts:
            lines.append(title)
            for text in texts[:MOST_LINES]:
                lines += wrapped(text, "  ", "    ")
            if len(texts) > MOST_LINES:
                lines.append("  " + say("and {count:,} more", count=len(texts) - MOST_LINES))
            lines.append("")
    return lines


def _changes(done: Recorded, request: RecordRequest) -> list[str]:
    told = say(
        '{file}, sheet "{sheet}": {lines} from {files}',
        file=request.workbook.name,
        sheet=done.sheet,
        lines=several(len(done.returns.visits), "1 filled-in line", "{count} filled-in lines"),
        files=several(len(request.returns), "1 file", "{count} files"),
    )
    lines = [*wrapped(told, "", "  "), ""]
    if done.repeated:
        told = several(
            done.repeated,
            "1 line says the same as another one and counts once.",
            "{count} lines say the same as another one and count once.",
        )
        lines += [*wrapped(told, "", "  "), ""]
    for title, found in (
        (say("Changes:"), done.lines),
        (say("On the sheet History alone:"), done.history_only),
    ):
        if found:
            lines.append(title)
            for line in found[:MOST_LINES]:
                lines += wrapped(shown(line), "  ", "    ")
            if len(found) > MOST_LINES:
                more = len(found) - MOST_LINES
                lines.append("  " + say("and {count:,} more, all on the sheet History", count=more))
            lines.append("")
    if done.no_column:
        names = ", ".join(done.no_column).lower()
        lines += [
            *wrapped(say("The list has no column for: {names}. --add-columns adds one.", names=names)),
            "",
        ]
    for remark in done.remarks:
        lines += [*wrapped(remark, "! "), ""]
    if done.path is not None:
        then = say("Next: {command}", command=f'fleetaudit audit "{done.path}"')
        return [*lines, say("Written:"), f"  {done.path}", "", *wrapped(then)]
    if not (done.lines or done.history_only):
        return [*lines, say("Nothing to change; nothing was written.")]
    return [*lines, say("Nothing was written (--dry-run).")]
