"""Everything the tool raises on purpose; each carries sentences a manager can act on."""

from __future__ import annotations


class FleetAuditError(Exception):
    """Base of all errors raised on purpose; `message` is shown to the user as it stands."""

    def __init__(self, message: str) -> None:
        super().__init__(message)
        self.message = message


class InputError(FleetAuditError):
    """Something the user gave cannot be used; nothing was written."""


class WorkbookError(InputError):
    """The file is not a workbook that can be read, or is not safe to read."""


class HeaderError(InputError):
    """The fleet sheet or a column that is needed cannot be told for certain."""


class CatalogueError(InputError):
    """A figure, override or setting is missing its source, unknown, or cannot be true."""


class OutputError(FleetAuditError):
    """A result could not be written; the input and any older result are intact."""


class RouteError(FleetAuditError):
    """A route cannot be planned as asked."""


def together(messages: list[str]) -> str:
    """Join all problems of one run into one message, a line each."""
    return "\n".join(messages)
