"""The language of help and of what is wrong with a call: that of `--language`, else that of the shell.

What Click says itself goes through gettext, which finds it in `data/click/<language>/LC_MESSAGES`.
"""

from __future__ import annotations

import gettext
import os
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from copy import copy
from pathlib import Path

import click

from fleetaudit.language import ENGLISH, LANGUAGES, code, say, spoken

OPTION = "--language"
#: variables in which a shell says its language, the one that holds first
LOCALES = ("LC_ALL", "LC_MESSAGES", "LANG")
#: variable in which gettext looks for a language before all others
GETTEXT_LANGUAGE = "LANGUAGE"
DOMAIN = "click"
FOLDER = Path(__file__).resolve().parents[1] / "data" / DOMAIN
#: what Click says in our help; a call that is wrong is said in our own words
CLICK_SAYS = ("Usage:", "Options", "default: {default}", "required", "Show this message and exit.")
#: what Click calls what is typed, by the name it has for its kind
KINDS = {"text": "TEXT", "integer": "NUMBER", "integer range": "NUMBER", "float range": "NUMBER"}
GROUP_METAVAR = "COMMAND [ARGS]..."
#: marks a paragraph whose lines stay as they are
AS_IT_IS = "\b\n"


def wanted(words: Sequence[str]) -> str:
    """Language of a call, told before its words are parsed."""
    for place, word in enumerate(words):
        name, sign, value = word.partition("=")
        if name == OPTION:
            named = value if sign else next(iter(words[place + 1 :]), "")
            if named in LANGUAGES:
                return named
    shell = next(filter(None, (os.environ.get(name) for name in LOCALES)), "")
    short = re.split(r"[_.@-]", shell)[0].lower()
    return short if short in LANGUAGES else ENGLISH


@contextmanager
def speaking(language: str) -> Iterator[None]:
    """Speak a language on the command line until the end of the block."""
    if language == ENGLISH:
        yield
        return
    domain, before = gettext.textdomain(), os.environ.get(GETTEXT_LANGUAGE)
    gettext.bindtextdomain(DOMAIN, str(FOLDER))
    gettext.textdomain(DOMAIN)
    os.environ[GETTEXT_LANGUAGE] = language
    try:
        with spoken(language):
            yield
    finally:
        gettext.textdomain(domain)
        if before is None:
            del os.environ[GETTEXT_LANGUAGE]
        else:
            os.environ[GETTEXT_LANGUAGE] = before


def said(command: click.Command) -> click.Command:
    """A command with its help in the language that is spoken; the command itself stays as it is."""
    if code() == ENGLISH:
        return command
    other = copy(command)
    other.help = "\n\n".join(
        f"{AS_IT_IS if fixed else ''}{say(text)}" for fixed, text in paragraphs(command.help or "")
    )
    other.options_metavar = say(command.options_metavar or "")
    other._help_option = None  # Click keeps the one it made, in the language of that time
    other.params = [_said(param) for param in command.params]
    if isinstance(other, click.Group):
        other.subcommand_metavar = say(GROUP_METAVAR)
    return other


def paragraphs(text: str) -> list[tuple[bool, str]]:
    r"""Paragraphs of a help text, each with whether its lines stay as they are.

    >>> paragraphs("\b\nExamples:\n  one\n\nWhat it\ndoes.")
    [(True, 'Examples:\n  one'), (False, 'What it does.')]
    """
    return [
        (True, part.removeprefix(AS_IT_IS)) if part.startswith(AS_IT_IS) else (False, " ".join(part.split()))
        for part in text.strip("\n").split("\n\n")
    ]


def _said(param: click.Parameter) -> click.Parameter:
    other = copy(param)
    if param.metavar:
        other.metavar = say(param.metavar)
    if isinstance(other, click.Option):
        other.help = say(other.help or "")
        kind = KINDS.get(other.type.name)
        if kind and not other.metavar and not other.is_flag:
            other.metavar = say(kind)
    return other
