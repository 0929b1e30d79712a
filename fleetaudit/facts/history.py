"""What was recorded before, as the history sheet of the workbook tells it."""

from __future__ import annotations

from msgspec import Struct


class Before(Struct, frozen=True):
    """A line of the history: unit, label, subject, its day (NaN not known), new value and source."""

    unit_id: str
    label: str
    what: str
    day: float
    new: str
    source: str
