"""The password of a workbook, read from a file so that it shows in no list of processes and no history."""

from __future__ import annotations

from pathlib import Path

from fleetaudit.errors import InputError
from fleetaudit.language import say


def first_line(path: Path) -> str:
    """First line of a password file, without its end."""
    try:
        text = path.read_text("utf-8-sig")
    except OSError as error:
        raise InputError(
            say(
                'The password file "{path}" cannot be read: {reason}. Check the path.',
                path=path,
                reason=(error.strerror or str(error)).lower(),
            )
        ) from error
    except UnicodeDecodeError as error:
        raise InputError(
            say('The password file "{path}" is not plain text. Save it as UTF-8 text.', path=path)
        ) from error
    line = text.splitlines()[0] if text else ""
    if not line:
        raise InputError(
            say(
                'The password file "{path}" has nothing in its first line. Write the password there.',
                path=path,
            )
        )
    return line
