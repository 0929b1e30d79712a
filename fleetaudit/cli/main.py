"""The command group: loads one when called, suggests one for a mistyped word, never shows a traceback."""

from __future__ import annotations

import os
import sys
from importlib import import_module
from pathlib import Path
from typing import Any, NoReturn

import click

from fleetaudit.cli.speaking import said, speaking, wanted
from fleetaudit.cli.usage import check_values, sentence
from fleetaudit.errors import FleetAuditError
from fleetaudit.language import say
from fleetaudit.schema.version import VERSION

#: command -> (module, one line for the list of commands)
COMMANDS = {
    "audit": ("fleetaudit.cli.audit", "Audit a workbook of installed filters."),
    "compare": ("fleetaudit.cli.compare", "Show what changed between two audits of a fleet."),
    "record": ("fleetaudit.cli.record", "Take over what crews wrote on return sheets."),
    "catalogue": ("fleetaudit.cli.catalogue", "Show the figures in force and where each comes from."),
    "explain": ("fleetaudit.cli.explain", "Show the whole working behind one unit."),
    "route": ("fleetaudit.cli.route", "Plan crew days for media that fall due."),
    "serve": ("fleetaudit.cli.serve", "Open a page to drop a workbook on, without a shell."),
    "size": ("fleetaudit.cli.size", "Work out flow, restrictor and housing of one vessel."),
    "template": ("fleetaudit.cli.template", "Write a blank workbook to fill in."),
}

EXAMPLES = """\b
Examples:
  fleetaudit template fleet.xlsx        a blank workbook to fill in
  fleetaudit audit fleet.xlsx           an annotated copy and a summary
  fleetaudit explain fleet.xlsx U-104   the whole working behind one unit
  fleetaudit record fleet.xlsx monday.xlsx
                                        what crews did, into a copy
  fleetaudit compare june.xlsx july.xlsx
                                        what was fixed, what is new
  fleetaudit route fleet.xlsx           who goes where, with what on the truck
  fleetaudit serve                      a page to drop a workbook on
  fleetaudit size --media "filter sand" --vessel 13x54
                                        one vessel without a workbook
  fleetaudit catalogue "calcite"        the figures in use and their sources
"""


class Commands(click.Group):
    """Commands by name, each imported when it is wanted."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names of all commands."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, name: str) -> click.Command | None:
        """The command of a name, or None."""
        if name not in COMMANDS:
            return None
        return said(import_module(COMMANDS[name][0]).command)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command the user means; a mistyped one is answered with the nearest."""
        word = args[0] if args else ""
        if word in COMMANDS or word.startswith("-"):
            name, command, rest = super().resolve_command(ctx, args)
            if command is not None:
                check_values(command, rest)
            return name, command, rest
        from difflib import get_close_matches  # noqa: PLC0415 - for a mistyped word only

        near = get_close_matches(word, COMMANDS, 1, 0.5)
        hint = (
            say('Did you mean "{name}"?', name=near[0])
            if near
            else say("Commands: {names}.", names=", ".join(COMMANDS))
        )
        if Path(word).suffix:
            hint = say('To audit a workbook: fleetaudit audit "{word}"', word=word)
        wrong = say('There is no command "{word}".', word=word)
        raise click.UsageError(f"{wrong} {hint}", ctx)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List of commands, without importing them."""
        with formatter.section(say("Commands")):
            formatter.write_dl([(name, say(line)) for name, (_, line) in COMMANDS.items()])


@click.group(cls=Commands, help=f"{EXAMPLES}\n\nAudits a workbook of backwashing media filters.")
@click.version_option(VERSION, prog_name="fleetaudit")
@click.pass_context
def cli(ctx: click.Context) -> None:
    """Set colour by the conventions of the terminal."""
    if os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb":
        ctx.color = False


def main(args: list[str] | None = None) -> NoReturn:
    """Run the command line and leave with the code that it answers."""
    sys.exit(answer(args))


def answer(args: list[str] | None = None) -> int:
    """Run the command line; 0 (ran), 1 (findings at or over --fail-on) or 2 (could not run)."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    return _run(args)


def _run(args: list[str] | None) -> int:
    words = sys.argv[1:] if args is None else args
    with speaking(wanted(words)):
        return _answered(words)


def _answered(words: list[str]) -> int:
    try:
        code: Any = said(cli).main(words, prog_name="fleetaudit", standalone_mode=False)
        return code if isinstance(code, int) else 0
    except FleetAuditError as trouble:
        _complain(trouble.message)
    except click.exceptions.NoArgsIsHelpError as trouble:
        click.echo(trouble.format_message(), err=True)
    except click.UsageError as trouble:
        _complain(sentence(trouble, next((word for word in words if word in COMMANDS), "")))
    except click.ClickException as trouble:
        _complain(trouble.format_message())
    except (click.Abort, KeyboardInterrupt):
        _complain(say("Stopped. Nothing was written that is not complete."))
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except MemoryError:
        _complain(
            say("The computer ran out of memory. Close other programs, or audit the workbook in parts.")
        )
    except OSError as trouble:
        name = f'"{trouble.filename}": ' if trouble.filename else ""
        _complain(
            say(
                "{reason}. Nothing was written that is not complete.",
                reason=f"{name}{trouble.strerror or trouble}",
            )
        )
    except Exception as trouble:  # the last line of defence: a user never sees a traceback
        _complain(
            say(
                "Something unexpected went wrong ({kind}). Details are in {log}. Please report it.",
                kind=type(trouble).__name__,
                log=_log(),
            )
        )
    return 2


def _complain(message: str) -> None:
    for line in message.splitlines():
        click.echo(line, err=True)


def _log() -> str:
    import tempfile  # noqa: PLC0415 - for the worst case only
    import traceback  # noqa: PLC0415 - as above

    with tempfile.NamedTemporaryFile(
        "w", prefix="fleetaudit-", suffix=".log", delete=False, encoding="utf-8"
    ) as file:
        traceback.print_exc(file=file)
        return file.name
