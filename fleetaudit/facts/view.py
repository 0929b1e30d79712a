"""Read access to a partition of the fleet for facts and checks; each fact is worked out once."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from functools import wraps
from typing import Any, TypeVar

from msgspec import Struct, field

from fleetaudit.catalogue import arrays
from fleetaudit.catalogue.arrays import Sought
from fleetaudit.catalogue.model import Catalogue
from fleetaudit.facts.frame import Codes, Flags, Floats, Frame
from fleetaudit.facts.worked import Worked
from fleetaudit.schema import fleet

Result = TypeVar("Result")


class Fleetwide(Struct, frozen=True):
    """What only the whole fleet tells; made by adding up the counts of its partitions.

    `repeats` counts rows by unit id and vessel label; `restrictor_unit_doubtful` says that the restrictor
    column has no unit and fits the fleet better in another one, named in `restrictor_unit_better`.
    """

    repeats: Mapping[str, int] = field(default_factory=dict)
    restrictor_unit_doubtful: bool = False
    restrictor_unit_better: str = ""


class View:
    """A frame, the catalogue and the date of the audit; remembers every fact it was asked for."""

    def __init__(
        self,
        frame: Frame,
        catalogue: Catalogue,
        as_of_day: float,
        due_within_s: float,
        fleetwide: Fleetwide | None = None,
        worked: Worked | None = None,
    ) -> None:
        self.frame = frame
        self.catalogue = catalogue
        self.as_of_day = as_of_day
        self.due_within_s = due_within_s
        self.fleetwide = fleetwide or Fleetwide()
        fits = worked is not None and worked.catalogue is catalogue
        self.worked = worked if worked is not None and fits else Worked(catalogue, keep=False)
        self._memory: dict[Any, Any] = {}

    @property
    def units(self) -> int:
        """Number of units in the partition."""
        return self.frame.units

    @property
    def medium(self) -> Codes:
        """Medium of each unit as its index in the catalogue, -1 where unknown."""
        return self.frame.code(fleet.MEDIUM.name)

    @property
    def purposes(self) -> Sought:
        """What each unit is there to take out."""
        return Sought(self.frame.code(fleet.PURPOSE.name), self.frame.purposes)

    def setting(self, key: str) -> float:
        """A setting in force, in SI."""
        return self.catalogue.number(key)

    def figure(self, key: str) -> tuple[Floats, Floats, Floats]:
        """Value, low and high of a figure of each unit's medium [SI], NaN where there is none."""
        return self.remember(("figure", key), lambda: arrays.pick(self._by_code(key), self.medium))

    def usual(self, key: str) -> Floats:
        """The value alone of a figure of each unit's medium [SI]."""
        return self.remember(("usual", key), lambda: self._by_code(key)[0][self.medium])

    def _by_code(self, key: str) -> tuple[Floats, Floats, Floats]:
        return self.worked.remember(("figure", key), lambda: arrays.table(self.catalogue, key))

    def flag(self, name: str) -> Flags:
        """A yes-or-no property of each unit's medium; False where the medium is unknown."""
        return self.remember(("flag", name), lambda: arrays.flag(self.catalogue, self.medium, name))

    def remember(self, key: Any, make: Callable[[], Result]) -> Result:
        """The remembered answer for `key`, made on first use."""
        if key not in self._memory:
            self._memory[key] = make()
        found: Result = self._memory[key]
        return found

    def keep_only(self, facts: Iterable[Callable[[View], object]]) -> None:
        """Let go of every remembered answer but those of some facts; what is asked again is made again."""
        kept = {getattr(fact, "__wrapped__", fact) for fact in facts}
        self._memory = {key: found for key, found in self._memory.items() if key in kept}


def remembered(function: Callable[[View], Result]) -> Callable[[View], Result]:
    """Make a function of the view answer from the view's memory after the first call."""

    @wraps(function)
    def ask(view: View) -> Result:
        return view.remember(function, lambda: function(view))

    return ask
