"""Text as people type it, brought to plain characters without changing what it says."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Sequence
from datetime import date, datetime, time, timedelta
from typing import Any

from fleetaudit.catalogue.other_languages import bare

_FRACTIONS = {
    "¼": "1/4",
    "½": "1/2",
    "¾": "3/4",
    "⅐": "1/7",
    "⅑": "1/9",
    "⅒": "1/10",
    "⅓": "1/3",
    "⅔": "2/3",
    "⅕": "1/5",
    "⅖": "2/5",
    "⅗": "3/5",
    "⅘": "4/5",
    "⅙": "1/6",
    "⅚": "5/6",
    "⅛": "1/8",
    "⅜": "3/8",
    "⅝": "5/8",
    "⅞": "7/8",
}
_FRACTION = re.compile(f"(\\d?)[ \u00a0\u3000]*([{''.join(_FRACTIONS)}])")
_POWER = re.compile(r"(?<=[0-9])[⁰¹²³⁴-⁹]")
_INVISIBLE = re.compile(
    "[\u00ad\u200b-\u200f\u202a-\u202e\u2060-\u2064\ufeff]|[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]"
)
_DASHES = re.compile("[\u2010-\u2015\u2212\u2043\ufe58]")
_INCHES = re.compile("[\u201c-\u201f\u2033\u301d\u301e]|''|\u2032\u2032|\u2019\u2019")
_FEET = re.compile("[\u2018-\u201b\u2032\u00b4`]")
_BLANKS = re.compile(r"\s+")
_PLAIN = re.compile(r"[!-~]+(?: [!-~]+)*")
#: what printable characters between the ends of lines may not hold where each line is to be plain
_NOT_PLAIN = ("  ", "\n ", " \n", "''", "`")


def plain(text: str) -> str:
    """Text with one kind of blank, dash, quote and digit; a power such as 10² stays, since it is no 102.

    >>> plain("１０\u00a0½ ″ ×  54"), plain("9½"), plain("10²")
    ('10 1/2 " × 54', '9 1/2', '10²')
    """
    if _PLAIN.fullmatch(text) and "''" not in text and "`" not in text:
        return text
    text = _INVISIBLE.sub("", text)
    text = _FRACTION.sub(
        lambda found: f"{found[1]} {_FRACTIONS[found[2]]}" if found[1] else _FRACTIONS[found[2]], text
    )
    text = _INCHES.sub('"', text)
    kept = _POWER.findall(text)
    if not kept:
        text = unicodedata.normalize("NFKC", text)
    text = text.replace("\u2044", "/").replace("\u2215", "/")
    text = _FEET.sub("'", _DASHES.sub("-", text))
    return _BLANKS.sub(" ", text).strip()


def plains(texts: Sequence[str]) -> list[str]:
    """The same as `plain` for each text, for all at once where none of them is out of the ordinary.

    >>> plains(["10x54", "coconut shell"]), plains(["10x54", "9½"])
    (['10x54', 'coconut shell'], ['10x54', '9 1/2'])
    """
    joined = "\n".join(("", *texts, ""))
    ordinary = (
        joined.isascii()
        and joined.replace("\n", "").isprintable()
        and joined.count("\n") == len(texts) + 1
        and not any(mark in joined for mark in _NOT_PLAIN)
    )
    return list(texts) if ordinary else [plain(text) for text in texts]


def folded(text: str) -> str:
    """Text for comparing words: small letters, one blank, no accents.

    >>> folded(" Día  y CUADRILLA ")
    'dia y cuadrilla'
    """
    return " ".join(bare(plain(text).casefold()).split())


def cut(text: str, length: int = 60) -> str:
    """Text of the user as a message quotes it: no longer than a line takes, the cut marked.

    >>> cut("ten"), len(cut("ten " * 40))
    ('ten', 60)
    """
    return text if len(text) <= length else text[: length - 1] + "…"


def shown(value: object) -> str:
    """Value of a cell as text a person recognises."""
    if isinstance(value, str):
        return value
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    writer = next((writer for kind, writer in _WRITERS if isinstance(value, kind)), None)
    return writer(value) if writer else "" if value is None else str(value)


def _moment(value: datetime) -> str:
    return value.isoformat(" ", "minutes") if value.time() != time() else value.date().isoformat()


_WRITERS: tuple[tuple[type, Callable[[Any], str]], ...] = (
    (float, lambda value: f"{value:.15g}"),
    (datetime, _moment),
    (date, lambda value: value.isoformat()),
    (time, lambda value: value.isoformat("minutes")),
    (timedelta, lambda value: f"{value.total_seconds() / 60:g} min"),
)
