"""Entries of the data files -> figures in SI, with every problem named by file and key."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any

from msgspec.structs import replace

from fleetaudit.catalogue.kinds import BY_NAME, ENDS, TRIPLES, FigureKind, dimension, factor, to_si
from fleetaudit.catalogue.model import Figure, Source, Spread
from fleetaudit.language import say

Entry = Mapping[str, Any]

_FIELDS = frozenset({"value", "low", "high", "unit", "at", "source", "trust", "purposes", "doc"})
_TRUSTS = ("high", "medium", "low")


def nearest(word: str, known: Iterable[str]) -> str:
    """Sentence that offers the closest known word, or "" where none is close."""
    from difflib import get_close_matches  # noqa: PLC0415 - for a mistyped word only

    close = get_close_matches(word, list(known), n=1, cutoff=0.6)
    return " " + say('Did you mean "{name}"?', name=close[0]) if close else ""


class Desk:
    """Reads figures and collects what is wrong with them; `used` tells which sources were needed."""

    def __init__(self, sources: Mapping[str, Source], spreads: Mapping[str, Spread]) -> None:
        self.sources = sources
        self.spreads = spreads
        self.problems: list[str] = []
        self.used: set[str] = set()
        self.purposes: frozenset[str] = frozenset()
        self.bounds: Mapping[str, Figure] = {}

    def source(self, entry: Entry, where: str) -> tuple[str, str]:
        """Source id and trust of an entry."""
        key = entry.get("source")
        if not key:
            self.problems.append(f"{where} has no source. Name one of sources.toml.")
            return "", "low"
        if key not in self.sources:
            self.problems.append(
                f'{where} names the source "{key}", not in sources.toml.{nearest(key, self.sources)}'
            )
            return key, "low"
        self.used.add(key)
        return key, self._trust(entry, self.sources[key], where)

    def _trust(self, entry: Entry, source: Source, where: str) -> str:
        trust = entry.get("trust") or (
            "high" if source.read == "read" or source.kind == "own choice" else None
        )
        if trust not in _TRUSTS:
            self.problems.append(
                f"{where} comes from memory or practice and needs trust = high, medium or low."
            )
            return "low"
        return str(trust)

    def figure(self, entry: Entry, where: str, spread: str = "", geometric: bool = False) -> Figure | None:
        """Figure of one entry; a lone value gets the spread of its kind, a lone range its middle."""
        source, trust = self.source(entry, where)
        numbers = self._numbers(entry, where)
        if numbers is None:
            return None
        value, low, high = numbers
        if math.isnan(value):
            value = math.sqrt(low * high) if geometric and low > 0 else (low + high) / 2
        if math.isnan(low):
            low, high = self.spread(value, spread, trust)
        elif not low <= value <= high:
            self.problems.append(f"{where}: low, value and high are not in that order.")
        return Figure(value, low, high, entry["unit"], entry.get("at", ""), source, trust)

    def spread(self, value: float, name: str, trust: str) -> tuple[float, float]:
        """Range assumed about a value that came without one."""
        known = self.spreads.get(name)
        return known.around(value, trust) if known else (value, value)

    def _numbers(self, entry: Entry, where: str) -> tuple[float, float, float] | None:
        for name in entry.keys() - _FIELDS:
            self.problems.append(f'{where} has an unknown part "{name}".{nearest(name, _FIELDS)}')
        unit = entry.get("unit")
        if not unit:
            self.problems.append(f'{where} has no unit. Write unit = "1" for a plain number.')
            return None
        both = "low" in entry and "high" in entry
        if ("low" in entry) != ("high" in entry) or not (both or "value" in entry):
            self.problems.append(f"{where} needs a value, or low and high.")
            return None
        if dimension(unit) is None:
            self.problems.append(f'{where} has the unit "{unit}", which the table of units does not hold.')
            return None
        scale, offset = factor(unit)
        value, low, high = (entry.get(part, math.nan) for part in ("value", "low", "high"))
        return (value + offset) * scale, (low + offset) * scale, (high + offset) * scale

    def figures_of(self, name: str, entry: Entry, where: str) -> dict[str, Figure]:
        """Figures of one line of a medium by SI key: one, a pair of ends, or low, middle and high."""
        usual = BY_NAME[(ENDS.get(name) or TRIPLES.get(name) or (name,))[0]].us
        measured = dimension(entry.get("unit", ""))
        if measured is not None and measured != dimension(usual):
            self.problems.append(
                f'{where} has the unit "{entry["unit"]}", which measures something else than {usual}.'
            )
            return {}
        if name in ENDS:
            return self._ends(ENDS[name], entry, where)
        if name in TRIPLES:
            return self._triple(TRIPLES[name], entry, where)
        kind = BY_NAME[name]
        found = self.figure(entry, where, kind.spread, kind.geometric)
        return {} if found is None else {kind.key: found}

    def _ends(self, names: tuple[str, ...], entry: Entry, where: str) -> dict[str, Figure]:
        whole = self.figure(entry, where)
        if whole is None:
            return {}
        return {
            BY_NAME[n].key: self._end(BY_NAME[n], end, whole)
            for n, end in zip(names, (whole.low, whole.high), strict=True)
        }

    def _triple(self, names: tuple[str, str, str], entry: Entry, where: str) -> dict[str, Figure]:
        middle = BY_NAME[names[1]]
        whole = self.figure(entry, where, geometric=middle.geometric)
        if whole is None:
            return {}
        low, high = (
            self._end(BY_NAME[n], end, whole) for n, end in ((names[0], whole.low), (names[2], whole.high))
        )
        return {BY_NAME[names[0]].key: low, middle.key: whole, BY_NAME[names[2]].key: high}

    def _end(self, kind: FigureKind, value: float, whole: Figure) -> Figure:
        low, high = self.spread(value, kind.spread, whole.trust)
        return replace(whole, value=value, low=low, high=high)


def read_spreads(table: Entry) -> dict[str, Spread]:
    """Spread table of media.toml; amounts are carried to SI without an offset."""
    found: dict[str, Spread] = {}
    for name, row in table.items():
        if name == "source":
            continue
        absolute = isinstance(row, dict)
        scale = (to_si(1.0, row["unit"]) - to_si(0.0, row["unit"])) if absolute else 1.0
        high, medium, low = (float(part) * scale for part in (row["value"] if absolute else row))
        found[name] = Spread(high, medium, low, absolute)
    return found
