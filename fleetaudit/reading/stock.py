"""The sheet of parts and media that are there, from the workbook or the settings workbook."""

from __future__ import annotations

import math
from collections.abc import Sequence

from fleetaudit import units
from fleetaudit.catalogue.model import EXTERNAL, Catalogue
from fleetaudit.language import say
from fleetaudit.needs import Item, Stocked
from fleetaudit.parts import PartKind
from fleetaudit.reading import grammar
from fleetaudit.reading.lines import read_lines
from fleetaudit.reading.plain import plain
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Missing
from fleetaudit.schema.quantity import FLOW
from fleetaudit.schema.remark import Level, Remark
from fleetaudit.schema.stock import QUANTITY, SIZE, STOCK, UNIT, WHAT
from fleetaudit.workbook.book import Workbook
from fleetaudit.workbook.place import address, quoted

KIND = "stock"
NOT_KNOWN = (
    "is no part or medium this tool knows. Write restrictor, housing, external flow control, or the name of "
    "a medium."
)
UNITS_WANTED = "Write pieces for parts; bags, ft3, L, lb or kg for media."
_WORDS = {
    PartKind.RESTRICTOR: (
        "restrictor",
        "restrictors",
        "washer",
        "washers",
        "button",
        "buttons",
        "drain restrictor",
    ),
    PartKind.HOUSING: ("housing", "housings", "restrictor housing"),
    PartKind.EXTERNAL: ("external flow control", "external flow controls", "external", "flow control"),
}
_KINDS = {word: kind for kind, words in _WORDS.items() for word in words}
_MASS, _VOLUME = ("lb", "kg"), ("ft3", "L")


def read_stock(books: Sequence[Workbook], catalogue: Catalogue) -> tuple[list[Stocked], list[Remark]]:
    """Lines of all Stock sheets, and what is to be said of lines that cannot be used."""
    found: list[Stocked] = []
    remarks: list[Remark] = []
    for book in books:
        for sheet in book.sheets:
            if sheet.name.strip().casefold() == STOCK.name.casefold():
                _read(book, sheet.name, catalogue, found, remarks)
    return found, remarks


def _read(
    book: Workbook, name: str, catalogue: Catalogue, found: list[Stocked], remarks: list[Remark]
) -> None:
    lines = read_lines(book, name, STOCK.columns, WHAT, catalogue)
    amounts = None if lines is None else lines.values(QUANTITY)
    if lines is None or amounts is None:
        text = say(
            '{file}, sheet {sheet} has no headings "{what}" and "{quantity}"; nothing of it '
            "was used. Add them.",
            file=book.path.name,
            sheet=quoted(name),
            what=WHAT.title,
            quantity=QUANTITY.title,
        )
        remarks.append(Remark(Level.WARN, KIND, text))
        return
    words = list(UNIT.choices)
    codes = lines.values(UNIT)
    whats, sizes = lines.texts(WHAT), lines.texts(SIZE)
    for place, row in enumerate(lines.rows):
        if not whats[place].strip():
            continue
        code = -1.0 if codes is None or codes.missing[place] != Missing.KNOWN else float(codes.value[place])
        unit = words[int(code)] if code >= 0 else ""
        odd = codes is not None and codes.missing[place] not in (Missing.KNOWN, Missing.BLANK)
        item, why = _item(whats[place], sizes[place], catalogue)
        suits = odd or item is None or not unit or (item.medium < 0) == (unit == "pieces")
        if amounts.missing[place] != Missing.KNOWN:
            why = say('has no quantity beside "{what}". Fill it in.', what=whats[place])
        elif odd or not suits:
            why = say(
                'counts "{what}" in a unit that does not suit it. {wanted}',
                what=whats[place],
                wanted=say(UNITS_WANTED),
            )
        if item is None or why:
            cell = f"{quoted(name)}!{address(row, lines.number(WHAT))}"
            remarks.append(
                Remark(
                    Level.SKIP,
                    KIND,
                    f"{cell} {why}",
                    (cell,),
                    "",
                    "",
                    say("not taken off what is to be ordered"),
                )
            )
            continue
        found.append(_stocked(item, float(amounts.value[place]), unit))
    remarks += [remark for remark in lines.log.remarks if remark.level <= Level.WARN]


def _stocked(item: Item, amount: float, unit: str) -> Stocked:
    if unit in _VOLUME:
        return Stocked(item, float(units.to_si(amount, unit)), "m3")
    if unit in _MASS:
        return Stocked(item, float(units.to_si(amount, unit)), "kg")
    return Stocked(item, amount, "pieces" if item.medium < 0 else "bags")


def _item(what: str, size: str, catalogue: Catalogue) -> tuple[Item | None, str]:
    """The item a line names, or why it names none."""
    kind = _KINDS.get(plain(what).casefold())
    if kind is PartKind.HOUSING:
        key = catalogue.find_housing(plain(size))
        keys = [row.key for row in catalogue.housings]
        if key is None or key == EXTERNAL:
            return None, say(
                'needs the size of the housing, not "{size}". Write {keys}.', size=size, keys=", ".join(keys)
            )
        return Item(kind, housing=keys.index(key)), ""
    if kind is not None:
        rating = _rating(size)
        if math.isnan(rating):
            return None, say(
                'needs the rating of the restrictor, not "{size}". Write it as 7 gpm.', size=size
            )
        return Item(kind, rating), ""
    key = catalogue.find_medium(f"{what} {size}".strip()) or catalogue.find_medium(what)
    if key is None:
        return None, f'"{what}" {say(NOT_KNOWN)}'
    code = catalogue.codes[key]
    support = catalogue.media[code].support
    return Item(PartKind.GRAVEL if support else PartKind.MEDIUM, medium=code), ""


def _rating(size: str) -> float:
    """Flow [m3/s] a size names, in gpm where it names no unit; NaN where it is none."""
    typed = grammar.read(plain(size))
    unit = typed.unit or units.find(FLOW.us)
    if math.isnan(typed.number) or typed.problem or unit is None or unit.si != FLOW.si:
        return math.nan
    rating = float(units.to_si(typed.number, unit.name))
    low, high = fleet.RESTRICTOR.bounds or (0.0, math.inf)
    return rating if low <= rating <= high else math.nan
