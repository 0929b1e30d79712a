"""Number formats of a styles part: which code a cell has, and whether it makes a date of a number."""

from __future__ import annotations

import re
from functools import lru_cache

from msgspec import Struct

from fleetaudit.workbook.markup import Element, whole

GENERAL = "General"
# Codes that a styles part refers to by number only: ECMA-376 part 1, 18.8.30 (table of built-in formats).
BUILT_IN = {
    0: GENERAL,
    1: "0",
    2: "0.00",
    3: "#,##0",
    4: "#,##0.00",
    9: "0%",
    10: "0.00%",
    11: "0.00E+00",
    12: "# ?/?",
    13: "# ??/??",
    14: "mm-dd-yy",
    15: "d-mmm-yy",
    16: "d-mmm",
    17: "mmm-yy",
    18: "h:mm AM/PM",
    19: "h:mm:ss AM/PM",
    20: "h:mm",
    21: "h:mm:ss",
    22: "m/d/yy h:mm",
    37: "#,##0 ;(#,##0)",
    38: "#,##0 ;[Red](#,##0)",
    39: "#,##0.00;(#,##0.00)",
    40: "#,##0.00;[Red](#,##0.00)",
    45: "mm:ss",
    46: "[h]:mm:ss",
    47: "mmss.0",
    48: "##0.0E+0",
    49: "@",
}
# Numbers whose code depends on the language of the program; all of them show a date.
_LOCAL_DATES = {*range(27, 37), *range(50, 59)}

_NOT_A_CODE = re.compile(r'"[^"]*"|\\.|_.|\*.|\[(?!(?:h+|m+|s+)\])[^\]]*\]', re.I)
_ELAPSED = re.compile(r"\[(?:h+|m+|s+)\]", re.I)
_PLAIN = re.compile(r"[#?,]*0?(?:[#?,]*0)*(?:\.[0#?]*)?(?:E[+-]?0+)?|General|@|Standard", re.I)
_PADDED = re.compile(r"0[0#?]*0(?![0-9#?,]*,)")
_COLOUR_OR_ROOM = re.compile(
    r"\[(?:black|blue|cyan|green|magenta|red|white|yellow|color\s*\d+)\]|_.|\*.", re.I
)


class NumberFormat(Struct, frozen=True):
    """A number format code with what it means for the value under it."""

    code: str
    shows: str  # "number", "date", "time" or "duration"
    plain: bool


@lru_cache(maxsize=4096)
def number_format(code: str) -> NumberFormat:
    """Tell what a format code makes of a number.

    >>> number_format('0.0" kg"').shows, number_format("d-mmm").shows, number_format("[h]:mm").shows
    ('number', 'date', 'duration')
    """
    shows = _shows(code)
    return NumberFormat(code, shows, shows == "number" and _is_plain(code))


def _shows(code: str) -> str:
    first = code.split(";", maxsplit=1)[0] if '"' not in code else _first_section(code)
    if _ELAPSED.search(first):
        return "duration"
    bare = _NOT_A_CODE.sub("", first)
    bare = re.sub(r"general|standard|e[+-]", "", bare, flags=re.I)
    bare = re.sub(r"am/pm|a/p", "h", bare, flags=re.I).lower()
    if any(letter in bare for letter in "yd") or ("m" in bare and not any(x in bare for x in "hs")):
        return "date"
    return "time" if any(letter in bare for letter in "hs") else "number"


def _first_section(code: str) -> str:
    inside = False
    for index, character in enumerate(code):
        if character == '"':
            inside = not inside
        elif character == ";" and not inside:
            return code[:index]
    return code


def _is_plain(code: str) -> bool:
    first = _COLOUR_OR_ROOM.sub("", _first_section(code)).strip()
    whole = first.split(".")[0].split("E")[0]
    padded = bool(_PADDED.fullmatch(whole)) and "," not in whole
    return bool(_PLAIN.fullmatch(first)) and not padded


def cell_formats(styles: Element | None) -> list[NumberFormat]:
    """Number format of each cell style index."""
    if styles is None:
        return []
    custom = {}
    numbers = styles.find("numFmts")
    for element in numbers.all("numFmt") if numbers is not None else []:
        identifier = whole(element.attributes.get("numFmtId", ""))
        if identifier is not None:
            custom[identifier] = element.attributes.get("formatCode", GENERAL)
    styles_of_cells = styles.find("cellXfs")
    formats = []
    for element in styles_of_cells.all("xf") if styles_of_cells is not None else []:
        number = whole(element.attributes.get("numFmtId", "0")) or 0
        formats.append(number_format(_code(number, custom)))
    return formats


def _code(identifier: int, custom: dict[int, str]) -> str:
    if identifier in custom:
        return custom[identifier]
    if identifier in _LOCAL_DATES:
        return "mm-dd-yy"
    return BUILT_IN.get(identifier, GENERAL)
