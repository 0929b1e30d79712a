"""Options that several commands have: the same name, the same way to type it, the same words."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from fleetaudit.cli import typed
from fleetaudit.language import DATE_STYLES, LANGUAGES

Decorator = Callable[[Callable[..., Any]], Callable[..., Any]]


def as_of(what: str = "Day of the audit; today if not given.") -> Decorator:
    """`--as-of`, which fixes the clock."""
    return click.option("--as-of", callback=typed.day, metavar="YYYY-MM-DD", help=what)


def sheet(where: str = "") -> Decorator:
    """`--sheet`, which says where the units are listed."""
    return click.option("--sheet", help=f"Name of the sheet that lists the units{where}.")


def headings(more: str = ". Repeat as needed.") -> Decorator:
    """`--map`, repeated for each heading that is to be read as one of our columns."""
    return click.option(
        "--map",
        "header_map",
        multiple=True,
        callback=typed.pairs,
        metavar="THEIRS=OURS",
        help=f"Say which of our columns a heading stands for{more}",
    )


def settings(sheets: str = "Media, Restrictors, Housings, Vessels") -> Decorator:
    """`--settings`, a workbook of the company's own figures."""
    return click.option(
        "--settings",
        type=click.Path(path_type=Path, dir_okay=False),
        metavar="FILE.xlsx",
        help=f"Workbook with your own {sheets} or Settings sheets.",
    )


def folder(what: str = "results") -> Decorator:
    """`-o`, the folder that takes what is written."""
    return click.option(
        "-o",
        "--output",
        "folder",
        type=click.Path(path_type=Path, file_okay=False),
        metavar="DIR",
        help=f"Folder for the {what}; beside the workbook if not given.",
    )


def language(what: str = "the results and of what is printed") -> Decorator:
    """`--language`, that of everything written and printed."""
    return click.option(
        "--language", type=click.Choice(list(LANGUAGES)), help=f"Language of {what} (Settings: en)."
    )


def dates() -> Decorator:
    """`--dates`, how days are written."""
    return click.option(
        "--dates",
        type=click.Choice(list(DATE_STYLES)),
        help="How days are written (Settings: iso, 2026-11-25).",
    )
