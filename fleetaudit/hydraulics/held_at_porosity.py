"""Reynolds number that holds grains at a porosity, by three laws, for very many grains at once.

The laws are those of `bed` and `other_laws`, arranged so that each needs one table of one variable: for Wen and Yu
eps^4.7 Ga gives Re, for Akgiray and Soyer the drag group gives Re1; the Ergun form has a closed answer. Re is that of
the grain, rho v d / mu.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from fleetaudit.hydraulics import akgiray_soyer as primary
from fleetaudit.hydraulics.arrays import Floats

_LOWEST, _HIGHEST, _STEPS = -12.0, 12.0, 4801  # ln Re of the tables: Re 6e-6 to 1.6e5 in steps of half a per cent


@cache
def _wen_yu_table() -> tuple[Floats, Floats]:
    """ln(18 Re + 2.7 Re^1.687) against ln Re."""
    log_re = np.linspace(_LOWEST, _HIGHEST, _STEPS)
    return np.log(18 * np.exp(log_re) + 2.7 * np.exp(1.687 * log_re)), log_re


@cache
def _akgiray_soyer_table() -> tuple[Floats, Floats]:
    """Logarithm of the drag group against ln Re1."""
    log_re = np.linspace(_LOWEST, _HIGHEST, _STEPS)
    return np.log(primary.LAMINAR * np.exp(log_re) + primary.INERTIAL * np.exp(primary.POWER * log_re)), log_re


def wen_yu(porosity: Floats, galileo: Floats) -> Floats:
    """Reynolds number at a porosity after Wen and Yu.

    Parameters
    ----------
    porosity
        Void fraction [-].
    galileo
        Galileo number of the grain [-].

    Returns
    -------
    Reynolds number [-].

    Notes
    -----
    Equation: eps^4.7 Ga = 18 Re + 2.7 Re^1.687, from a table. Source and known bias: `bed.wen_yu_porosity`.
    Range: Re 1e-5 to 1e5; the table adds less than 1e-4.

    Examples
    --------
    18 x 10 + 2.7 x 10^1.687 is 311.3:

    >>> from numpy import array
    >>> float(wen_yu(array(1.0), array(311.33)))
    10.0
    """
    group, log_re = _wen_yu_table()
    return np.exp(np.interp(4.7 * np.log(porosity) + np.log(galileo), group, log_re))


def ergun_form(porosity: Floats, galileo: Floats, viscous: Floats, inertial: Floats) -> Floats:
    """Reynolds number at a porosity by the Ergun form with fitted constants.

    Parameters
    ----------
    porosity
        Void fraction [-].
    galileo
        Galileo number of the grain [-].
    viscous, inertial
        Constants kV and kI [-].

    Returns
    -------
    Reynolds number [-].

    Notes
    -----
    Equation, source and known bias: `other_laws.crittenden_velocity_for_porosity`.

    Examples
    --------
    With 150 and 1.75 at a porosity of 0.5, Re 10 needs Ga = (150 x 0.5 x 10 + 1.75 x 100) / 0.125:

    >>> from numpy import array
    >>> float(ergun_form(array(0.5), array(7400.0), array(150), array(1.75)))
    10.0
    """
    linear = viscous * (1 - porosity)
    push = porosity * porosity * porosity * galileo
    return 2 * push / (linear + np.sqrt(linear * linear + 4 * inertial * push))


def akgiray_soyer(porosity: Floats, galileo: Floats, sphericity: Floats) -> Floats:
    """Reynolds number at a porosity after Akgiray and Soyer.

    Parameters
    ----------
    porosity
        Void fraction [-].
    galileo
        Galileo number of the grain [-].
    sphericity
        Sphericity [-].

    Returns
    -------
    Reynolds number [-].

    Notes
    -----
    Equation: eps^3 / (1 - eps)^2 psi^3 Ga / 216 = 3.137 Re1 + 0.673 Re1^1.766, Re = 6 (1 - eps) Re1 / psi, from a
    table. Source, range and known bias: `bed.expanded_porosity`; the table adds less than 1e-4.

    Examples
    --------
    Re1 = 1 has a group of 3.81; for spheres at a porosity of 0.5 that is Ga 1645.92 and Re 3:

    >>> from numpy import array
    >>> float(akgiray_soyer(array(0.5), array(1645.92), array(1.0)))
    3.0
    """
    group, log_re1 = _akgiray_soyer_table()
    solid = 1 - porosity
    drag = (porosity * sphericity) ** 3 / (solid * solid) * galileo / 216
    return np.exp(np.interp(np.log(drag), group, log_re1)) * 6 * solid / sphericity
