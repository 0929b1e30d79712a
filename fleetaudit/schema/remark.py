"""What reading has to say about the file, row by row: skipped, guessed, defaulted."""

from __future__ import annotations

from enum import IntEnum

from msgspec import Struct


class Level(IntEnum):
    """How much a remark matters: stop, a value skipped, an assumption made, said for completeness."""

    STOP = 0
    SKIP = 1
    WARN = 2
    INFO = 3


class Remark(Struct, frozen=True):
    """One remark. `kind` groups like remarks; `cells` are addresses such as Units!F17.

    `read` is what stood there, `assumed` what was taken instead ("" where nothing was), `effect` what that
    changes.
    """

    level: Level
    kind: str
    text: str
    cells: tuple[str, ...] = ()
    read: str = ""
    assumed: str = ""
    effect: str = ""
    column: str = ""
