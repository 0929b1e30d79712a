"""Regular expressions that are compiled when they are first asked: most lists need few of them."""

from __future__ import annotations

import re
from typing import Any, cast


class _Pattern:
    """Stands for a compiled expression; what was asked of it once is kept at hand."""

    def __init__(self, text: str, flags: int) -> None:
        self.pattern, self.flags = text, flags

    def __getattr__(self, name: str) -> Any:
        asked = getattr(re.compile(self.pattern, self.flags), name)
        setattr(self, name, asked)
        return asked


def pattern(text: str, flags: int = 0) -> re.Pattern[str]:
    """Give a regular expression, not yet compiled.

    >>> pattern("[0-9]+").fullmatch("12").group()
    '12'
    """
    return cast(re.Pattern[str], _Pattern(text, flags))
