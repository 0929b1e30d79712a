"""What a check is, and what it answers for every unit."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from enum import IntEnum

import numpy as np
from msgspec import Struct, field

from fleetaudit.facts.fact import Fact
from fleetaudit.facts.frame import Codes, Flags, Floats
from fleetaudit.facts.view import View
from fleetaudit.schema.column import Column
from fleetaudit.schema.quantity import Quantity


class Tier(IntEnum):
    """What the manager has to do."""

    NOW = 0
    PLAN = 1
    NOTE = 2

    @property
    def word(self) -> str:
        """The word shown."""
        return self.name.lower()


class Confidence(IntEnum):
    """How far a finding may be trusted."""

    SURE = 0
    LIKELY = 1
    MEASURE_FIRST = 2

    @property
    def word(self) -> str:
        """The word shown."""
        return self.name.lower().replace("_", "-")


class Once(IntEnum):
    """How often a finding is said in reports that group; a unit's own list always holds it."""

    PER_UNIT = 0
    PER_ACCOUNT = 1
    PER_COLUMN = 2


class Words:
    """A phrase that differs from unit to unit: `codes` picks one of `phrases`, several words make a list."""

    def __init__(self, codes: Codes | Flags, phrases: Sequence[str | tuple[str, ...]]) -> None:
        self.codes = np.asarray(codes, dtype=np.int64)
        self.phrases = tuple((phrase,) if isinstance(phrase, str) else phrase for phrase in phrases)

    def of(self, unit: int) -> str:
        """The phrase for one unit."""
        return ", ".join(self.phrases[int(self.codes[unit])])


class Outcome(Struct, frozen=True):
    """Answer of one check for all units.

    `applies`: False is not-applicable, never a pass. `uses`: the facts needed; where one is not known the
    unit is not-checked for its reason, unless `missing` gives the reasons outright. `found`: the defect.
    `numbers`: what the sentences quote. `probability`: that the finding is true, NaN where nobody can tell.
    `holds`, for checks without one: the finding stands wherever in their ranges the assumed values lie.
    `capped`: likely at most, however probable. `doubt`: two inputs contradict each other, or so much is
    assumed that the unit has to be measured first. `tier`: where it differs from unit to unit. `apart`: the
    finding rests on none of the cells that could not be read, though other findings of the check would.
    """

    applies: Flags
    found: Flags
    uses: tuple[Fact, ...] = ()
    numbers: Mapping[str, Fact | Floats] = field(default_factory=dict)
    words: Mapping[str, Words] = field(default_factory=dict)
    missing: Codes | None = None
    holds: Flags | None = None
    doubt: Flags | None = None
    probability: Floats | None = None
    capped: Flags | None = None
    tier: Codes | None = None
    cell: Codes | None = None
    apart: Flags | None = None


class Check(Struct, frozen=True):
    """One check: placeholders of `message`, `why`, `fix` are named in `numbers` or in the outcome's words."""

    slug: str
    title: str
    tier: Tier
    needs: tuple[Column, ...]
    message: str
    why: str
    fix: str
    run: Callable[[View], Outcome]
    numbers: Mapping[str, Quantity] = field(default_factory=dict)
    core: bool = False
    once: Once = Once.PER_UNIT
    figures: tuple[str, ...] = ()
    source: str = ""
    caution: str = ""
    absent_column_said_once: bool = False

    @property
    def cell(self) -> Column | None:
        """Column whose cell a finding points at."""
        return self.needs[-1] if self.needs else None


def yes(view: View) -> Flags:
    """All units."""
    return np.ones(view.units, dtype=bool)


def tiers(base: Tier, raised: Flags) -> Codes:
    """`base`, but now where `raised`."""
    return np.where(raised, int(Tier.NOW), int(base))
