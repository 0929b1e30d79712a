"""`fleetaudit audit`: workbooks in, an annotated copy and a summary of each out, one page over several."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

import click

from fleetaudit.audit_file import Request, Written, audit_file, audit_files
from fleetaudit.cli import options
from fleetaudit.cli.password import first_line
from fleetaudit.cli.printing import findings_at_or_over, print_summary, wrapped
from fleetaudit.cli.process import Code
from fleetaudit.cli.progress import Progress
from fleetaudit.errors import InputError, together
from fleetaudit.language import say, spoken
from fleetaudit.schema.dataset import COLUMN_STORES, TEXT_TABLES

EXAMPLES = """\b
Examples:
  fleetaudit audit fleet.xlsx
  fleetaudit audit fleet.xlsx -o results --as-of 2026-11-01
  fleetaudit audit fleet.xlsx --json - --fail-on now
  fleetaudit audit fleet.xlsx --map "Tnk=vessel size"
  fleetaudit audit north.xlsx south.xlsx -o results
  fleetaudit audit warehouse/units --engine dask

Reads the workbook (it is never changed) and writes beside it
<name>.audited.xlsx, the same workbook with result columns and sheets, and
<name>.summary.html, a page to read, print and pass on. Over several
workbooks one more page is written, <common name>.all.summary.html.

A folder of Parquet or CSV files is audited file by file, in the memory of a
few thousand rows; results are Parquet files in <name>.audited.

