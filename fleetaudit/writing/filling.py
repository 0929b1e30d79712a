"""Templates filled with the words of many findings at once, and what makes a sentence of the result."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

_HOLE = re.compile(r"\{(\w+)\}")
#: "7 gpm to 9 gpm", to be said as "7 to 9 gpm"
_SPAN = re.compile(r"([\d.,]+) (\S+) (to|a|y) ([\d.,]+ \2)")
_TO = re.compile(r" (?:to|a|y) \d")
#: words of the user, whose braces are no holes
VERBATIM = "raw"
DEPTH = 3


class Filler:
    """Fills templates; a template and the words in its holes make a text once."""

    def __init__(self) -> None:
        self._made: dict[str, dict[tuple[str, ...], str]] = {}

    def sentences(self, template: str, words: Mapping[str, Sequence[str]], count: int) -> list[str]:
        """Template filled with the words of each finding, `words` holding those of all of them by hole."""
        filled = self._filled(template, words, range(count), 0)
        capitals = {text: text[:1].upper() + text[1:] for text in set(filled)}
        return [capitals[text] for text in filled]

    def _filled(
        self, template: str, words: Mapping[str, Sequence[str]], places: Sequence[int], depth: int
    ) -> list[str]:
        """Template filled for the findings at some places, the holes of its words filled first."""
        holes = _HOLE.findall(template)
        if not holes:
            return [_joined(template)] * len(places)
        columns = []
        for hole in holes:
            said = words[hole]
            column = [said[place] for place in places]
            if depth < DEPTH and hole != VERBATIM:
                for word in filter(_asks, set(column)):
                    mine = [number for number, text in enumerate(column) if text == word]
                    inside = self._filled(word, words, [places[number] for number in mine], depth + 1)
                    for number, text in zip(mine, inside, strict=True):
                        column[number] = text
            columns.append(column)
        made, pattern = self._made.setdefault(template, {}), _HOLE.sub("%s", template.replace("%", "%%"))
        texts = []
        for key in zip(*columns, strict=True):
            if key not in made:
                made[key] = _joined(pattern % key)
            texts.append(made[key])
        return texts


def _asks(word: str) -> bool:
    """True for a word that has holes of its own, or figures to be joined."""
    return "{" in word or _TO.search(word) is not None


def _joined(text: str) -> str:
    """Two figures of one unit with the unit said once."""
    return _SPAN.sub(r"\1 \3 \4", text) if _TO.search(text) else text
