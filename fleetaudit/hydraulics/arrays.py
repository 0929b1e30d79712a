"""Arguments to arrays and back, and repeated rows worked out once."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Positions = NDArray[np.int64]


def floats(*values: ArrayLike) -> list[Floats]:
    """All values as float64 arrays of their common shape."""
    return list(np.broadcast_arrays(*(np.asarray(value, dtype=np.float64) for value in values)))


def only(possible: Flags | np.bool_, values: Floats) -> Floats:
    """`values` where possible, else NaN; a scalar comes back as one."""
    return np.where(possible, values, np.nan)[()]


def _fingerprints(columns: Sequence[Floats]) -> NDArray[np.uint64]:
    """One 64-bit number per row, the same for the same numbers (NaN equals NaN, -0 equals 0)."""
    seen = np.zeros(columns[0].size, dtype=np.uint64)
    for column in columns:
        bits = (np.where(np.isnan(column), np.nan, column) + 0.0).view(np.uint64)
        # Multiply and fold, as in the finaliser of a common hash, so that every bit of a row counts.
        seen = (seen ^ bits) * np.uint64(0x9E3779B97F4A7C15)
        seen ^= seen >> np.uint64(29)
        seen *= np.uint64(0xBF58476D1CE4E5B9)
        seen ^= seen >> np.uint64(32)
    return seen


def distinct_rows(columns: Sequence[Floats]) -> tuple[Positions, Positions]:
    """Position of one row of each kind, and for every row the kind it is of; columns are one-dimensional."""
    _, first, kind = np.unique(_fingerprints(columns), return_index=True, return_inverse=True)
    same = (np.array_equal(column[first][kind], column, equal_nan=True) for column in columns)
    if all(same):
        return first, kind
    everyone = np.arange(columns[0].size)  # two kinds share a fingerprint: take every row for itself
    return everyone, everyone


def once_per_row(function: Callable[..., Floats], *columns: Floats) -> Floats:
    """Work out `function(*columns)` of one-dimensional columns once for each distinct row."""
    first, kind = distinct_rows(columns)
    return function(*(column[first] for column in columns))[kind]
