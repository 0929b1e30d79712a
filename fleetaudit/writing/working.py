"""One equation of a working, and what all of them are made with."""

from __future__ import annotations

import numpy as np
from msgspec import Struct

from fleetaudit.auditing.result import AuditResult
from fleetaudit.facts import site
from fleetaudit.schema import quantity as q
from fleetaudit.schema.quantity import Quantity
from fleetaudit.writing.display import Display

LAW = (
    "Akgiray and Soyer, J. Water Supply: Res. Technol. AQUA 55 (2006) 517-526, coefficients from memory, "
    "unverified; ten layers of a log-normal grading"
)
TERMINAL = "Haider and Levenspiel, Powder Technology 58 (1989) 63-70, from memory, unverified"
OWN = "own choice"
GEOMETRY = "geometry"
#: viscosity shown in mPa s, the unit every table uses
MILLI = 1e-3


class Step(Struct, frozen=True):
    """One equation: what it gives, the equation in symbols, with numbers, and where it is from."""

    title: str
    equation: str
    numbers: str
    source: str


class Working:
    """Equations of one unit with its numbers put in."""

    def __init__(self, result: AuditResult, unit: int, display: Display) -> None:
        self.view, self.unit, self.show = result.view, unit, display

    def fine(self, quantity: Quantity, si: float) -> str:
        """Value with one digit more than a report shows, for working."""
        shown = self.show.value(quantity, si)
        if shown is None or np.isinf(shown):
            return self.show.text(quantity, si)
        digits = 0 if quantity is q.TEMPERATURE else 4
        text = f"{shown:.0f}" if not digits else f"{shown:.{digits}g}"
        unit = self.show.unit(quantity)
        return f"{text}{unit}" if unit == "%" else f"{text} {unit}"

    @property
    def ground(self) -> float:
        """Area of one vessel [m2]."""
        return float(site.area(self.view).value[self.unit])

    def ends(self) -> tuple[float, float]:
        """Coldest and warmest water [K]."""
        season = site.season(self.view)
        return float(season.cold.value[self.unit]), float(season.warm.value[self.unit])

    def medium_source(self, *keys: str) -> str:
        """Source of the first of some figures that the medium has."""
        code = int(self.view.medium[self.unit])
        if code < 0:
            return ""
        figures = self.view.catalogue.media[code].figures
        return next((self.view.catalogue.cite(figures[key].source) for key in keys if key in figures), "")
