"""The small drawing inside an opened finding: the window of one bed and what its restrictor lets through."""

from __future__ import annotations

from msgspec import Struct

from fleetaudit.schema import quantity as q
from fleetaudit.units import to_si
from fleetaudit.writing.display import Display
from fleetaudit.writing.report import FindingRecord, UnitRecord

#: pixels; the style sheet gives the drawing its size, so that a drawing need not
WIDTH = 260.0
#: share of the width that the highest flow takes; the rest is for its number
FILLED = 0.84
NEEDED = ("low_gpm", "high_gpm")
FLOW = "flow_gpm"


class Drawing(Struct, frozen=True):
    """Places on the drawing from left to right, whole pixels, and the numbers that stand at them.

    `low` and `high` are the window; `least`, `flow` and `most` what goes to the drain, tolerance included.
    """

    low: int
    high: int
    least: int
    flow: int
    most: int
    low_text: str
    high_text: str
    flow_text: str


def drawing(finding: FindingRecord, unit: UnitRecord | None, system: str) -> Drawing | None:
    """Drawing of a finding on the flow to drain; None where the finding is about something else."""
    if FLOW not in finding.figure_names:
        return None
    values = finding.values
    low, high, flow = (_number(values.get(key)) for key in (*NEEDED, FLOW))
    if low is None or high is None or flow is None or not 0 < low <= high or not flow > 0:
        return None
    span = unit.drain_gpm if unit else None
    least = span.low if span and span.low is not None else flow
    most = span.high if span and span.high is not None else flow
    if not least <= flow <= most:
        least = most = flow
    show = Display(system)
    scale = FILLED * WIDTH / max(high, most)

    def place(gpm: float) -> int:
        return round(gpm * scale)

    def words(gpm: float) -> str:
        return show.bare(q.FLOW, to_si(gpm, q.FLOW.us))

    return Drawing(
        low=place(low),
        high=place(high),
        least=place(least),
        flow=place(flow),
        most=place(most),
        low_text=words(low),
        high_text=words(high),
        flow_text=f"{words(flow)} {show.unit(q.FLOW)}",
    )


def _number(value: float | str | None) -> float | None:
    return float(value) if isinstance(value, int | float) else None
