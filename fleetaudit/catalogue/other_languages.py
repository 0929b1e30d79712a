"""Spellings of other languages than English, from files of data: of headings, choices and media."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping
from functools import lru_cache

from fleetaudit.assets import read_table
from fleetaudit.language import ENGLISH, LANGUAGES


def bare(text: str) -> str:
    """Text without accents.

    >>> bare("Diámetro")
    'Diametro'
    """
    if text.isascii():
        return text
    apart = unicodedata.normalize("NFD", text)
    return "".join(sign for sign in apart if not unicodedata.combining(sign))


def both(spellings: Iterable[str]) -> tuple[str, ...]:
    """Spellings with their accents and without."""
    return tuple(dict.fromkeys(form for spelling in spellings for form in (spelling, bare(spelling))))


@lru_cache(maxsize=16)
def spellings(*path: str) -> Mapping[str, tuple[str, ...]]:
    """Spellings by what they mean, of one table: "columns", "media", or "choices" and a column.

    >>> spellings("choices", "water_source")["well"][0]
    'pozo'
    """
    found: dict[str, tuple[str, ...]] = {}
    for code in LANGUAGES:
        if code == ENGLISH:
            continue
        table = read_table(f"data/spellings.{code}.toml")
        for name in path:
            table = table.get(name, {})
        for key, words in table.items():
            found[key] = (*found.get(key, ()), *both(words))
    return found
