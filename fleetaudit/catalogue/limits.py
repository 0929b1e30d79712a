"""What figures of a medium cannot be, whoever wrote them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from fleetaudit.catalogue.kinds import BY_KEY, from_si
from fleetaudit.catalogue.model import Figure

Figures = Mapping[str, Figure]

VOIDS = "voids_of_solid_grains"
_DENSITY = "grain_density_kg_m3"
_ORDERS = (
    ("rate_low_m_s", "rate_high_m_s"),
    ("expansion_low", "expansion_target"),
    ("expansion_target", "expansion_high"),
    ("life_low_s", "life_s"),
    ("life_s", "life_high_s"),
    ("ph_low", "ph_high"),
    ("wash_minutes_low_s", "wash_minutes_high_s"),
    ("wash_interval_low_s", "wash_interval_high_s"),
)
_MAY_BE_ZERO = ("expansion_low", "ph_low")


def faults(figures: Figures, bounds: Figures, porous: bool = True) -> Iterator[str]:
    """One clause for each figure that cannot be true."""
    yield from _outside(figures, bounds)
    for below, above in _ORDERS:
        if below in figures and above in figures and figures[below].value > figures[above].value:
            yield f"{_named(below, figures[below])} is above {_named(above, figures[above])}"
    if not porous:
        yield from _voids(figures, bounds)


def _outside(figures: Figures, bounds: Figures) -> Iterator[str]:
    for key, figure in figures.items():
        bound = bounds.get(key)
        if key == _DENSITY and bound and figure.value <= bound.low:
            yield f"grains of {_shown(figure)} would float; give the water-filled grain, not the dry medium"
        elif bound and not bound.low <= figure.value <= bound.high:
            low, high = (f"{from_si(end, bound.unit):g}" for end in (bound.low, bound.high))
            yield f"{_named(key, figure)} must lie between {low} and {high} {_unit(bound.unit)}".rstrip()
        elif figure.value < 0 or (figure.value == 0 and key not in _MAY_BE_ZERO):
            yield f"{_named(key, figure)} must be above zero"


def _voids(figures: Figures, bounds: Figures) -> Iterator[str]:
    bulk, grain, bound = figures.get("bulk_density_kg_m3"), figures.get(_DENSITY), bounds.get(VOIDS)
    floor = bounds.get(_DENSITY)
    if grain and floor and grain.value <= floor.low:
        return
    if bulk and grain and bound and not bound.low <= 1 - bulk.value / grain.value <= bound.high:
        voids = 1 - bulk.value / grain.value
        yield (
            f"bulk density {_shown(bulk)} and grain density {_shown(grain)} leave {voids:.0%} voids; "
            f"beds of solid grains have {bound.low:.0%} to {bound.high:.0%}"
        )


def _named(key: str, figure: Figure) -> str:
    return f"the {BY_KEY[key].title} ({_shown(figure)})"


def _shown(figure: Figure) -> str:
    return f"{from_si(figure.value, figure.unit):.4g} {_unit(figure.unit)}".rstrip()


def _unit(unit: str) -> str:
    return "" if unit == "1" else unit
