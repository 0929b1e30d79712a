"""What to order and what it costs, in words: parts and media in total, by account and crew, and quotes."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from datetime import date

from msgspec import Struct

from fleetaudit.catalogue.model import Bag, Catalogue
from fleetaudit.language import say, several
from fleetaudit.parts import Item, Need, Part, PartKind, Stocked, bag_of, drawn, needs, whole_bags
from fleetaudit.schema import quantity as q
from fleetaudit.units import from_si
from fleetaudit.writing.display import Display
from fleetaudit.writing.report import OrderGroup, OrderLine, QuoteLine, Span

ENDS = ("low", "value", "high")
DAY, ROUTE = "route day", "route"
_CUBIC_FOOT = "ft3"
PIECES = "pieces"
_PRICES = {
    PartKind.RESTRICTOR: "restrictor_price",
    PartKind.HOUSING: "housing_price",
    PartKind.EXTERNAL: "external_price",
    PartKind.MEDIUM: "media_price",
    PartKind.GRAVEL: "gravel_price",
}


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


class Netted(Struct, frozen=True):
    """What to order in all, stock that nothing asked for, and what is left of the stock that is shared."""

    lines: tuple[OrderLine, ...]
    unasked: tuple[Stocked, ...]
    left: tuple[Stocked, ...]


def totals(
    clerk: Clerk, lines: Sequence[Part], stock: Iterable[Stocked], shared: Iterable[Stocked] = ()
) -> Netted:
    """What to order in all, with the stock of its own taken off first, then that which others share."""
    found = needs(lines, clerk.catalogue)
    own, common = (drawn(found, there, clerk.catalogue) for there in (stock, shared))
    return Netted(
        tuple(clerk.order(need) for need in found),
        tuple(line for line, asked in (*own, *common) if not asked),
        tuple(line for line, _ in common if line.amount > 0),
    )


def by_name(
    clerk: Clerk, lines: Sequence[Part], names: Sequence[str], kind: str, unnamed: str
) -> list[OrderGroup]:
    """What is needed for each account or crew, by name; stock is shared and so not taken off."""
    return order_groups(needed_by(clerk, lines, names), kind, unnamed)


class Needed(Struct, frozen=True):
    """What one account or crew needs, and the parts that it was added up from."""

    name: str
    parts: Sequence[Part]
    needs: Sequence[Need]
    lines: tuple[OrderLine, ...]


def needed_by(clerk: Clerk, lines: Sequence[Part], names: Sequence[str]) -> list[Needed]:
    """What is needed under each name, in the order of the names."""
    groups: dict[str, list[Part]] = {}
    for part in lines:
        groups.setdefault(names[part.unit], []).append(part)
    found = []
    for name, own in sorted(groups.items(), key=lambda item: item[0].casefold()):
        wanted = needs(own, clerk.catalogue)
        found.append(Needed(name, own, wanted, tuple([clerk.order(need) for need in wanted])))
    return found


def order_groups(found: Iterable[Needed], kind: str, unnamed: str) -> list[OrderGroup]:
    """Lists of what is needed, each under its name; stock is shared and so not taken off."""
    return [OrderGroup(kind, each.name or unnamed, each.lines) for each in found]


def by_day(
    clerk: Clerk, days: Sequence[tuple[date, str, Sequence[Part]]], stock: Iterable[Stocked]
) -> list[OrderGroup]:
    """What each crew-day of a plan takes, the first day first, and all of them together.

    Stock goes to the day that comes first; the list of all days has all of it taken off once.
    """
    left = there = list(stock)
    groups: list[OrderGroup] = []
    every: list[Part] = []
    for when, crew, lines in sorted(days, key=lambda day: day[:2]):
        every += lines
        found = needs(lines, clerk.catalogue)
        left = [line for line, _ in drawn(found, left, clerk.catalogue)]
        said = tuple(clerk.order(need) for need in found)
        groups.append(OrderGroup(DAY, day_name(when, crew), said, netted=True, day=when))
    if groups:
        groups.append(OrderGroup(ROUTE, say("all days"), totals(clerk, every, there).lines, netted=True))
    return groups


def day_name(when: date, crew: str) -> str:
    """Name of a crew-day."""
    return f"{when.isoformat()}, {crew}" if crew else when.isoformat()


# --- quotes ---


def quotes(clerk: Clerk, lines: Sequence[Part], accounts: Sequence[str]) -> list[QuoteLine]:
    """A priced line for each account: parts, media, hours, each low, middle and high."""
    return [quote(clerk, each) for each in needed_by(clerk, lines, accounts)]


def quote(clerk: Clerk, needed: Needed) -> QuoteLine:
    """The priced line of one account."""
    account, lines, found = needed.name, needed.parts, needed.needs
    loose = (PartKind.MEDIUM, PartKind.GRAVEL)
    pieces = _added(_priced(clerk, need, need.pieces) for need in found if need.item.kind not in loose)
    media = _added(_priced(clerk, need, need.volume_m3) for need in found if need.item.kind in loose)
    hours = _hours(clerk, lines)
    price = clerk.ends("route_hour_price")
    work = Span(
        *(
            (span or 0.0) * each
            for span, each in zip((hours.low, hours.target, hours.high), price, strict=True)
        )
    )
    total = _added([pieces, media, work])
    doubtful = any(part.to_bring for part in lines)
    units = len({part.unit for part in lines})
    said = "; ".join(_said(line) for line in needed.lines)
    text = say(
        "{account}: {units}. {what}. {hours:.1f} hours. Parts {parts:,.0f}, media {media:,.0f}, "
        "work {work:,.0f}; total {total:,.0f} ({low:,.0f} to {high:,.0f}).",
        account=account or say("No account given"),
        units=several(units, "1 unit", "{count:,} units"),
        what=said,
        hours=hours.target,
        parts=pieces.target,
        media=media.target,
        work=work.target,
        total=total.target,
        low=total.low,
        high=total.high,
    ) + (" " + say("Some of it is to be measured first.") if doubtful else "")
    return QuoteLine(account, units, said, pieces, media, hours, work, total, doubtful, text)


def _said(line: OrderLine) -> str:
    amount = f"{line.needed:g} {line.unit}" if line.unit != say(PIECES) else f"{line.needed:g} ×"
    bags = (
        " "
        + say(
            "({bags:g} bag of {bag})" if line.bags == 1 else "({bags:g} bags of {bag})",
            bags=line.bags,
            bag=line.bag,
        )
        if line.bags is not None
        else ""
    )
    return f"{amount} {line.what}{' ' + line.size if line.size and line.size not in line.what else ''}{bags}"


def _priced(clerk: Clerk, need: Need, amount: float) -> Span:
    if math.isnan(amount):
        return Span(0.0, 0.0, 0.0)
    return Span(*(amount * price for price in clerk.ends(_PRICES[need.item.kind])))


def _added(spans: Iterable[Span]) -> Span:
    every = list(spans)
    return Span(
        math.fsum([span.low or 0.0 for span in every]),
        math.fsum([span.target or 0.0 for span in every]),
        math.fsum([span.high or 0.0 for span in every]),
    )


def _hours(clerk: Clerk, lines: Sequence[Part]) -> Span:
    """Hours on site: a fix for each unit with parts, a new bed by vessel and by cubic foot of media."""
    fixes = len({part.unit for part in lines if not part.contents})
    beds = [part for part in lines if part.kind is PartKind.MEDIUM]
    vessels = math.fsum(part.count for part in beds)
    cubic_feet = math.fsum(
        float(from_si(part.size, _CUBIC_FOOT)) * part.count for part in beds if not math.isnan(part.size)
    )
    amounts: Mapping[str, float] = {
        "route_fix": fixes,
        "route_rebed": vessels,
        "route_rebed_per_ft3": cubic_feet,
    }
    hours = [
        math.fsum(clerk.ends(key)[place] * amount for key, amount in amounts.items())
        for place in range(len(ENDS))
    ]
    return Span(*(float(from_si(seconds, "h")) for seconds in hours))
