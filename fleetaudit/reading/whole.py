"""What only the whole of a list tells of its columns, for lists that are read in parts.

How a column of texts means its commas and its days is settled by all of its texts, and a column that is
blank throughout counts as absent. Each part tells what it knows, `+` puts it together, and every part is
then read as it would be within the whole.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from msgspec import Struct, field

from fleetaudit.facts.frame import Frame
from fleetaudit.reading import dates, grammar
from fleetaudit.reading.cells import Strip
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Column
from fleetaudit.schema.quantity import Kind


class Whole(Struct, frozen=True):
    """What a list in parts tells as a whole.

    `filled` names columns in which some row gives something, `typed` those in which some cell is not empty.
    `witnesses` are texts by column that settle marks and dates as all texts of the column together do.
    """

    filled: frozenset[str] = frozenset()
    typed: frozenset[str] = frozenset()
    witnesses: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def __add__(self, other: Whole) -> Whole:
        names = {**self.witnesses, **other.witnesses}
        together = {
            name: _fewest(
                fleet.BY_NAME[name], (*self.witnesses.get(name, ()), *other.witnesses.get(name, ()))
            )
            for name in sorted(names)
        }
        return Whole(self.filled | other.filled, self.typed | other.typed, together)

    @property
    def settled(self) -> tuple[object, ...]:
        """What decides how a part is read; two that agree in it read every cell alike."""
        return (
            self.filled,
            self.typed,
            {name: _settled(fleet.BY_NAME[name], texts) for name, texts in self.witnesses.items()},
        )


class Part(Struct, frozen=True):
    """A part of a list: how many rows of the file stand above it, and what the whole list tells."""

    rows_above: int = 0
    whole: Whole = field(default_factory=Whole)


def told(frame: Frame, strips: Mapping[str, Strip]) -> Whole:
    """What a part that was read tells for the whole."""
    witnesses = {}
    for name, strip in strips.items():
        if strip.column.quantity.kind in (Kind.NUMBER, Kind.DATE):
            texts = (cell.value for cell in strip.distinct if isinstance(cell.value, str))
            found = _fewest(strip.column, texts)
            if found:
                witnesses[name] = found
    typed = frozenset(name for name, strip in strips.items() if not strip.blank.all())
    return Whole(frozenset(frame.missing), typed, dict(sorted(witnesses.items())))


def _settled(column: Column, texts: tuple[str, ...]) -> object:
    return dates.column_order(texts)[::2] if _is_date(column) else grammar.decimal_mark(texts)


def _is_date(column: Column) -> bool:
    return column.quantity.kind is Kind.DATE


def _fewest(column: Column, texts: Iterable[str]) -> tuple[str, ...]:
    """As few of the texts as settle the column in the same way; the same few in whatever order they come."""
    dated = _is_date(column)
    kept: dict[object, set[str]] = {}
    for text in texts:
        says = dates.proves(text) if dated else grammar.hint(text)
        if says is not None:
            kept.setdefault(says, set()).add(text)
    most = 1 if dated else grammar.EVIDENCE
    return tuple(sorted(text for several in kept.values() for text in sorted(several)[:most]))
