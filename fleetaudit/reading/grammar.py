"""The grammar of a number in a cell: number, fraction, marks, unit; nothing of the cell is left over."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from enum import Enum

from msgspec import Struct

from fleetaudit import units
from fleetaudit.language import later
from fleetaudit.reading.patterns import pattern
from fleetaudit.reading.plain import plain
from fleetaudit.units import Unit


class Mark(Enum):
    """What a comma or a point between digits is taken for."""

    UNKNOWN = "auto"
    POINT = "point"
    COMMA = "comma"


class Typed(Struct, frozen=True):
    """A number as typed with its unit; `problem` says why there is none."""

    number: float
    unit: Unit | None = None
    problem: str = ""


_DIGITS = r"(?:[0-9][0-9.,]*|[.,][0-9]+)"
_SIGN = r"(?P<sign>[+-]?) ?"
_GROUPED = r"[0-9]{1,3}(?: [0-9]{3})+(?:[.,][0-9]+)?(?![0-9])"
#: no number and unit that people write is longer
LONGEST = 60
_WHOLE_CELL = pattern(
    rf"{_SIGN}(?:(?P<whole>[0-9]+)(?: | ?- ?)(?P<over>[0-9]+) ?/ ?(?P<under>[0-9]+)"
    rf"|(?P<over_only>[0-9]+) ?/ ?(?P<under_only>[0-9]+)"
    rf"|(?P<number>{_GROUPED}|{_DIGITS}))(?P<unit>[^0-9].*)?"
)
_FEET_AND_INCHES = pattern(
    r"(?P<feet>[0-9]+) ?(?:'|ft\.?|feet|foot) ?-? ?"
    r"(?P<inches>[0-9]+(?:\.[0-9]+)?|[0-9]+ [0-9]+/[0-9]+|[0-9]+/[0-9]+)"
    r" ?(?:\"|in\.?|inch|inches)",
    re.I,
)
_RANGE = pattern(rf"{_DIGITS}(?: ?[^0-9/.,]{{0,12}}?)? ?(?:-|to|or|\.\.+|;) ?{_DIGITS}(?![0-9]*/).*", re.I)
_ABOUT = pattern(
    r"(?:~|≈|±|about|abt|approx|circa|ca\b|c\.|around|roughly|say|est|nearly|almost|over|under|up to"
    r"|min\.? |max\.? |<|>|≤|≥).*"
    r"|.*(?:\?|~|\bish|approx\.?|or so|\+/-.*|±.*|\+)",
    re.I,
)
_EXPONENT = pattern(r"[+-]?[0-9]+(?:\.[0-9]+)?e[+-]?[0-9]+", re.I)
_NOTHING = frozenset(
    {
        "",
        "-",
        "--",
        "---",
        "?",
        "??",
        "???",
        "n/a",
        "na",
        "n.a.",
        "unknown",
        "unk",
        "not known",
        "tbd",
        "tba",
        "tbc",
        "not recorded",
        "no record",
        "none recorded",
        "nil",
        "none",
        "null",
        "to check",
        "check",
        "don't know",
        "dont know",
    }
)


def says_nothing(text: str) -> bool:
    """Tell whether a text is one of the ways to write "not known"."""
    return text.casefold().rstrip(" .!") in _NOTHING or text in _NOTHING


def read(text: str, mark: Mark = Mark.POINT) -> Typed:
    """Read a whole cell; `text` is plain (see `plain`).

    >>> read('9 1/2"').number, read("1,200 gal").number, read("5-7 gpm").problem
    (9.5, 1200.0, 'is a range')
    """
    if len(text) > LONGEST:
        return Typed(float("nan"), None, "is not a number")
    found = _WHOLE_CELL.fullmatch(text)
    both = _FEET_AND_INCHES.fullmatch(text)
    if both:
        inches = read(both["inches"]).number
        return Typed(float(both["feet"]) * 12 + inches, units.find("in"))
    if found is None or (found["unit"] and units.find(found["unit"]) is None):
        return Typed(
            float("nan"), None, _why_not(text, found["unit"].strip() if found and found["unit"] else "")
        )
    number, problem = _value(found, mark)
    unit = units.find(found["unit"]) if found["unit"] and found["unit"].strip() else None
    return Typed(number, unit, problem)


def _value(found: re.Match[str], mark: Mark) -> tuple[float, str]:
    sign = -1.0 if found["sign"] == "-" else 1.0
    over, under = found["over"] or found["over_only"], found["under"] or found["under_only"]
    if over is not None:
        if int(under) == 0:
            return float("nan"), "divides by zero"
        return sign * (float(found["whole"] or 0) + int(over) / int(under)), ""
    number, problem = decimal(found["number"], mark)
    return sign * number, problem


def decimal(text: str, mark: Mark) -> tuple[float, str]:
    """Number of digits, points and commas, and what is wrong with it.

    >>> decimal("1.234,5", Mark.COMMA), decimal("1,5", Mark.UNKNOWN)[1]
    ((1234.5, ''), 'could be 1.5 or 15')
    """
    text = text.replace(" ", "")
    if "," not in text and "." not in text:
        return float(text), ""
    if "," in text and "." in text:
        mark = Mark.POINT if text.rfind(".") > text.rfind(",") else Mark.COMMA
    elif mark is Mark.UNKNOWN:
        if text.count(",") != 1:
            mark = Mark.POINT
        else:
            return float("nan"), later(
                "could be {one} or {other}", one=text.replace(",", "."), other=text.replace(",", "")
            )
    group, point = (",", ".") if mark is Mark.POINT else (".", ",")
    whole, _, part = text.partition(point)
    if point in part or group in part or not _grouped(whole, group) or not (part or whole):
        return float("nan"), later("has its marks of thousands and decimals in odd places")
    return float(f"{whole.replace(group, '') or 0}.{part or 0}"), ""


def _grouped(whole: str, group: str) -> bool:
    if group not in whole:
        return True
    first, *rest = whole.split(group)
    return 1 <= len(first) <= 3 and all(len(part) == 3 for part in rest)


def _why_not(text: str, unit: str) -> str:
    if _RANGE.fullmatch(text):
        return "is a range"
    if _ABOUT.fullmatch(text):
        return "is an estimate"
    if unit and not any(character.isdigit() for character in unit):
        return later('ends in "{unit}", which is no unit this column can have', unit=unit)
    return "is not a number"


EVIDENCE = 3


def decimal_mark(texts: Iterable[str], wanted: str = "auto") -> Mark:
    """What a comma means in a column: as set, else by numbers in it that can be read in one way only.

    One number with both marks, a leading 0, or a group repeated is proof; else three numbers or more that all
    point the same way. Where the column holds proof of both, nothing is decided.
    """
    if wanted != Mark.UNKNOWN.value:
        return Mark(wanted)
    hints = Counter(hint for hint in map(hint, texts) if hint is not None)
    proof = {mark for mark in (Mark.POINT, Mark.COMMA) if hints[mark, Hint.PROOF]}
    if proof:
        return proof.pop() if len(proof) == 1 else Mark.UNKNOWN
    points = hints[Mark.POINT, Hint.SINGLE]
    thousands, decimals = hints[Mark.POINT, Hint.GROUP], hints[Mark.COMMA, Hint.SINGLE]
    if points:
        return Mark.UNKNOWN if decimals else Mark.POINT
    if max(thousands, decimals) < EVIDENCE or min(thousands, decimals):
        return Mark.UNKNOWN
    return Mark.POINT if thousands else Mark.COMMA


class Hint(Enum):
    """How much a number says of the marks in use: proof, a decimal part, or perhaps a group."""

    PROOF = 0
    SINGLE = 1
    GROUP = 2


_HINTS = (
    (pattern(r"[0-9.]*,[0-9,]*\.[0-9]*"), Mark.POINT, Hint.PROOF),
    (pattern(r"[0-9,]*\.[0-9.]*,[0-9]*"), Mark.COMMA, Hint.PROOF),
    (pattern(r"0?,[0-9]+|[0-9]{1,3}(\.[0-9]{3}){2,}"), Mark.COMMA, Hint.PROOF),
    (pattern(r"[0-9]{1,3}(,[0-9]{3}){2,}"), Mark.POINT, Hint.PROOF),
    (pattern(r"[0-9]{1,3},[0-9]{3}"), Mark.POINT, Hint.GROUP),
    (pattern(r"[0-9]+,[0-9]+"), Mark.COMMA, Hint.SINGLE),
    (pattern(r"(?![0-9]{1,3}\.[0-9]{3}$)[0-9]*\.[0-9]+"), Mark.POINT, Hint.SINGLE),
)
_LEADING = pattern(rf"[+-]? ?({_DIGITS})")


def hint(text: str) -> tuple[Mark, Hint] | None:
    """What the number a text begins with says of the marks in use; None where it says nothing."""
    found = _LEADING.match(text)
    number = found[1].rstrip(".,") if found else ""
    return next(((mark, hint) for form, mark, hint in _HINTS if form.fullmatch(number)), None)


_QUOTED = pattern(r'"([^"]*)"|\\(.)|\[\$([^\]-]*)(?:-[0-9A-Fa-f]+)?\]|_.|\*.|\[[^\]]*\]')


def literal(code: str) -> str:
    """Words a number format writes beside the number, as " gpm" of `0.0" gpm"`; of its first section."""
    words = []
    end = 0
    for found in _QUOTED.finditer(code):
        if ";" in code[end : found.start()]:
            break
        words.append(found[1] or found[2] or found[3] or "")
        end = found.end()
    return plain("".join(words))


def percent(code: str) -> bool:
    """Tell whether a number format shows a share as per cent."""
    return "%" in _QUOTED.sub("", code)
