"""Sheets that are wholly ours, as rows of values and how these look."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, overload

from msgspec import Struct

from fleetaudit.workbook.styles import PLAIN, Look, Style

NAMED_STYLES = {
    "": PLAIN,
    "title": Style(bold=True, larger=5),
    "subtitle": Style(bold=True, larger=1),
    "heading": Style(bold=True, colour="FFFFFF", fill="1F3A4D", wrap=True, top=True),
    "strong": Style(bold=True, top=True),
    "wrap": Style(wrap=True, top=True),
    "top": Style(top=True),
    "note": Style(italic=True, colour="5A5A5A"),
    "wrapped note": Style(italic=True, colour="5A5A5A", wrap=True, top=True),
    "link": Style(underline=True, colour="0B5394", top=True),
    "integer": Style(number_format="#,##0", top=True),
    "number": Style(number_format="0.0", top=True),
    "precise": Style(number_format="0.00", top=True),
    "percent": Style(number_format="0%", top=True),
    "date": Style(number_format="yyyy-mm-dd", top=True),
}


class Link(Struct, frozen=True, gc=False):
    """Text that leads to a cell of the same workbook, such as "'My units'!F17"."""

    text: str
    target: str


class Styled(Struct, frozen=True, gc=False):
    """A value with the name of a style, or a style of its own, and a number format over it."""

    value: object
    style: str | Style = ""
    number_format: str | None = None


class SheetToCome(Struct, frozen=True):
    """An added sheet that is made when its turn has come, so that what goes into it is held no longer."""

    name: str
    make: Callable[[], Sheet]


class MadeRows(Sequence[Sequence[object]]):
    """Rows that are made when they are asked for, so that a long table is never held whole."""

    def __init__(
        self,
        above: Sequence[Sequence[object]],
        records: Sequence[Any],
        make: Callable[[Any], Sequence[object]],
    ) -> None:
        self._above, self._records, self._make = above, records, make

    def __len__(self) -> int:
        return len(self._above) + len(self._records)

    @overload
    def __getitem__(self, place: int) -> Sequence[object]: ...

    @overload
    def __getitem__(self, place: slice) -> Sequence[Sequence[object]]: ...

    def __getitem__(self, place: int | slice) -> Sequence[object] | Sequence[Sequence[object]]:
        places = range(len(self))[place]
        if isinstance(places, int):
            return self[places : places + 1][0]
        if places.step != 1:
            return [self[one] for one in places]
        first, last = places.start - len(self._above), places.stop - len(self._above)
        made = map(self._make, self._records[max(first, 0) : max(last, 0)])
        return [*self._above[places.start : places.stop], *made]


class Choice(Struct, frozen=True):
    """A column whose cells offer words to choose from, and a note; other words may be typed all the same."""

    column: int
    words: tuple[str, ...]
    title: str = ""
    note: str = ""


class Sheet(Struct):
    """An added sheet; `filter` spans from the last frozen row (the headings) down to the last row.

    `styles` names the style of each column for bare values below the frozen rows, or below the first
    `head_rows` where those are more.
    """

    name: str
    rows: Sequence[Sequence[object]]
    widths: Sequence[float] = ()
    freeze_rows: int = 0
    filter: bool = False
    landscape: bool = True
    styles: Sequence[str] = ()
    head_rows: int = 0
    looks: Sequence[tuple[int, Sequence[Look]]] = ()
    #: columns with words to choose from below the frozen rows, and what a chosen cell says of them
    choices: Sequence[Choice] = ()
    tab_colour: str = ""
