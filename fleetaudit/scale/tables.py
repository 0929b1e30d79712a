"""Blocks of rows of one file, as the reading of workbooks takes them; of a large file never all at once."""

from __future__ import annotations

import codecs
import csv
import platform
from collections.abc import Iterator, Sequence
from itertools import islice
from pathlib import Path
from typing import Any

from msgspec import Struct

from fleetaudit.errors import InputError
from fleetaudit.language import say
from fleetaudit.scale.pieces import TEXT, Piece
from fleetaudit.workbook.other_kinds import delimiter

#: rows held at once
BLOCK = 20_000
_HEAD_BYTES = 65_536
_CHUNK_BYTES = 1 << 20


class Rows(Struct):
    """Some rows of a file: values by column name, how many, and how many rows of the file stand above."""

    values: dict[str, list[object]]
    count: int
    above: int


def names(piece: Piece) -> list[str]:
    """Names of the columns of a file, then those its folders give."""
    own = _text_names(piece) if piece.kind == TEXT else [field.name for field in _schema(piece)]
    return [*own, *(name for name, _ in piece.given if name not in own)]


def blocks(piece: Piece, wanted: Sequence[str], most: int = BLOCK) -> Iterator[Rows]:
    """The wanted columns of a file, so many rows at a time; a column the file lacks is blank."""
    above = 0
    for values, count in _text(piece, wanted, most) if piece.kind == TEXT else _parquet(piece, wanted, most):
        for name, value in piece.given:
            if name in wanted:
                values[name] = [value] * count
        for name in wanted:
            values.setdefault(name, [None] * count)
        yield Rows(values, count, above)
        above += count


def _file(piece: Piece) -> Any:
    from pyarrow import ArrowException, parquet  # noqa: PLC0415 - tables of text need none of it

    try:
        return parquet.ParquetFile(piece.path)
    except (ArrowException, OSError) as trouble:
        raise _damaged(piece, trouble) from trouble


def _schema(piece: Piece) -> Any:
    with _file(piece) as file:
        return file.schema_arrow


def _parquet(piece: Piece, wanted: Sequence[str], most: int) -> Iterator[tuple[dict[str, list[object]], int]]:
    from pyarrow import ArrowException  # noqa: PLC0415 - as above

    from fleetaudit.scale.arrow_cells import cells  # noqa: PLC0415 - as above

    with _file(piece) as file:
        there = [name for name in wanted if name in file.schema_arrow.names]
        try:
            for batch in file.iter_batches(batch_size=most, columns=there):
                yield {name: cells(batch.column(name), piece.name, name) for name in there}, batch.num_rows
        except (ArrowException, OSError) as trouble:
            raise _damaged(piece, trouble) from trouble


def _damaged(piece: Piece, trouble: Exception) -> InputError:
    if isinstance(trouble, FileNotFoundError):
        return InputError(
            say(
                '"{path}" is not there on the machine {machine}, which was to read it. All workers of a '
                "cluster need the dataset and the folder of the results under the same path.",
                path=piece.path,
                machine=platform.node(),
            )
        )
    first = str(trouble).strip().split("\n")[0]
    return InputError(
        say(
            '"{name}" cannot be read as {kind} ({reason}). Write it again.',
            name=piece.name,
            kind=piece.kind,
            reason=first,
        )
    )


def _encoding(path: str) -> str:
    """Encoding of a file of text: by its byte order mark, else UTF-8, else Western code page 1252."""
    decoder = codecs.getincrementaldecoder("utf-8")()
    with Path(path).open("rb") as file:
        chunk = file.read(_CHUNK_BYTES)
        if chunk.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
            return "utf-16"
        try:
            while chunk:
                decoder.decode(chunk)
                chunk = file.read(_CHUNK_BYTES)
            decoder.decode(b"", final=True)
        except UnicodeDecodeError:
            return "cp1252"
    return "utf-8-sig"


def _records(piece: Piece, encoding: str) -> Iterator[list[str]]:
    with Path(piece.path).open(encoding=encoding, errors="replace", newline="") as file:
        mark = delimiter(file.read(_HEAD_BYTES).rpartition("\n")[0])
        file.seek(0)
        try:
            yield from csv.reader(file, delimiter=mark)
        except csv.Error as trouble:
            raise _damaged(piece, trouble) from trouble


def _text_names(piece: Piece) -> list[str]:
    try:
        return [name.strip() for name in next(_records(piece, _encoding(piece.path)), [])]
    except OSError as trouble:
        raise _damaged(piece, trouble) from trouble


def _text(piece: Piece, wanted: Sequence[str], most: int) -> Iterator[tuple[dict[str, list[object]], int]]:
    try:
        yield from _text_blocks(_records(piece, _encoding(piece.path)), wanted, most)
    except OSError as trouble:
        raise _damaged(piece, trouble) from trouble


def _text_blocks(
    records: Iterator[list[str]], wanted: Sequence[str], most: int
) -> Iterator[tuple[dict[str, list[object]], int]]:
    there = {name.strip(): place for place, name in enumerate(next(records, []))}
    places = [(name, there[name]) for name in wanted if name in there]
    while rows := list(islice(records, most)):
        values: dict[str, list[object]] = {
            name: [row[place] or None if place < len(row) else None for row in rows] for name, place in places
        }
        yield values, len(rows)
