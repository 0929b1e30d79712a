"""Columns of Arrow as cells of a sheet: dates, times, numbers, words; what no cell can hold is refused."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from fleetaudit.errors import InputError
from fleetaudit.language import say


def cells(column: Any, file: str, name: str) -> list[object]:
    """Values of a column as the cells of a sheet would hold them; not a number is blank.

    >>> cells(pa.array([1.5, float("nan"), None]), "part.parquet", "depth")
    [1.5, None, None]
    """
    kind = column.type
    if pa.types.is_dictionary(kind):
        column = column.dictionary_decode()
        kind = column.type
    if pa.types.is_floating(kind):
        return _floats(column, kind)
    if pa.types.is_decimal(kind):
        return _floats(column.cast(pa.float64()), pa.float64())
    if pa.types.is_timestamp(kind):
        local = column if kind.tz is None else pc.local_timestamp(column)
        return _list(local.cast(pa.timestamp("us"), safe=False))
    if pa.types.is_duration(kind):
        return _list(column.cast(pa.duration("us"), safe=False))
    if pa.types.is_time64(kind):
        return _list(column.cast(pa.time64("us"), safe=False))
    if _is_plain(kind):
        return _list(column)
    raise InputError(
        say(
            '"{file}": column "{name}" is of the type {kind}, which no cell can hold. Write it as text, '
            "number or date, or leave it out.",
            file=file,
            name=name,
            kind=kind,
        )
    )


def _is_plain(kind: Any) -> bool:
    types = pa.types
    tests = (
        types.is_integer,
        types.is_boolean,
        types.is_string,
        types.is_large_string,
        types.is_date,
        types.is_time32,
        types.is_null,
        getattr(types, "is_string_view", types.is_null),  # not in older versions
    )
    return any(test(kind) for test in tests)


def _list(column: Any) -> list[object]:
    found: list[object] = column.to_pylist()
    return found


def _floats(column: Any, kind: Any) -> list[object]:
    """Numbers; those of single precision as the shortest decimal they stand for, which is what was meant."""
    values = column.to_numpy(zero_copy_only=False)
    if not pa.types.is_float64(kind):
        values = values.astype(str).astype(np.float64)
    return [None if math.isnan(value) else value for value in values.tolist()]
