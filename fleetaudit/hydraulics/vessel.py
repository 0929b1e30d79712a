"""Vessels: area, volume, depth, what is left above the bed, and flow from velocity and back."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from fleetaudit.hydraulics.arrays import Floats, floats, only


def area_m2(diameter_m: ArrayLike) -> Floats:
    """Area of a round vessel.

    Parameters
    ----------
    diameter_m
        Diameter [m]; the nominal one where a rate is practised on it.

    Returns
    -------
    Area [m2].

    Notes
    -----
    Equation: A = pi D^2 / 4. Source: geometry. Known bias: the inside of a moulded vessel is 3 to 7 % less
    than its nominal area (from memory, unverified); the riser pipe is left out.

    Examples
    --------
    A vessel of 12 ft2 is 3.9 ft across (UFC 3-280-04, appendix B):

    >>> float(area_m2(3.909))
    12.00
    """
    (diameter,) = floats(diameter_m)
    return only(diameter > 0, np.pi / 4 * diameter**2)


def diameter_m(area_m2: ArrayLike) -> Floats:
    """Diameter of a round vessel of an area; the inverse of `area_m2`.

    Parameters
    ----------
    area_m2
        Area [m2].

    Returns
    -------
    Diameter [m].

    Notes
    -----
    Equation: D = sqrt(4 A / pi). Source: geometry.

    Examples
    --------
    >>> float(diameter_m(12.0))
    3.91
    """
    (area,) = floats(area_m2)
    with np.errstate(invalid="ignore"):
        return only(area > 0, np.sqrt(4 / np.pi * area))


def bed_volume_m3(area_m2: ArrayLike, depth_m: ArrayLike) -> Floats:
    """Volume of a settled bed.

    Parameters
    ----------
    area_m2
        Area of the vessel [m2].
    depth_m
        Settled depth without gravel [m].

    Returns
    -------
    Volume [m3].

    Notes
    -----
    Equation: V = A L. Source: geometry; the domes are left out.

    Examples
    --------
    >>> float(bed_volume_m3(0.5, 0.8))
    0.4
    """
    area, depth = floats(area_m2, depth_m)
    return only((area > 0) & (depth >= 0), area * depth)


def depth_from_volume_m(volume_m3: ArrayLike, area_m2: ArrayLike) -> Floats:
    """Settled depth of a volume of media; the inverse of `bed_volume_m3`.

    Parameters
    ----------
    volume_m3
        Volume of the media [m3].
    area_m2
        Area of the vessel [m2].

    Returns
    -------
    Depth [m].

    Notes
    -----
    Equation: L = V / A. Source: geometry; media in the lower dome, if there is no gravel, make the true depth
    a little more.

    Examples
    --------
    85,000 gal in a tank of 60 ft stand 4 ft deep (Spellman, Example 10.87):

    >>> float(depth_from_volume_m(85_000 * 0.133681, area_m2(60.0)))
    4.0
    """
    volume, area = floats(volume_m3, area_m2)
    with np.errstate(divide="ignore", invalid="ignore"):
        return only((area > 0) & (volume >= 0), volume / area)


def flow_m3_s(velocity_m_s: ArrayLike, area_m2: ArrayLike) -> Floats:
    """Flow at a superficial velocity.

    Parameters
    ----------
    velocity_m_s
        Superficial velocity, or how fast the level rises over an open bed [m/s].
    area_m2
        Area [m2].

    Returns
    -------
    Flow [m3/s].

    Notes
    -----
    Equation: q = v A. Source: continuity.

    Examples
    --------
    >>> float(flow_m3_s(0.01, 0.5))
    0.005
    """
    velocity, area = floats(velocity_m_s, area_m2)
    return only((velocity >= 0) & (area > 0), velocity * area)


def rise_rate_m_s(flow_m3_s: ArrayLike, area_m2: ArrayLike) -> Floats:
    """Superficial velocity of a flow; the inverse of `flow_m3_s`.

    Parameters
    ----------
    flow_m3_s
        Flow [m3/s].
    area_m2
        Area [m2].

    Returns
    -------
    Superficial velocity [m/s].

    Notes
    -----
    Equation: v = q / A. Source: continuity.

    Examples
    --------
    >>> float(rise_rate_m_s(0.005, 0.5))
    0.01
    """
    flow, area = floats(flow_m3_s, area_m2)
    with np.errstate(divide="ignore", invalid="ignore"):
        return only((flow >= 0) & (area > 0), flow / area)


def derived_freeboard_m(
    height_m: ArrayLike,
    diameter_m: ArrayLike,
    depth_m: ArrayLike,
    gravel_m: ArrayLike,
    dome_share: ArrayLike,
    distributor_m: ArrayLike,
) -> Floats:
    """Freeboard that a vessel should have by its size, where nobody measured it.

    Parameters
    ----------
    height_m, diameter_m
        Nominal height and diameter of the vessel [m].
    depth_m, gravel_m
        Settled depth of the media and of the gravel below [m].
    dome_share
        Height lost to both domes and the lower collector, as a share of the diameter [-].
    distributor_m
        Depth that the upper distributor takes [m].

    Returns
    -------
    From the settled surface to the underside of the upper distributor [m]; negative where the fill would
    stand above it.

    Notes
    -----
    Equation: H - k D - c - depth - gravel with k the share lost to the domes and c what the distributor
    takes. Source: this project's own choice, as are the 25 % and 3 in that its settings start from. Known
    bias: a guess at domes and distributor that nobody has measured.

    Examples
    --------
    13 x 54 in with 30 in of media, a quarter of the diameter lost to the domes and 3 in to the distributor,
    all in inches:

    >>> float(derived_freeboard_m(54, 13, 30, 0, 0.25, 3))
    17.75
    """
    height, diameter, depth, gravel, share, distributor = floats(
        height_m, diameter_m, depth_m, gravel_m, dome_share, distributor_m
    )
    possible = (height > 0) & (diameter > 0) & (depth >= 0) & (gravel >= 0)
    possible &= (share >= 0) & (share < 1) & (distributor >= 0)
    return only(possible, height - share * diameter - distributor - depth - gravel)


def fill_fraction(volume_m3: ArrayLike, diameter_m: ArrayLike, height_m: ArrayLike) -> Floats:
    """Share of a vessel that its fill takes, the vessel taken as a plain cylinder.

    Parameters
    ----------
    volume_m3
        Media and gravel [m3].
    diameter_m, height_m
        Nominal diameter and height of the vessel [m].

    Returns
    -------
    Share [-]; above 1 where the fill cannot be right.

    Notes
    -----
    Equation: V / (A H). Source: geometry. Known bias: domes make the true volume smaller, so the true share
    is higher.

    Examples
    --------
    >>> float(fill_fraction(area_m2(0.4) * 0.75, 0.4, 1.5))
    0.5
    """
    volume, diameter, height = floats(volume_m3, diameter_m, height_m)
    with np.errstate(divide="ignore", invalid="ignore"):
        return only((volume >= 0) & (height > 0), volume / (area_m2(diameter) * height))
