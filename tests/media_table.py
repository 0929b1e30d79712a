"""The table of DEVELOPERS.md: what each medium takes at five temperatures, and where practice and physics
differ.

`cog -r DEVELOPERS.md` writes it anew; a test holds the page against it.
"""

from __future__ import annotations

import numpy as np

from fleetaudit.catalogue.model import Catalogue, Medium
from fleetaudit.catalogue.shipped import load
from fleetaudit.facts.media import grain, practice
from fleetaudit.hydraulics import bed, window
from fleetaudit.units import from_si

CELSIUS = (5, 10, 15, 20, 25)
ZERO = 273.15
#: share by which the middles of both may differ before they are said to disagree
AGREE = 0.20
HEADINGS = (
    "Medium",
    "Rate, gpm/ft²",
    "for °C",
    *(f"{t} °C" for t in CELSIUS),
    "Physics over practice",
    "What the audit does",
)


def lines() -> list[str]:
    """Rows of the table, as Markdown."""
    catalogue = load()
    rows = [row for code, medium in enumerate(catalogue.media) if (row := _row(catalogue, code, medium))]
    rule = "| " + " | ".join("---" for _ in HEADINGS) + " |"
    return ["| " + " | ".join(HEADINGS) + " |", rule, *("| " + " | ".join(row) + " |" for row in rows)]


def _row(catalogue: Catalogue, code: int, medium: Medium) -> list[str] | None:
    if medium.support and "rate_low_m_s" not in medium.figures:
        return None
    codes = np.array([code])
    size, wash = grain(catalogue, codes), practice(catalogue, codes)
    rate = "none" if np.isnan(wash.rate_low_m_s[0]) else _span(wash.rate_low_m_s[0], wash.rate_high_m_s[0])
    at = f"{wash.rate_temperature_k[0] - ZERO:.0f}" if rate != "none" else ""
    windows = []
    for celsius in CELSIUS:
        found = window.rate_window(size, wash, [ZERO + celsius], [ZERO + celsius])
        known = not np.isnan(found.low[0] + found.high[0])
        windows.append(_span(found.low[0], found.high[0]) if known else "not known")
    off = difference(size, wash)
    return [medium.name, rate, at, *windows, "" if np.isnan(off) else f"{off:+.0%}", _treatment(medium, off)]


def _span(low: float, high: float) -> str:
    ends = [f"{float(from_si(float(end), 'gpm/ft2')):.1f}" for end in (low, high)]
    return "–".join(ends)


def difference(size: window.Grain, wash: window.Practice) -> float:
    """How far the physics range's middle lies above the middle of the rate, at the rate's temperature."""
    d10, uc, rho_s, psi, eps0 = (float(part[0]) for part in size.columns())
    aim, at = float(wash.expansion_target[0]), float(wash.rate_temperature_k[0])
    ends = [
        bed.velocity_for_expansion(aim, d10, uc, rho_s, shape, eps0, at) for shape in (psi, (1 + psi) / 2)
    ]
    middle = (float(wash.rate_low_m_s[0]) + float(wash.rate_high_m_s[0])) / 2
    return float(np.mean(ends)) / middle - 1


def _treatment(medium: Medium, off: float) -> str:
    main = "never judged alone: the main medium of the blend sets the window, its own ceiling counts"
    beside = "never judged alone: coal and sand of the bed set the window, this layer counts for the ceiling"
    told = {
        main: medium.blend_only,
        beside: not medium.sets_rate,
        "the bed's own rate rules; its coal and sand give expansion and freeboard ceiling": medium.layers,
        "rate alone, moved by viscosity; no expansion, no freeboard ceiling": np.isnan(off),
        "the rate rules though it hardly lifts the bed; no floor, probability by the rate's own range": (
            medium.partial_ok
        ),
        "the rate rules and physics agrees": abs(off) <= AGREE,
        "the rate rules; physics lowers the probability, so findings near it are to be measured first": True,
    }
    return next(words for words, holds in told.items() if holds)


if __name__ == "__main__":
    print("\n".join(lines()))
