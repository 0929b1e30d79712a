"""A call that is typed wrong is answered in one sentence that says what to type instead, and code 2."""

from __future__ import annotations

import pytest

from fleetaudit.cli.main import COMMANDS, main


def called(args, capsys):
    with pytest.raises(SystemExit) as left:
        main(args)
    out, err = capsys.readouterr()
    return left.value.code, out, err


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (["audit"], ["fleetaudit audit needs more: fleetaudit audit", "WORKBOOK"]),
        (["explain", "fleet.xlsx"], ["fleetaudit explain needs more: fleetaudit explain WORKBOOK UNIT"]),
        (["audit", "a.xlsx", "--ownr-page"], ["no option --ownr-page", 'Did you mean "--owner-page"?']),
        (["audit", "a.xlsx", "--qqqq"], ["fleetaudit audit has no option --qqqq. All options"]),
        (["audit", "a.xlsx", "--units", "metrik"], ['--units takes one of us, metric, not "metrik".']),
        (["audit", "a.xlsx", "--language", "fr"], ['--language takes one of en, es, not "fr".']),
        (["audit", "a.xlsx", "--due-within", "ten"], ['a number from 0 to 36500, not "ten".']),
        (["audit", "a.xlsx", "--due-within", "99999"], ['a number from 0 to 36500, not "99999".']),
        (["audit", "a.xlsx", "--json"], ["--json needs a value after it.", "fleetaudit audit --help"]),
        (
            ["audit", "a.xlsx", "--json", "--force"],
            ["--json needs a value after it.", "fleetaudit audit --help"],
        ),
        (["route", "a.xlsx", "-o", "--force"], ["-o needs a value after it.", "fleetaudit route --help"]),
        (["audit", "a.xlsx", "--settings", "."], ['--settings ".": a file is wanted']),
        (["audit", "a.xlsx", "--as-of", "soon"], ['"soon" is not a date. Write it as 2026-11-01.']),
        (["catalogue", "a", "b", "c"], ['does not know what to do with "b c"']),
        (["audti"], ['There is no command "audti". Did you mean "audit"?']),
        (["fleet.xlsx"], ['To audit a workbook: fleetaudit audit "fleet.xlsx"']),
        (["--foo"], ["fleetaudit has no option --foo."]),
    ],
)
def test_a_wrong_call_is_told_what_to_type(args, said, capsys):
    code, out, err = called(args, capsys)
    assert code == 2 and out == ""
    assert all(text in err for text in said), err
    assert len(err.strip().splitlines()) == 1 and "--help" in err
    assert not any(word in err for word in ("Error", "Usage", "Invalid", "argument", "Traceback"))


@pytest.mark.parametrize("command", COMMANDS)
def test_help_leads_with_examples_in_eighty_columns(command, capsys):
    code, out, err = called([command, "--help"], capsys)
    lines = out.splitlines()
    assert code == 0 and err == ""
    first = next(number for number, line in enumerate(lines) if line.strip() == "Examples:")
    assert first <= 3 and lines[first + 1].split()[0] == "fleetaudit"
    assert f"fleetaudit {command}" in out and max(map(len, lines)) <= 80


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_the_shell_is_offered_commands_and_options(shell, monkeypatch, capsys):
    """The script for the shell comes out, and asks the program itself for what can stand next."""
    monkeypatch.setenv("_FLEETAUDIT_COMPLETE", f"{shell}_source")
    _, out, _ = called([], capsys)
    assert "_FLEETAUDIT_COMPLETE" in out and "fleetaudit" in out
    monkeypatch.setenv("_FLEETAUDIT_COMPLETE", f"{shell}_complete")
    monkeypatch.setenv("COMP_WORDS", "fleetaudit audit --own")
    monkeypatch.setenv("COMP_CWORD", "2" if shell != "fish" else "--own")
    _, out, _ = called([], capsys)
    assert "--owner-page" in out
