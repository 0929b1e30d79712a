"""Records made column by column: what is alike is put into words once, equal values are one object."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Sequence
from typing import Any, TypeVar

import numpy as np
from msgspec import Struct

from fleetaudit.facts.frame import Codes

Made = TypeVar("Made")
Record = TypeVar("Record", bound=Struct)
Kept = TypeVar("Kept", bound=Hashable)


def said_once(make: Callable[..., Made], *columns: Sequence[Any]) -> list[Made]:
    """What `make` gives for each row of the columns; it is called once for rows that are the same.

    >>> said_once("{} of {}".format, [1, 1, 2], ["a", "a", "b"])
    ['1 of a', '1 of a', '2 of b']
    """
    known: dict[tuple[Any, ...], Made] = {}
    made = []
    for row in zip(*columns, strict=True):
        if row not in known:
            known[row] = make(*row)
        made.append(known[row])
    return made


def shared(values: Iterable[Kept]) -> list[Kept]:
    """The values, those that are equal as one object."""
    kept: dict[Kept, Kept] = {}
    return [kept.setdefault(value, value) for value in values]


def picked(values: Sequence[Made], places: Codes) -> list[Made]:
    """The value at each of the places, counted from the end where negative; equal places share one object."""
    objects = np.fromiter(values, dtype=object, count=len(values))
    return list(objects[places].tolist())


def each_once(make: Callable[[Any], Made], values: np.ndarray[Any, Any]) -> list[Made]:
    """What `make` gives for each value; it is called once for values that are the same."""
    distinct, places = np.unique(values, return_inverse=True)
    return picked([make(value) for value in distinct.tolist()], places)


def records(kind: type[Record], **fields: Sequence[Any]) -> list[Record]:
    """Records of a kind, `fields` giving each of its fields for all of them."""
    rows = zip(*(fields[name] for name in kind.__struct_fields__), strict=True)
    return [kind(*row) for row in rows]
