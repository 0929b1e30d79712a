"""What figures of a medium cannot be, whoever wrote them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from fleetaudit.catalogue.model import Figure

_ORDERS = (
    ("rate_low_m_s", "rate_high_m_s", "the least wash rate is above the greatest"),
    ("expansion_low", "expansion_target", "the least expansion is above the one aimed at"),
    ("expansion_target", "expansion_high", "the expansion aimed at is above the greatest"),
    ("life_low_s", "life_s", "the short end of the life is above the life"),
    ("life_s", "life_high_s", "the life is above its long end"),
    ("ph_low", "ph_high", "the lowest pH is above the highest"),
    ("wash_minutes_low_s", "wash_minutes_high_s", "the shortest backwash is above the longest"),
    ("wash_interval_low_s", "wash_interval_high_s", "the shortest time between washes is above the longest"),
)

_BOUNDS = (
    ("uniformity", 1.1, 3.0, "a uniformity coefficient lies between 1.1 and 3"),
    ("sphericity", 0.4, 1.0, "a sphericity lies between 0.4 and 1"),
    ("porosity", 0.3, 0.7, "a settled porosity lies between 0.30 and 0.70"),
    ("d10_m", 0.00005, 0.01, "an effective size lies between 0.05 and 10 mm"),
    ("ph_low", 0.0, 14.0, "a pH lies between 0 and 14"),
    ("ph_high", 0.0, 14.0, "a pH lies between 0 and 14"),
)

WATER_KG_M3 = 1000.0
VOIDS = (0.36, 0.60)
"""Share of voids that settled beds of solid grains have."""


def faults(figures: Mapping[str, Figure], porous: bool = True) -> Iterator[str]:
    """Half sentences, one for each figure that cannot be true."""
    density = figures.get("grain_density_kg_m3")
    if density and not density.value > WATER_KG_M3:
        yield "the water-filled grain must be heavier than water, above 1000 kg/m3 (a dry bulk density is another figure)"
    for key, low, high, sentence in _BOUNDS:
        if key in figures and not low <= figures[key].value <= high:
            yield sentence
    for below, above, sentence in _ORDERS:
        if below in figures and above in figures and figures[below].value > figures[above].value:
            yield sentence
    for key, figure in figures.items():
        if figure.value < 0:
            yield f"{key} is below zero"
    yield from _solid(figures, porous)


def _solid(figures: Mapping[str, Figure], porous: bool) -> Iterator[str]:
    bulk, grain = figures.get("bulk_density_kg_m3"), figures.get("grain_density_kg_m3")
    if porous or bulk is None or grain is None or grain.value <= WATER_KG_M3:
        return
    voids = 1 - bulk.value / grain.value
    if not VOIDS[0] <= voids <= VOIDS[1]:
        yield f"bulk and grain density leave {voids:.0%} voids; beds of solid grains have {VOIDS[0]:.0%} to {VOIDS[1]:.0%}"
