"""Collects what there is to say about a sheet; remarks that say the same of several cells become one."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from msgspec import Struct, field

from fleetaudit.language import say
from fleetaudit.schema.column import Column
from fleetaudit.schema.remark import Level, Remark
from fleetaudit.workbook.place import address, quoted

NAMED = 3
#: stands for the first addresses in the text of a remark
CELLS = "{cells}"


class Log(Struct):
    """Remarks about one sheet; `problems` are those that stop the run."""

    sheet: str
    remarks: list[Remark] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)

    def stop(self, sentence: str) -> None:
        """Note something that makes the sheet unusable."""
        self.problems.append(sentence)

    def cells(self, rows: Iterable[int], column: int) -> tuple[str, ...]:
        """Addresses of cells of one column."""
        name = quoted(self.sheet)
        return tuple(f"{name}!{address(int(row), column)}" for row in rows)

    def add(
        self,
        level: Level,
        kind: str,
        text: str,
        cells: Sequence[str] = (),
        *,
        read: str = "",
        assumed: str = "",
        effect: str = "",
        column: str = "",
    ) -> None:
        """Add a remark; `{cells}` in the text stands for the first addresses."""
        told = say(text)
        told = told.replace(CELLS, named(cells)) if cells else told
        self.remarks.append(Remark(level, kind, told, tuple(cells), read, say(assumed), say(effect), column))


def spoken(column: Column) -> str:
    """Title of a column as it stands inside a sentence."""
    title = say(column.title)
    return title[:1].lower() + title[1:]


def named(cells: Sequence[str]) -> str:
    """First addresses in words, as "Units!F17, F22, F30 and 11 more".

    >>> named(["Units!F2", "Units!F3", "Units!F4", "Units!F9", "Units!F11"])
    'Units!F2, F3, F4 and 2 more'
    """
    first = [cells[0], *(cell.rpartition("!")[2] for cell in cells[1:NAMED])]
    rest = len(cells) - len(first)
    return ", ".join(first) + (f" {say('and {count:,} more', count=rest)}" if rest else "")
