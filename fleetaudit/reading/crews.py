"""Crew names that may be one crew written in several ways; they are shown, never merged."""

from __future__ import annotations

import re
from collections.abc import Iterable

from fleetaudit.reading.plain import plain

_WORD = re.compile(r"[^\W_]+")


def alike(names: Iterable[str]) -> list[list[str]]:
    """Groups of different names that have the same words, or the same but for an initial.

    >>> alike(["B. Wren", "Wren B", "wren ", "Plover"])
    [['B. Wren', 'Wren B', 'wren ']]
    """
    by_words: dict[frozenset[str], list[str]] = {}
    for name in dict.fromkeys(names):
        by_words.setdefault(frozenset(_WORD.findall(plain(name).casefold())), []).append(name)
    by_core: dict[frozenset[str], list[frozenset[str]]] = {}
    for words in by_words:
        long = frozenset(word for word in words if len(word) > 1)
        initials_only = len(words) - len(long) <= 1 and any(not word.isdigit() for word in long)
        by_core.setdefault(long if initials_only else words, []).append(words)
    groups = []
    for core, members in by_core.items():
        initials = {word for words in members for word in words - core}
        several = [members] if len(initials) <= 1 else [[words] for words in members]
        groups += [[name for words in group for name in by_words[words]] for group in several]
    return [group for group in groups if len(group) > 1]
