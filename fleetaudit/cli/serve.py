"""`fleetaudit serve`: a page on this computer instead of a command line."""

from __future__ import annotations

import webbrowser
from datetime import date, datetime

import click

from fleetaudit.errors import InputError
from fleetaudit.language import DATE_STYLES, LANGUAGES, say
from fleetaudit.web.server import ADDRESS, MOST_BYTES, Server

EXAMPLES = f"""\b
Examples:
  fleetaudit serve
  fleetaudit serve --no-browser
  fleetaudit serve --language es --dates day-first

Opens a page on which a workbook is dropped; the results are downloaded from
it. The page is on this computer only ({ADDRESS}), takes files up to
{MOST_BYTES // 2**20} MB, and sends nothing anywhere. Workbooks and results are kept in a
temporary folder that is removed when the server stops (Ctrl+C, or the
button on the page).
"""


@click.command("serve", help=EXAMPLES)
@click.option("--port", type=click.IntRange(0, 65535), default=0, help="Port; any free one if not given.")
@click.option("--no-browser", is_flag=True, help="Only print the address.")
@click.option(
    "--language", type=click.Choice(list(LANGUAGES)), help="Language of the page and of the results."
)
@click.option("--dates", type=click.Choice(list(DATE_STYLES)), help="How days are written.")
def command(port: int, no_browser: bool, language: str | None, dates: str | None) -> int:
    """Serve until stopped."""
    try:
        server = Server(_today, port, language=language, dates=dates)
    except OSError as trouble:
        raise InputError(
            say(
                "Port {port} cannot be used ({reason}). Leave out --port, and a free one is taken.",
                port=port,
                reason=trouble.strerror,
            )
        ) from trouble
    try:
        click.echo(f"{say('Open this address in a browser on this computer:')}\n\n  {server.address}\n")
        click.echo(say("Keep it to yourself: whoever has it can use the page. Ctrl+C stops."))
        if not no_browser:
            webbrowser.open(server.address)
        server.serve()
    except KeyboardInterrupt:
        pass
    finally:
        server.close()
    click.echo(say("Stopped. Nothing was kept."))
    return 0


def _today() -> date:
    return datetime.now().astimezone().date()
