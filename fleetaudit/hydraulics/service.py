"""The service side of a bed: how hard it is loaded, how long water stays, how much a wash sends away."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from fleetaudit.hydraulics.arrays import Floats, floats, only


def service_flux_m_s(flow_m3_s: ArrayLike, area_m2: ArrayLike) -> Floats:
    """Give the loading of a bed in service.

    Parameters
    ----------
    flow_m3_s
        Service flow [m3/s].
    area_m2
        Area of the bed [m2].

    Returns
    -------
    Flow per area [m/s].

    Notes
    -----
    Equation: q / A. Source: definition; University of Memphis, CIVL 1101, uses it for a column of 3.5 in.

    Examples
    --------
    >>> float(service_flux_m_s(0.6e-3, 0.3))
    0.002
    """
    flow, area = floats(flow_m3_s, area_m2)
    with np.errstate(divide="ignore", invalid="ignore"):
        return only((flow >= 0) & (area > 0), flow / area)


def empty_bed_contact_time_s(volume_m3: ArrayLike, flow_m3_s: ArrayLike) -> Floats:
    """Time that the water would spend in the bed if the bed had no grains.

    Parameters
    ----------
    volume_m3
        Volume of the settled bed [m3].
    flow_m3_s
        Service flow [m3/s].

    Returns
    -------
    Contact time [s]; infinite without flow.

    Notes
    -----
    Equation: V / q. Source: definition. Known bias: water really stays for the porosity's share of it.

    Examples
    --------
    >>> float(empty_bed_contact_time_s(0.09, 0.5e-3))
    180.0
    """
    volume, flow = floats(volume_m3, flow_m3_s)
    with np.errstate(divide="ignore", invalid="ignore"):
        return only((volume > 0) & (flow >= 0), volume / flow)


def residence_time_s(
    depth_m: ArrayLike, expansion: ArrayLike, settled_porosity: ArrayLike, velocity_m_s: ArrayLike
) -> Floats:
    """Time that water takes through an expanded bed.

    Parameters
    ----------
    depth_m
        Settled depth [m].
    expansion
        Expansion as a fraction of the settled depth [-].
    settled_porosity
        Void fraction of the settled bed [-].
    velocity_m_s
        Superficial velocity [m/s].

    Returns
    -------
    Time [s].

    Notes
    -----
    Equation: L0 (E + eps0) / v, the water in the expanded bed over the flow. Source: AguaClara open textbook,
    filtration problem on residence time.

    Examples
    --------
    1.2 m at porosity 0.4, expanded by 30 %, at 11 mm/s (AguaClara: 76.36 s):

    >>> float(residence_time_s(1.2, 0.3, 0.4, 11e-3))
    76.36
    """
    depth, rise, eps0, velocity = floats(depth_m, expansion, settled_porosity, velocity_m_s)
    with np.errstate(divide="ignore", invalid="ignore"):
        possible = (depth > 0) & (rise >= 0) & (eps0 > 0) & (eps0 < 1) & (velocity > 0)
        return only(possible, depth * (rise + eps0) / velocity)


def wash_volume_m3(flow_m3_s: ArrayLike, duration_s: ArrayLike) -> Floats:
    """Water that a wash sends to the drain.

    Parameters
    ----------
    flow_m3_s
        Wash flow [m3/s].
    duration_s
        Duration [s].

    Returns
    -------
    Volume [m3].

    Notes
    -----
    Equation: q t. Source: UFC 3-280-04, appendix B, which adds the volume of the wash troughs.

    Examples
    --------
    >>> float(wash_volume_m3(2e-3, 600))
    1.2
    """
    flow, duration = floats(flow_m3_s, duration_s)
    return only((flow >= 0) & (duration >= 0), flow * duration)
