"""Sentences that lines of the list share, perhaps but for figures: said once, with gaps for the figures."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable

#: stands where a figure goes; a text that holds it already is left as it is
GAP = "…"
#: starts the number of a sentence, in the place of the sentence
MARK = "§"
#: a figure as people write it, a day, a size or the address of a cell; no blank inside
_FIGURE = re.compile(r"[A-Z]{0,3}\d+(?:[.,:/-]\d+)*")
#: markup around a sentence in the list of them
_AROUND = len("<li></li>\n")


class Sentences:
    """The sentences that at least two of some texts share, numbered from 1 in the order they come up.

    One keeps its figures where that makes the page smaller, because many texts share these too.
    """

    def __init__(self, texts: Iterable[str]) -> None:
        counts = Counter(text for text in texts if GAP not in text)
        alike: dict[str, int] = {}
        forms = {}
        for text, count in counts.items():
            form = text if _spares(text, count) else _FIGURE.sub(GAP, text)
            forms[text] = form
            alike[form] = alike.get(form, 0) + count
        self.shared = tuple(form for form, count in alike.items() if count > 1)
        numbers = {form: number for number, form in enumerate(self.shared, start=1)}
        self._short = {
            text: " ".join([f"{MARK}{numbers[form]}", *(_FIGURE.findall(text) if GAP in form else ())])
            for text, form in forms.items()
            if form in numbers
        }

    def short(self, text: str) -> str:
        """Number of the text's sentence and the figures that fill its gaps; "" where nothing shares it.

        >>> two = Sentences(["least: 24 in", "least: 30 in"])
        >>> two.shared, two.short("least: 30 in"), two.short("no gravel")
        (('least: … in',), '§1 30', '')
        """
        return self._short.get(text, "")


def _spares(text: str, count: int) -> bool:
    """True where leaving the figures out of so many lines spares more than a sentence of their own takes."""
    if count < 2:
        return False
    figures = sum(len(figure) + 1 for figure in _FIGURE.findall(text))
    return count * figures > len(text) + _AROUND
