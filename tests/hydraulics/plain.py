"""The primary law solved the slow way, from the printed equations and the standard library alone."""

from __future__ import annotations

import math
from statistics import NormalDist

G = 9.80665


def porosity(v, d, rho_s, psi, rho, mu):
    """Halve the porosity until drag and weight balance."""

    def too_loose(eps):
        weight = eps**3 / (1 - eps) ** 2 * (psi * d) ** 3 * rho * (rho_s - rho) * G / (216 * mu**2)
        re1 = psi * d * rho * v / (6 * mu * (1 - eps))
        return weight > 3.137 * re1 + 0.673 * re1**1.766

    low, high = 0.0, 0.9999
    for _ in range(200):
        middle = (low + high) / 2
        low, high = (low, middle) if too_loose(middle) else (middle, high)
    return (low + high) / 2


def expansion(v, d10, uc, rho_s, psi, eps0, rho, mu, layers=10):
    normal = NormalDist()
    z10 = normal.inv_cdf(0.1)
    sigma = math.log(uc) / (normal.inv_cdf(0.6) - z10)
    sizes = [d10 * math.exp(sigma * (normal.inv_cdf((i + 0.5) / layers) - z10)) for i in range(layers)]
    heights = [(1 - eps0) / (1 - max(eps0, porosity(v, d, rho_s, psi, rho, mu))) for d in sizes]
    return math.fsum(heights) / layers - 1


def root(function, low, high):
    """Halve an interval in which `function` rises through zero."""
    for _ in range(200):
        middle = math.sqrt(low * high)
        low, high = (low, middle) if function(middle) > 0 else (middle, high)
    return math.sqrt(low * high)
