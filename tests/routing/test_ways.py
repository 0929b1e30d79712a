"""Distances and places against geometry worked another way and the published list of postcodes."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from invented_routes import ROADS
from msgspec.structs import replace

from fleetaudit.errors import InputError
from fleetaudit.reading.matrix import read_matrix
from fleetaudit.routing import geocode
from fleetaudit.routing.distance import EARTH_RADIUS_M, drive_time_s, great_circle_m, legs, way_m
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


def written(path, text):
    path.write_text(text, encoding="utf-8")
    return path


def test_square_tables(tmp_path):
    km = written(tmp_path / "km.csv", "km,depot,a,b\ndepot,0,10,20\na,11,0,5\nb,20,,0\n")
    both = written(tmp_path / "both.csv", "minutes;depot;a\ndepot;0;12,5\na;13;0\n\nkm;b\ndepot;20\na;5\n")
    found = read_matrix([km, both]).pairs
    assert found["depot", "a"] == (10_000, 750)
    assert found["a", "depot"] == (11_000, 780)
    assert found["depot", "b"][0] == 20_000
    assert math.isnan(found["depot", "b"][1])
    assert ("b", "a") not in found


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("km,a,b\na,0\nb,1,0\n", "t.csv, line 2: 2 figures are wanted"),
        ("km,a,b\na,0,far\nb,1,0\n", 't.csv, line 2: "far" from a to b is no figure'),
        ("km,a,b\na,0,-3\nb,1,0\n", 't.csv, line 2: "-3" from a to b is no figure'),
        ("km,a,a\na,0,1\n", "t.csv, line 1: a stands there twice"),
        ("km,a,b\na,0,1\na,0,2\n", "t.csv, line 3: a to b stands there twice with different figures"),
        ("from_id,to_id,km,minutes\na,b,1\n", 't.csv, line 2: "a,b,1" is no pair'),
        ("miles,a,b\na,0,1\n", "t.csv: the first line must be"),
        ("", "t.csv: the first line must be"),
    ],
)
def test_tables_that_cannot_be_read(tmp_path, text, says):
    with pytest.raises(InputError, match=re.escape(says)):
        read_matrix([written(tmp_path / "t.csv", text)])


def test_half_of_a_pair_is_estimated():
    places = [Place(0.0, 10.0, ""), Place(0.0, 10.5, ""), None]
    nan = math.nan
    own = {("a", "b"): (57_000.0, nan), ("b", "a"): (nan, 1800.0), ("a", "c"): (nan, 3600.0)}
    found = legs(places, ROADS, ("a", "b", "c"), own)
    # 57 km take 16 + 32 + 12 min (8 km at 30, 32 at 60, 17 at 85 km/h), and an hour makes 57 km
    assert found.drive_s[0, 1] == 3600
    assert found.road_m[0, 2] == pytest.approx(57_000)
    assert found.road_m[1, 0] == pytest.approx(0.5 * math.pi / 180 * 6371008.8 * 1.3)
    assert (found.given, found.half) == (3, 4)  # the way back from c is that to it


@given(st.floats(0, 500_000))
def test_a_way_and_its_time_go_together(metres):
    time_s = float(drive_time_s(np.array(metres), ROADS))
    # rounded up to a minute, in which no car goes farther than 85 km/h allow
    assert metres - 1e-6 <= way_m(time_s, ROADS) <= metres + 85_000 / 60


@pytest.mark.parametrize("code", ["10001", "02134", "90210-1234"])
def test_postcodes_as_the_list_has_them(code):
    row = zipcodes.matching(code[:5])[0]
    place, why = geocode.by_postcode(code)
    assert (place.latitude, place.longitude, why) == (float(row["lat"]), float(row["long"]), "")


def test_a_lost_zero_is_put_back():
    assert geocode.by_postcode("2134")[0] == geocode.by_postcode("02134")[0]


def test_two_sites_in_one_postcode_are_not_on_one_spot():
    # New York has many postcodes, Lynch in Nebraska one
    town, village = geocode.by_postcode("10001")[0], geocode.by_postcode("68746")[0]
    assert (town.town, village.town) == (True, False)
    again = replace(town)
    roads = replace(ROADS, apart_m=(3000.0, 8000.0))
    found = legs([town, again, town, village, replace(village)], roads)
    assert found.road_m[0, 1] == found.road_m[1, 2] == 3000
    assert found.road_m[0, 2] == 0  # two visits to one site
    assert found.road_m[3, 4] == 8000
    assert found.drive_s[0, 1] == 360  # 3 km at 30 km/h


def test_the_detour_factor_of_own_distances():
    places = [Place(0.0, 10.0 + n / 10, "") for n in range(6)]
    degree_m = math.pi / 180 * 6371008.8
    ids = [str(n) for n in range(6)]
    own = {(str(n), str(n + 1)): (degree_m / 10 * (1.1 + n / 10), 900.0) for n in range(5)}
    assert legs(places, ROADS, ids, own).factor == pytest.approx(1.3)  # the middle of 1.1 to 1.5
    assert math.isnan(legs(places, ROADS, ids, dict(list(own.items())[:2])).factor)


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
