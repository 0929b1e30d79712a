"""Velocity that holds a bed at a porosity by three laws at once, for many beds and draws.

The laws are those of `hydraulics.bed` and `hydraulics.other_laws`, arranged so that each needs one table of one
variable: for Wen and Yu eps^4.7 Ga gives Re, for Akgiray and Soyer the drag group gives Re1; the Ergun form has a
closed answer. Sizes are d60; what ten layers differ from their d60 grain is a factor handed in.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from fleetaudit.facts.frame import Floats
from fleetaudit.hydraulics import akgiray_soyer as primary

_LOWEST, _HIGHEST, _STEPS = -12.0, 12.0, 4801  # ln Re of the tables: Re 6e-6 to 1.6e5 in steps of half a per cent


@cache
def _wen_yu_table() -> tuple[Floats, Floats]:
    """ln(18 Re + 2.7 Re^1.687) against ln Re."""
    log_re = np.linspace(_LOWEST, _HIGHEST, _STEPS)
    return np.log(18 * np.exp(log_re) + 2.7 * np.exp(1.687 * log_re)), log_re


@cache
def _akgiray_soyer_table() -> tuple[Floats, Floats]:
    """ln of the drag group against ln Re1."""
    log_re = np.linspace(_LOWEST, _HIGHEST, _STEPS)
    return np.log(primary.LAMINAR * np.exp(log_re) + primary.INERTIAL * np.exp(primary.POWER * log_re)), log_re


def wen_yu(porosity: Floats, galileo: Floats) -> Floats:
    """Reynolds number of the grain at a porosity after Wen and Yu."""
    group, log_re = _wen_yu_table()
    return np.exp(np.interp(4.7 * np.log(porosity) + np.log(galileo), group, log_re))


def ergun_form(porosity: Floats, galileo: Floats, viscous: Floats, inertial: Floats) -> Floats:
    """Reynolds number of the grain at a porosity by the Ergun form with fitted constants."""
    linear = viscous * (1 - porosity)
    push = porosity * porosity * porosity * galileo
    return 2 * push / (linear + np.sqrt(linear * linear + 4 * inertial * push))


def akgiray_soyer(porosity: Floats, galileo: Floats, sphericity: Floats) -> Floats:
    """Reynolds number of the grain at a porosity after Akgiray and Soyer."""
    group, log_re1 = _akgiray_soyer_table()
    solid = 1 - porosity
    drag = (porosity * sphericity) ** 3 / (solid * solid) * galileo / 216
    return np.exp(np.interp(np.log(drag), group, log_re1)) * 6 * solid / sphericity
