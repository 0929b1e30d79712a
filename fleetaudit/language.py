"""Texts in the reader's language: English stands in the code, every other language is one file of texts.

`data/texts.<code>.po` holds, for each English text, what the language says instead; a text it does not hold
is said in English. English itself looks nothing up and loads nothing.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date
from types import MappingProxyType

ENGLISH = "en"
#: languages there are files for, English first; the names are those of the languages themselves
LANGUAGES = {ENGLISH: "English", "es": "Español"}
_NOTHING: Mapping[str, str] = MappingProxyType({})
_words: ContextVar[Mapping[str, str]] = ContextVar("words", default=_NOTHING)
_code: ContextVar[str] = ContextVar("code", default=ENGLISH)
#: ways to write a day, by what a setting or an option calls them
DATE_STYLES = {"iso": "%Y-%m-%d", "month-first": "%m/%d/%Y", "day-first": "%d/%m/%Y", "dotted": "%d.%m.%Y"}
ISO = "iso"
_dates: ContextVar[str] = ContextVar("dates", default=ISO)
_ENTRY = re.compile(r'^(msgid|msgstr)? ?(".*")$')


class Later(str):
    """An English text that knows what it was made of, so that it can be said in another language later."""

    __slots__ = ("holes", "template")

    template: str
    holes: dict[str, object]


def later(text: str, /, **values: object) -> Later:
    """Text in English, for code that looks at it; `say` turns it into the language that is spoken.

    >>> later("could be {one} or {other}", one="4 May", other="5 April").startswith("could be")
    True
    """
    made = Later(text.format_map(values))
    made.template, made.holes = text, values
    return made


def say(text: str, /, **values: object) -> str:
    """Text in the language that is spoken, its holes filled.

    >>> say("{count:,} units", count=1200)
    '1,200 units'
    """
    words = _words.get()
    if words:
        if isinstance(text, Later):
            values, text = text.holes, text.template
        text = words.get(text, text)
    return text.format_map(values) if values else text


def several(count: int, one: str, many: str, /, **values: object) -> str:
    """Text for one thing or for several; `{count}` stands for how many.

    >>> several(1, "1 unit", "{count:,} units"), several(7, "1 unit", "{count:,} units")
    ('1 unit', '7 units')
    """
    return say(one if count == 1 else many, count=count, **values)


def dated(day: date) -> str:
    """A day as the reader writes days."""
    style = _dates.get()
    return day.isoformat() if style == ISO else day.strftime(DATE_STYLES[style])


def code() -> str:
    """Code of the language that is spoken, as pages name it."""
    return _code.get()


@contextmanager
def spoken(language: str, dates: str = ISO) -> Iterator[None]:
    """Speak a language and write days in a style until the end of the block, in this thread."""
    with told(words_of(language), language):
        before = _dates.set(dates)
        try:
            yield
        finally:
            _dates.reset(before)


@contextmanager
def meanwhile(language: str | None, dates: str | None = None) -> Iterator[None]:
    """Speak what was asked for, else go on as before, until it is known what the files themselves ask for."""
    with spoken(language or code(), dates or ISO):
        yield


@contextmanager
def told(words: Mapping[str, str], language: str) -> Iterator[None]:
    """Speak with the given texts until the end of the block."""
    before, code_before = _words.set(words), _code.set(language)
    try:
        yield
    finally:
        _words.reset(before)
        _code.reset(code_before)


def words_of(language: str) -> Mapping[str, str]:
    """English texts with what a language says instead."""
    if language == ENGLISH:
        return _NOTHING
    from fleetaudit.assets import prepared  # noqa: PLC0415 - English, and whoever takes this alone, read no file

    words: dict[str, str] = prepared(f"data/texts.{language}.po", read_entries)
    return words


def in_every_language(text: str) -> tuple[str, ...]:
    """A text as each language says it, English first: what a file written in any of them may hold.

    >>> in_every_language("Account")
    ('Account', 'Cliente')
    """
    return tuple(dict.fromkeys((text, *(words_of(code).get(text, text) for code in LANGUAGES))))


def read_entries(text: str) -> dict[str, str]:
    r"""Entries of a file of texts (the PO format of gettext, without plural forms and contexts).

    >>> read_entries('msgid "one "\n"unit"\nmsgstr "una unidad"\n')
    {'one unit': 'una unidad'}
    """
    import json  # noqa: PLC0415 - English reads no file

    found: dict[str, str] = {}
    parts: dict[str, str] = {}
    field = ""
    for line in [*text.splitlines(), 'msgid ""']:
        entry = _ENTRY.match(line)
        if entry is None:
            continue
        if entry[1] == "msgid":
            if parts.get("msgid") and parts.get("msgstr"):
                found[parts["msgid"]] = parts["msgstr"]
            parts = {}
        field = entry[1] or field
        parts[field] = parts.get(field, "") + json.loads(entry[2])
    return found
