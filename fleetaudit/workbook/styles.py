"""Additions to the styles part: an equal format that exists already is used again."""

from __future__ import annotations

from collections.abc import Hashable
from functools import lru_cache

from msgspec import Struct

from fleetaudit.workbook.formats import BUILT_IN, GENERAL
from fleetaudit.workbook.markup import (
    MAIN,
    STRICT_MAIN,
    Edit,
    Element,
    append_child,
    apply,
    escape_attribute,
    parse,
    prefixed,
    whole,
)

_ORDER = (
    "numFmts", "fonts", "fills", "borders", "cellStyleXfs", "cellXfs", "cellStyles", "dxfs", "tableStyles",
    "colors", "extLst",
)  # fmt: skip
_FIRST = {
    "fonts": ['<font><sz val="11"/><name val="Calibri"/></font>'],
    "fills": [
        '<fill><patternFill patternType="none"/></fill>',
        '<fill><patternFill patternType="gray125"/></fill>',
    ],
    "borders": ["<border><left/><right/><top/><bottom/><diagonal/></border>"],
    "cellXfs": ['<xf numFmtId="0" fontId="0" fillId="0" borderId="0"/>'],
}
_FIRST_CUSTOM_NUMBER = 164
_BUILT_IN_NUMBERS = {code: number for number, code in BUILT_IN.items()}
_BUILT_IN_NUMBERS.pop("mm-dd-yy")  # shown in the order of the user's system, so not what the code says


class Style(Struct, frozen=True):
    """How a cell of ours looks; colours are RRGGBB."""

    number_format: str = GENERAL
    bold: bool = False
    italic: bool = False
    underline: bool = False
    larger: float = 0
    colour: str = ""
    fill: str = ""
    wrap: bool = False
    top: bool = False


PLAIN = Style()


class Look(Struct, frozen=True):
    """Colours for the cells of a column whose text equals a word."""

    equals: str
    fill: str
    font: str
    bold: bool = False


