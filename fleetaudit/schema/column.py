"""The Column type: all that is known of one column, written in one place."""

from __future__ import annotations

from enum import IntEnum

from msgspec import Struct, field

from fleetaudit.schema.quantity import Kind, Quantity


class Origin(IntEnum):
    """Where the value of a cell came from; its unit's origin where that is the weaker one."""

    ABSENT = 0
    TYPED = 1
    HEADER = 2
    FORMAT = 3
    DEFAULT = 4
    FILLED = 5
    GUESSED = 6
    CONFLICT = 7


class Missing(IntEnum):
    """Why a value is not known; 0 where it is."""

    KNOWN = 0
    BLANK = 1
    NO_COLUMN = 2
    UNREADABLE = 3
    NOT_IN_CATALOGUE = 4
    NO_FIGURE = 5
    CONFLICT = 6
    ASSUMED = 7
    IMPLAUSIBLE = 8
    NEVER_CALCULATED = 9


MISSING_WORDS = {
    Missing.KNOWN: "",
    Missing.BLANK: "blank",
    Missing.NO_COLUMN: "no such column",
    Missing.UNREADABLE: "unreadable",
    Missing.NOT_IN_CATALOGUE: "not in the catalogue",
    Missing.NO_FIGURE: "the catalogue has no figure for it",
    Missing.CONFLICT: "inputs contradict each other",
    Missing.ASSUMED: "only an assumed value is known",
    Missing.IMPLAUSIBLE: "the value cannot be true",
    Missing.NEVER_CALCULATED: "the formula was never calculated",
}


class Column(Struct, frozen=True):
    """One column of a sheet.

    `bounds` are the limits, in SI, outside which a value cannot be true. `choices` are the words the
    column takes, each with other spellings. `needed` says that an audit without the column makes no sense.
    """

    name: str
    title: str
    quantity: Quantity
    doc: str
    aliases: tuple[str, ...] = ()
    bounds: tuple[float, float] | None = None
    choices: dict[str, tuple[str, ...]] = field(default_factory=dict)
    choices_from: str = ""
    needed: bool = False
    example: str = ""

    @property
    def key(self) -> str:
        """Name of the column in the frame: the name with its SI suffix."""
        return self.name + self.quantity.suffix

    @property
    def numeric(self) -> bool:
        """True where the frame holds float64."""
        return self.quantity.kind in (Kind.NUMBER, Kind.DATE)

    @property
    def spoken(self) -> str:
        """Title as it stands inside a sentence."""
        return self.title[:1].lower() + self.title[1:]

    def __hash__(self) -> int:
        return hash(self.name)
