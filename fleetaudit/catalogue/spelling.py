"""Words as people type them, brought to one form so that they can be looked up."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping

_SIEVES = re.compile(r"(?<=\d)\s*[x/×]\s*(?=\d)")
MESH = re.compile(r"\b\d+x\d+\b")
_STOPS = re.compile(r"\.(?!\d)")
_OTHERS = re.compile(r"[^\w%#.]+|_")
_TAILS = ("filter media", "filter medium", "media", "medium", "filter", "bed", "tank")


def normalise(text: str) -> str:
    """Lower case, one blank between words, sieve sizes as 12x40, the word mesh and full stops dropped.

    >>> normalise("Act. Carbon (12 x 40 mesh)")
    'act carbon 12x40'
    """
    plain = unicodedata.normalize("NFKC", text).casefold()
    plain = _STOPS.sub("", _SIEVES.sub("x", plain))
    words = _OTHERS.sub(" ", plain).split()
    return " ".join(word for word in words if word != "mesh")


def look_up(table: Mapping[str, str], text: str) -> str | None:
    """Entry of a spelling, also where the cell adds a word such as "media" or "tank" at the end."""
    plain = normalise(text)
    if plain in table:
        return table[plain]
    for tail in _TAILS:
        if plain.endswith(" " + tail):
            return table.get(plain.removesuffix(" " + tail))
    return None
