"""What was typed wrong on the command line, in one sentence, and what to type instead."""

from __future__ import annotations

import difflib

import click

#: how near an option must be to be offered
NEAR = 0.5


def sentence(trouble: click.UsageError, called: str) -> str:
    """What is wrong with a call, and where help is; `called` is the command where the trouble names none."""
    command = trouble.ctx.command_path if trouble.ctx else f"fleetaudit {called}".rstrip()
    return f"{_wrong(trouble, command)} All options: {command} --help"


def _wrong(trouble: click.UsageError, command: str) -> str:
    if isinstance(trouble, click.NoSuchOption):
        return f"{command} has no option {trouble.option_name}.{_meant(trouble)}"
    if isinstance(trouble, click.MissingParameter):
        return f"{command} needs {_asked(trouble)}."
    if isinstance(trouble, click.BadOptionUsage):
        return f"{trouble.option_name} needs a value after it."
    if isinstance(trouble, click.BadParameter) and trouble.param is not None:
        return _bad_value(trouble, trouble.param)
    if type(trouble) is click.UsageError and trouble.message.startswith("Got unexpected extra argument"):
        extra = trouble.message.partition("(")[2].rstrip(")")
        return f'{command} does not know what to do with "{extra}". Put names with blanks in quotes.'
    return trouble.message


def _meant(trouble: click.NoSuchOption) -> str:
    known = [] if trouble.ctx is None else [opt for param in trouble.ctx.command.params for opt in param.opts]
    near = difflib.get_close_matches(trouble.option_name, known, 1, NEAR)
    return f' Did you mean "{near[0]}"?' if near else ""


def _asked(trouble: click.MissingParameter) -> str:
    """What is missing, and how the whole is written."""
    param, context = trouble.param, trouble.ctx
    if isinstance(param, click.Option):
        return f"{param.opts[0]} with a value after it"
    if param is None or context is None:
        return "one thing more"
    pieces = [piece for piece in context.command.collect_usage_pieces(context) if piece != "[OPTIONS]"]
    return f"more: {context.command_path} {' '.join(pieces)}"


def _bad_value(trouble: click.BadParameter, param: click.Parameter) -> str:
    name = param.opts[0] if isinstance(param, click.Option) else param.human_readable_name
    kind, said = param.type, trouble.message
    typed = (said.partition("'")[2].partition("'")[0] or said.partition(" ")[0]).strip()
    if isinstance(kind, click.Choice):
        return f'{name} takes one of {", ".join(map(str, kind.choices))}, not "{typed}".'
    if isinstance(kind, click.IntRange | click.FloatRange):
        return f'{name} takes a number {_between(kind)}, not "{typed}".'
    if isinstance(kind, click.Path):
        wanted = "a folder" if kind.dir_okay and not kind.file_okay else "a file"
        why = (
            f"there is no such {wanted[2:]}"
            if "not exist" in said
            else f"{wanted} is wanted that can be used"
        )
        return f'{name} "{typed}": {why}.'
    return f"{name}: {said}"


def _between(kind: click.IntRange | click.FloatRange) -> str:
    if kind.min is not None and kind.max is not None:
        return f"from {kind.min} to {kind.max}"
    return f"of {kind.min} or more" if kind.min is not None else f"of {kind.max} or less"
