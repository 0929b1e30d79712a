"""Arguments to arrays and back, and repeated rows worked out once."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Positions = NDArray[np.int64]
Bits = NDArray[np.uint64]

_FEW = 100  # numbers at most to be gone through one by one; a place among them has to fit a byte
_MULTIPLIER = np.uint64(0x9E3779B97F4A7C15)  # odd, and its bits follow no rule


def floats(*values: ArrayLike) -> list[Floats]:
    """All values as float64 arrays of their common shape."""
    return list(np.broadcast_arrays(*(np.asarray(value, dtype=np.float64) for value in values)))


def distinct(values: Positions) -> Positions:
    """Distinct values, rising.

    As `np.unique`, which loads all of masked arrays to ask whether it was given one.

    >>> distinct(np.array([3, 1, 3])).tolist()
    [1, 3]
    """
    ordered = np.sort(values)
    first = np.ones(ordered.size, dtype=np.bool_)
    first[1:] = ordered[1:] != ordered[:-1]
    return ordered[first]


def place_among(few: Floats, values: Floats, *, after_same: bool = False) -> Positions:
    """Place of each value among few rising numbers, before those that are the same or after; last for NaN.

    As `np.searchsorted`, which is slow where values follow no order: the processor foresees none of its
    branches, and a pass for each number has none.

    >>> place_among(np.array([5.0, 7.0, 8.0]), np.array([7.0, 6.0, 9.0, np.nan])).tolist()
    [1, 1, 3, 3]
    """
    if few.size > _FEW:
        return np.searchsorted(few, values, side="right" if after_same else "left")
    place = np.zeros(values.shape, dtype=np.int8)
    for number in few:
        place += ~((values < number) if after_same else (values <= number))
    return place.astype(np.int64)


def only(possible: Flags | np.bool_, values: Floats) -> Floats:
    """`values` where possible, else NaN; a scalar comes back as one."""
    return np.where(possible, values, np.nan)[()]


def bits_of(column: Floats | Positions | Flags) -> Bits:
    """A column as 64-bit numbers, the same for the same numbers (NaN equals NaN, -0 equals 0)."""
    if column.dtype.kind != "f":
        return column.astype(np.int64).view(np.uint64)
    plain = column + 0.0
    nothing = np.isnan(plain)
    if nothing.any():
        plain[nothing] = np.nan
    return plain.view(np.uint64)


def fingerprints(columns: Sequence[Bits]) -> Bits:
    """One 64-bit number per row, the same for the same numbers."""
    seen = np.zeros(columns[0].size, dtype=np.uint64)
    for bits in columns:
        # Multiply and fold, as in the finaliser of a common hash, so that every bit of a row counts.
        seen ^= bits
        seen *= _MULTIPLIER
        seen ^= seen >> np.uint64(32)
    seen *= _MULTIPLIER
    return seen


def _first_alike(numbers: Bits) -> Positions:
    """For every number the position of the first that is the same.

    By a table of positions that has some four times as many slots as there are numbers: numbers that meet
    another in their slot go through it again by other bits of theirs.
    """
    shift = np.uint64(64 - numbers.size.bit_length() - 2)
    slots = np.empty(1 << (64 - int(shift)), dtype=np.int64)
    alike = np.empty(numbers.size, dtype=np.int64)
    rest, turned = np.arange(numbers.size), numbers
    while rest.size:
        slot = (turned >> shift).astype(np.int64)
        slots[slot[::-1]] = rest[::-1]  # so that the first is what stays
        found = slots[slot]
        other = numbers[found] != numbers[rest]
        alike[rest] = found
        rest, turned = rest[other], turned[other] * _MULTIPLIER
    return alike


def distinct_rows(columns: Sequence[Floats | Positions | Flags]) -> tuple[Positions, Positions]:
    """Position of the first row of each kind, and for every row the kind; columns are one-dimensional."""
    held = [bits_of(column) for column in columns]
    return distinct_bits(held, fingerprints(held))


def distinct_bits(held: Sequence[Bits], prints: Bits) -> tuple[Positions, Positions]:
    """`distinct_rows` of columns as `bits_of` gives them, with the `fingerprints` of the rows."""
    alike = _first_alike(prints)
    everyone = np.arange(alike.size)
    if not all(np.array_equal(bits[alike], bits) for bits in held):
        return everyone, everyone  # two kinds share a fingerprint: take every row for itself
    own = alike == everyone
    return np.flatnonzero(own), (np.cumsum(own) - 1)[alike]


def once_per_row(function: Callable[..., Floats], *columns: Floats) -> Floats:
    """Work out `function(*columns)` of one-dimensional columns once for each distinct row."""
    first, kind = distinct_rows(columns)
    return function(*(column[first] for column in columns))[kind]
