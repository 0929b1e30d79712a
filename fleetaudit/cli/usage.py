"""What was typed wrong on the command line, in one sentence, and what to type instead."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise, takewhile

import click

from fleetaudit.language import say

#: how near an option must be to be offered
NEAR = 0.5


def sentence(trouble: click.UsageError, called: str) -> str:
    """What is wrong with a call, and where help is; `called` is the command where the trouble names none."""
    command = trouble.ctx.command_path if trouble.ctx else f"fleetaudit {called}".rstrip()
    return f"{_wrong(trouble, command)} {say('All options: {command} --help', command=command)}"


def check_values(command: click.Command, words: Sequence[str]) -> None:
    """Raise where an option of a command is followed by another one in place of its value.

    Click takes that other option for the value, and `--json --force` would write a file named "--force".
    """
    options = [param for param in command.params if isinstance(param, click.Option)]
    known = {name for option in options for name in option.opts}
    with_value = {name for option in options if not option.is_flag for name in option.opts}
    for name, following in pairwise(takewhile(lambda word: word != "--", words)):
        if name in with_value and following in known:
            raise click.BadOptionUsage(name, "")


def _wrong(trouble: click.UsageError, command: str) -> str:
    if isinstance(trouble, click.NoSuchOption):
        wrong = say("{command} has no option {option}.", command=command, option=trouble.option_name)
        return wrong + _meant(trouble)
    if isinstance(trouble, click.MissingParameter):
        return _asked(trouble, command)
    if isinstance(trouble, click.BadOptionUsage):
        return _without_value(trouble)
    if isinstance(trouble, click.BadParameter) and trouble.param is not None:
        return _bad_value(trouble, trouble.param)
    if type(trouble) is click.UsageError and trouble.message.startswith("Got unexpected extra argument"):
        extra = trouble.message.partition("(")[2].rstrip(")")
        return say(
            '{command} does not know what to do with "{extra}". Put names with blanks in quotes.',
            command=command,
            extra=extra,
        )
    return trouble.message


def _meant(trouble: click.NoSuchOption) -> str:
    known = [] if trouble.ctx is None else [opt for param in trouble.ctx.command.params for opt in param.opts]
    from difflib import get_close_matches  # noqa: PLC0415 - for a mistyped option only

    near = get_close_matches(trouble.option_name, known, 1, NEAR)
    return " " + say('Did you mean "{name}"?', name=near[0]) if near else ""


def _without_value(trouble: click.BadOptionUsage) -> str:
    """An option that lacks its value, or that was given one it does not take."""
    if "not take a value" in trouble.message:
        return say("{option} takes no value; leave out what follows it.", option=trouble.option_name)
    return say("{option} needs a value after it.", option=trouble.option_name)


def _asked(trouble: click.MissingParameter, command: str) -> str:
    """What is missing, and how the whole is written."""
    param, context = trouble.param, trouble.ctx
    if isinstance(param, click.Option):
        return say("{command} needs {option} with a value after it.", command=command, option=param.opts[0])
    if param is None or context is None:
        return say("{command} needs one thing more.", command=command)
    called = context.command
    pieces = [piece for piece in called.collect_usage_pieces(context) if piece != called.options_metavar]
    return say(
        "{command} needs more: {example}.",
        command=command,
        example=f"{context.command_path} {' '.join(pieces)}",
    )


def _bad_value(trouble: click.BadParameter, param: click.Parameter) -> str:
    name = param.opts[0] if isinstance(param, click.Option) else param.human_readable_name
    kind, wrong = param.type, trouble.message
    typed = (wrong.partition("'")[2].partition("'")[0] or wrong.partition(" ")[0]).strip()
    if isinstance(kind, click.Choice):
        choices = ", ".join(map(str, kind.choices))
        return say(
            '{option} takes one of {choices}, not "{typed}".', option=name, choices=choices, typed=typed
        )
    if isinstance(kind, click.IntRange | click.FloatRange):
        return say(
            '{option} takes a number {between}, not "{typed}".',
            option=name,
            between=_between(kind),
            typed=typed,
        )
    if isinstance(kind, click.Path):
        return f'{name} "{typed}": {_no_path(kind, wrong)}.'
    return f"{name}: {wrong}"


def _no_path(kind: click.Path, wrong: str) -> str:
    folder = kind.dir_okay and not kind.file_okay
    if "not exist" in wrong:
        return say("there is no such folder") if folder else say("there is no such file")
    return say("a folder is wanted that can be used") if folder else say("a file is wanted that can be used")


def _between(kind: click.IntRange | click.FloatRange) -> str:
    if kind.min is not None and kind.max is not None:
        return say("from {least} to {most}", least=kind.min, most=kind.max)
    if kind.min is not None:
        return say("of {least} or more", least=kind.min)
    return say("of {most} or less", most=kind.max)
