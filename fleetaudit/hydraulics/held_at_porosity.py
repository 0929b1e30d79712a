"""Reynolds number that holds grains at a porosity, by three laws, for very many grains at once.

The laws are those of `bed` and `other_laws`, arranged so that each needs one table of one variable: for Wen
and Yu eps^4.7 Ga gives Re, for Akgiray and Soyer the drag group gives Re1; the Ergun form has a closed
answer. Re is that of the grain, rho v d / mu.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from fleetaudit.hydraulics import akgiray_soyer as primary
from fleetaudit.hydraulics.arrays import Floats

_LOWEST, _HIGHEST, _STEPS = (
    -12.0,
    12.0,
    4801,
)  # ln Re of the tables: Re 6e-6 to 1.6e5 in steps of half a per cent


class _Inverse:
    """ln Re against the logarithm of a group that rises with it, read off at even steps of the group."""

    def __init__(self, group: Floats, log_re: Floats) -> None:
        self.first, last = float(group[0]), float(group[-1])
        self.step = (last - self.first) / (_STEPS - 1)
        self.table = np.interp(np.linspace(self.first, last, _STEPS), group, log_re)
        self.rise = np.append(np.diff(self.table), 0.0)

    def __call__(self, log_group: Floats) -> Floats:
        """Reynolds number; the end of the table beyond it, NaN for NaN."""
        place = np.clip((log_group - self.first) / self.step, 0.0, _STEPS - 1.0)
        below = np.fmax(place, 0.0).astype(np.int64)  # NaN takes any, and stays what it is
        return np.asarray(np.exp(self.table[below] + (place - below) * self.rise[below]))


@cache
def _wen_yu() -> _Inverse:
    log_re = np.linspace(_LOWEST, _HIGHEST, _STEPS)
    return _Inverse(np.log(18 * np.exp(log_re) + 2.7 * np.exp(1.687 * log_re)), log_re)


@cache
def _akgiray_soyer() -> _Inverse:
    log_re1 = np.linspace(_LOWEST, _HIGHEST, _STEPS)
    drag = primary.LAMINAR * np.exp(log_re1) + primary.INERTIAL * np.exp(primary.POWER * log_re1)
    return _Inverse(np.log(drag), log_re1)


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
    return _wen_yu()(4.7 * np.log(porosity) + np.log(galileo))


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
    Equation: eps^3 / (1 - eps)^2 psi^3 Ga / 216 = 3.137 Re1 + 0.673 Re1^1.766, Re = 6 (1 - eps) Re1 / psi,
    from a table. Source, range and known bias: `bed.expanded_porosity`; the table adds less than 1e-4.

    Examples
    --------
    Re1 = 1 has a group of 3.81; for spheres at a porosity of 0.5 that is Ga 1645.92 and Re 3:

    >>> from numpy import array
    >>> float(akgiray_soyer(array(0.5), array(1645.92), array(1.0)))
    3.0

    """
    solid = 1 - porosity
    drag = (porosity * sphericity) ** 3 / (solid * solid) * galileo / 216
    return _akgiray_soyer()(np.log(drag)) * 6 * solid / sphericity
