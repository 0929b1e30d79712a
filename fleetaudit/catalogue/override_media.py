"""Rows of the user's Media sheet laid over the media of the catalogue, or added to them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from msgspec.structs import replace

from fleetaudit.catalogue.entries import nearest
from fleetaudit.catalogue.kinds import BY_KEY, BY_NAME, ENDS, TRIPLES, FigureKind
from fleetaudit.catalogue.limits import faults
from fleetaudit.catalogue.model import Catalogue, Figure, Medium
from fleetaudit.catalogue.sheets import Cell, Ledger, OverrideRow, blank
from fleetaudit.catalogue.shipped import FLAGS, GUARDS, words_of
from fleetaudit.catalogue.spelling import look_up, normalise

_NAMES = ("medium", "key", "name")
_WORDS = ("name", "mesh", "family")
_LISTS = re.compile(r"[;,\n]")
_LIFE = frozenset(BY_NAME[name].key for name in TRIPLES["life"])
FIELDS = frozenset({*_NAMES, *_WORDS, "guard", "synonyms", "suits", "like", "source", "note", *FLAGS}) | (
    BY_NAME.keys() | BY_KEY.keys() | ENDS.keys() | TRIPLES.keys()
)


class MediaDraft:
    """Media being changed; `mine` holds the spellings the user's rows claim, which win over shipped ones."""

    def __init__(self, catalogue: Catalogue, ledger: Ledger) -> None:
        self.catalogue = catalogue
        self.ledger = ledger
        self.media = {medium.key: medium for medium in catalogue.media}
        self.table = dict(catalogue.synonyms)
        self.mine: dict[str, str] = {}

    def lay(self, row: OverrideRow) -> None:
        """Lay one row over the medium it names, or add that medium."""
        self.ledger.unknown(row, FIELDS)
        word = row.first(*_NAMES)
        if word is None:
            self.ledger.report(row, "names no medium. Fill the medium column.")
            return
        figures = self._figures(row)
        old = self._known(str(word)) or self._new(row, str(word), figures)
        if old is None:
            return
        changed = self._changed(row, old, figures)
        for fault in faults(changed.figures, self.catalogue.bounds, changed.porous):
            self.ledger.report(row, f"cannot be used: {fault}.")
        self.media[changed.key] = changed
        self._claim(row, changed, str(word))

    def finish(self) -> tuple[Medium, ...]:
        """Media with each spelling left to the one that now owns it; new media come last."""
        return tuple(
            replace(
                medium,
                synonyms=tuple(w for w in medium.synonyms if self.table.get(normalise(w)) == medium.key),
            )
            for medium in self.media.values()
        )

    def _known(self, word: str) -> Medium | None:
        key = look_up(self.table, word)
        return self.media[key] if key else None

    def _new(self, row: OverrideRow, word: str, figures: Mapping[str, Figure]) -> Medium | None:
        like = row.values.get("like")
        if not blank(like):
            pattern = self._known(str(like))
            if pattern is None:
                self.ledger.report(
                    row, f'is to be like "{like}", which is no known medium.{nearest(str(like), self.table)}'
                )
                return None
            return replace(pattern, key=_key(word), name=word, synonyms=(), usual=False)
        if not {"rate_low_m_s", "rate_high_m_s"} <= figures.keys():
            self.ledger.report(
                row,
                f'names "{word}", which is no known medium.{nearest(normalise(word), self.table)} '
                "A new medium needs rate_low and rate_high, or a known medium under like.",
            )
            return None
        common = {key: figure for key, figure in self._common().items() if key not in figures}
        return Medium(_key(word), word, (), "", _key(word), True, common, porous=True)

    def _common(self) -> Mapping[str, Figure]:
        first = self.catalogue.media[0].figures
        return {key: first[key] for key in first if key.startswith("wash_")}

    def _figures(self, row: OverrideRow) -> dict[str, Figure]:
        found: dict[str, Figure] = {}
        for name, cell in row.values.items():
            if blank(cell):
                continue
            if name in ENDS or (name in TRIPLES and isinstance(cell, str)):
                found.update(self._ends(row, name, cell))
            elif name in BY_NAME or name in BY_KEY:
                kind = BY_NAME.get(name) or BY_KEY[name]
                figure = self.ledger.figure(row, name, cell, kind.us, si=name == kind.key)
                if figure is not None:
                    found[kind.key] = self._ranged(kind, figure)
            elif name in TRIPLES:
                self.ledger.report(
                    row, f"gives one number for {name}. Write a range, or use {', '.join(TRIPLES[name])}."
                )
        return self._whole_life(found)

    def _ends(self, row: OverrideRow, name: str, cell: Cell) -> dict[str, Figure]:
        names = ENDS.get(name) or TRIPLES[name]
        kinds = [BY_NAME[part] for part in names]
        whole = self.ledger.figure(row, name, cell, kinds[0].us, si=False)
        if whole is None:
            return {}
        values = (whole.low, whole.high) if name in ENDS else (whole.low, whole.value, whole.high)
        ends = (replace(whole, value=value, low=value, high=value) for value in values)
        return {kind.key: self._ranged(kind, end) for kind, end in zip(kinds, ends, strict=True)}

    def _ranged(self, kind: FigureKind, figure: Figure) -> Figure:
        if figure.low < figure.high or kind.spread not in self.catalogue.spreads:
            return figure
        low, high = self.catalogue.spreads[kind.spread].around(figure.value, figure.trust)
        return replace(figure, low=low, high=high)

    @staticmethod
    def _whole_life(found: dict[str, Figure]) -> dict[str, Figure]:
        """Give a life without ends the ends of its range: the user's word replaces the whole figure."""
        life = found.get("life_s")
        if life is not None:
            found.setdefault("life_low_s", replace(life, value=life.low, high=life.value))
            found.setdefault("life_high_s", replace(life, value=life.high, low=life.value))
        return found

    def _changed(self, row: OverrideRow, old: Medium, figures: Mapping[str, Figure]) -> Medium:
        merged = dict(old.figures)
        for key, figure in figures.items():
            merged[key] = figure.instead_of(old.figures.get(key))
        parts: dict[str, Any] = {
            name: str(row.values[name]) for name in _WORDS if not blank(row.values.get(name))
        }
        for name in FLAGS:
            cell = row.values.get(name)
            answer = None if blank(cell) else self.ledger.yes(row, name, cell)
            if answer is not None:
                parts[name] = answer
        parts.update(self._choices(row))
        if _LIFE & figures.keys():
            parts["life_by_purpose"] = {}
        if "contact_time_s" in figures:
            parts["contact_time_by_purpose"] = {}
        ordered = {key: merged[key] for key in BY_KEY if key in merged}
        return replace(old, figures=ordered, **parts)

    def _choices(self, row: OverrideRow) -> dict[str, Any]:
        found: dict[str, Any] = {}
        guard = row.values.get("guard")
        if not blank(guard):
            word = str(guard).strip().casefold().replace(" ", "-")
            if word in GUARDS:
                found["guard"] = word
            else:
                self.ledger.report(row, f'has "{guard}" under guard. Write {", ".join(GUARDS)}.')
        suits = row.values.get("suits")
        if not blank(suits):
            found["suits"] = tuple(filter(None, (self._purpose(row, word) for word in _split(suits))))
        return found

    def _purpose(self, row: OverrideRow, word: str) -> str | None:
        key = self.catalogue.find_purpose(word)
        if key is None:
            close = nearest(normalise(word), self.catalogue.purpose_synonyms)
            self.ledger.report(row, f'has the unknown purpose "{word}" under suits.{close}')
        return key

    def _claim(self, row: OverrideRow, medium: Medium, word: str) -> None:
        typed = [word, medium.name, *(_split(row.values.get("synonyms")))]
        for spelling in typed:
            plain = normalise(spelling)
            owner = self.mine.setdefault(plain, medium.key)
            if owner != medium.key:
                self.ledger.report(
                    row, f'claims "{spelling}", which another row gives to {owner}. Keep it in one of them.'
                )
            self.table[plain] = owner
        added = tuple(word for word in typed if word not in words_of(medium))
        self.media[medium.key] = replace(medium, synonyms=(*medium.synonyms, *dict.fromkeys(added)))
        self.table.setdefault(normalise(medium.key), medium.key)


def _key(word: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", word.strip().casefold()).strip("-") or "medium"


def _split(cell: Cell) -> list[str]:
    return [] if blank(cell) else [part.strip() for part in _LISTS.split(str(cell)) if part.strip()]
