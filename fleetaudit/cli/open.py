"""What an icon starts: a workbook dropped on it is audited, the results lie beside it, the summary opens.

Results of an earlier drop are never replaced; those of the next carry a number.

There may be no terminal to write to, so trouble is a page too. Without a workbook the page of `serve` opens.
"""

from __future__ import annotations

import sys
import tempfile
import webbrowser
from datetime import datetime
from pathlib import Path

from markupsafe import Markup

from fleetaudit.assets import read_text
from fleetaudit.audit_file import Request, audit_file
from fleetaudit.web.jobs import in_words
from fleetaudit.writing.page import content_hash, environment, lean


def main(args: list[str] | None = None) -> int:
    """Audit every workbook that was dropped; 0 where all went well, 2 where one could not be audited."""
    dropped = sys.argv[1:] if args is None else args
    if not dropped:
        from fleetaudit.cli.serve import command  # noqa: PLC0415 - needed without a workbook only

        command.main([], standalone_mode=False)
        return 0
    return max(_open(Path(name)) for name in dropped)


def _open(workbook: Path) -> int:
    request = Request(workbook, datetime.now().astimezone().date(), numbered=True, owner_page=True)
    try:
        written = audit_file(request)
    except Exception as trouble:  # there is no terminal, and a page must say what stood in the way
        page = trouble_page(workbook.name, in_words(trouble))
        with tempfile.NamedTemporaryFile(
            "w", prefix="fleetaudit-", suffix=".html", delete=False, encoding="utf-8"
        ) as file:
            file.write(page)
        webbrowser.open(Path(file.name).as_uri())
        return 2
    webbrowser.open(written.summary_path.resolve().as_uri())
    return 0


def trouble_page(name: str, words: str) -> str:
    """A page that says why a workbook could not be audited."""
    style = lean(read_text("templates/paper.css"))
    return (
        environment()
        .get_template("trouble.html.j2")
        .render(name=name, lines=words.splitlines(), style=Markup(style), style_hash=content_hash(style))
    )
