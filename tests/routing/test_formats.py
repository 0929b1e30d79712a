"""Files of a plan against the published rules of their formats, names of the worst kind among them."""

from __future__ import annotations

import json
import re
from importlib.resources import files
from pathlib import Path

import jsonschema
import pytest
import referencing
from click.testing import CliRunner
from gpx_rules import broken_rules
from route_workbook import write_workbook

from fleetaudit.cli import main

HOSTILE = "Bad <b>&amp;\"' ]]> Ünits\u2028\u0007 =1+1"
AT = "https://geojson.org/schema/"


@pytest.fixture(scope="module")
def out(tmp_path_factory) -> Path:
    def rename(book):
        page = book["Units"]
        for row in page.iter_rows(min_row=2, max_col=2):
            if row[1].value == "east bakery":
                row[1].value = HOSTILE.replace("\u0007", "")

    folder = tmp_path_factory.mktemp("formats")
    source = write_workbook(folder / "fleet.xlsx", extra=rename)
    args = ["route", str(source), "-o", str(folder), "--as-of", "2026-11-28", "--effort", "quick", "--greedy"]
    result = CliRunner().invoke(main.cli, args, standalone_mode=False)
    assert result.exception is None, result.output
    return folder


@pytest.fixture(scope="module")
def feature_rules() -> jsonschema.Draft7Validator:
    """Schema of a feature as geojson.org publishes it; the copy that pystac 1.12 (Apache-2.0) ships."""
    shipped = files("pystac") / "validation" / "jsonschemas" / "geojson"
    rules = {name: json.loads((shipped / name).read_text()) for name in ("Feature.json", "Geometry.json")}
    assert rules["Feature.json"]["$id"].startswith(AT)
    known = referencing.Registry().with_contents((AT + name, rule) for name, rule in rules.items())
    return jsonschema.Draft7Validator(rules["Feature.json"], registry=known)


def features(out: Path) -> list[dict]:
    found = json.loads((out / "fleet.route.geojson").read_text(encoding="utf-8"))
    # RFC 7946 section 3.3: a collection has the member "features", an array; section 7.1: no members of
    # geometries or features beside it
    assert found.keys() == {"type", "features"}
    assert found["type"] == "FeatureCollection"
    return found["features"]


def test_geojson_against_the_published_schema(out, feature_rules):
    listed = features(out)
    assert {one["properties"]["kind"] for one in listed} == {"stop", "day"}
    for one in listed:
        feature_rules.validate(one)
    spoilt = json.loads(json.dumps(listed[0]))
    spoilt["geometry"]["coordinates"] = ["-20.0", "-45.0"]
    assert not feature_rules.is_valid(spoilt)


def test_geojson_positions_as_the_standard_has_them(out):
    # RFC 7946 section 3.1.1: longitude first; section 4: degrees of WGS 84, and no other system is named
    for one in features(out):
        shape = one["geometry"]
        places = [shape["coordinates"]] if shape["type"] == "Point" else shape["coordinates"]
        assert len(places) >= (1 if shape["type"] == "Point" else 2)  # section 3.1.4
        for longitude, latitude in places:
            assert -21 < longitude < -19
            assert -46 < latitude < -44
        assert "crs" not in one


def test_gpx_against_the_rules_of_its_schema(out):
    text = (out / "fleet.route.gpx").read_text(encoding="utf-8")
    assert broken_rules(text) == []
    assert "&lt;b&gt;" in text


@pytest.mark.parametrize(
    ("pattern", "by", "says"),
    [
        ('version="1.1"', 'version="1.0"', "version is not 1.1"),
        (' creator="[^"]*"', "", "no creator"),
        ('lat="[^"]*"', 'lat="91"', 'lat "91" is out of its range'),
        ('lon="[^"]*"', 'lon="180"', 'lon "180" is out of its range'),
        ('lon="[^"]*"', 'lon="1e2"', 'lon "1e2" is out of its range'),
        ("<rtept ", '<rtept speed="3" ', "rtept has no attribute speed"),
        ("(<name>[^<]*</name>)(<desc>[^<]*</desc>)", r"\2\1", "wrong order"),
        ("</rte>", "<name>late</name></rte>", "wrong order"),
        ("<rte>", "<rte><track/>", "rte has no track"),
        ("GPX/1/1", "GPX/1/0", "no gpx of version 1.1"),
    ],
)
def test_the_rules_of_gpx_see_what_is_wrong(out, pattern, by, says):
    text = (out / "fleet.route.gpx").read_text(encoding="utf-8")
    spoilt = re.sub(pattern, by, text, count=1)
    assert spoilt != text
    assert any(says in rule for rule in broken_rules(spoilt))
