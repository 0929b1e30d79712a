"""What to order, in words: parts and media in total, by account, crew and day."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from msgspec import Struct

from fleetaudit.catalogue.model import Bag, Catalogue
from fleetaudit.language import say
from fleetaudit.needs import Asked, Item, Need, Needs, Stocked, bag_of, drawn, needs, whole_bags
from fleetaudit.parts import Part, PartKind
from fleetaudit.schema import quantity as q
from fleetaudit.units import from_si
from fleetaudit.writing.alike import said_once
from fleetaudit.writing.display import Display
from fleetaudit.writing.report import OrderGroup, OrderLine

ENDS = ("low", "value", "high")
DAY, ROUTE = "route day", "route"
PIECES = "pieces"


class Clerk:
    """Puts needs into words in the reader's units."""

    def __init__(self, catalogue: Catalogue, system: str) -> None:
        self.catalogue = catalogue
        self.show = Display(system)
        self.mass_unit = "lb" if system == "us" else "kg"
        self._volume_unit, self._pieces, self._bags = self.show.unit(q.VOLUME), say(PIECES), say("bags")
        self._said: dict[Item, tuple[str, str, str]] = {}
        self._ends: dict[str, tuple[float, float, float]] = {}

    def ends(self, key: str) -> tuple[float, float, float]:
        """Low, middle and high of a setting."""
        found = self._ends.get(key)
        if found is None:
            setting = self.catalogue.settings[key]
            low, mid, high = (float(getattr(setting, end)) for end in ENDS)
            found = self._ends[key] = (
                (mid if math.isnan(low) else low),
                mid,
                (mid if math.isnan(high) else high),
            )
        return found

    def what(self, item: Item, name: str = "") -> str:
        """What an item is."""
        if item.kind is PartKind.MEDIUM:
            return say(
                self.catalogue.media[item.medium].name if item.medium >= 0 else name or "medium not known"
            )
        return say(
            self.catalogue.media[item.medium].name if item.kind is PartKind.GRAVEL else item.kind.value
        )

    def size(self, item: Item) -> str:
        """Size of an item: rating and housing of a restrictor, name of a housing, mesh of a medium."""
        housings = [row.key for row in self.catalogue.housings]
        if item.kind is PartKind.HOUSING:
            return housings[item.housing] if 0 <= item.housing < len(housings) else say("external")
        if item.kind in (PartKind.RESTRICTOR, PartKind.EXTERNAL):
            rating = self.show.text(q.FLOW, item.size)
            return (
                say("{rating}, {housing} housing", rating=rating, housing=housings[item.housing])
                if 0 <= item.housing < len(housings)
                else rating
            )
        return say(self.catalogue.media[item.medium].mesh) if item.medium >= 0 else ""

    def mass(self, kg: float) -> float | None:
        """Mass in the reader's unit, None where not known."""
        return None if math.isnan(kg) or not kg else round(float(from_si(kg, self.mass_unit)), 1)

    def bag(self, item: Item) -> str:
        """Content of a bag of a medium."""
        if item.medium < 0:
            return ""
        bag: Bag = bag_of(self.catalogue, item.medium)
        if bag.by_mass:
            return f"{float(from_si(bag.size, self.mass_unit)):.3g} {self.mass_unit}"
        return self.show.text(q.VOLUME, bag.size)

    def words(self, item: Item) -> tuple[str, str, str]:
        """What an item is, its size, and the bag it comes in; said once for each item."""
        said = self._said.get(item)
        if said is None:
            said = self._said[item] = self.what(item), self.size(item), self.bag(item)
        return said

    def order(self, need: Need) -> OrderLine:
        """One line of a list of what is needed."""
        volume = need.volume_m3
        loose = bool(volume)
        amount = need.pieces if not loose else self.show.value(q.VOLUME, volume) or 0.0
        doubtful = need.doubtful if not loose else self.show.value(q.VOLUME, need.doubtful) or 0.0
        bagged = loose and not math.isnan(need.bags)
        stock, left = need.stock, whole_bags(need.order, self.catalogue) if bagged else need.order
        if loose and not bagged:
            stock, left = (self.show.value(q.VOLUME, m3) or 0.0 for m3 in (stock, left))
        what, size, bag = self.words(need.item)
        unit = self._volume_unit if loose else self._pieces
        return OrderLine(
            what, size, round(amount, 2), unit,
            self.mass(need.mass_kg), self.mass_unit if loose else "", need.bags if bagged else None,
            bag if loose else "", round(stock, 2), round(left, 2),
            self._bags if bagged else unit, round(doubtful, 2), need.units,
        )  # fmt: skip

    def lines(self, found: Needs) -> list[OrderLine]:
        """A line for each need; needs that are alike share one."""

        def line(thing: int, *amounts: Any) -> OrderLine:
            return self.order(Need(found.items[thing], *amounts))

        columns = (found.pieces, found.volume_m3, found.mass_kg, found.bags, found.doubtful, found.units)
        return said_once(line, found.thing.tolist(), *(column.tolist() for column in columns))


