"""What the catalogue says of media for their wash, for many units at once."""

from __future__ import annotations

import numpy as np

from fleetaudit.catalogue import arrays
from fleetaudit.catalogue.model import Catalogue
from fleetaudit.facts.frame import Codes
from fleetaudit.facts.view import View
from fleetaudit.hydraulics import window

GRAIN = ("d10_m", "uniformity", "grain_density_kg_m3", "sphericity", "porosity")
PRACTICE = (
    "rate_low_m_s",
    "rate_high_m_s",
    "rate_temperature_k",
    "expansion_low",
    "expansion_target",
    "expansion_high",
    "temperature_exponent",
)

#: settings that stand in for what a medium's row leaves out
STAND_INS = {
    "rate_temperature_k": "default_rate_temperature",
    "temperature_exponent": "default_temperature_exponent",
}


def grain(catalogue: Catalogue, medium: Codes) -> window.Grain:
    """Grain data of an array of media, NaN where the catalogue has none."""
    return window.Grain(*(arrays.spread(catalogue, medium, key)[0] for key in GRAIN))


def practice(catalogue: Catalogue, medium: Codes) -> window.Practice:
    """Rates and expansions of an array of media as practised."""
    figures = {key: arrays.spread(catalogue, medium, key)[0] for key in PRACTICE}
    for key, setting in STAND_INS.items():
        figures[key] = np.where(np.isnan(figures[key]), catalogue.number(setting), figures[key])
    return window.Practice(**figures, partial_ok=arrays.flag(catalogue, medium, "partial_ok"))


def grains(view: View) -> window.Grain:
    """Grains of all media of the catalogue by their code, and of an unknown one last, for the code -1."""
    catalogue = view.catalogue
    return view.worked.remember("grains", lambda: grain(catalogue, _every(catalogue)))


def washed(view: View) -> window.Media:
    """All media of the catalogue with what was worked out of their wash by now, in the same order."""
    catalogue = view.catalogue
    return view.worked.remember(
        "washed", lambda: window.Media(grains(view), practice(catalogue, _every(catalogue)))
    )


def _every(catalogue: Catalogue) -> Codes:
    return np.append(np.arange(len(catalogue.media)), -1)
