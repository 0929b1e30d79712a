"""Parts and media that the findings ask for, unit by unit and added up, in SI; what is on stock taken off."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from enum import StrEnum

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from fleetaudit.auditing.result import AuditResult, State
from fleetaudit.catalogue.model import Bag, Catalogue
from fleetaudit.checks.check import Confidence
from fleetaudit.checks.registry import BY_SLUG, CHECKS
from fleetaudit.facts import site
from fleetaudit.facts.due import only_topped_up
from fleetaudit.facts.fact import Fact, given
from fleetaudit.facts.frame import Flags
from fleetaudit.facts.needed import housing_limits, needed
from fleetaudit.facts.view import View, remembered
from fleetaudit.language import later
from fleetaudit.schema import fleet

#: medium of the catalogue that lies under a bed
GRAVEL = "gravel"
#: relative difference below which two ratings are one size
SAME = 1e-6


class PartKind(StrEnum):
    """What is taken along."""

    RESTRICTOR = "restrictor"
    HOUSING = "housing"
    EXTERNAL = "external flow control"
    MEDIUM = "medium"
    GRAVEL = "gravel"


class Part(Struct, frozen=True, gc=False):
    """One line: unit position, what, size [m3/s for flows, m3 for media; NaN not known], how many, and why.

    `to_bring` marks what is taken along to a unit that is to be measured first. `housing` is the position of
    the housing a restrictor sits in, -1 not known. `contents` are the media of one vessel: code and volume
    [m3].
    """

    unit: int
    kind: PartKind
    size: float
    count: float
    because: str
    to_bring: bool
    housing: int = -1
    contents: tuple[tuple[int, float], ...] = ()


def _found(result: AuditResult, *slugs: str) -> Flags:
    places = [CHECKS.index(BY_SLUG[slug]) for slug in slugs]
    return np.asarray(np.any([result.checks[place].state == State.FOUND for place in places], axis=0))


def _firm(result: AuditResult, *slugs: str) -> Flags:
    """True where one of the findings is made and need not be measured first."""
    items = [result.checks[CHECKS.index(BY_SLUG[slug])] for slug in slugs]
    return np.asarray(np.any([
        (item.state == State.FOUND) & (item.confidence != Confidence.MEASURE_FIRST) for item in items
    ], axis=0))  # fmt: skip


def parts(result: AuditResult) -> list[Part]:
    """Parts and media for findings that name one; those for units yet to be measured are marked to bring."""
    view = result.view
    need, vessels = needed(view), site.vessels(view)
    wrong = ("restrictor-too-small", "restrictor-too-large")
    change, firm = _found(result, *wrong), _firm(result, *wrong, "housing-too-small")
    unknown = _found(result, "restrictor-missing")
    house = _found(result, "housing-too-small")
    outside = _found(result, "needs-external-flow-control")
    renew = _found(result, "media-overdue", "media-due-soon")
    fitted, known_housings = view.frame.code(fleet.HOUSING.name), len(housing_limits(view))
    lines: list[Part] = []
    for unit in np.flatnonzero(change | unknown | house | outside | renew):
        row = int(unit)
        count = float(vessels[row])
        if not np.isnan(need.rating_m3_s[row]):
            rating, wanted = float(need.rating_m3_s[row]), int(need.housing[row])
            there = int(fitted[row])
            seat = there if 0 <= there < known_housings and there >= wanted else wanted
            if outside[row] or (house[row] and wanted >= known_housings):
                because = (
                    later("no external flow control recorded")
                    if outside[row]
                    else later("no housing takes that much")
                )
                lines.append(Part(row, PartKind.EXTERNAL, rating, count, because, False))
            elif change[row] or house[row]:
                because = (
                    later("restrictor to change")
                    if firm[row]
                    else later("restrictor to change, measure first")
                )
                lines.append(Part(row, PartKind.RESTRICTOR, rating, count, because, not firm[row], seat))
            elif unknown[row]:
                because = later("restrictor not recorded, measure first")
                lines.append(Part(row, PartKind.RESTRICTOR, rating, count, because, True, seat))
            if house[row] and not outside[row] and wanted < known_housings:
                lines.append(
                    Part(
                        row, PartKind.HOUSING, float(wanted), count, later("housing too small"), False, wanted
                    )
                )
        if renew[row]:
            lines += beds(view).of(row, count)
    return lines


class Beds:
    """New beds, and what fills dissolving ones up again; what these rest on is looked up for all units."""

    def __init__(self, view: View) -> None:
        self._catalogue, self._layers, self._medium = view.catalogue, view.frame.layers, view.medium.tolist()
        self._least_depth = view.figure("least_depth_m")[0]
        self._ground: list[float] = site.area(view).value.tolist()
        self._usual_depth: list[float] = site.usual_depth(view).value.tolist()
        self._topped_up: list[bool] = only_topped_up(view).tolist()
        self._volume, self._gravel = _listed(site.volume(view)), site.gravel(view)
        self._gravel_assumed: list[bool] = self._gravel.assumed.tolist()
        self._gravel_code = view.catalogue.codes.get(GRAVEL, -1)
        self._renews_gravel = view.catalogue.switch("renew_gravel")
        self._depth, self._left = (_listed(given(view.frame, c)) for c in (fleet.DEPTH, fleet.DEPTH_LEFT))

    def of(self, row: int, count: float) -> list[Part]:
        """Media for a new bed and the gravel under it, or what fills a dissolving bed up again."""
        if self._topped_up[row]:
            return [self._top_up(row, count)]
        ground, known = self._ground[row], self._volume.known[row]
        volume = self._volume.value[row] if known else self._usual_depth[row] * ground
        because = (
            later("medium due")
            if known
            else later("medium due; volume assumed from the usual fill of the vessel, measure first")
        )
        contents, usual = self._contents(row, volume)
        if usual:
            because = later("medium due; layers of the usual build of this bed, measure first")
        lines = [Part(row, PartKind.MEDIUM, volume, count, because, usual or not known, contents=contents)]
        gravel, code = float(self._gravel.value[row]) * ground, self._gravel_code
        if self._renews_gravel and gravel > 0 and code >= 0:
            guess = self._gravel_assumed[row]
            because = later("new bed; gravel depth assumed, measure first") if guess else later("new bed")
            lines.append(
                Part(row, PartKind.GRAVEL, gravel, count, because, guess, contents=((code, gravel),))
            )
        return lines

    def _top_up(self, row: int, count: float) -> Part:
        depth, left = self._depth, self._left
        sure = depth.known[row] and left.known[row]
        full = depth.value[row] if depth.known[row] else self._usual_depth[row]
        least = float(self._least_depth[row])
        volume = max(full - (left.value[row] if left.known[row] else least), 0.0) * self._ground[row]
        because = (
            later("top-up due") if sure else later("top-up due; amount assumed, measure the depth left first")
        )
        contents, _ = self._contents(row, volume)
        return Part(row, PartKind.MEDIUM, volume, count, because, not sure, contents=contents)

    def _contents(self, row: int, volume: float) -> tuple[tuple[tuple[int, float], ...], bool]:
        """Media of one vessel: layers by depth or share, gravel left out; its one medium without layers.

        A medium that is itself a bed of several counts as the catalogue builds it where the row tells no
        layers; the second value says so.
        """
        media, code = self._catalogue.media, self._medium[row]
        layers = [
            layer
            for layer in self._layers.get(row, ())
            if layer.medium < 0 or not media[layer.medium].support
        ]
        weights = [layer.depth_m if math.isnan(layer.share) else layer.share for layer in layers]
        if layers and not any(math.isnan(weight) for weight in weights) and sum(weights) > 0:
            return tuple(
                (layer.medium, volume * weight / sum(weights))
                for layer, weight in zip(layers, weights, strict=True)
            ), False
        usual = media[code].layers if code >= 0 else ()
        if usual:
            return tuple((self._catalogue.codes[one.medium], volume * one.share) for one in usual), True
        return ((code, volume),), False


@remembered
def beds(view: View) -> Beds:
    """Beds of all units."""
    return Beds(view)


class _Listed(Struct, frozen=True):
    """Values of a fact, and which of them may be used, as plain lists."""

    value: list[float]
    known: list[bool]


def _listed(fact: Fact) -> _Listed:
    return _Listed(fact.value.tolist(), fact.known.tolist())


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


# --- adding up ---

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


def items(part: Part) -> list[tuple[Item, float]]:
    """Items of a part with the amount for all its vessels: pieces, or volume [m3]."""
    if part.contents:
        return [(Item(part.kind, medium=code), volume * part.count) for code, volume in part.contents]
    if part.kind is PartKind.HOUSING:
        return [(Item(part.kind, housing=part.housing), part.count)]
    digits = 6 - math.floor(math.log10(part.size)) if part.size > 0 else 0
    return [(Item(part.kind, round(part.size, digits), part.housing), part.count)]


def needs(lines: Iterable[Part], catalogue: Catalogue) -> list[Need]:
    """What is needed of each item; bags are made whole for each unit or for the sum, as Settings say."""
    each = catalogue.bags_whole_for_each
    found: dict[Item, Need] = {}
    for part in lines:
        for item, amount in items(part):
            need = found.get(item)
            if need is None:
                need = found[item] = Need(item)
            need.units += 1
            need.doubtful += amount if part.to_bring else 0.0
            if not part.contents:
                need.pieces += amount
                continue
            mass = amount * density(catalogue, item.medium)
            bags = bag_of(catalogue, item.medium).count(amount, mass)
            need.volume_m3 += amount
            need.mass_kg += mass
            need.bags += whole_bags(bags, catalogue) if each else bags
    if not each:
        for need in found.values():
            need.bags = whole_bags(need.bags, catalogue)
    if len(found) < 2:
        return list(found.values())
    return sorted(found.values(), key=lambda need: (
        _PLACES[need.item.kind], need.item.medium, need.item.housing, need.item.size,
    ))  # fmt: skip


class Stocked(Struct, frozen=True, gc=False):
    """A line of what is there: the item (housing -1 fits any) and how much, in pieces, bags, m3 or kg."""

    item: Item
    amount: float
    unit: str


def net(found: Sequence[Need], stock: Iterable[Stocked], catalogue: Catalogue) -> list[Stocked]:
    """Take what is there off what is needed; returns the stock that nothing asked for."""
    lines = list(stock)
    return [line for line, (_, asked) in zip(lines, drawn(found, lines, catalogue), strict=True) if not asked]


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


def medium_name(result: AuditResult, unit: int) -> str:
    """Name of a unit's medium, or what its cell says where the catalogue does not know it."""
    code = int(result.view.medium[unit])
    text = result.view.frame.text(fleet.MEDIUM)[unit]
    return result.view.catalogue.media[code].name if code >= 0 else text