Exit code: 0 it ran, 1 findings at or over --fail-on, 2 it could not run.
"""


@click.command("audit", help=EXAMPLES)
@click.argument(
    "workbooks", metavar="WORKBOOK|DATASET...", nargs=-1, required=True, type=click.Path(path_type=Path)
)
@options.folder()
@click.option(
    "--json", "json_file", metavar="FILE", help="Write everything as one JSON document too; - for stdout."
)
@options.as_of()
@options.sheet()
@options.headings()
@options.settings("Media, Restrictors, Housings, Vessels, Crews")
@click.option(
    "--due-within",
    type=click.IntRange(0, 36500),
    metavar="DAYS",
    help="How far ahead media that fall due are listed (Settings: 90).",
)
@click.option("--account", default="", help="Only this account in the reports.")
@click.option("--crew", default="", help="Only units set up by this crew in the reports.")
@click.option("--units", "system", type=click.Choice(["us", "metric"]), help="Units of the reports.")
@click.option("--hide-crew-names", is_flag=True, help="Codes instead of crew names in the reports.")
@click.option(
    "--owner-page", is_flag=True, help="Write <name>.owner.html too: state, money and decisions on one sheet."
)
@click.option(
    "--letters", is_flag=True, help="Write a letter in plain words for each account, into <name>.letters."
)
@options.language()
@options.dates()
@click.option(
    "--fail-on",
    type=click.Choice(["now", "plan", "any", "never"]),
    default="never",
    show_default=True,
    help="Leave with code 1 if there is a finding of that tier or a graver one.",
)
@click.option(
    "--password-file",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="File whose first line is the password of the workbook.",
)
@click.option(
    "--allow-unencrypted",
    is_flag=True,
    help="Write the results of a protected workbook; they are not protected.",
)
@click.option(
    "--engine",
    type=click.Choice(["plain", "dask"]),
    help="Audit a dataset of Parquet or CSV files one file after the other (plain) or on Dask; if not given, "
    "on all processors of this computer.",
)
@click.option("--scheduler", metavar="ADDRESS", help="Dask cluster that exists, as tcp://10.0.0.5:8786.")
@click.option("--workers", type=click.IntRange(1, 1024), help="Workers of a Dask cluster on this computer.")
@click.option("--force", is_flag=True, help="Replace results that are already there.")
def command(
    workbooks: tuple[Path, ...],
    folder: Path | None,
    json_file: str | None,
    as_of: date | None,
    sheet: str | None,
    header_map: dict[str, str],
    settings: Path | None,
    due_within: int | None,
    account: str,
    crew: str,
    system: str | None,
    hide_crew_names: bool,
    owner_page: bool,
    letters: bool,
    language: str | None,
    dates: str | None,
    fail_on: str,
    password_file: Path | None,
    allow_unencrypted: bool,
    engine: str | None,
    scheduler: str | None,
    workers: int | None,
    force: bool,
) -> int:
    """Audit one workbook, several with one page over all of them, or a dataset."""
    day_of_audit = as_of or datetime.now().astimezone().date()
    if engine or scheduler or workers or any(map(_is_dataset, workbooks)):
        from fleetaudit.cli import dataset  # noqa: PLC0415 - few audits are of datasets

        first = workbooks[0]
        if len(workbooks) > 1 or not (_is_dataset(first) or first.suffix.lower() in TEXT_TABLES):
            raise click.UsageError(
                say(
                    "--engine, --scheduler and --workers go with one dataset: a folder of Parquet or CSV "
                    "files, or one such file. Workbooks are audited without."
                )
            )
        dataset.refuse([
            ("--json", json_file), ("--sheet", sheet), ("--account", account), ("--crew", crew),
            ("--owner-page", owner_page), ("--letters", letters), ("--password-file", password_file),
            ("--allow-unencrypted", allow_unencrypted),
        ])  # fmt: skip
        wish = {
            "dataset": first, "as_of": day_of_audit, "folder": folder, "header_map": header_map,
            "settings": settings, "due_within_days": due_within, "system": system,
            "hide_crew_names": hide_crew_names, "force": force, "language": language, "dates": dates,
        }  # fmt: skip
        return dataset.run(wish, dataset.On(engine, scheduler, workers), fail_on)
    if len(workbooks) > 1 and json_file is not None:
        raise click.UsageError(
            say("--json goes with one workbook. Audit them one by one for one document each.")
        )
    requests = [
        Request(
            workbook=workbook,
            folder=folder,
            json_file=None if json_file in (None, "-") else Path(str(json_file)),
            json_wanted=json_file is not None,
            as_of=day_of_audit,
            sheet=sheet,
            header_map=header_map,
            settings=settings,
            due_within_days=due_within,
            account=account,
            crew=crew,
            system=system,
            hide_crew_names=hide_crew_names,
            force=force,
            owner_page=owner_page,
            letters=letters,
            language=language,
            dates=dates,
            password=None if password_file is None else first_line(password_file),
            allow_unencrypted=allow_unencrypted,
        )
        for workbook in workbooks
    ]
    if len(requests) > 1:
        return _several(requests, fail_on)
    with Progress() as progress:
        written: Written = audit_file(requests[0], progress.stage)
    if json_file == "-":
        click.echo(written.json_text, nl=False)
    print_summary(written, requests[0], to_stderr=json_file == "-")
    code = Code(findings_at_or_over(written.report, fail_on))
    code.made = written
    return code


def _is_dataset(path: Path) -> bool:
    """True for what can only be a dataset: a file of columns, or a folder that holds such files or tables."""
    if path.is_dir():
        return any(file.suffix.lower() in (*COLUMN_STORES, *TEXT_TABLES) for file in path.rglob("*"))
    return path.suffix.lower() in COLUMN_STORES


def _several(requests: list[Request], fail_on: str) -> int:
    with Progress() as progress:
        done = audit_files(requests, progress.stage)
    for request, written in done.audited:
        print_summary(written, request, to_stderr=False)
        click.echo()
    for line in (part for text in done.without for part in wrapped(text)):
        click.echo(line, err=True)
    if done.troubles:
        how_many = say("{count} of {all} workbooks were audited.", count=len(done.audited), all=len(requests))
        raise InputError(together([*done.troubles, how_many]))
    with spoken(done.audited[0][1].language):
        click.echo(say("Over all {count} workbooks: {page}", count=len(requests), page=done.page))
    return 1 if any(findings_at_or_over(written.report, fail_on) for _, written in done.audited) else 0
