"""Names of the results, the check that none of them is in the way of anything, and writing text."""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from datetime import date
from itertools import count
from pathlib import Path

from msgspec import Struct

from fleetaudit.errors import OutputError, together
from fleetaudit.language import say
from fleetaudit.workbook.atomic import refuse_existing, write_atomic

AUDITED = ".audited"
_DATED = re.compile(r"\.audited(\.\d{4}-\d{2}-\d{2})?$", re.IGNORECASE)


class Outputs(Struct, frozen=True):
    """Where the results of one audit go; None stands for what is not written."""

    workbook: Path
    summary: Path
    json: Path | None = None
    owner: Path | None = None
    letters: Path | None = None

    @property
    def every(self) -> tuple[Path, ...]:
        """All files that will be written."""
        return tuple(
            path for path in (self.workbook, self.summary, self.json, self.owner) if path is not None
        )


def plan_outputs(
    source: Path,
    as_of: date,
    *,
    folder: Path | None = None,
    json: Path | None = None,
    owner: bool = False,
    letters: bool = False,
    number: int = 1,
) -> Outputs:
    """Names of the results of a workbook, beside it or in `folder`; a `number` over 1 stands in them.

    A copy that carries ".audited" in its name already gets the date instead of a second one, so that it can
    be audited month after month and no older result is in the way.
    """
    home = source.parent if folder is None else folder
    suffix = ".xlsm" if source.suffix.lower() == ".xlsm" else ".xlsx"
    again = _DATED.search(source.stem)
    name = source.stem if again is None else source.stem[: again.start()]
    name += f".{number}" if number > 1 else ""
    if again is None:
        stem, audited = name, name + AUDITED
    else:
        stem = audited = f"{name}{AUDITED}.{as_of.isoformat()}"
    page = home / f"{stem}.owner.html" if owner else None
    folder_of_letters = home / f"{stem}.letters" if letters else None
    return Outputs(home / f"{audited}{suffix}", home / f"{stem}.summary.html", json, page, folder_of_letters)


def numbered(plan: Callable[..., Outputs]) -> Outputs:
    """Names with the first number that no earlier result carries."""
    for number in count(1):
        outputs = plan(number=number)
        taken = (*outputs.every, *([] if outputs.letters is None else [outputs.letters]))
        if not any(os.path.lexists(path) for path in taken):
            return outputs
    raise AssertionError("numbers do not end")


def check_free(outputs: Outputs, source: Path, *, force: bool) -> None:
    """Raise before anything is written when a result would fall on the input or on another file."""
    problems = []
    seen: dict[Path, Path] = {}
    for path in outputs.every:
        real = path.resolve()
        if real == source.resolve() or _same_file(path, source):
            problems.append(
                say(
                    "{name} is the workbook that is audited; it is never written over. Choose "
                    "another folder with -o.",
                    name=path.name,
                )
            )
        elif real in seen:
            problems.append(
                say("{name} would be written twice. Give the JSON file another name.", name=path.name)
            )
        elif not path.parent.is_dir():
            problems.append(
                say(
                    'There is no folder "{folder}" for {name}. Create it, or choose another with -o.',
                    folder=path.parent,
                    name=path.name,
                )
            )
        else:
            try:
                refuse_existing(path, force=force)
            except OutputError as error:
                problems.append(error.message)
        seen[real] = path
    if outputs.letters is not None and outputs.letters.exists() and not (force and outputs.letters.is_dir()):
        problems.append(
            say(
                "{name} exists already and was not replaced. Say --force to replace the letters "
                "in it, or choose another folder with -o.",
                name=outputs.letters.name,
            )
        )
    if problems:
        raise OutputError(together(problems))


def refuse_input(path: Path, source: Path) -> None:
    """Raise where a result would fall on the workbook it comes from, forced or not."""
    if path.resolve() == source.resolve() or _same_file(path, source):
        raise OutputError(
            say("{name} is the workbook itself; it is never written over. Take another name.", name=path.name)
        )


def write_text(path: Path, text: str, *, force: bool) -> None:
    """Write a text whole or not at all, in UTF-8."""
    write_atomic(path, [text.encode("utf-8")], force=force)


def _same_file(path: Path, source: Path) -> bool:
    try:
        return path.samefile(source)
    except OSError:
        return False
