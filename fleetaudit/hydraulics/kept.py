"""Answers kept from one part of a fleet to the next, under the exact numbers that they rest on."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from fleetaudit.hydraulics.arrays import Bits, Floats, Positions, bits_of, distinct_bits, fingerprints

_SLOTS_EACH = 4  # slots for each answer, so that few share one
_AT_FIRST, _GROWTH = 256, 3  # rows there is room for, and how many times as many where that is full


class Kept:
    """Rows of `width` numbers, each under the `columns` numbers it rests on.

    What is kept is what working it out again would give, so nothing changes by it but the time. There are
    `most` at most; then it begins anew. The place of a row stands in the slot of its fingerprint, or in the
    next that was free.
    """

    def __init__(self, most: int, columns: int, width: int) -> None:
        self._most = most
        self._keys = np.empty((0, columns), dtype=np.uint64)
        self._answers = np.empty((0, width))
        self._used = 0
        self._make_room(min(_AT_FIRST, most))

    def _make_room(self, rows: int) -> None:
        """Room for so many, with those that are kept put into slots anew."""
        for name in ("_keys", "_answers"):
            held = getattr(self, name)
            larger = np.empty((rows, held.shape[1]), dtype=held.dtype)
            larger[: self._used] = held[: self._used]
            setattr(self, name, larger)
        bits = (rows * _SLOTS_EACH + 1).bit_length()
        self._shift = np.uint64(64 - bits)
        self._place = np.full(1 << bits, -1, dtype=np.int32)
        self._put(fingerprints([*self._keys[: self._used].T]), np.arange(self._used))

    def _slots(self, prints: Bits) -> Positions:
        return (prints >> self._shift).astype(np.int64)

    def of(self, columns: Sequence[Floats], work_out: Callable[[Positions], Floats]) -> Floats:
        """Answers to rows of columns; `work_out` gives those of some places, of shape (places, width).

        It is asked for one row of each kind that is not kept.
        """
        answers, place = self.places(columns, work_out)
        return np.asarray(answers[place])

    def places(
        self, columns: Sequence[Floats], work_out: Callable[[Positions], Floats]
    ) -> tuple[Floats, Positions]:
        """Answers that are kept, and which of them each row has; those are never changed."""
        held = [bits_of(column) for column in columns]
        prints = fingerprints(held)
        place = self._places(held, prints)
        new = np.flatnonzero(place < 0)
        first, kind = distinct_bits([bits[new] for bits in held], prints[new])
        if self._used + len(first) > self._most:
            self._used = 0
            self._make_room(len(self._keys))
            new = np.arange(len(place))
            first, kind = distinct_bits(held, prints)
            if len(first) > self._most:
                return work_out(first), kind
        if len(first):
            one = new[first]
            keys = np.stack([bits[one] for bits in held], axis=1)
            place[new] = self._keep(keys, prints[one], work_out(one))[kind]
        return self._answers, place

    def _places(self, held: Sequence[Bits], prints: Bits) -> Positions:
        """Place of the answer to each row, -1 where it is not kept."""
        slot = self._slots(prints)
        place = np.full(len(slot), -1)
        rest = np.arange(len(slot))
        while rest.size:
            there = self._place[slot]
            taken = there >= 0
            rest, slot, there = rest[taken], slot[taken], there[taken]
            keys = np.stack([bits[rest] for bits in held], axis=1)
            mine = (self._keys[there] == keys).all(axis=1)
            place[rest[mine]] = there[mine]
            rest, slot = rest[~mine], self._next(slot[~mine])
        return place

    def _put(self, prints: Bits, places: Positions) -> None:
        """Put places of rows that are not kept yet into slots of theirs."""
        slot = self._slots(prints)
        while places.size:
            free = self._place[slot] < 0
            self._place[slot[free]] = places[free]
            others = self._place[slot] != places
            places, slot = places[others], self._next(slot[others])

    def _next(self, slot: Positions) -> Positions:
        return (slot + 1) % len(self._place)

    def _keep(self, keys: Bits, prints: Bits, answers: Floats) -> Positions:
        """Keep the answers to some rows; the place of each."""
        fresh = np.arange(self._used, self._used + len(answers))
        if self._used + len(fresh) > len(self._keys):
            self._make_room(min(self._most, _GROWTH * (self._used + len(fresh))))
        self._used += len(fresh)
        self._answers[fresh] = answers
        self._keys[fresh] = keys
        self._put(prints, fresh)
        return fresh
