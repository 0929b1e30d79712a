"""Names of media as people type them, against what they mean in plain words."""

from __future__ import annotations

import datetime as dt
import math

import pint
import pytest

from fleetaudit.reading.media import Reader
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Missing, Origin

REGISTRY = pint.UnitRegistry()
INCH = 0.0254


@pytest.fixture(scope="module")
def reader(catalogue) -> Reader:
    return Reader(catalogue)


def key(reader: Reader, code: int) -> str:
    return reader.catalogue.media[code].key if code >= 0 else ""


@pytest.mark.parametrize(
    ("text", "mesh", "medium"),
    [
        ("carbon", "", "activated-carbon-12x40"),
        ("GAC", "", "activated-carbon-12x40"),
        ("Activated  Carbon ", "", "activated-carbon-12x40"),
        ("carbon", "8x30", "activated-carbon-8x30"),
        ("carbon", "8 x 30 mesh", "activated-carbon-8x30"),
        ("carbon 12x40", "", "activated-carbon-12x40"),
        ("Carbon (8 x 30 mesh)", "", "activated-carbon-8x30"),
        ("coconut carbon", "12x40", "coconut-carbon-12x40"),
        ("sand", "20x40", "filter-sand"),
        ("softener resin", "16x50", "cation-resin"),
        ("anthracite", "0.9-1.1 mm", "anthracite-coarse"),
        ("calcite media", "", "calcite-16x40"),
        ("carbon", "?", "activated-carbon-12x40"),
    ],
)
def test_a_name_and_its_mesh_pick_one_row(reader, text, mesh, medium) -> None:
    found = reader.read(text, mesh)
    assert (key(reader, found.code), found.origin, found.missing) == (medium, Origin.TYPED, Missing.KNOWN)


@pytest.mark.parametrize(
    ("text", "medium"),
    [
        ("actvated carbon", "activated-carbon-12x40"),
        ("grensand", "manganese-greensand"),
        ("softning resin", "cation-resin"),
        ("cocunut carbon", "coconut-carbon-12x40"),
        ("neutralizer (calcite)", "calcite-16x40"),
    ],
)
def test_one_close_medium_is_guessed_and_said(reader, text, medium) -> None:
    found = reader.read(text)
    assert (key(reader, found.code), found.origin) == (medium, Origin.GUESSED)
    assert text in found.told
    assert found.assumed in found.told


@pytest.mark.parametrize(
    "text",
    [
        "greensnd mix",
        "black stuff",
        "xyz",
        "activated carbon 8x20",
        "carbon 20x50",
        "carbon/calcite",
        "sadn",
        "stuff 12x40",
        "greensand/carbon mix?",
    ],
)
def test_none_or_several_close_media_are_not_guessed(reader, text) -> None:
    found = reader.read(text)
    assert (found.code, found.missing) == (-1, Missing.NOT_IN_CATALOGUE)
    assert found.told


def test_a_mesh_the_family_lacks_is_named_with_those_it_has(reader) -> None:
    found = reader.read("carbon", "20x50")
    assert found.missing == Missing.NOT_IN_CATALOGUE
    assert "12x40" in found.told
    assert "8x30" in found.told


@pytest.mark.parametrize(
    ("text", "group"),
    [
        ("UV lamp", "lamp"),
        ("sediment cartridge", "cartridge"),
        ("RO membrane", "membrane"),
        ("upflow calcite", "upflow"),
    ],
)
def test_equipment_that_is_no_bed_is_told_apart(reader, text, group) -> None:
    assert reader.read(text).non_bed == group
    assert reader.read(text).told == ""


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("anthracite 18 in; sand 12 in", [("anthracite-fine", 18 * INCH), ("filter-sand", 12 * INCH)]),
        ('12" anthracite; 6" sand', [("anthracite-fine", 12 * INCH), ("filter-sand", 6 * INCH)]),
        ("anthracite 450 mm over sand 300 mm", [("anthracite-fine", 0.45), ("filter-sand", 0.3)]),
        ("anthracite: 18 in + sand: 12 in", [("anthracite-fine", 18 * INCH), ("filter-sand", 12 * INCH)]),
        ("anthracite 1 1/2 ft\nsand 1 ft", [("anthracite-fine", 18 * INCH), ("filter-sand", 12 * INCH)]),
    ],
)
def test_layers_have_depths_from_the_top_down(reader, text, parts) -> None:
    for found in (reader.layers(text), reader.read(text)):
        assert [key(reader, part.code) for part in found.parts] == [name for name, _ in parts]
        assert [part.depth_m for part in found.parts] == pytest.approx([depth for _, depth in parts])
        assert all(math.isnan(part.share) for part in found.parts)


@pytest.mark.parametrize(
    "text",
    [
        "calcite/magnesia 90/10",
        "90/10 calcite/magnesia",
        "calcite 90% magnesia 10%",
        "90% calcite / 10% magnesia",
        "calcite & magnesia 90:10",
    ],
)
def test_a_blend_has_shares(reader, text) -> None:
    found = reader.read(text)
    assert {key(reader, part.code): part.share for part in found.parts} == {
        "calcite-16x40": 0.9,
        "magnesia-6x16": 0.1,
    }
    assert key(reader, found.code) == "calcite-16x40"


