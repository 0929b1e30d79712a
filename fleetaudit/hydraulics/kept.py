"""Answers kept from one part of a fleet to the next, under the exact numbers that they rest on."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from fleetaudit.hydraulics.arrays import Floats, Positions


class Kept:
    """Rows of `width` numbers, each under the numbers it rests on; so many at most, then it begins anew.

    What is kept is what working it out again would give, so nothing changes by it but the time.
    """

    def __init__(self, most: int, width: int) -> None:
        self._held = np.empty((most, width))
        self._place: dict[bytes, int] = {}
        self._used = 0

    def of(self, columns: Sequence[Floats], work_out: Callable[[Positions], Floats]) -> Floats:
        """Answers to rows of columns; `work_out` gives those of some places, of shape (places, width)."""
        count = columns[0].size
        if count > len(self._held):
            return work_out(np.arange(count))
        keys = np.stack(columns, axis=1).view(f"V{8 * len(columns)}").ravel().tolist()
        new = np.array([place for place, key in enumerate(keys) if key not in self._place], dtype=np.int64)
        if self._used + len(new) > len(self._held):
            self._place, self._used, new = {}, 0, np.arange(count)
        if len(new):
            last = self._used + len(new)
            self._held[self._used : last] = work_out(new)
            fresh = [keys[place] for place in new.tolist()]
            self._place.update(zip(fresh, range(self._used, last), strict=True))
            self._used = last
        return self._held[[self._place[key] for key in keys]]
