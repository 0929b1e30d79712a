"""The limits the comparison works with, as the Settings sheet gives them."""

from __future__ import annotations

from msgspec import Struct

from fleetaudit.catalogue.model import Catalogue

EDGES = ("1", "2", "3")


class Rules(Struct, frozen=True):
    """Limits from which a difference is said, and edges that part one kind of job from another.

    Vessels are parted by diameter [m], media by the least wash rate of the catalogue [m/s], both upper edges
    included in the lower class; `years_together` install years make one kind of job.
    """

    false_share: float
    false_share_better: float
    least_ratio: float
    least_excess: float
    least_units: int
    least_stratum: int
    pattern_share: float
    years_together: int
    dispersion_from: int
    vessel_edges_m: tuple[float, ...]
    wash_edges_m_s: tuple[float, ...]


def rules_of(catalogue: Catalogue) -> Rules:
    """The limits in force."""
    number = catalogue.number
    return Rules(
        false_share=number("crew_false_share"),
        false_share_better=number("crew_false_share_better"),
        least_ratio=number("crew_least_ratio"),
        least_excess=number("crew_least_excess"),
        least_units=round(number("crew_least_units")),
        least_stratum=round(number("crew_least_stratum")),
        pattern_share=number("crew_pattern_share"),
        years_together=max(1, round(number("crew_years_together"))),
        dispersion_from=round(number("crew_dispersion_from")),
        vessel_edges_m=tuple(sorted(number(f"crew_vessel_edge_{edge}") for edge in EDGES)),
        wash_edges_m_s=tuple(sorted(number(f"crew_wash_edge_{edge}") for edge in EDGES)),
    )
