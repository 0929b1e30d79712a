"""What audits of several parts of one fleet need not work out again."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

from fleetaudit.catalogue.model import Catalogue
from fleetaudit.hydraulics.kept import Kept

Result = TypeVar("Result")


class Worked:
    """What hangs on the catalogue alone, or on few numbers of a unit besides.

    Much of that comes again from part to part. It belongs to one catalogue and is passed along with the parts
    (`scale.partitions`); no result changes by it, in whatever order the parts come. With `keep` False
    nothing is kept that hangs on the numbers of units: a frame audited by itself goes through them once.
    """

    def __init__(self, catalogue: Catalogue, *, keep: bool = True) -> None:
        self.catalogue = catalogue
        self._keep = keep
        self._memory: dict[Any, Any] = {}

    def remember(self, key: Any, make: Callable[[], Result]) -> Result:
        """The remembered answer for `key`, made on first use; it may hang on the catalogue alone."""
        if key not in self._memory:
            self._memory[key] = make()
        found: Result = self._memory[key]
        return found

    def kept(self, what: str, most: int, columns: int, width: int) -> Kept:
        """Answers of a kind that rest on so many numbers and the catalogue, `most` of them at most."""
        return self.remember(("kept", what), lambda: Kept(most if self._keep else 0, columns, width))
