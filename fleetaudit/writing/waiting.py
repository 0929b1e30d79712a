"""What leaving the findings of one unit costs, and where they stand in the order of the whole list."""

from __future__ import annotations

import numpy as np

from fleetaudit.auditing.result import AuditResult
from fleetaudit.checks.registry import CHECKS
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
        cost, title = order.costs[check], CHECKS[check].title
        where = f"place {place + 1:,} of {len(order.unit):,} findings"
        if cost is None:
            lines.append(f"{title}: {where}; nothing in Settings prices it.")
            continue
        low, mid, high = (float(end[unit]) for end in (cost.low, cost.mid, cost.high))
        sums = "; ".join(cost_lines(cost, np.array([unit]), show)[0])
        lines.append(f"{title}: {where}; {mid:,.0f} a year ({low:,.0f} to {high:,.0f}). {sums}.")
    return (*lines, RULE) if lines else ()
