"""What a cell says a bed is there to take out: one purpose or several."""

from __future__ import annotations

import re

from msgspec import Struct

from fleetaudit.catalogue.model import Catalogue

#: what stands between purposes, the surest marks first: a slash or "and" may belong to one purpose's name
_MARKS = (
    re.compile(r"[,;|+]|(?:^|\s)plus\s", re.IGNORECASE),
    re.compile(r"\s+(?:and|with|y|e|con)\s+|&|/", re.IGNORECASE),
)


class Purposes(Struct, frozen=True):
    """Keys of the purposes a cell names, those that guard health first, and the parts that name none."""

    keys: tuple[str, ...]
    unknown: tuple[str, ...]


def purposes_in(catalogue: Catalogue, text: str) -> Purposes:
    """Purposes a cell names, in the order they stand there but for those that guard health, which lead."""
    found: list[str] = []
    unknown: list[str] = []
    _part(catalogue, text, _MARKS, found, unknown)
    guards = {purpose.key: purpose.guards for purpose in catalogue.purposes}
    keys = sorted(dict.fromkeys(found), key=lambda key: not guards[key])
    return Purposes(tuple(keys), tuple(unknown))


def _part(
    catalogue: Catalogue,
    text: str,
    marks: tuple[re.Pattern[str], ...],
    found: list[str],
    unknown: list[str],
) -> None:
    """Take a text whole where it names a purpose, else cut it at the next marks, at last into words."""
    text = text.strip(" .")
    whole = catalogue.find_purpose(text)
    if whole is not None:
        found.append(whole)
    elif marks:
        for piece in marks[0].split(text):
            _part(catalogue, piece, marks[1:], found, unknown)
    elif text:
        named = _among_words(catalogue, text.split())
        found += named
        unknown += [] if named else [text]


def _among_words(catalogue: Catalogue, words: list[str]) -> list[str]:
    """Purposes that stand in a row of words, the longest names first."""
    found: list[str] = []
    start = 0
    while start < len(words):
        for end in range(len(words), start, -1):
            key = catalogue.find_purpose(" ".join(words[start:end]))
            if key is not None:
                found.append(key)
                start = end - 1
                break
        start += 1
    return found
