"""Numbers as people read them: the unit of the reader's system, no more digits than the figure is worth."""

from __future__ import annotations

import math
from datetime import date, timedelta
from functools import lru_cache

import numpy as np
from msgspec import Struct

from fleetaudit.facts.frame import Codes, Flags, Floats
from fleetaudit.language import dated, say
from fleetaudit.schema import quantity as q
from fleetaudit.schema.quantity import Kind, Quantity
from fleetaudit.units import from_si

EPOCH = date(1970, 1, 1)
#: days the calendar can count
FIRST_DAY, LAST_DAY = (date.min - EPOCH).days, (date.max - EPOCH).days
UNKNOWN, ANY = "not known", "any"
#: units shown otherwise than they are spelled in the unit table
SIGNS = {
    "degC": "°C",
    "degF": "°F",
    "ft2": "ft²",
    "ft3": "ft³",
    "m2": "m²",
    "m3": "m³",
    "gpm/ft2": "gpm/ft²",
    "d": "days",
    "gpm/ft3": "gpm/ft³",
    "m3/h": "m³/h",
    "year": "years",
}

#: one of a unit whose sign is a word of many
ONE = {"year": "1 year", "d": "1 day"}


class Display(Struct, frozen=True):
    """Shows SI values in the system "us" or "metric"."""

    system: str

    def unit(self, quantity: Quantity) -> str:
        """Sign of the quantity's unit."""
        unit = quantity.unit(self.system)
        return say(SIGNS.get(unit, unit))

    def value(self, quantity: Quantity, si: float) -> float | None:
        """Value in the system's unit, None where not known."""
        if math.isnan(si):
            return None
        unit = quantity.unit(self.system)
        return float(from_si(si, unit)) if unit else float(si)

    def bare(self, quantity: Quantity, si: float) -> str:
        """Value without its unit."""
        if quantity.kind is Kind.DATE:
            return dated(day(si)) if not math.isnan(si) else say(UNKNOWN)
        shown = self.value(quantity, si)
        return say(UNKNOWN) if shown is None else _number(shown, quantity)

    def text(self, quantity: Quantity, si: float) -> str:
        """Value with its unit."""
        text, endless = self.bare(quantity, si), math.isnan(si) or math.isinf(si)
        return text if endless else _signed(text, quantity.unit(self.system), self.unit(quantity))

    def texts(self, quantity: Quantity, values: Floats) -> list[str]:
        """Each value with its unit."""
        spelling, sign = quantity.unit(self.system), self.unit(quantity)
        if quantity.kind is Kind.DATE:
            return [self.bare(quantity, si) for si in values.tolist()]
        listed, shown = values.tolist(), (from_si(values, spelling) if spelling else values).tolist()
        return [
            _signed(_number(value, quantity), spelling, sign)
            if math.isfinite(value)
            else self.bare(quantity, si)
            for si, value in zip(listed, shown, strict=True)
        ]

    def range(self, quantity: Quantity, low: float, high: float) -> str:
        """Two values with one unit."""
        return say("{low} to {high}", low=self.bare(quantity, low), high=self.text(quantity, high))


def _number(shown: float, quantity: Quantity) -> str:
    if math.isinf(shown):
        return say(ANY)
    text = f"{shown:,.{quantity.digits}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _signed(text: str, spelling: str, sign: str) -> str:
    """A number with the sign of its unit; one of some units is a word of its own."""
    if text == "1" and spelling in ONE:
        return say(ONE[spelling])
    return f"{text}{sign}" if sign in ("", "%") else f"{text} {sign}"


@lru_cache(maxsize=8_192)
def day(number: float) -> date:
    """Date of a count of days since 1970-01-01; the calendar's last one for what lies beyond it."""
    return EPOCH + timedelta(days=math.floor(min(max(number, FIRST_DAY), LAST_DAY)))


def whole_days(values: Floats) -> Codes:
    """Whole days since 1970-01-01, those beyond the calendar on its first or last day."""
    return np.floor(np.clip(values, FIRST_DAY, LAST_DAY)).astype(np.int64)


def dates(values: Floats, known: Flags) -> list[date | None]:
    """Dates of counts of days, None where not known; one object for each day."""
    there = known & ~np.isnan(values)
    numbers, which = np.unique(whole_days(np.where(there, values, 0.0)), return_inverse=True)
    made = [day(number) for number in numbers.tolist()]
    return [made[place] if told else None for place, told in zip(which.tolist(), there.tolist(), strict=True)]


def gpm(si: float) -> float | None:
    """Flow in gpm, None where not known."""
    flow = Display("us").value(q.FLOW, si)
    return None if flow is None else round(flow, 6)
