"""What leaving the findings of one unit costs, and where they stand in the order of the whole list."""

from __future__ import annotations

import numpy as np

from fleetaudit.auditing.result import AuditResult
from fleetaudit.checks.registry import CHECKS
from fleetaudit.language import say
from fleetaudit.ranking import ranked
from fleetaudit.writing.cost_words import cost_lines
from fleetaudit.writing.display import Display

RULE = (
    "Order: by tier, inside a tier by the middle of the yearly cost; how far to trust a finding moves none."
)


def waiting(result: AuditResult, unit: int, show: Display) -> tuple[str, ...]:
    """A line for each finding of a unit, in report order, and the rule; nothing where there is none."""
    order, lines = ranked(result), []
    for place in np.flatnonzero(order.unit == unit).tolist():
        check = int(order.check[place])
        cost, title = order.costs[check], say(CHECKS[check].title)
        number, count = place + 1, len(order.unit)
        if cost is None:
            lines.append(
                say(
                    "{title}: place {number:,} of {count:,} findings; nothing in Settings prices it.",
                    title=title,
                    number=number,
                    count=count,
                )
            )
            continue
        low, mid, high = (float(end[unit]) for end in (cost.low, cost.mid, cost.high))
        lines.append(
            say(
                "{title}: place {number:,} of {count:,} findings; {mid:,.0f} a year ({low:,.0f} to "
                "{high:,.0f}). {sums}.",
                title=title,
                number=number,
                count=count,
                low=low,
                mid=mid,
                high=high,
                sums="; ".join(cost_lines(cost, np.array([unit]), show)[0]),
            )
        )
    return (*lines, say(RULE)) if lines else ()
