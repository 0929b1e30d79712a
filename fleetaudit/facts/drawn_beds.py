"""Draws of what a bed is made of: its grains, and the law by which it expands."""

from __future__ import annotations

import numpy as np
from msgspec import Struct

from fleetaudit.catalogue import arrays
from fleetaudit.catalogue.model import Catalogue, Medium
from fleetaudit.facts import draws
from fleetaudit.facts.frame import Codes, Flags, Floats
from fleetaudit.facts.media import GRAIN
from fleetaudit.hydraulics import bed, water
from fleetaudit.hydraulics.akgiray_soyer import GRAVITY_M_S2

_LAYERS_AT_K = (
    283.15  # temperature at which ten layers are compared with their d60 grain; the ratio hardly moves
)


class Beds(Struct, frozen=True):
    """Draws of the media of a view, one row for each kind of bed and one column for each draw.

    Everything that does not depend on the water: size d60 [m], grain density [kg/m3], sphericity as the law
    of the column takes it, `weight` g d60^3 [m4/s2], settled porosity, porosity at the least and the most
    expansion, constants of the Ergun form, and a factor on the velocity for layers and the law's error.
    `by_rate` marks draws that follow practice, with rates [m/s], their temperature [K] and exponent.
    """

    size_m: Floats
    weight: Floats
    density: Floats
    sphericity: Floats
    settled: Floats
    porosity_low: Floats
    porosity_high: Floats
    viscous: Floats
    inertial: Floats
    factor: Floats
    by_rate: Flags
    rate_low: Floats
    rate_high: Floats
    rate_viscosity: Floats
    exponent: Floats

    def take(self, rows: Codes) -> Beds:
        """Rows of the table, one for each unit."""
        return Beds(*(getattr(self, name)[rows] for name in self.__struct_fields__))


def law_ends(catalogue: Catalogue) -> tuple[int, int]:
    """Ends of the laws among the draws: Wen and Yu up to the first number, the Ergun form to the second."""
    first = catalogue.number("law_share_wen_yu")
    second = first + catalogue.number("law_share_ergun_form")
    return round(first * draws.DRAWS), min(round(second * draws.DRAWS), draws.DRAWS)


def _candidates(catalogue: Catalogue, code: int, stated: bool) -> list[int]:
    """Media a bed may be made of: its own, and the other meshes of it where none is stated."""
    mine = catalogue.media[code]
    if stated:
        return [code]
    return [
        code,
        *(
            other
            for other, medium in enumerate(catalogue.media)
            if other != code
            and medium.family == mine.family
            and "rate_low_m_s" in medium.figures
            and not medium.support
        ),
    ]


def _ends(medium: Medium, key: str) -> tuple[float, float]:
    figure = medium.figures.get(key)
    return (np.nan, np.nan) if figure is None else (figure.low, figure.high)


def _made_of(catalogue: Catalogue, keys: list[tuple[int, bool]]) -> Codes:
    """Medium of each kind of bed in each draw."""
    place = draws.points()["mesh"]
    share = catalogue.number("stated_mesh_share")
    made = np.empty((len(keys), draws.DRAWS), dtype=np.int64)
    for row, (code, stated) in enumerate(keys):
        choice = np.array(_candidates(catalogue, code, stated))
        others = len(choice) - 1
        rest = np.floor((place - share) / (1 - share) * others).astype(np.int64) + 1 if others else 0
        made[row] = choice[np.where(place < share, 0, rest)]
    return made


def beds_of(catalogue: Catalogue, keys: list[tuple[int, bool]]) -> Beds:
    """Draws of some kinds of bed, one row for each."""
    made = _made_of(catalogue, keys)
    codes, inverse = np.unique(made, return_inverse=True)
    inverse = inverse.reshape(made.shape)
    media = [catalogue.media[code] for code in codes]

    def drawn(key: str, name: str, missing: tuple[float, float] = (np.nan, np.nan)) -> Floats:
        ends = np.array([_ends(medium, key) if key in medium.figures else missing for medium in media])
        place = draws.points()[name]
        low, high = ends[:, 0], ends[:, 1]
        return np.asarray(low[inverse] + (high - low)[inverse] * place)

    def fixed(key: str) -> Floats:
        return arrays.spread(catalogue, codes, key)[0][inverse]

    number = catalogue.number
    uniformity = np.maximum(drawn("uniformity", "uniformity"), 1.0)
    size = drawn("d10_m", "d10") * uniformity
    psi = np.minimum(drawn("sphericity", "sphericity"), 1.0)
    settled = drawn("porosity", "porosity")
    _, ergun_end = law_ends(catalogue)
    form = draws.points()["form"]
    sharp = np.where(psi < number("ergun_sphericity_round"), form, 0.0)
    viscous = number("ergun_viscous_round") + sharp * (
        number("ergun_viscous_sharp") - number("ergun_viscous_round")
    )
    inertial = number("ergun_inertial_round") + sharp * (
        number("ergun_inertial_sharp") - number("ergun_inertial_round")
    )
    factor = np.exp(number("law_error") * draws.bell("error"))[None, :] * np.ones(made.shape)
    factor[:, ergun_end:] *= _layers_against_d60(catalogue, codes)[inverse][:, ergun_end:]
    default_t = (number("default_rate_temperature"),) * 2
    exponent = number("default_temperature_exponent")
    no_lift = np.array(
        [medium.partial_ok or any(key not in medium.figures for key in GRAIN) for medium in media]
    )
    rate_k = drawn("rate_temperature_k", "rate_temperature", default_t)
    return Beds(
        size_m=size,
        weight=GRAVITY_M_S2 * size * size * size,
        density=drawn("grain_density_kg_m3", "density"),
        sphericity=psi + form * (1 - psi) / 2,
        settled=settled,
        porosity_low=1 - (1 - settled) / (1 + fixed("expansion_low")),
        porosity_high=1 - (1 - settled) / (1 + fixed("expansion_high")),
        viscous=viscous,
        inertial=inertial,
        factor=factor,
        by_rate=no_lift[inverse],
        rate_low=drawn("rate_low_m_s", "rate"),
        rate_high=drawn("rate_high_m_s", "rate"),
        rate_viscosity=np.asarray(water.viscosity_pa_s(rate_k)),
        exponent=np.where(np.isnan(fixed("temperature_exponent")), exponent, fixed("temperature_exponent")),
    )


def _layers_against_d60(catalogue: Catalogue, codes: Codes) -> Floats:
    """Velocity of ten layers over that of their d60 grain at the target expansion, by the primary law."""
    d10, uc, rho_s, psi, eps0 = (arrays.spread(catalogue, codes, key)[0] for key in GRAIN)
    target = arrays.spread(catalogue, codes, "expansion_target")[0]
    kelvin = np.full(len(codes), _LAYERS_AT_K)
    layered = bed.velocity_for_expansion(target, d10, uc, rho_s, psi, eps0, kelvin)
    rho, mu = water.density_kg_m3(_LAYERS_AT_K), water.viscosity_pa_s(_LAYERS_AT_K)
    porosity = bed.porosity_from_expansion(target, eps0)
    alone = bed.velocity_for_porosity(porosity, d10 * uc, rho_s, psi, rho, mu)
    ratio = np.asarray(layered / alone)
    return np.where(np.isnan(ratio), 1.0, ratio)


def kinds(catalogue: Catalogue) -> list[tuple[int, bool]]:
    """Kinds of bed: every medium, with its mesh stated and without."""
    return [(code, stated) for code in range(len(catalogue.media)) for stated in (True, False)]