@pytest.mark.parametrize("text", ["calcite/magnesia 90/20", "calcite 90% magnesia 5%"])
def test_shares_that_do_not_make_a_whole_are_not_read(reader, text) -> None:
    assert reader.read(text).missing == Missing.NOT_IN_CATALOGUE


def test_layers_given_by_volume_get_their_depth_from_the_vessel(read) -> None:
    frame = read([("Unit ID", "Tank", "Media"), ("U-1", "10x54", "carbon 1 ft3 over calcite 0.5 ft3")]).frame
    area = math.pi / 4 * REGISTRY.Quantity(10, "inch").to("m").magnitude ** 2
    volume = REGISTRY.Quantity(1, "foot**3").to("m**3").magnitude
    upper, lower = frame.layers[0]
    assert upper.depth_m == pytest.approx(volume / area)
    assert lower.depth_m == pytest.approx(volume / area / 2)


def test_a_column_of_layers_goes_before_the_medium(read, catalogue) -> None:
    found = read(
        [
            ("Tank", "Media", "Layers"),
            ("10x54", "multi-media", "anthracite 18 in; sand 12 in"),
            ("10x54", "sand", "nonsense 5 in"),
            ("10x54", "sand", None),
        ]
    )
    frame = found.frame
    assert catalogue.media[frame.code(fleet.MEDIUM.name)[0]].key == "multi-media"
    assert [catalogue.media[layer.medium].key for layer in frame.layers[0]] == [
        "anthracite-fine",
        "filter-sand",
    ]
    assert list(frame.layers) == [0]
    assert frame.why_missing(fleet.LAYERS).tolist() == [Missing.KNOWN, Missing.UNREADABLE, Missing.BLANK]
    assert any(one.kind == "unread-layers" and one.cells == ("Units!C3",) for one in found.remarks)


def test_rows_that_are_no_bed_are_counted_once(read) -> None:
    found = read(
        [
            ("Tank", "Media", "Equipment"),
            ("10x54", "sand", "filter"),
            (None, "UV lamp", None),
            ("10x54", None, "reverse osmosis"),
            ("10x54", "mystery", None),
        ]
    )
    assert found.frame.codes["bed"].tolist() == [1, 0, 0, -1]
    (remark,) = [one for one in found.remarks if one.kind == "no-bed"]
    assert "2 rows" in remark.text
    assert [one.read for one in found.remarks if one.kind == "unknown-medium"] == ["mystery"]


def test_a_mesh_the_spreadsheet_made_a_date_is_not_taken_for_none(read) -> None:
    found = read(
        [("Tank", "Media", "Mesh"), ("10x54", "carbon", dt.date(2040, 12, 1))], formats={"C2": "mmm-yy"}
    )
    assert found.frame.why_missing(fleet.MESH)[0] == Missing.UNREADABLE
    assert found.frame.origins(fleet.MEDIUM)[0] == Origin.GUESSED
    assert any(one.kind == "mesh-became-date" and "12x40" in one.text for one in found.remarks)


@pytest.mark.parametrize(
    ("text", "purposes"),
    [
        ("chlorine", ["chlorine"]),
        ("Chlorine taste", ["chlorine", "taste-odour"]),
        ("iron and taste", ["iron", "taste-odour"]),
        ("taste and odor", ["taste-odour"]),
        ("Iron, taste & odor", ["iron", "taste-odour"]),
        ("T&O; chloramines", ["taste-odour", "chloramine"]),
        ("iron & arsenic", ["arsenic", "iron"]),
        ("Fe/Mn", ["iron", "manganese"]),
        ("iron/manganese/H2S", ["iron", "manganese", "hydrogen-sulfide"]),
        ("rotten egg iron", ["hydrogen-sulfide", "iron"]),
        ("iron plus low pH", ["iron", "ph"]),
        ("iron, Fe", ["iron"]),
        ("H2S", ["hydrogen-sulfide"]),
    ],
)
def test_every_purpose_of_a_cell_counts_those_that_guard_health_first(
    read, catalogue, text, purposes
) -> None:
    found = read([("Tank", "Media", "Removes"), ("10x54", "sand", text)])
    together = found.frame.purposes[found.frame.code(fleet.PURPOSE.name)[0]]
    assert [catalogue.purposes[code].key for code in together] == purposes
    assert found.frame.text(fleet.PURPOSE) == [text]
    assert not [one for one in found.remarks if "purpose" in one.kind]


def test_what_is_not_known_among_purposes_is_said(read, catalogue) -> None:
    found = read([("Tank", "Media", "Removes"), ("10x54", "sand", "iron, gremlins")])
    told = next(one for one in found.remarks if one.kind == "purpose-partly-unknown")
    assert "Units!C2" in told.text
    assert '"gremlins"' in told.text
    assert told.assumed == "iron"
    assert found.frame.why_missing(fleet.PURPOSE)[0] == Missing.KNOWN


def test_an_unknown_purpose_is_said(read) -> None:
    found = read([("Tank", "Media", "Removes"), ("10x54", "sand", "gremlins")])
    assert found.frame.why_missing(fleet.PURPOSE)[0] == Missing.NOT_IN_CATALOGUE
    assert any(one.kind == "unknown-purpose" and "gremlins" in one.text for one in found.remarks)
