"""A fleet audited part by part: memory holds one part, and what looks across parts is added up."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date
from hashlib import blake2b
from typing import TypeVar

import numpy as np
from msgspec import Struct, field
from numpy.typing import NDArray

from fleetaudit import summary
from fleetaudit.auditing.result import AuditResult
from fleetaudit.auditing.run import audit
from fleetaudit.catalogue.model import Catalogue
from fleetaudit.crews import counts as set_ups
from fleetaudit.facts import repeats
from fleetaudit.facts.frame import Frame
from fleetaudit.facts.view import Fleetwide
from fleetaudit.facts.worked import Worked
from fleetaudit.scale.workers import answers

Keys = NDArray[np.uint64]
#: eight bytes of each text
Short = Callable[[Sequence[str]], Keys]
Found = TypeVar("Found")


class Totals(Struct):
    """Counts of audited parts; `+` adds up, in any order and grouping."""

    counts: summary.Counts = field(default_factory=summary.Counts)
    set_ups: set_ups.SetUpCounts = field(default_factory=set_ups.SetUpCounts)

    @classmethod
    def of(cls, result: AuditResult) -> Totals:
        """Counts of one audited part."""
        return cls(summary.count(result), set_ups.count(result))

    def __add__(self, other: Totals) -> Totals:
        return Totals(self.counts + other.counts, self.set_ups + other.set_ups)


def here(texts: Sequence[str]) -> Keys:
    """Eight bytes of each text, the same throughout one process."""
    return np.fromiter(map(hash, texts), dtype=np.int64, count=len(texts)).view(np.uint64)


def anywhere(texts: Sequence[str]) -> Keys:
    """Eight bytes of each text, the same in every process on every machine."""
    # half a character of a pair, as a damaged file may hold, is a text like any other
    digests = [blake2b(text.encode("utf-8", "surrogatepass"), digest_size=8).digest() for text in texts]
    return np.frombuffer(b"".join(digests), dtype="<u8").astype(np.uint64)


def parts_of(frame: Frame, units: int) -> Iterator[Frame]:
    """Parts of a frame with so many units at most."""
    for first in range(0, frame.units, units):
        yield frame.part(first, min(first + units, frame.units))


def fleetwide(
    parts: Iterable[Frame], catalogue: Catalogue, short: Short = here, *, workers: int = 1
) -> Fleetwide:
    """What only the whole fleet tells, from its parts.

    Of an id, eight bytes are kept. Where two parts hold the same eight, `parts` is gone through a second time
    and those ids are counted themselves; hence it must be a list, or something else that starts anew.
    """
    _must_start_anew(parts)
    total, keys = repeats.FleetCounts(), []
    for mine, part in _each(parts, lambda frame: shortened(frame, catalogue, short), workers):
        keys.append(mine)
        total += part
    again = held_twice(keys)
    if len(again):
        counted = _each(parts, lambda frame: counted_again(frame, catalogue, again, short), workers)
        total.repeats = sum(counted, start=Counter())
    return repeats.report(total)


def _each(parts: Iterable[Frame], work: Callable[[Frame], Found], workers: int) -> Iterator[Found]:
    """What some work finds in each part, in order."""
    if isinstance(parts, Sequence):
        return answers(lambda number: work(parts[number]), len(parts), workers)
    return map(work, parts)


def shortened(frame: Frame, catalogue: Catalogue, short: Short) -> tuple[Keys, repeats.FleetCounts]:
    """Eight bytes of each id of a part, and its counts with those ids only that come again within it."""
    held = repeats.keys(frame, catalogue)
    keys = short(held)
    every = np.sort(keys)
    again = _neighbours(every)
    doubtful = np.flatnonzero(np.isin(keys, again)).tolist() if len(again) else []
    times = Counter(held[place] for place in doubtful)
    within = Counter({key: number for key, number in times.items() if number > 1})
    return np.unique(every) if len(again) else every, repeats.count(frame, catalogue, within)


def held_twice(keys: Sequence[Keys]) -> Keys:
    """Eight bytes that ids of two parts share, and so perhaps the ids."""
    every = np.concatenate(keys) if keys else np.empty(0, dtype=np.uint64)
    every.sort(kind="stable")  # each part is in order already
    return _neighbours(every)


def _neighbours(every: Keys) -> Keys:
    """Those of some in order that come more than once."""
    return np.unique(every[1:][every[1:] == every[:-1]])


def counted_again(frame: Frame, catalogue: Catalogue, again: Keys, short: Short) -> Counter[str]:
    """Times each unit stands in a part, of those repeated in it or short for the same eight bytes."""
    held = repeats.keys(frame, catalogue)
    keys = short(held)
    doubtful = np.isin(keys, again) | np.isin(keys, held_twice([keys]))
    return Counter(held[place] for place in np.flatnonzero(doubtful).tolist())


def audit_parts(
    parts: Iterable[Frame],
    catalogue: Catalogue,
    as_of: date,
    due_within_days: float | None = None,
    *,
    workers: int = 1,
    each: Callable[[AuditResult], object] = lambda _: None,
) -> Totals:
    """Counts of a whole fleet that is given in parts.

    A sequence of parts may be shared out among several workers (`workers.answers`); each of them then asks
    for its parts by number and holds one at a time. `each` is called with every result where it was made.
    """
    whole, worked = fleetwide(parts, catalogue, workers=workers), Worked(catalogue)

    def counted(frame: Frame) -> Totals:
        result = audit(frame, catalogue, as_of, whole, due_within_days, worked)
        each(result)
        return Totals.of(result)

    return sum(_each(parts, counted, workers), start=Totals())


def _must_start_anew(parts: Iterable[Frame]) -> None:
    if isinstance(parts, Iterator):
        raise TypeError("The parts are gone through more than once: give a list, not an iterator that ends.")
