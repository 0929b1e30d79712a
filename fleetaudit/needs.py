"""Parts and media added up, in total and by group, in SI; bags made whole and what is on stock taken off."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from fleetaudit.catalogue.model import Bag, Catalogue
from fleetaudit.facts.frame import Codes, Flags, Floats
from fleetaudit.parts import Part, PartKind

#: relative difference below which two ratings are one size
SAME = 1e-6
_PLACES = {kind: place for place, kind in enumerate(PartKind)}


class Item(Struct, frozen=True, gc=False):
    """What is ordered: a kind and its size [m3/s], housing or medium."""

    kind: PartKind
    size: float = 0.0
    housing: int = -1
    medium: int = -1


class Need(Struct, gc=False):
    """How much of an item is needed: pieces, or volume [m3], mass [kg], bags; `doubtful` is measured first.

    `stock` is what is there of it and `order` what is left to order, in pieces or bags (m3 where no bag is
    known).
    """

    item: Item
    pieces: float = 0.0
    volume_m3: float = 0.0
    mass_kg: float = 0.0
    bags: float = 0.0
    doubtful: float = 0.0
    units: int = 0
    stock: float = 0.0

    @property
    def amount(self) -> float:
        """Amount in what it is bought by."""
        if not self.volume_m3:
            return self.pieces
        return self.volume_m3 if math.isnan(self.bags) else self.bags

    @property
    def order(self) -> float:
        """What is left to order."""
        return max(self.amount - self.stock, 0.0)


# --- bags ---


def bag_of(catalogue: Catalogue, medium: int) -> Bag:
    """Bag a medium comes in."""
    return catalogue.bags[medium]


def density(catalogue: Catalogue, medium: int) -> float:
    """Mass of a volume of dry bed [kg/m3], NaN where the catalogue has no figure."""
    return catalogue.bulk_densities[medium] if medium >= 0 else math.nan


def whole_bags(bags: float, catalogue: Catalogue) -> float:
    """Bags to buy for an amount: whole ones, where a small rest opens no further bag."""
    if math.isnan(bags):
        return bags
    slack, rule = catalogue.bag_rule
    if rule == "none":
        return bags
    if rule == "nearest":
        return max(float(math.floor(bags + 1 / 2)), 1.0 if bags > 0 else 0.0)
    return float(math.ceil(round(bags - slack, 9))) if bags > slack else float(bags > 0)


def _all_whole(bags: Floats, catalogue: Catalogue) -> Floats:
    listed = bags.tolist()
    whole = {number: whole_bags(number, catalogue) for number in set(listed)}
    return np.array([whole[number] for number in listed], dtype=np.float64)


# --- adding up ---


def piece(kind: PartKind, size: float, housing: int) -> Item:
    """Item of a part that comes in pieces; sizes that differ by rounding only are one."""
    if kind is PartKind.HOUSING:
        return Item(kind, housing=housing)
    digits = 6 - math.floor(math.log10(size)) if size > 0 else 0
    return Item(kind, round(size, digits), housing)


class Needs(Struct, frozen=True):
    """What is needed of each item under each group, column by column, by group and in the order of a list.

    The needs of group n stand from `starts[n]` to `starts[n + 1]`; `thing` is the position in `items`.
    """

    items: tuple[Item, ...]
    starts: list[int]
    thing: Codes
    pieces: Floats
    volume_m3: Floats
    mass_kg: Floats
    bags: Floats
    doubtful: Floats
    units: Codes

    def each(self) -> list[Need]:
        """One by one."""
        columns = (self.pieces, self.volume_m3, self.mass_kg, self.bags, self.doubtful, self.units)
        rows = zip(self.thing.tolist(), *(column.tolist() for column in columns), strict=True)
        return [Need(self.items[thing], *amounts) for thing, *amounts in rows]


class Asked:
    """Items that parts ask for, worked out once for all the ways in which they are added up."""

    def __init__(self, lines: Sequence[Part], catalogue: Catalogue) -> None:
        self._catalogue = catalogue
        places: dict[Item, int] = {}
        rows = _rows(lines, places)
        found = sorted(places, key=_in_list)
        self.items = tuple(found)
        columns = list(zip(*rows, strict=True)) or [(), (), ()]
        self._part, place = (np.array(column, dtype=np.int64) for column in columns[:2])
        ranks = {item: rank for rank, item in enumerate(found)}
        self._thing: Codes = np.array([ranks[item] for item in places], dtype=np.int64)[place]
        amount = np.array(columns[2], dtype=np.float64)
        to_bring, loose = (
            np.array(flags, dtype=bool)[self._part]
            for flags in ([part.to_bring for part in lines], [bool(part.contents) for part in lines])
        )
        self._amounts = self._weighed(amount, loose)
        self._doubtful = np.where(to_bring, amount, 0.0)
        self._parts = len(lines)

    def _weighed(self, amount: Floats, loose: Flags) -> tuple[Floats, ...]:
        """Pieces, volume, mass and bags of each item of each part."""
        catalogue = self._catalogue
        medium = np.array([item.medium for item in self.items], dtype=np.int64)[self._thing]
        mass = amount * np.array([*catalogue.bulk_densities, math.nan])[medium]
        by_mass = np.array([bag.by_mass for bag in catalogue.bags])[medium]
        bags = np.where(by_mass, mass, amount) / np.array([bag.size for bag in catalogue.bags])[medium]
        if catalogue.bags_whole_for_each:
            bags = _all_whole(bags, catalogue)
        nothing = np.zeros(len(amount))
        return np.where(loose, nothing, amount), *(
            np.where(loose, values, nothing) for values in (amount, mass, bags)
        )

    def by(self, groups: Sequence[int], count: int) -> Needs:
        """What is needed under each of so many groups; `groups` says of each part to which it belongs.

        Bags are made whole for each unit or for the sum, as Settings say.
        """
        kinds = max(len(self.items), 1)
        place = np.asarray(groups, dtype=np.int64)[self._part] * kinds + self._thing
        there, which = np.unique(place, return_inverse=True)
        pieces, volume, mass, bags, doubtful = (
            # adds in the order of the parts, whatever the groups, and to floats also where there are none
            np.bincount(which, weights=values, minlength=len(there)).astype(np.float64)
            for values in (*self._amounts, self._doubtful)
        )
        if not self._catalogue.bags_whole_for_each:
            bags = _all_whole(bags, self._catalogue)
        starts = np.searchsorted(there, np.arange(count + 1) * kinds).tolist()
        units = np.bincount(which, minlength=len(there))
        return Needs(self.items, starts, there % kinds, pieces, volume, mass, bags, doubtful, units)

    def total(self) -> list[Need]:
        """What is needed of each item in all."""
        return self.by([0] * self._parts, 1).each()


def _rows(lines: Sequence[Part], places: dict[Item, int]) -> list[tuple[int, int, float]]:
    """Position of the part, that of the item in `places`, and amount; `places` takes up new items."""
    known: dict[tuple[PartKind, float, int], int] = {}
    rows = []
    for number, part in enumerate(lines):
        for code, volume in part.contents or ((0, 1.0),):
            key = (part.kind, math.inf, code) if part.contents else (part.kind, part.size, part.housing)
            place = known.get(key)
            if place is None:
                item = Item(part.kind, medium=code) if part.contents else piece(*key)
                place = known[key] = places.setdefault(item, len(places))
            rows.append((number, place, volume * part.count))
    return rows


def _in_list(item: Item) -> tuple[int, int, int, float]:
    """Where an item stands in a list."""
    return _PLACES[item.kind], item.medium, item.housing, item.size


def needs(lines: Sequence[Part], catalogue: Catalogue) -> list[Need]:
    """What parts ask for in all."""
    return Asked(lines, catalogue).total()


# --- stock ---


class Stocked(Struct, frozen=True, gc=False):
    """A line of what is there: the item (housing -1 fits any) and how much, in pieces, bags, m3 or kg."""

    item: Item
    amount: float
    unit: str


def drawn(
    found: Sequence[Need], stock: Iterable[Stocked], catalogue: Catalogue
) -> list[tuple[Stocked, bool]]:
    """Take what is there off what is needed; what is left of each line, and whether anything asked for it."""
    left = []
    for line in stock:
        rest, used = line.amount, False
        for need in found:
            if not _same(line.item, need.item):
                continue
            one = _per_amount(line.unit, need.item, catalogue)
            taken = min(rest * one, need.order)
            need.stock += taken
            rest -= taken / one if one else 0.0
            used = True
        left.append((replace(line, amount=rest), used))
    return left


def _same(there: Item, wanted: Item) -> bool:
    if (there.kind, there.medium) != (wanted.kind, wanted.medium):
        return False
    if there.kind is PartKind.HOUSING:
        return there.housing == wanted.housing
    fits = there.housing in (-1, wanted.housing)
    return fits and abs(there.size - wanted.size) <= SAME * max(there.size, wanted.size, SAME)


def _per_amount(unit: str, item: Item, catalogue: Catalogue) -> float:
    """What one of the unit of a stock line is in pieces or bags."""
    if item.medium < 0 or unit in ("pieces", "bags"):
        return 1.0
    bag, heavy = bag_of(catalogue, item.medium), density(catalogue, item.medium)
    volume, mass = (1.0, heavy) if unit == "m3" else (1.0 / heavy, 1.0)
    bags = bag.count(volume, mass)
    return volume if math.isnan(bags) else bags
