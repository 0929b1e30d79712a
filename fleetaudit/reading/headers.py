"""Headings as people write them: which column one means, in which unit, and in which row they stand."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from functools import cache, lru_cache

from msgspec import Struct

from fleetaudit import units
from fleetaudit.catalogue import other_languages
from fleetaudit.reading.plain import plain
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Column
from fleetaudit.schema.quantity import Kind, Quantity
from fleetaudit.units import Unit

LONGEST = 60
ROWS_LOOKED_AT = 60
LEAST_HITS = 3
FUZZY_HIT = 0.84
_JOINED = 0.5
_SMALL_WORDS = frozenset(("de", "del", "la", "el", "los", "las"))
_MARKS = re.compile(r"[\s_:.,*?!;\"'-]+")
#: visible characters that `normalise` changes or leaves out, beside letters it makes small
CHANGED_BY_NORMALISE = "_:.,*?!;\"'-`#&"
_SMALL_ALREADY = re.compile(r"[a-z0-9]+(?: [a-z0-9]+)*")
_BRACKET = re.compile(r"[(\[{]([^()\[\]{}]*)[)\]}]")
_NAME = re.compile(r"\w+")
_HUMP = re.compile(r"(?<=[a-z0-9])(?=[A-Z])|(?<=[A-Z])(?=[A-Z][a-z])")
#: how dates are written, as a row of units says it: dd.mm.yyyy, MM/YY, tt.mm.jjjj
_DATE_PATTERN = re.compile(r"(?i:[dmyjta]{1,4}(?:[-./ ][dmyjta]{1,4}){1,2}|date)")
_CHOICES_OF_UNIT = re.compile(r"\s*[/,;|]\s*|\s+or\s+")


def normalise(heading: str) -> str:
    """Heading in lower case with one blank between words; # reads as no, & as and.

    >>> normalise("Tank_size: "), normalise("Unit #"), normalise("In / Out")
    ('tank size', 'unit no', 'in/out')
    """
    small = heading.casefold()
    if _SMALL_ALREADY.fullmatch(small):
        return small
    text = plain(heading).casefold().replace("#", " no ").replace("&", " and ")
    text = re.sub(r"\s*/\s*", "/", text)
    return _MARKS.sub(" ", text).strip()


def words_apart(heading: str) -> str:
    """Heading with the words of a name put apart, as tables of a database name their columns.

    >>> words_apart("bed_depth_cm"), words_apart("bedDepthCm"), words_apart("DLFC gpm")
    ('bed depth cm', 'bed Depth Cm', 'DLFC gpm')
    """
    text = plain(heading)
    return _HUMP.sub(" ", text).replace("_", " ") if _NAME.fullmatch(text) else text.replace("_", " ")


def bare(heading: str) -> str:
    """Heading without what stands in brackets, normalised."""
    return normalise(_BRACKET.sub(" ", plain(heading)))


@cache
def aliases() -> Mapping[str, Column]:
    """Every spelling of a heading with its column; a test sees that none belongs to two columns."""
    found: dict[str, Column] = {}
    for column in fleet.COLUMNS:
        for spelling in (column.title, column.name, *column.aliases):
            found.setdefault(normalise(spelling), column)
            if _BRACKET.search(spelling):
                found.setdefault(normalise(_BRACKET.sub(r" \1 ", spelling)), column)
    for name, spellings in other_languages.spellings("columns").items():
        for spelling in spellings:
            found.setdefault(normalise(spelling), fleet.BY_NAME[name])
            found.setdefault(_short(normalise(spelling)), fleet.BY_NAME[name])
    return found


def _short(words: str) -> str:
    """Heading without its small words, which people write and leave out.

    >>> _short("fecha de la instalación")
    'fecha instalación'
    """
    return " ".join(word for word in words.split() if word not in _SMALL_WORDS)


@lru_cache(maxsize=1024)
def match(heading: str) -> Column | None:
    """Column of a heading, brackets and unit words left aside; None where no spelling is known.

    >>> match("DLFC gpm").title, match("Winter water (F)").title, match("Route")
    ('Restrictor', 'Coldest water', None)
    >>> match("bed_depth_cm").title, match("bedDepthCm").title
    ('Bed depth', 'Bed depth')
    """
    known = aliases()
    inside = normalise(_BRACKET.sub(r" \1 ", plain(heading)))
    for text in (normalise(heading), inside, bare(heading), _short(bare(heading))):
        if text in known:
            return known[text]
    for text in dict.fromkeys((bare(heading), inside, _short(inside))):
        words = text.split()
        for cut in range(len(words) - 1, 0, -1):
            column = known.get(" ".join(words[:cut]))
            if column is not None and _measures(" ".join(words[cut:]), column.quantity):
                return column
    apart = words_apart(heading)
    return match(apart) if normalise(apart) != normalise(heading) else None


def _measures(words: str, quantity: Quantity) -> bool:
    unit = units.find(words) or units.find(words.removeprefix("in ")) or _per(words.split())
    return unit is not None and quantity.us != "" and unit.si == quantity.si


class HeadingUnit(Struct, frozen=True):
    """Unit a heading states; `clash` is its spelling where it measures something else than the column."""

    unit: Unit | None = None
    clash: str = ""


@lru_cache(maxsize=1024)
def unit_of(heading: str, quantity: Quantity) -> HeadingUnit:
    """Unit in the brackets of a heading, or among its words.

    >>> unit_of("DLFC (gpm)", fleet.RESTRICTOR.quantity).unit.name
    'gpm'
    >>> unit_of("Temp F", fleet.COLD.quantity).unit.name
    'degF'
    >>> unit_of("vessel_diameter_mm", fleet.DIAMETER.quantity).unit.name
    'mm'
    """
    if not quantity.us:
        return HeadingUnit()
    text = words_apart(heading)
    clash = ""
    for inside in _BRACKET.findall(text):
        found = [units.find(part) for part in (inside, *_words(inside))]
        right = {unit for unit in found if unit is not None and unit.si == quantity.si}
        if len(right) == 1:
            return HeadingUnit(right.pop())
        if len(right) > 1:
            return HeadingUnit(None, inside)
        if found[0] is not None and len(inside) > 1:
            clash = inside
    if clash:
        return HeadingUnit(None, clash)
    return HeadingUnit(_among_words(_BRACKET.sub(" ", text).split(), quantity))


def _words(inside: str) -> list[str]:
    parts = [part.strip() for part in _CHOICES_OF_UNIT.split(inside)] if units.find(inside) is None else []
    return [part for part in (*parts, *inside.split()) if part != inside]


def _among_words(words: Sequence[str], quantity: Quantity) -> Unit | None:
    """Longest run of words that is a unit; a single letter counts at the end only."""
    for length in (3, 2, 1):
        for first in range(len(words) - length, -1, -1):
            some = words[first : first + length]
            run = " ".join(some).strip(",;:-")
            unit = units.find(run) or _per(some) if len(run) > 1 or first + length == len(words) else None
            if unit is not None and unit.si == quantity.si:
                return unit
    return None


def _per(words: Sequence[str]) -> Unit | None:
    """Unit of two words of which the second divides the first, as in flow_l_min and flow_m3_h."""
    return units.find("/".join(words)) if len(words) == 2 else None


class Heading(Struct, frozen=True):
    """One heading: its sheet column counted from 1, its text as it stands, the column it means."""

    number: int
    text: str
    column: Column | None


class Candidate(Struct, frozen=True):
    """A row, or a pair of rows, that may hold the headings; rows count from 1."""

    row: int
    last_row: int
    headings: tuple[Heading, ...]
    score: float

    @property
    def hits(self) -> int:
        """Number of distinct columns found."""
        return len({heading.column.name for heading in self.headings if heading.column is not None})

    def has(self, *columns: Column) -> bool:
        """True where one of the columns was found."""
        names = {column.name for column in columns}
        return any(heading.column is not None and heading.column.name in names for heading in self.headings)

    @property
    def complete(self) -> bool:
        """True where vessel and medium are there."""
        return self.has(*VESSEL) and self.has(*BED)


VESSEL = (fleet.SIZE, fleet.DIAMETER)
BED = (fleet.MEDIUM, fleet.LAYERS)
DECISIVE = (fleet.DIAMETER, fleet.HEIGHT, fleet.INSIDE, fleet.RESTRICTOR, fleet.LAYERS)

Row = Sequence[object]


def candidates(
    rows: Sequence[Row], mapped: Mapping[str, Column | None], fuzzy: bool = False
) -> list[Candidate]:
    """Rows that hold headings, best first; `mapped` holds the headings the user has settled."""
    found = []
    for place in range(min(len(rows), ROWS_LOOKED_AT)):
        single = _candidate(rows, place, place, mapped, fuzzy)
        pair = _candidate(rows, place, place + 1, mapped, fuzzy) if place + 1 < len(rows) else None
        found += [one for one in (single, pair) if one is not None and one.hits >= LEAST_HITS]
        if single is not None and single.complete and not fuzzy:
            break
    return sorted(found, key=lambda one: (not one.complete, -one.score, one.row))


def _candidate(
    rows: Sequence[Row], first: int, last: int, mapped: Mapping[str, Column | None], fuzzy: bool
) -> Candidate | None:
    measured = last > first and _all_units(rows[last])
    lower = [cell if _is_unit(cell) else None for cell in rows[last]] if measured else rows[last]
    texts = _joined(rows[first], lower) if last > first else [_label(cell) for cell in rows[first]]
    filled = sum(any(cell is not None for cell in pair) for pair in zip(rows[first], rows[last], strict=True))
    if not any(cell is not None for cell in rows[last]) or (
        last > first and not _is_upper_half(rows[first], rows[last])
    ):
        return None
    headings = []
    for number, text in enumerate(texts, 1):
        if text:
            headings.append(Heading(number, text, _place(text, lower[number - 1], mapped, fuzzy)))
    names = [heading.column.name for heading in headings if heading.column is not None]
    hits = len(set(names))
    labels = [normalise(heading.text) for heading in headings]
    below = rows[last + 1 : last + 6]
    fill = sum(cell is not None for row in below for cell in row) / max(1, len(below) * len(texts))
    share = len(headings) / filled
    score = (
        3 * hits + share + len(set(labels)) / max(1, len(labels)) + fill - (_JOINED if last > first else 0)
    )
    if measured:
        score += 1
    return Candidate(first + 1, last + 1, tuple(headings), score)


def _is_upper_half(upper: Row, lower: Row) -> bool:
    """True where both rows hold text only, as the halves of a heading do."""
    return any(upper) and all(cell is None or isinstance(cell, str) for row in (upper, lower) for cell in row)


def _all_units(row: Row) -> bool:
    """True for a row below the headings that holds nothing but units, and how dates are written."""
    said = [cell for cell in row if cell is not None]
    return any(map(_is_unit, said)) and all(
        _is_unit(cell) or _label(cell) == "-" or _DATE_PATTERN.fullmatch(_label(cell)) for cell in said
    )


def _is_unit(cell: object) -> bool:
    """True for a cell that holds a unit and nothing else."""
    return units.find(_label(cell).strip(" ()[]")) is not None


def _label(cell: object) -> str:
    return plain(cell) if isinstance(cell, str) and len(cell.strip()) <= LONGEST else ""


def _joined(upper: Row, lower: Row) -> list[str]:
    """Texts of a two-row heading; a group heading counts on to the right until the next one."""
    texts, group = [], ""
    for above, below in zip(upper, lower, strict=True):
        group = _label(above) or group
        texts.append(f"{group if below is not None else _label(above)} {_label(below)}".strip())
    return texts


def _place(text: str, lower: object, mapped: Mapping[str, Column | None], fuzzy: bool) -> Column | None:
    alone = _label(lower)
    for words in (text, alone):
        for key in (normalise(words), bare(words)):
            if words and key in mapped:
                return mapped[key]
    return match(text) or (match(alone) if alone else None) or (_near(text) if fuzzy else None)


def _near(text: str) -> Column | None:
    """Column with a spelling close to the heading; used to find the heading row, never to fill a field."""
    spelling = nearest(text)
    return aliases()[spelling] if spelling else None


@lru_cache(maxsize=1024)
def nearest(text: str) -> str:
    """Known spelling closest to a heading, "" where none is close."""
    words = bare(text)
    if len(words) < 4:
        return ""
    from difflib import get_close_matches  # noqa: PLC0415 - for headings that no spelling fits only

    like = [spelling for spelling in aliases() if abs(len(spelling) - len(words)) <= 3]
    close = get_close_matches(words, like, 1, FUZZY_HIT)
    return close[0] if close else ""


def nearest_heading(column: Sequence[Column], headings: Iterable[Heading]) -> Heading | None:
    """Heading without a column that comes closest to one of the columns."""
    from rapidfuzz import fuzz  # noqa: PLC0415 - only on the way to an error message

    spellings = [spelling for spelling, known in aliases().items() if known in column]
    best, best_score = None, 50.0
    for heading in headings:
        if heading.column is not None:
            continue
        score = max(fuzz.ratio(bare(heading.text), spelling) for spelling in spellings)
        if score > best_score:
            best, best_score = heading, score
    return best


def looked_for(columns: Sequence[Column], count: int = 4) -> str:
    """Some spellings of a column, for a message."""
    words = [column.title for column in columns] + [alias for column in columns for alias in column.aliases]
    return ", ".join(f'"{word}"' for word in list(dict.fromkeys(words))[:count])


def column_named(text: str) -> Column | None:
    """Column of ours by its name, title or any spelling."""
    return fleet.BY_NAME.get(text.strip()) or match(text)


def spelled(heading: str, column: Column) -> bool:
    """True where a heading, or the lower half of a two-row one, spells the column exactly."""
    words = heading.split()
    return any(match(" ".join(words[first:])) is column for first in range(len(words)))


def is_ours_to_judge(column: Column) -> bool:
    """False for free text that is shown and never judged, where two headings are no matter."""
    return column.quantity.kind is not Kind.TEXT or column in (fleet.MEDIUM, fleet.MESH, fleet.PURPOSE)
