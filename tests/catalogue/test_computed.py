"""Figures marked as computed, worked out again from the law by a solver that shares no code with the package.

Law: Akgiray and Soyer (2006), J. Water Supply Res. Technol. AQUA 55:517; coefficients from memory,
unverified.
Viscosity: Korson, Drost-Hansen, Millero (1969) table II. Density: Kell (1975) (from memory, unverified).
"""

import math

import pytest
from scipy.optimize import brentq
from scipy.stats import norm

from fleetaudit.catalogue import shipped

KORSON_PA_S = {5: 1.5192e-3, 10: 1.3069e-3}
KELL_KG_M3 = {5: 999.967, 10: 999.702}
GRAVITY = 9.80665
LAYERS = 10
CARRIED_OFF = 0.9999

COMPUTED = [
    m.key
    for m in shipped.load().media
    if "temperature_exponent" in m.figures and m.figures["temperature_exponent"].source == "computed"
]


def layer_expansion(velocity, size, medium, celsius):
    """Bed height over settled height of one layer."""
    rho_s, psi, settled = (medium.figures[k].value for k in ("grain_density_kg_m3", "sphericity", "porosity"))
    rho, mu = KELL_KG_M3[celsius], KORSON_PA_S[celsius]

    def balance(porosity):
        reynolds = psi * size * rho * velocity / (6 * mu * (1 - porosity))
        drag = 3.137 * reynolds + 0.673 * reynolds**1.766
        weight = (
            porosity**3
            / (1 - porosity) ** 2
            * (psi * size) ** 3
            * rho
            * (rho_s - rho)
            * GRAVITY
            / (216 * mu**2)
        )
        return weight - drag

    if balance(settled) > 0:
        return 1.0
    porosity = brentq(balance, settled, CARRIED_OFF) if balance(CARRIED_OFF) > 0 else CARRIED_OFF
    return (1 - settled) / (1 - porosity)


def rate(medium, expansion, celsius):
    """Velocity [m/s] that expands ten log-normal layers to the given share."""
    sigma = math.log(medium.figures["uniformity"].value) / 1.53490
    sizes = [
        medium.figures["d10_m"].value * math.exp(sigma * (norm.ppf((i + 0.5) / LAYERS) + 1.28155))
        for i in range(LAYERS)
    ]

    def excess(velocity):
        return (
            sum(layer_expansion(velocity, size, medium, celsius) for size in sizes) / LAYERS - 1 - expansion
        )

    return brentq(excess, 1e-5, 0.2)


@pytest.mark.parametrize("key", COMPUTED)
def test_temperature_exponent(key):
    """Power n of rate ~ viscosity^-n between 5 and 10 C, to the two digits it is given in."""
    medium = shipped.load().medium(key)
    target = medium.figures["expansion_target"].value
    ratio = rate(medium, target, 10) / rate(medium, target, 5)
    power = math.log(ratio) / math.log(KORSON_PA_S[5] / KORSON_PA_S[10])
    assert medium.figures["temperature_exponent"].value == pytest.approx(power, abs=0.015)


def test_effective_size_of_fine_mesh_resin():
    """Its size expands by half at 2.75 gpm/ft2 and 10 C; two digits of size are 3 %, hence 5 % of rate."""
    medium = shipped.load().medium("cation-resin-fine")
    gpm_ft2 = 6.309020e-5 / 9.290304e-2  # NIST SP 811
    assert rate(medium, 0.50, 10) / gpm_ft2 == pytest.approx(2.75, rel=0.05)
