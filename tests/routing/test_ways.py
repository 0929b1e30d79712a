"""Distances and places against geometry worked another way and the published list of postcodes."""

from __future__ import annotations

import math

import numpy as np
import pytest
from invented_routes import ROADS

from fleetaudit.routing import geocode
from fleetaudit.routing.distance import EARTH_RADIUS_M, drive_time_s, great_circle_m, legs
from fleetaudit.routing.model import Place

zipcodes = pytest.importorskip("zipcodes")


def test_great_circle_against_the_angle_between_vectors():
    rng = np.random.default_rng(1)
    lat, lon = rng.uniform(-89, 89, 40), rng.uniform(-180, 180, 40)
    phi, lam = np.radians(lat), np.radians(lon)
    points = np.stack([np.cos(phi) * np.cos(lam), np.cos(phi) * np.sin(lam), np.sin(phi)], axis=1)
    cross = np.linalg.norm(np.cross(points[:, None], points[None, :]), axis=2)
    angle = np.arctan2(cross, points @ points.T)
    np.testing.assert_allclose(great_circle_m(lat, lon), angle * EARTH_RADIUS_M, rtol=1e-9, atol=1e-3)


def test_a_quarter_of_the_globe():
    # IUGG mean radius 6371.0088 km (Moritz, Geodetic Reference System 1980): quarter circle 10 007.557 km
    quarter = great_circle_m(np.array([0.0, 90.0]), np.array([0.0, 0.0]))[0, 1]
    assert quarter == pytest.approx(10_007_557, abs=1)
    assert quarter == pytest.approx(math.pi / 2 * 6371008.8)


def test_time_by_stretches():
    # 8 km at 30, 32 km at 60, 17 km at 85 km/h: 16 + 32 + 12 min
    assert drive_time_s(np.array([[57_000.0]]), ROADS)[0, 0] == 60 * 60
    assert drive_time_s(np.array([[0.0]]), ROADS)[0, 0] == 0


def test_own_distances_first_then_the_way_back_then_the_estimate():
    places = [Place(0.0, 10.0, ""), Place(0.0, 10.5, ""), Place(0.0, 11.0, "")]
    own = {("a", "b"): (120_000.0, 3601.0), ("c", "a"): (150_000.0, 7200.0)}
    found = legs(places, ROADS, ("a", "b", "c"), own)
    assert (found.given, found.reversed, found.estimated) == (2, 2, 2)
    assert (found.road_m[0, 1], found.drive_s[0, 1], found.road_m[1, 0]) == (120_000, 3660, 120_000)
    assert found.road_m[0, 2] == 150_000
    assert found.road_m[1, 2] == pytest.approx(0.5 * math.pi / 180 * 6371008.8 * 1.3)
    assert "72.3 km estimated" in found.doubtful[0]


@pytest.mark.parametrize("code", ["10001", "02134", "90210-1234"])
def test_postcodes_as_the_list_has_them(code):
    row = zipcodes.matching(code[:5])[0]
    place, why = geocode.by_postcode(code)
    assert (place.latitude, place.longitude, why) == (float(row["lat"]), float(row["long"]), "")


def test_a_lost_zero_is_put_back():
    assert geocode.by_postcode("2134")[0] == geocode.by_postcode("02134")[0]


@pytest.mark.parametrize("code", ["", "SW1A 1AA", "00000", "99999", "abc"])
def test_no_place_is_made_up(code):
    place, why = geocode.by_postcode(code)
    assert place is None
    assert "postcode" in why


@pytest.mark.parametrize(
    "pair", [(0, 0), (91, 0), (10, 181), (float("nan"), 5), (float("nan"), float("nan"))]
)
def test_coordinates_that_cannot_be(pair):
    place, why = geocode.by_coordinates(*map(float, pair))
    assert place is None
    assert why
