"""What it costs to put right what was found: a priced line for each account."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from msgspec import Struct

from fleetaudit.language import say, several
from fleetaudit.needs import Needs
from fleetaudit.parts import Part, PartKind
from fleetaudit.units import from_si
from fleetaudit.writing.alike import said_once
from fleetaudit.writing.orders import PIECES, Clerk, Grouped
from fleetaudit.writing.report import OrderLine, QuoteLine, Span

_CUBIC_FOOT = "ft3"
_PRICES = {
    PartKind.RESTRICTOR: "restrictor_price",
    PartKind.HOUSING: "housing_price",
    PartKind.EXTERNAL: "external_price",
    PartKind.MEDIUM: "media_price",
    PartKind.GRAVEL: "gravel_price",
}
#: kinds that come by volume
_LOOSE = (PartKind.MEDIUM, PartKind.GRAVEL)
#: hours on site, by settings: of a fix, of a new bed, and of each cubic foot of it
_HOURS = ("route_fix", "route_rebed", "route_rebed_per_ft3")

Ends = tuple[float, float, float]


class _Work(Struct):
    """What the parts of one account ask for: units, those with a fix, vessels of new beds, their volume."""

    units: set[int]
    fixed: set[int]
    vessels: list[float]
    cubic_feet: list[float]
    doubtful: bool = False


def quotes(clerk: Clerk, lines: Sequence[Part], accounts: Grouped) -> list[QuoteLine]:
    """A priced line for each account: parts, media, hours, each low, middle and high."""
    works = [_Work(set(), set(), [], []) for _ in accounts.names]
    for part, group in zip(lines, accounts.groups, strict=True):
        _count(part, works[group])
    hours = said_once(
        lambda *amounts: _hours(clerk, amounts),
        [len(work.fixed) for work in works],
        [math.fsum(work.vessels) for work in works],
        [math.fsum(work.cubic_feet) for work in works],
    )
    said = said_once(_said, accounts.lines)
    prices, media_from = _prices(clerk, accounts.needs), _first_loose(accounts.needs)
    rows = zip(accounts.names, works, hours, pairwise(accounts.needs.starts), media_from, strict=True)
    return [
        _quote(
            clerk, name, work, time, "; ".join(said[first:last]),
            _added(prices[first:loose]), _added(prices[loose:last]),
        )
        for name, work, time, (first, last), loose in rows
    ]  # fmt: skip


def _count(part: Part, work: _Work) -> None:
    work.units.add(part.unit)
    if not part.contents:
        work.fixed.add(part.unit)
    if part.kind is PartKind.MEDIUM:
        work.vessels.append(part.count)
        if not math.isnan(part.size):
            work.cubic_feet.append(from_si(part.size, _CUBIC_FOOT) * part.count)
    work.doubtful = work.doubtful or part.to_bring


def _quote(
    clerk: Clerk, account: str, work: _Work, hours: Ends, what: str, parts: Ends, media: Ends
) -> QuoteLine:
    low, mid, high = clerk.ends("route_hour_price")
    labour = hours[0] * low, hours[1] * mid, hours[2] * high
    total = _added([parts, media, labour])
    units = len(work.units)
    text = say(
        "{account}: {units}. {what}. {hours:.1f} hours. Parts {parts:,.0f}, media {media:,.0f}, "
        "work {work:,.0f}; total {total:,.0f} ({low:,.0f} to {high:,.0f}).",
        account=account or say("No account given"),
        units=several(units, "1 unit", "{count:,} units"),
        what=what,
        hours=hours[1],
        parts=parts[1],
        media=media[1],
        work=labour[1],
        total=total[1],
        low=total[0],
        high=total[2],
    ) + (" " + say("Some of it is to be measured first.") if work.doubtful else "")
    return QuoteLine(
        account, units, what, Span(*parts), Span(*media), Span(*hours), Span(*labour), Span(*total),
        work.doubtful, text,
    )  # fmt: skip


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


def _prices(clerk: Clerk, needs: Needs) -> list[Ends]:
    """What each need costs; nothing where its amount is not known."""
    price = np.array([clerk.ends(_PRICES[item.kind]) for item in needs.items]).reshape(-1, 3)
    loose = np.array([item.kind in _LOOSE for item in needs.items], dtype=bool)
    amounts = np.nan_to_num(np.where(loose[needs.thing], needs.volume_m3, needs.pieces))
    return list(zip(*(price[needs.thing] * amounts[:, None]).T.tolist(), strict=True))


def _first_loose(needs: Needs) -> list[int]:
    """Where the media of each group begin; they stand behind its parts."""
    loose = np.array([item.kind in _LOOSE for item in needs.items], dtype=bool)[needs.thing]
    pieces = np.concatenate(([0], np.cumsum(~loose)))
    starts = np.array(needs.starts)
    return list((starts[:-1] + pieces[starts[1:]] - pieces[starts[:-1]]).tolist())


def _added(spans: Sequence[Ends]) -> Ends:
    if len(spans) == 1:
        return spans[0]
    low, mid, high = list(zip(*spans, strict=True)) or ((), (), ())
    return math.fsum(low), math.fsum(mid), math.fsum(high)


def _hours(clerk: Clerk, amounts: Sequence[float]) -> Ends:
    """Hours on site: a fix for each unit with parts, a new bed by vessel and by cubic foot of media."""
    each = [clerk.ends(key) for key in _HOURS]
    low, mid, high = (
        from_si(math.fsum([ends[place] * amount for ends, amount in zip(each, amounts, strict=True)]), "h")
        for place in range(3)
    )
    return low, mid, high
