"""Texts of cells: the shared string part and strings with runs of different looks."""

from __future__ import annotations

import re
from xml.parsers import expat

from fleetaudit.workbook.markup import (
    NotWellFormed,
    TreeBuilder,
    feed,
    parse,
    split_name,
    unescape,
    unescape_cell,
)

_ONE_RUN = re.compile(rb'<t(?: xml:space="preserve")?>([^<]*)</t>|<t/>')
_ITEM = re.compile(
    rb'<si><t(?: xml:space="preserve")?>([^<]*)</t></si>|<si>((?>[^<]*(?:<(?!/si>)[^<]*)*))</si>|<si\s*/>'
)


def rich_text(fragment: bytes) -> str:
    """Plain text of the inside of a string element; phonetic hints are no part of it."""
    one = _ONE_RUN.fullmatch(fragment)
    if one is not None:
        return unescape(one[1].decode()) if one[1] else ""
    texts: list[str] = []
    path: list[str] = []
    parser = expat.ParserCreate("utf-8")
    parser.buffer_text = True
    parser.StartElementHandler = lambda name, _: path.append(name)
    parser.EndElementHandler = lambda _: path.pop()

    def characters(text: str) -> None:
        if path[-1] == "t" and "rPh" not in path:
            texts.append(text)

    parser.CharacterDataHandler = characters
    feed(parser, b"<is>" + fragment + b"</is>", True)
    return "".join(texts)


def shared_strings(data: bytes) -> list[str]:
    """All shared strings of a workbook, in order."""
    strings = _fast_strings(data)
    if strings is None:
        strings = _StringsBuilder(data).strings()
    return strings


def _fast_strings(data: bytes) -> list[str] | None:
    """Strings by pattern; None when anything between them is not covered by it."""
    start, close = data.find(b"<si"), data.rfind(b"</sst>")
    if start < 0 or close < start or b"<!" in data or data.find(b"<?", 5) >= 0:
        return None
    pieces = _ITEM.split(data[start:close])
    if any(gap and not gap.isspace() for gap in pieces[0::3]):
        return None
    try:
        parse(data[:start] + data[close:])
        return [
            unescape_cell(unescape(plain.decode()) if plain is not None else rich_text(rich or b""))
            for plain, rich in zip(pieces[1::3], pieces[2::3], strict=True)
        ]
    except (NotWellFormed, UnicodeDecodeError):
        return None


class _StringsBuilder(TreeBuilder):
    """Collects strings without keeping a tree of them."""

    def __init__(self, data: bytes) -> None:
        super().__init__(data)
        self._path: list[str] = []
        self._text: list[str] = []
        self._done: list[str] = []

    def strings(self) -> list[str]:
        """Parse the part and give its strings."""
        feed(self.parser, self.data, True)
        return self._done

    def open_element(self, qualified: str, attributes: dict[str, str]) -> None:
        self._path.append(split_name(qualified)[1])
        if len(self._path) == 2:
            self._text = []

    def close_element(self, _qualified: str) -> None:
        if len(self._path) == 2 and self._path[1] == "si":
            self._done.append(unescape_cell("".join(self._text)))
        self._path.pop()

    def characters(self, text: str) -> None:
        if len(self._path) > 2 and self._path[-1] == "t" and "rPh" not in self._path:
            self._text.append(text)