class Netted(Struct, frozen=True):
    """What to order in all, stock that nothing asked for, and what is left of the stock that is shared."""

    lines: tuple[OrderLine, ...]
    unasked: tuple[Stocked, ...]
    left: tuple[Stocked, ...]


def totals(
    clerk: Clerk, found: list[Need], stock: Iterable[Stocked], shared: Iterable[Stocked] = ()
) -> Netted:
    """What to order in all, with the stock of its own taken off first, then that which others share."""
    own, common = (drawn(found, there, clerk.catalogue) for there in (stock, shared))
    return Netted(
        tuple(clerk.order(need) for need in found),
        tuple(line for line, asked in (*own, *common) if not asked),
        tuple(line for line, _ in common if line.amount > 0),
    )


class Grouped(Struct, frozen=True):
    """What is needed under each name: `lines` has those of name n from `starts[n]` to `starts[n + 1]`.

    `groups` says of each part under which name it counts.
    """

    names: tuple[str, ...]
    groups: list[int]
    needs: Needs
    lines: list[OrderLine]

    def of(self, number: int) -> tuple[OrderLine, ...]:
        """Lines of one name."""
        return tuple(self.lines[self.needs.starts[number] : self.needs.starts[number + 1]])


def grouped(clerk: Clerk, asked: Asked, names: Sequence[str]) -> Grouped:
    """What is needed under each name, in the order of the names; `names` has that of each part."""
    ordered = sorted(dict.fromkeys(names), key=str.casefold)
    numbers = {name: number for number, name in enumerate(ordered)}
    groups = [numbers[name] for name in names]
    found = asked.by(groups, len(ordered))
    return Grouped(tuple(ordered), groups, found, clerk.lines(found))


def order_groups(
    found: Grouped, kind: str, unnamed: str, shown: Mapping[str, str] | None = None
) -> list[OrderGroup]:
    """Lists of what is needed, each under its name or the code for it; stock is shared and not taken off."""
    names = [(shown or {}).get(name, name) or unnamed for name in found.names]
    return [OrderGroup(kind, name, found.of(number)) for number, name in enumerate(names)]


def by_day(
    clerk: Clerk,
    days: Sequence[tuple[date, str, Sequence[Part]]],
    stock: Iterable[Stocked],
    shown: Mapping[str, str] | None = None,
) -> list[OrderGroup]:
    """What each crew-day of a plan takes, the first day first, and all of them together.

    Stock goes to the day that comes first; the list of all days has all of it taken off once. `shown` are
    codes that stand for names of crews.
    """
    left = there = list(stock)
    groups: list[OrderGroup] = []
    every: list[Part] = []
    for when, crew, lines in sorted(days, key=lambda day: day[:2]):
        every += lines
        found = needs(lines, clerk.catalogue)
        left = [line for line, _ in drawn(found, left, clerk.catalogue)]
        said = tuple(clerk.order(need) for need in found)
        name = day_name(when, (shown or {}).get(crew, crew))
        groups.append(OrderGroup(DAY, name, said, netted=True, day=when))
    if groups:
        groups.append(
            OrderGroup(
                ROUTE, say("all days"), totals(clerk, needs(every, clerk.catalogue), there).lines, netted=True
            )
        )
    return groups


def day_name(when: date, crew: str) -> str:
    """Name of a crew-day."""
    return f"{when.isoformat()}, {crew}" if crew else when.isoformat()
