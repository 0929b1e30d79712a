"""Every kind of figure a medium can have: its SI key, its name in data files and sheets, and usual units."""

from __future__ import annotations

from functools import lru_cache

from msgspec import Struct

from fleetaudit import units


class FigureKind(Struct, frozen=True):
    """One kind of figure; `name` is the key without SI suffix, `spread` its row of the spread table."""

    name: str
    key: str
    us: str
    metric: str
    spread: str
    title: str
    geometric: bool = False


_FLUX = ("gpm/ft2", "m/h")
_SHARE = ("%", "%")
_PLAIN = ("1", "1")
_YEARS = ("year", "year")

KINDS: tuple[FigureKind, ...] = (
    FigureKind("d10", "d10_m", "mm", "mm", "d10", "effective size"),
    FigureKind("uniformity", "uniformity", *_PLAIN, "uniformity", "uniformity coefficient"),
    FigureKind(
        "grain_density",
        "grain_density_kg_m3",
        "kg/m3",
        "kg/m3",
        "grain_density",
        "water-filled grain density",
    ),
    FigureKind("sphericity", "sphericity", *_PLAIN, "sphericity", "sphericity"),
    FigureKind("porosity", "porosity", *_PLAIN, "porosity", "settled porosity"),
    FigureKind("bulk_density", "bulk_density_kg_m3", "lb/ft3", "kg/m3", "bulk_density", "bulk density"),
    FigureKind(
        "temperature_exponent", "temperature_exponent", *_PLAIN, "temperature_exponent", "power of viscosity"
    ),
    FigureKind("rate_low", "rate_low_m_s", *_FLUX, "rate", "least wash rate"),
    FigureKind("rate_high", "rate_high_m_s", *_FLUX, "rate", "greatest wash rate"),
    FigureKind(
        "rate_temperature",
        "rate_temperature_k",
        "degF",
        "degC",
        "rate_temperature",
        "temperature of the wash rate",
    ),
    FigureKind("expansion_low", "expansion_low", *_SHARE, "expansion", "least expansion"),
    FigureKind("expansion_target", "expansion_target", *_SHARE, "expansion", "expansion aimed at"),
    FigureKind("expansion_high", "expansion_high", *_SHARE, "expansion", "greatest expansion"),
    FigureKind("freeboard", "freeboard_fraction", *_SHARE, "freeboard", "freeboard as a share of depth"),
    FigureKind("service_flux", "service_flux_m_s", *_FLUX, "service_flux", "greatest service loading"),
    FigureKind(
        "service_per_volume",
        "service_per_volume_1_s",
        "gpm/ft3",
        "BV/h",
        "service_per_volume",
        "greatest service flow per volume",
    ),
    FigureKind(
        "contact_time", "contact_time_s", "min", "min", "contact_time", "least contact time, empty bed", True
    ),
    FigureKind("least_depth", "least_depth_m", "in", "mm", "least_depth", "least bed depth"),
    FigureKind("life_low", "life_low_s", *_YEARS, "life", "life, short end"),
    FigureKind("life", "life_s", *_YEARS, "life", "life", True),
    FigureKind("life_high", "life_high_s", *_YEARS, "life", "life, long end"),
    FigureKind(
        "life_bed_volumes", "life_bed_volumes", *_PLAIN, "life_bed_volumes", "life in bed volumes", True
    ),
    FigureKind("top_up", "top_up_s", *_YEARS, "top_up", "time until a dissolving bed is topped up", True),
    FigureKind("ph_low", "ph_low", *_PLAIN, "ph", "lowest pH"),
    FigureKind("ph_high", "ph_high", *_PLAIN, "ph", "highest pH"),
    FigureKind("temperature_max", "temperature_max_k", "degF", "degC", "temperature_max", "warmest water"),
    FigureKind(
        "wash_minutes_low", "wash_minutes_low_s", "min", "min", "wash_minutes", "shortest usual backwash"
    ),
    FigureKind(
        "wash_minutes_high", "wash_minutes_high_s", "min", "min", "wash_minutes", "longest usual backwash"
    ),
    FigureKind(
        "wash_interval_low",
        "wash_interval_low_s",
        "d",
        "d",
        "wash_interval",
        "shortest usual time between washes",
    ),
    FigureKind(
        "wash_interval_high",
        "wash_interval_high_s",
        "d",
        "d",
        "wash_interval",
        "longest usual time between washes",
    ),
)

BY_NAME = {kind.name: kind for kind in KINDS}
BY_KEY = {kind.key: kind for kind in KINDS}

ENDS: dict[str, tuple[str, ...]] = {
    "rate": ("rate_low", "rate_high"),
    "ph": ("ph_low", "ph_high"),
    "wash_minutes": ("wash_minutes_low", "wash_minutes_high"),
    "wash_interval": ("wash_interval_low", "wash_interval_high"),
}
"""Figures that are written as one pair of ends; each end is a figure with a range of its own."""

TRIPLES: dict[str, tuple[str, str, str]] = {
    "expansion": ("expansion_low", "expansion_target", "expansion_high"),
    "life": ("life_low", "life", "life_high"),
}
"""Figures written as low end, middle, high end."""

_MONEY = {"money": None, "money/ft3": (1.0, "ft3"), "money/1000gal": (1000.0, "gal")}


@lru_cache(maxsize=1024)
def dimension(unit: str) -> str | None:
    """SI unit that `unit` is carried to, None where the table of units does not hold it."""
    if unit in _MONEY:
        per = _MONEY[unit]
        return "money" if per is None else "money/m3"
    known = units.find(unit)
    return known.si if known else None


def factor(unit: str) -> tuple[float, float]:
    """Factor and offset to SI, prices included (money, or money per m3)."""
    if unit not in _MONEY:
        return units.factor(unit)
    per = _MONEY[unit]
    return (1.0 if per is None else 1.0 / (per[0] * units.factor(per[1])[0])), 0.0


def to_si(value: float, unit: str) -> float:
    """Value in `unit` carried to SI."""
    scale, offset = factor(unit)
    return (value + offset) * scale


def from_si(value: float, unit: str) -> float:
    """SI value shown in `unit`."""
    scale, offset = factor(unit)
    return value / scale - offset
