"""How far four laws of expansion differ in the velocity that a medium of the catalogue needs: the error of
the model.

Run `python -m tests.simulation.law_spread` to see it medium by medium. The laws: Akgiray and Soyer in ten
layers (middle of its range of sphericity), Wen and Yu, Dharmarajah and Cleasby, and the Ergun form with
fitted constants, the last three on the d60 grain.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from fleetaudit.catalogue.model import Catalogue, Medium
from fleetaudit.catalogue.shipped import load
from fleetaudit.facts.media import GRAIN
from fleetaudit.hydraulics import bed, other_laws, water

LAWS = ("Akgiray-Soyer", "Wen-Yu", "Dharmarajah-Cleasby", "Ergun form")
KELVIN = (278.15, 283.15, 293.15)


def media(catalogue: Catalogue) -> list[Medium]:
    """Media with grain data and a target expansion."""
    return [m for m in catalogue.media if all(key in m.figures for key in (*GRAIN, "expansion_target"))]


def velocities(catalogue: Catalogue, medium: Medium, kelvin: float) -> list[float]:
    """Velocity [m/s] at the target expansion by each law."""
    d10, uc, rho_s, psi, eps0 = (medium.figures[key].value for key in GRAIN)
    target = medium.figures["expansion_target"].value
    rho, mu = float(water.density_kg_m3(kelvin)), float(water.viscosity_pa_s(kelvin))
    porosity, d60 = 1 - (1 - eps0) / (1 + target), d10 * uc
    ends = [
        float(bed.velocity_for_expansion(target, d10, uc, rho_s, s, eps0, kelvin))
        for s in (psi, (1 + psi) / 2)
    ]
    sharp = 0.5 if psi < catalogue.number("ergun_sphericity_round") else 0.0
    viscous, inertial = (
        (1 - sharp) * catalogue.number(f"ergun_{part}_round")
        + sharp * catalogue.number(f"ergun_{part}_sharp")
        for part in ("viscous", "inertial")
    )
    return [
        float(np.sqrt(ends[0] * ends[1])),
        _held(lambda v: bed.wen_yu_porosity(v, d60, rho_s, rho, mu), porosity),
        _held(lambda v: other_laws.dharmarajah_cleasby_porosity(v, d60, rho_s, psi, rho, mu), porosity),
        float(other_laws.crittenden_velocity_for_porosity(porosity, d60, rho_s, rho, mu, viscous, inertial)),
    ]


def _held(porosity_at: Callable[[float], np.ndarray], porosity: float) -> float:
    low, high = 1e-5, 1.0
    for _ in range(50):
        middle = (low * high) ** 0.5
        low, high = (middle, high) if float(porosity_at(middle)) < porosity else (low, middle)
    return (low * high) ** 0.5


def deviations(catalogue: Catalogue) -> dict[str, np.ndarray]:
    """Logarithm of each law's velocity less the mean of all, averaged over the temperatures, by medium."""
    found = {}
    for medium in media(catalogue):
        logs = np.log([velocities(catalogue, medium, kelvin) for kelvin in KELVIN]).mean(axis=0)
        found[medium.key] = logs - logs.mean()
    return found


def spread(table: dict[str, np.ndarray]) -> float:
    """Standard deviation between laws, pooled over the media."""
    off = np.array(list(table.values()))
    return float(np.sqrt((off**2).sum() / (off.shape[0] * (off.shape[1] - 1))))


if __name__ == "__main__":
    found = deviations(load())
    print(" " * 28 + "  ".join(LAWS))
    for key, off in found.items():
        print(f"{key:28s}" + "  ".join(f"{one:+{len(name)}.2f}" for one, name in zip(off, LAWS, strict=True)))
    print(f"standard deviation of ln v: {spread(found):.3f}")
