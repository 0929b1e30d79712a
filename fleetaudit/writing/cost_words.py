"""The yearly cost of a finding as arithmetic to be followed, and how far the order hangs on the prices."""

from __future__ import annotations

from collections.abc import Sequence

from fleetaudit.catalogue.kinds import from_si
from fleetaudit.facts.frame import Codes
from fleetaudit.language import say, several
from fleetaudit.ranking import MEDIA, VISITS, WATER, Carried, Cost, Loss, Sensitivity, Visits
from fleetaudit.ranking import Water as Wasted
from fleetaudit.schema import quantity as q
from fleetaudit.writing.display import Display

TWICE = 2.0
PRICE_WORDS = {"water": "water and sewer cost", "visit": "a visit costs", "medium": "media cost"}
#: how prices are quoted in each system
_WATER_PRICE = {"us": ("money/1000gal", "1,000 gal"), "metric": ("", "m³")}
_MEDIA_PRICE = {"us": ("money/ft3", "ft³"), "metric": ("", "m³")}


def cost_lines(cost: Cost | None, units: Codes, show: Display) -> list[tuple[str, ...]]:
    """For each unit one line for each part of the middle cost, with the figures it is made of."""
    if cost is None:
        return [()] * len(units)
    columns = [
        _water(working, units, show) if isinstance(working, Wasted)
        else _loss(working, units, show) if isinstance(working, Loss)
        else _carried(working, units, show) if isinstance(working, Carried)
        else [_visits(working)] * len(units)
        for working in cost.workings
    ]  # fmt: skip
    return list(zip(*columns, strict=True))


def _water(use: Wasted, units: Codes, show: Display) -> list[str]:
    unit, per = _WATER_PRICE[show.system]
    price = from_si(use.price, unit) if unit else use.price
    lines = []
    for over, length, washes in zip(
        use.over_m3_s[units].tolist(), use.length_s[units].tolist(), use.washes[units].tolist(), strict=True
    ):
        total = over * length * washes * use.price
        lines.append(
            say(
                "{part}: {over} over × {length} × {washes:.3g} washes × {price:.4g} per {per} = {total:,.0f}",
                part=say(WATER),
                over=show.text(q.FLOW, over),
                length=show.text(q.MINUTES, length),
                washes=washes,
                price=price,
                per=say(per),
                total=total,
            )
        )
    return lines


def _price_of_media(price: float, show: Display) -> tuple[float, str, str]:
    """A price of media in the reader's units, the unit of volume it is for, and how that is said."""
    unit, per = _MEDIA_PRICE[show.system]
    return (from_si(price, unit), "ft3", per) if unit else (price, "m3", per)


def _loss(lost: Loss, units: Codes, show: Display) -> list[str]:
    price, by, per = _price_of_media(lost.price, show)
    said: dict[float, str] = {}
    for bed in lost.bed_m3[units].tolist():
        if bed not in said:
            volume = from_si(bed, by)
            said[bed] = say(
                "{part}: {share:.0%} of {volume:.3g} {per} × {price:.4g} per {per} = {total:,.0f}",
                part=say(MEDIA),
                share=lost.share,
                volume=volume,
                per=per,
                price=price,
                total=lost.share * bed * lost.price,
            )
    return [said[bed] for bed in lost.bed_m3[units].tolist()]


def _carried(lost: Carried, units: Codes, show: Display) -> list[str]:
    price, by, per = _price_of_media(lost.price, show)
    lines = []
    for water in lost.water_m3[units].tolist():
        volume = from_si(water, by)
        lines.append(
            say(
                "{part}: {share:.2%} of {volume:,.4g} {per} of that water × {price:.4g} per {per} = "
                "{total:,.0f}",
                part=say(MEDIA),
                share=lost.share,
                volume=volume,
                per=per,
                price=price,
                total=lost.share * water * lost.price,
            )
        )
    return lines


def _visits(visits: Visits) -> str:
    cost = visits.chance * visits.price
    return say(
        "{part}: {chance:.0%} chance × {price:,.4g} a visit = {cost:,.0f}",
        part=say(VISITS),
        chance=visits.chance,
        price=visits.price,
        cost=cost,
    )


def sensitivity_words(found: Sequence[Sensitivity]) -> str:
    """One sentence on how the order changes where prices turn out otherwise; "" where there is no order."""
    if not found or not found[0].places:
        return ""
    places = found[0].places
    first = several(places, "the one place", "the first {count} places")
    said = "; ".join(
        several(
            one.moved,
            "1 holds another finding if {price} {times} as much",
            "{count} hold another finding if {price} {times} as much",
            price=say(PRICE_WORDS[one.price]),
            times=say("twice") if one.factor == TWICE else say("{factor:g} times", factor=one.factor),
        )
        for one in found
    )
    return say("How far the order hangs on the prices: of {first}, {said}.", first=first, said=said)