class Styles:
    """A styles part that can only grow."""

    def __init__(self, data: bytes | None, *, strict: bool) -> None:
        namespace = STRICT_MAIN if strict else MAIN
        head = b'<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
        self._data = data if data is not None else head + f'<styleSheet xmlns="{namespace}"/>'.encode()
        self._root = parse(self._data)
        self._prefix = self._root.prefix
        self._known: dict[str, list[Hashable]] = {}
        self._added: dict[str, list[str]] = {}
        self._numbers: dict[str, int] = {}
        self._cells: dict[Style, int] = {PLAIN: 0}
        for name in ("fonts", "fills", "borders", "cellXfs", "dxfs"):
            self._load(name)
        self._load_numbers()

    def cell(self, style: Style) -> int:
        """Index of the cell format for a style; 0 for a plain one."""
        if style not in self._cells:
            self._cells[style] = self._format(style)
        return self._cells[style]

    def _format(self, style: Style) -> int:
        number, font, fill = self._number(style.number_format), self._font(style), self._fill(style.fill)
        marks = [
            f'<xf numFmtId="{number}" fontId="{font}" fillId="{fill}" borderId="0"',
            ' xfId="0"' if self._root.find("cellStyleXfs") is not None else "",
            ' applyNumberFormat="1"' if number else "",
            ' applyFont="1"' if font else "",
            ' applyFill="1"' if fill else "",
        ]
        wrap = ' wrapText="1"' if style.wrap else ""
        vertical = ' vertical="top"' if style.top else ""
        if wrap or vertical:
            marks.append(f' applyAlignment="1"><alignment{vertical}{wrap}/></xf>')
        else:
            marks.append("/>")
        return self._index("cellXfs", "".join(marks))

    def recoded(self, index: int, code: str) -> int:
        """Index of a cell format that is like another but for its number format."""
        formats = self._root.find("cellXfs")
        if formats is None or index >= len(formats.children):
            return self.cell(Style(number_format=code))
        element = formats.children[index]
        values = {**element.attributes, "numFmtId": str(self._number(code)), "applyNumberFormat": "1"}
        kept = [child for child in element.children if child.name != "extLst"]
        inside = "".join(_markup(child, child.attributes) for child in kept)
        return self._index("cellXfs", _wrapped("xf", values, inside))

    def look(self, look: Look) -> int:
        """Index of the differential format for a look."""
        bold = "<b/>" if look.bold else ""
        return self._index(
            "dxfs",
            f'<dxf><font>{bold}<color rgb="FF{look.font}"/></font><fill><patternFill patternType="solid">'
            f'<fgColor rgb="FF{look.fill}"/><bgColor rgb="FF{look.fill}"/></patternFill></fill></dxf>',
        )

    def result(self) -> bytes:
        """The part with everything added; the same bytes when nothing was."""
        edits: list[Edit] = []
        for name, markups in self._added.items():
            parent = self._root.find(name)
            markup = prefixed("".join(markups), self._prefix)
            if parent is not None:
                count = str(len(parent.children) + len(markups))
                edits += append_child(self._data, parent, markup, count=count)
        missing = {name: markups for name, markups in self._added.items() if self._root.find(name) is None}
        return apply(self._data, edits + self._new_parents(missing))

    def _new_parents(self, missing: dict[str, list[str]]) -> list[Edit]:
        made = {}
        for name in _ORDER:
            if name in missing:
                inside = "".join(missing[name])
                made[name] = prefixed(f'<{name} count="{len(missing[name])}">{inside}</{name}>', self._prefix)
        if not made:
            return []
        if self._root.self_closed:
            return append_child(self._data, self._root, b"".join(made.values()))
        edits = []
        for name, markup in made.items():
            later = _ORDER[_ORDER.index(name) + 1 :]
            position = next((c.start for c in self._root.children if c.name in later), self._root.close)
            edits.append(Edit(position, position, markup))
        return edits

    def _load(self, name: str) -> None:
        parent = self._root.find(name)
        self._known[name] = [canonical(child) for child in parent.children] if parent is not None else []
        if not self._known[name]:
            for markup in _FIRST.get(name, ()):
                self._add(name, markup, canonical_of(markup))

    def _load_numbers(self) -> None:
        parent = self._root.find("numFmts")
        for element in parent.children if parent is not None else []:
            number = whole(element.attributes.get("numFmtId", ""))
            if number is not None:
                self._numbers.setdefault(element.attributes.get("formatCode", ""), number)

    def _add(self, name: str, markup: str, key: Hashable) -> int:
        self._known[name].append(key)
        self._added.setdefault(name, []).append(markup)
        return len(self._known[name]) - 1

    def _index(self, name: str, markup: str) -> int:
        key = canonical_of(markup)
        if key in self._known[name]:
            return self._known[name].index(key)
        return self._add(name, markup, key)

    def _number(self, code: str) -> int:
        if code in _BUILT_IN_NUMBERS:
            return _BUILT_IN_NUMBERS[code]
        if code not in self._numbers:
            number = max([_FIRST_CUSTOM_NUMBER - 1, *self._numbers.values()]) + 1
            self._numbers[code] = number
            markup = f'<numFmt numFmtId="{number}" formatCode="{escape_attribute(code)}"/>'
            self._added.setdefault("numFmts", []).append(markup)
        return self._numbers[code]

    def _font(self, style: Style) -> int:
        marks = [
            "<b/>" if style.bold else "",
            "<i/>" if style.italic else "",
            "<u/>" if style.underline else "",
        ]
        if not (any(marks) or style.larger or style.colour):
            return 0
        size, name = self._first_font()
        colour = f'<color rgb="FF{style.colour}"/>' if style.colour else ""
        face = f'<name val="{escape_attribute(name)}"/>'
        markup = f'{"".join(marks)}<sz val="{size + style.larger:g}"/>{colour}{face}'
        return self._index("fonts", f"<font>{markup}</font>")

    def _first_font(self) -> tuple[float, str]:
        """Size and name of the workbook's own standard font, so that our sheets look like the rest."""
        fonts = self._root.find("fonts")
        first = fonts.children[0] if fonts is not None and fonts.children else None
        size, name = (first.find("sz"), first.find("name")) if first is not None else (None, None)
        try:
            points = float(size.attributes.get("val", "11")) if size is not None else 11.0
        except ValueError:
            points = 11.0
        return points, name.attributes.get("val", "Calibri") if name is not None else "Calibri"

    def _fill(self, colour: str) -> int:
        if not colour:
            return 0
        return self._index(
            "fills",
            f'<fill><patternFill patternType="solid"><fgColor rgb="FF{colour}"/><bgColor indexed="64"/>'
            f"</patternFill></fill>",
        )


def canonical(element: Element) -> Hashable:
    """What an element says, whatever its spelling."""
    children = tuple(canonical(child) for child in element.children)
    return element.name, tuple(sorted(element.attributes.items())), children


@lru_cache(maxsize=256)
def canonical_of(markup: str) -> Hashable:
    """Canonical form of markup of our own."""
    return canonical(parse(f'<r xmlns="{MAIN}">{markup}</r>'.encode()).children[0])


def _markup(element: Element, attributes: dict[str, str]) -> str:
    inside = "".join(_markup(child, child.attributes) for child in element.children)
    return _wrapped(element.name, attributes, inside)


def _wrapped(name: str, attributes: dict[str, str], inside: str) -> str:
    said = "".join(f' {key}="{escape_attribute(value)}"' for key, value in attributes.items())
    return f"<{name}{said}>{inside}</{name}>" if inside else f"<{name}{said}/>"
