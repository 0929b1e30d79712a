"""Help and messages about a wrong call, in the language of `--language` or of the shell."""

from __future__ import annotations

import gettext
import inspect
import os

import click
import click.decorators
import pytest

from fleetaudit.cli import speaking
from fleetaudit.cli.main import COMMANDS, main
from fleetaudit.language import ENGLISH, LANGUAGES, words_of
from tests.make_texts import commands

OTHERS = tuple(code for code in LANGUAGES if code != ENGLISH)


def called(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> tuple[str, str]:
    with pytest.raises(SystemExit):
        main(arguments)
    out, err = capsys.readouterr()
    return out, err


def flat(text: str) -> str:
    return " ".join(text.split()).replace("- ", "-")  # lines break behind a hyphen too


def of_help(command: click.Command) -> list[str]:
    """Texts of a command's help that are more than a word."""
    options = [param.help for param in command.params if isinstance(param, click.Option)]
    texts = [text for _, text in speaking.paragraphs(command.help or "")] + options
    return [flat(text) for text in texts if text]


@pytest.mark.parametrize("code", OTHERS)
@pytest.mark.parametrize("name", ["main", *COMMANDS])
def test_help_of_every_command_is_in_the_language_of_the_shell(name, code, monkeypatch, capsys):
    monkeypatch.setenv("LC_ALL", f"{code}_ES.UTF-8")
    out, _ = called([*([] if name == "main" else [name]), "--help"], capsys)
    shown, words = flat(out), {flat(text): flat(other) for text, other in words_of(code).items()}
    for text in of_help(commands()[name]):
        assert words[text] in shown and text not in shown
    assert max(map(len, out.splitlines())) <= 80
    # what Click says of its own accord
    assert not [text for text in ("Usage:", "Options:", "default:", "[required]", "Show this") if text in out]


@pytest.mark.parametrize("name", ["main", *COMMANDS])
def test_help_is_english_again_where_nobody_asks_for_another(name, monkeypatch, capsys):
    monkeypatch.setenv("LC_ALL", "es_ES.UTF-8")
    arguments = [*([] if name == "main" else [name]), "--help"]
    called(arguments, capsys)
    monkeypatch.setenv("LC_ALL", "C")
    out, _ = called(arguments, capsys)
    assert out.startswith("Usage: fleetaudit") and "Show this message and exit." in out
    assert all(text in flat(out) for text in of_help(commands()[name]))
    assert speaking.GETTEXT_LANGUAGE not in os.environ


@pytest.mark.parametrize(
    ("shell", "words", "language"),
    [
        ({}, [], "en"),
        ({"LANG": "es_MX.UTF-8"}, [], "es"),
        ({"LANG": "es"}, [], "es"),
        ({"LANG": "es-AR"}, [], "es"),
        ({"LANG": "fr_FR.UTF-8"}, [], "en"),
        ({"LANG": "es_MX.UTF-8", "LC_MESSAGES": "en_US.UTF-8"}, [], "en"),
        ({"LANG": "es_MX.UTF-8", "LC_ALL": "C"}, [], "en"),
        ({"LANG": "en_US.UTF-8", "LC_ALL": "", "LC_MESSAGES": "es_ES@euro"}, [], "es"),
        ({"LANG": "es_MX.UTF-8"}, ["audit", "--language", "en"], "en"),
        ({}, ["audit", "a.xlsx", "--language=es", "--help"], "es"),
        ({}, ["audit", "--language", "xx"], "en"),
        ({}, ["audit", "--language"], "en"),
    ],
)
def test_the_option_goes_before_the_shell(shell, words, language, monkeypatch):
    for name in speaking.LOCALES:
        monkeypatch.delenv(name, raising=False)
    for name, value in shell.items():
        monkeypatch.setenv(name, value)
    assert speaking.wanted(words) == language


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["audti"], 'No existe el comando "audti". ¿Quiso decir "audit"?'),
        (["fleet.xlsx"], 'Para revisar un libro: fleetaudit audit "fleet.xlsx"'),
        (["audit"], "fleetaudit audit necesita más: fleetaudit audit LIBRO|DATOS"),
        (["audit", "none.xlsx"], 'No hay archivo "none.xlsx"'),
        (["audit", "a.xlsx", "--ownr-page"], 'la opción --ownr-page. ¿Quiso decir "--owner-page"?'),
        (["audit", "a.xlsx", "--force=1"], "--force no lleva valor"),
        (["audit", "a.xlsx", "--json"], "--json necesita un valor después."),
        (["audit", "a.xlsx", "--units", "si"], 'uno de estos valores: us, metric; no "si".'),
        (["audit", "a.xlsx", "--due-within", "-3"], 'un número de 0 a 36500, no "-3".'),
        (["audit", "a.xlsx", "--as-of", "may"], '"may" no es una fecha. Escríbala como 2026-11-01.'),
        (["explain", "a.xlsx", "U", "1"], 'fleetaudit explain no sabe qué hacer con "1".'),
        (["size", "--media", "sand", "--vessel", "13x54", "--cold", "5psi"], "no es unidad de temperatura"),
    ],
)
def test_what_is_wrong_with_a_call_is_said_in_the_language_of_the_shell(arguments, told, monkeypatch, capsys):
    monkeypatch.setenv("LC_ALL", "es_MX.UTF-8")
    out, err = called(arguments, capsys)
    assert told in err and not out
    words = {text: other for text, other in words_of("es").items() if text != other and " " in text}
    assert not [text for text in words if "{" not in text and len(text) > 12 and text in err]


@pytest.mark.parametrize("code", OTHERS)
def test_what_click_says_is_compiled_for_gettext_and_in_step(code):
    source = inspect.getsource(click.core) + inspect.getsource(click.decorators)
    source += inspect.getsource(click.formatting)
    compiled = gettext.translation(speaking.DOMAIN, str(speaking.FOLDER), languages=[code])
    for text in speaking.CLICK_SAYS:
        assert f'"{text}"' in source, f"Click no longer says {text!r}"
        assert compiled.gettext(text) == words_of(code)[text] != text
