"""How far and how long: straight line times a detour factor, with the user's own figures laid over."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import permutations

import numpy as np
from msgspec import Struct, field

from fleetaudit.language import say
from fleetaudit.routing.model import HOUR_S, KM_M, MINUTE_S, Floats, Place

#: mean radius of the Earth [m] (IUGG)
EARTH_RADIUS_M = 6371008.8
#: a leg of the user's own that is off the estimate by more than this factor is reported
CONTRADICTS = 1.5
#: legs below this are too short to compare [m]
SHORT_M = 2000.0
#: known legs from which their detour factor is told
ENOUGH = 5


class Roads(Struct, frozen=True):
    """Detour factor, and speed [km/h] by stretches of the way: near, middle, far, with their ends [km].

    `apart_m` is the way taken between two places of which only a common area is known: in a town, elsewhere.
    """

    circuity: float
    speeds_km_h: tuple[float, float, float]
    ends_km: tuple[float, float]
    apart_m: tuple[float, float] = (0.0, 0.0)


class Legs(Struct, frozen=True):
    """Road distance [m] and driving time [s, whole minutes] between all places.

    With them comes what there is to say of them.
    """

    road_m: Floats
    drive_s: Floats
    given: int = 0
    reversed: int = 0
    estimated: int = 0
    half: int = 0
    factor: float = float("nan")
    doubtful: tuple[str, ...] = field(default_factory=tuple)


def great_circle_m(latitude: Floats, longitude: Floats) -> Floats:
    """Distance [m] along the surface between all pairs of points [degrees], by the haversine formula.

    Source: Sinnott, "Virtues of the haversine", Sky and Telescope 68 (1984) 159.
    """
    phi, lam = np.radians(latitude), np.radians(longitude)
    half = (
        np.sin((phi[:, None] - phi[None, :]) / 2) ** 2
        + np.cos(phi)[:, None] * np.cos(phi)[None, :] * np.sin((lam[:, None] - lam[None, :]) / 2) ** 2
    )
    return np.asarray(2 * EARTH_RADIUS_M * np.arcsin(np.sqrt(np.clip(half, 0, 1))))


def drive_time_s(road_m: Floats, roads: Roads) -> Floats:
    """Driving time [s], whole minutes rounded up: slow near either end, faster the farther the way."""
    near, far = (end * KM_M for end in roads.ends_km)
    first, second, third = (speed * KM_M / HOUR_S for speed in roads.speeds_km_h)
    time = (
        np.minimum(road_m, near) / first
        + np.clip(road_m - near, 0, far - near) / second
        + np.maximum(road_m - far, 0) / third
    )
    return np.asarray(np.ceil(time / MINUTE_S - 1e-9) * MINUTE_S)


def way_m(time_s: float, roads: Roads) -> float:
    """Length of a way that takes so long [s]: the reverse of `drive_time_s`, without its rounding."""
    ends = [end * KM_M for end in roads.ends_km]
    first, second, third = (speed * KM_M / HOUR_S for speed in roads.speeds_km_h)
    turn = ends[0] / first
    later = turn + (ends[1] - ends[0]) / second
    if time_s <= turn:
        return time_s * first
    return ends[0] + (time_s - turn) * second if time_s <= later else ends[1] + (time_s - later) * third


def legs(
    places: Sequence[Place | None],
    roads: Roads,
    ids: Sequence[str] = (),
    matrix: Mapping[tuple[str, str], tuple[float, float]] | None = None,
) -> Legs:
    """Legs between all places; a pair of the user's matrix goes first, its reverse second, the estimate last.

    A place that is nowhere and not in the matrix either gets zeros: it is never planned.
    """
    latitude = np.array([np.nan if place is None else place.latitude for place in places])
    longitude = np.array([np.nan if place is None else place.longitude for place in places])
    road_m = great_circle_m(latitude, longitude) * roads.circuity
    straight_m = road_m / roads.circuity
    _set_apart(road_m, places, roads.apart_m)
    drive_s = drive_time_s(road_m, roads)
    if not matrix:
        return Legs(np.nan_to_num(road_m), np.nan_to_num(drive_s), estimated=len(places) * (len(places) - 1))
    given = turned = missing = half = 0
    factors = []
    doubtful = []
    for start, first in enumerate(ids):
        for end, second in enumerate(ids):
            if start == end:
                continue
            known = matrix.get((first, second))
            given += known is not None
            if known is None:
                known = matrix.get((second, first))
                turned += known is not None
            if known is None:
                missing += 1
                continue
            guess = float(road_m[start, end])
            half += bool(np.isnan(known[0]) or np.isnan(known[1]))
            known = _whole(known, guess, roads)
            if straight_m[start, end] > SHORT_M:
                factors.append(known[0] / float(straight_m[start, end]))
            if guess > SHORT_M and not 1 / CONTRADICTS <= known[0] / guess <= CONTRADICTS:
                doubtful.append(
                    say(
                        "{start} to {end}: {given:.1f} km given, {guess:.1f} km estimated",
                        start=first,
                        end=second,
                        given=known[0] / KM_M,
                        guess=guess / KM_M,
                    )
                )
            road_m[start, end] = known[0]
            drive_s[start, end] = np.ceil(known[1] / MINUTE_S - 1e-9) * MINUTE_S
    unknown = np.isnan(road_m)
    # a way that nobody knows is so long that no day holds it
    road_m[unknown], drive_s[unknown] = UNKNOWN_M, UNKNOWN_S
    np.fill_diagonal(road_m, 0.0)
    np.fill_diagonal(drive_s, 0.0)
    factor = float(np.median(factors)) if len(factors) >= ENOUGH else float("nan")
    return Legs(road_m, drive_s, given, turned, missing, half, factor, tuple(doubtful))


def _set_apart(road_m: Floats, places: Sequence[Place | None], apart_m: tuple[float, float]) -> None:
    """Give different places of which only one area is known a way between them."""
    by_area: dict[tuple[float, float], list[int]] = {}
    for number, place in enumerate(places):
        if place is not None and place.town is not None:
            by_area.setdefault((place.latitude, place.longitude), []).append(number)
    for members in by_area.values():
        for one, two in permutations(members, 2):
            first = places[one]
            if first is not None and first is not places[two]:
                road_m[one, two] = apart_m[0 if first.town else 1]


def _whole(known: tuple[float, float], guess_m: float, roads: Roads) -> tuple[float, float]:
    """Way and time of a pair of which a table gives only one.

    A time comes from the way by the usual speeds. A way is the estimate between the places, and where one of
    them is not known, what the usual speeds make of the time.
    """
    way, time = known
    if np.isnan(way):
        way = way_m(time, roads) if np.isnan(guess_m) else guess_m
    if np.isnan(time):
        time = float(drive_time_s(np.array(way), roads))
    return way, time


#: stands in for a leg that neither the matrix nor a straight line gives
UNKNOWN_M, UNKNOWN_S = 5_000_000.0, 5000.0 * MINUTE_S
