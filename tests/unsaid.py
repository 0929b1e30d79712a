"""Finds what people read and no language can change: run in a language that marks every text."""

from __future__ import annotations

import html
import re
from pathlib import Path

import python_calamine

#: a text is marked so wherever it is said, so that what is not marked was not said
OPEN, CLOSE = "⟦", "⟧"
#: words that a number or a name may stand with, and the name of the tool
PLAIN = re.compile(r"\b(gpm|psi|min|mPa|in|ft|lb|fleetaudit [\d.]+|[0-9a-f]{12,64})\b")
#: words that are typed as they stand on the sheet Settings, and names of shipped sizes
TYPED = {"small", "medium", "large"}


def words_of_workbook(path: Path) -> set[str]:
    book = python_calamine.CalamineWorkbook.from_path(str(path))
    sheets = [book.get_sheet_by_name(name).to_python() for name in book.sheet_names]
    return {str(cell).strip() for rows in sheets for row in rows for cell in row} | {
        *book.sheet_names,
        *TYPED,
    }


def unsaid(page: str, own: set[str]) -> list[str]:
    """Texts of a page that are neither said, nor numbers, nor words of the workbook."""
    body = re.sub(r"<(style|script).*?</\1>", "", page, flags=re.DOTALL)
    texts = re.findall(r'(?:aria-label|title)="([^"]*)"', body)
    texts += re.sub(r"</?(?:b|a)\b[^>]*>", "", body).replace(">", "<").split("<")[::2]
    found = []
    for text in texts:
        left, before = html.unescape(text), ""
        while left != before:
            before, left = left, re.sub(f"{OPEN}[^{OPEN}{CLOSE}]*{CLOSE}", "", left)
        rest = PLAIN.sub("", left).strip(" ,:;.–×·\n")
        if rest.endswith("…") and any(word.startswith(rest[:-1]) for word in own):
            continue  # a name cut to the room it has
        if re.search(r"[A-Za-z]{3,}", rest) and rest not in own and not re.search(r"![A-Z]+\d", rest):
            found.append(rest)
    return found
