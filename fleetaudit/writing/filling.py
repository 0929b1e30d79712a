"""Templates filled with the words of many findings at once, and what makes a sentence of the result."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from fleetaudit.writing.alike import said_once

_HOLE = re.compile(r"\{(\w+)\}")
#: "7 gpm to 9 gpm", to be said as "7 to 9 gpm"
_SPAN = re.compile(r"([\d.,]+) (\S+) (to|a|y) ([\d.,]+ \2)")
_TO = re.compile(r" (?:to|a|y) \d")
#: what cells say and what media are called, whose braces are no holes
VERBATIM = ("raw", "medium")
DEPTH = 3


def sentences(template: str, words: Mapping[str, Sequence[str]], count: int) -> list[str]:
    """Template filled with the words of each finding, `words` holding those of all of them by hole."""
    texts = _filled(template, words, range(count), 0)
    capitals = {text: text[:1].upper() + text[1:] for text in set(texts)}
    return [capitals[text] for text in texts]


def _filled(
    template: str, words: Mapping[str, Sequence[str]], places: Sequence[int], depth: int
) -> list[str]:
    """Template filled for the findings at some places, the holes of its words filled first.

    A word may be a name out of the user's own sheets too, whose braces stay where they are no hole of ours.
    """
    holes = [hole for hole in _HOLE.findall(template) if not depth or hole in words]
    if not holes:
        return [_joined(template)] * len(places)
    columns = []
    for hole in holes:
        said = words[hole]
        column = [said[place] for place in places]
        if depth < DEPTH and hole not in VERBATIM:
            for word in filter(_asks, set(column)):
                mine = [number for number, text in enumerate(column) if text == word]
                inside = _filled(word, words, [places[number] for number in mine], depth + 1)
                for number, text in zip(mine, inside, strict=True):
                    column[number] = text
        columns.append(column)
    pattern = _HOLE.sub(lambda hole: "%s" if hole[1] in holes else hole[0], template.replace("%", "%%"))
    return said_once(lambda *key: _joined(pattern % key), *columns)


def _asks(word: str) -> bool:
    """True for a word that has holes of its own, or figures to be joined."""
    return "{" in word or _TO.search(word) is not None


def _joined(text: str) -> str:
    """Two figures of one unit with the unit said once."""
    return _SPAN.sub(r"\1 \3 \4", text) if _TO.search(text) else text
