"""`fleetaudit audit DATASET`: a folder of Parquet or CSV files, on this computer or on Dask."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import ExitStack
from typing import TYPE_CHECKING, Any

import click
from msgspec import Struct

from fleetaudit.cli.printing import VERDICT_WIDTH, WORDS, tiers_at_or_over, wrapped
from fleetaudit.cli.progress import Progress
from fleetaudit.errors import InputError
from fleetaudit.language import dated, say, several, spoken
from fleetaudit.schema.remark import Level

if TYPE_CHECKING:
    from fleetaudit.scale.run import Done, Wish

DASK = "dask"
INSTALL = "python -m pip install 'fleetaudit[scale]'"


class On(Struct, frozen=True):
    """Where a dataset is audited."""

    engine: str | None
    scheduler: str | None
    workers: int | None

    @property
    def given(self) -> bool:
        """Whether anything was said."""
        return any((self.engine, self.scheduler, self.workers))


def refuse(options: Sequence[tuple[str, object]]) -> None:
    """Raise where an option was given that has no meaning for a dataset."""
    given = [name for name, value in options if value]
    if given:
        raise click.UsageError(
            several(
                len(given),
                "{names} goes with workbooks, not with a dataset. Its results are Parquet files to pick "
                "from.",
                "{names} go with workbooks, not with a dataset. Its results are Parquet files to pick from.",
                names=", ".join(given),
            )
        )


def run(wish_fields: dict[str, Any], on: On, fail_on: str) -> int:
    """Audit a dataset, say what came of it and give the exit code."""
    if (on.scheduler or on.workers) and on.engine != DASK:
        raise click.UsageError(say("--scheduler and --workers go with --engine dask."))
    if on.scheduler and on.workers:
        raise click.UsageError(
            say("A cluster that exists has its own workers: give --scheduler or --workers, not both.")
        )
    try:
        from fleetaudit.scale.engine import Plain, Processors  # noqa: PLC0415 - few audits are of datasets
        from fleetaudit.scale.run import Wish, audit_dataset  # noqa: PLC0415 - as above
    except ModuleNotFoundError as trouble:
        raise InputError(
            say(
                "A dataset needs {package}, which is not installed. Run: {command}",
                package=trouble.name,
                command=INSTALL,
            )
        ) from trouble
    wish = Wish(**wish_fields)
    with ExitStack() as stack:
        here = Processors() if on.engine is None else Plain()
        engine = stack.enter_context(_dask(on)) if on.engine == DASK else here
        progress = stack.enter_context(Progress())
        done = audit_dataset(wish, engine, progress.stage)
    with spoken(done.language, done.dates):
        _print(done, wish)
    return 1 if any(done.totals.counts.by_tier[tier] for tier in tiers_at_or_over(fail_on)) else 0


def _dask(on: On) -> Any:
    try:
        from fleetaudit.scale.dask_engine import Dask  # noqa: PLC0415 - half a second that no other audit needs
    except ModuleNotFoundError as trouble:
        raise InputError(
            say(
                "--engine dask needs {package}, which is not installed. Run: {command}. Or leave --engine "
                "out to audit the dataset file by file on this computer.",
                package=trouble.name,
                command=INSTALL,
            )
        ) from trouble
    return Dask(on.scheduler, on.workers)


def _print(done: Done, wish: Wish) -> None:
    for remark in done.remarks:
        if remark.level < Level.INFO and remark.text not in done.banner:
            for line in wrapped(remark.text, "! ", "  "):
                click.echo(line, err=True)
    _print_summary(done, wish)


def _print_summary(done: Done, wish: Wish) -> None:
    counts = done.totals.counts
    click.echo(
        say(
            "{name}: {units} in {files} as of {date}",
            name=wish.dataset,
            units=several(counts.units, "1 unit", "{count:,} units"),
            files=several(done.files, "1 file", "{count:,} files"),
            date=dated(wish.as_of),
        )
    )
    click.echo()
    for verdict, words in WORDS.items():
        if counts.by_verdict[verdict]:
            number, word = counts.by_verdict[verdict], say(verdict)
            click.echo(f"  {number:>11,}  {word:<{VERDICT_WIDTH}} {say(words)}")
    click.echo()
    for text in done.banner:
        for line in wrapped(text, "! ", "  "):
            click.echo(line)
    click.echo()
    unused = sum(done.totals.problems.values())
    if unused:
        text = several(
            unused,
            "1 cell was not used as it stands, or assumed; the folder problems says which.",
            "{count:,} cells were not used as they stand, or assumed; the folder problems says which.",
        )
        for line in wrapped(text):
            click.echo(line)
        click.echo()
    click.echo(say("Written:"))
    click.echo(f"  {done.folder}")
    click.echo(f"  {done.page}")
    click.echo()
    advice = say("This advises; local codes, the maker's sheet and licensed practice come first.")
    for line in wrapped(advice):
        click.echo(line)
