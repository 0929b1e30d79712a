"""The files of a dataset: partitioned Parquet or CSV in one folder, or a single file; in order of name."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from urllib.parse import unquote

from msgspec import Struct

from fleetaudit.errors import InputError
from fleetaudit.language import say
from fleetaudit.schema.dataset import COLUMN_STORES, FINDINGS, TEXT_TABLES

PARQUET, TEXT = "Parquet", "CSV"
ENDINGS = {**dict.fromkeys(COLUMN_STORES, PARQUET), **dict.fromkeys(TEXT_TABLES, TEXT)}
#: what a folder of the form name=value holds where the value is blank
NO_VALUE = "__HIVE_DEFAULT_PARTITION__"


class Piece(Struct, frozen=True):
    """One file: where it is, its name within the dataset, and values its folders give to all of its rows."""

    path: str
    name: str
    kind: str
    given: tuple[tuple[str, str | None], ...] = ()


def find(path: Path) -> list[Piece]:
    """Files of a dataset by name; hidden ones, and those whose name starts with "_", are no part of it."""
    if not path.exists():
        raise InputError(say('There is no file or folder "{path}".', path=path))
    files = [path] if path.is_file() else sorted(_within(path), key=lambda file: file.as_posix())
    pieces = [_piece(file, path) for file in files if file.suffix.lower() in ENDINGS]
    if not pieces:
        raise InputError(
            say(
                '"{path}" holds no data to audit. A dataset is a folder of Parquet or CSV files, or one such '
                "file.",
                path=path,
            )
        )
    kinds = sorted({piece.kind for piece in pieces})
    if len(kinds) > 1:
        examples = [next(piece.name for piece in pieces if piece.kind == kind) for kind in kinds]
        raise InputError(
            say(
                '"{path}" holds both {one} and {other} files ({examples}). Keep one kind in the folder.',
                path=path,
                one=kinds[0],
                other=kinds[1],
                examples=", ".join(examples),
            )
        )
    if (path / FINDINGS).is_dir():
        raise InputError(
            say('"{path}" holds results of an audit, not units. Name the folder of the units.', path=path)
        )
    return pieces


def _within(folder: Path) -> list[Path]:
    """Files of a folder and of the folders in it, without what is hidden."""
    return [
        file
        for file in folder.rglob("*")
        if file.is_file() and not any(part.startswith(("_", ".")) for part in file.relative_to(folder).parts)
    ]


def _piece(file: Path, home: Path) -> Piece:
    name = file.name if file == home else file.relative_to(home).as_posix()
    return Piece(str(file.resolve()), name, ENDINGS[file.suffix.lower()], _given(name.split("/")[:-1]))


def _given(folders: Sequence[str]) -> tuple[tuple[str, str | None], ...]:
    """Values that folders named like region=west give to the rows below them.

    >>> _given(["region=west", "2026", "town=San%20Luis"])
    (('region', 'west'), ('town', 'San Luis'))
    """
    pairs = [folder.partition("=") for folder in folders]
    return tuple(
        (unquote(name), None if value == NO_VALUE else unquote(value)) for name, sign, value in pairs if sign
    )
