"""The data files: every figure sourced, every source used, every spelling clear, faults named by file."""

import copy
import json
import subprocess
import sys
import tomllib
from itertools import pairwise
from pathlib import Path

import pytest

from fleetaudit.catalogue import shipped
from fleetaudit.catalogue.kinds import BY_KEY
from fleetaudit.catalogue.spelling import normalise
from fleetaudit.errors import CatalogueError

DATA = Path(shipped.__file__).parent.parent / "data"
RAW = {name: tomllib.loads((DATA / f"{name}.toml").read_text(encoding="utf-8")) for name in shipped.NAMES}


def tables(value, path=""):
    """Every table in a parsed file with the path to it."""
    if isinstance(value, dict):
        yield path, value
        for key, inner in value.items():
            yield from tables(inner, f"{path}.{key}")
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            yield from tables(inner, f"{path}[{place}]")


FIGURES = [
    (f"{name}{path}", table)
    for name in shipped.NAMES
    if name != "sources"
    for path, table in tables(RAW[name])
    if "unit" in table and not path.startswith(".spread")
]


def test_there_are_figures_to_check():
    assert len(FIGURES) > 400


@pytest.mark.parametrize("name", sorted(RAW["sources"]))
def test_source_is_complete(name):
    source = RAW["sources"][name]
    assert source["title"]
    assert source["kind"] in {"standard", "handbook", "paper", "practice", "own choice", "computed"}
    assert source["read"] in {"read", "from memory, unverified", "common practice, no source"}


def test_no_figure_without_source_and_no_source_without_figure():
    assert [path for path, table in FIGURES if table.get("source") not in RAW["sources"]] == []
    named = {inner["source"] for name in shipped.NAMES for _, inner in tables(RAW[name]) if "source" in inner}
    named |= {table["layers_source"] for _, table in tables(RAW["media"]) if "layers_source" in table}
    assert set(RAW["sources"]) - named == set()


def test_every_range_holds_its_value():
    for medium in shipped.load().media:
        for key, figure in medium.figures.items():
            assert figure.low <= figure.value <= figure.high, (medium.key, key)


def test_figures_have_no_key_outside_the_list():
    for medium in shipped.load().media:
        assert set(medium.figures) <= set(BY_KEY)


def test_every_bed_medium_has_what_an_audit_needs():
    """A rate, and a way to carry it to another temperature: grain data or a power of viscosity."""
    grain = {"d10_m", "uniformity", "grain_density_kg_m3", "sphericity", "porosity"}
    for medium in shipped.load().media:
        if not medium.support:
            assert {"rate_low_m_s", "rate_high_m_s", "rate_temperature_k"} <= set(medium.figures), medium.key
            assert grain <= set(medium.figures) or "temperature_exponent" in medium.figures, medium.key


def test_one_usual_mesh_in_each_family():
    families = {}
    for medium in shipped.load().media:
        families.setdefault(medium.family, []).append(medium.usual)
    assert {name: sum(usual) for name, usual in families.items()} == dict.fromkeys(families, 1)


def test_spelling_means_one_medium_only():
    owners = {}
    for medium in shipped.load().media:
        for spelling in shipped.words_of(medium):
            owners.setdefault(normalise(spelling), set()).add(medium.key)
    assert {word: keys for word, keys in owners.items() if len(keys) > 1} == {}


def test_no_medium_is_also_equipment_without_a_bed():
    catalogue = shipped.load()
    assert set(catalogue.synonyms) & set(catalogue.non_beds) == set()


@pytest.mark.parametrize(
    ("typed", "key"),
    [
        ("GAC", "activated-carbon-12x40"),
        ("AC", "activated-carbon-12x40"),
        (" Carbon ", "activated-carbon-12x40"),
        ("Act. Carbon 12 x 40", "activated-carbon-12x40"),
        ("GAC 12×40 mesh", "activated-carbon-12x40"),
        ("gac 8/30", "activated-carbon-8x30"),
        ("8x30 bituminous GAC", "activated-carbon-8x30"),
        ("activated carbon 20x50", None),
        ("Mang greensand", "manganese-greensand"),
        ("MGS", "manganese-greensand"),
        ("Green-Sand", "manganese-greensand"),
        ("CALCITE", "calcite-16x40"),
        ("limestone", "calcite-16x40"),
        ("neutralizer media", "calcite-16x40"),
        ("softener resin", "cation-resin"),
        ("cation", "cation-resin"),
        ("8 % resin", "cation-resin"),
        ("Multi-Media", "multi-media"),
        ("anthracite filter media", "anthracite-fine"),
        ("MnO2 8x20", "manganese-ore-8x20"),
        ("zeolite tank", "zeolite-14x40"),
        ("sparkling gravel mix", None),
        ("", None),
        ("media", None),
    ],
)
def test_what_people_type(typed, key):
    """Trade words as service people write them (common practice, no source)."""
    assert shipped.load().find_medium(typed) == key


@pytest.mark.parametrize(
    "typed", ["UV", "U.V. lamp", "RO", "R.O.", "cartridge filter", "Up-flow", "Reverse Osmosis"]
)
def test_equipment_without_a_bed(typed):
    assert shipped.load().find_non_bed(typed) is not None
    assert shipped.load().find_medium(typed) is None


@pytest.mark.parametrize(
    ("typed", "guards"),
    [
        ("Arsenic", True),
        ("PFAS", True),
        ("NO3", True),
        ("VOC", True),
        ("THM", True),
        ("Fe", False),
        ("city water", False),
    ],
)
def test_purposes_that_guard_health(typed, guards):
    """Guarded: what has a health-based limit in the US drinking water rules, 40 CFR 141."""
    catalogue = shipped.load()
    key = catalogue.find_purpose(typed)
    assert key is not None
    assert catalogue.purposes[catalogue.purpose_codes[key]].guards is guards


def test_layers_of_a_ready_mixed_bed_exist_and_add_up():
    catalogue = shipped.load()
    layered = [medium for medium in catalogue.media if medium.layers]
    assert layered
    for medium in layered:
        assert sum(part.share for part in medium.layers) == pytest.approx(1.0)
        assert all(part.medium in catalogue.codes for part in medium.layers)


def test_housings_take_what_the_trade_says():
    """Small to 7 gpm, medium to 25, large to 45: common practice, no source. Factor from NIST SP 811."""
    found = {housing.key: housing.limit_m3_s / 6.309020e-5 for housing in shipped.load().housings}
    assert found == pytest.approx({"small": 7, "medium": 25, "large": 45}, rel=1e-6)


def test_vessel_is_found_by_nominal_diameter():
    vessel = shipped.load().vessel_of(0.254)
    assert vessel is not None
    assert vessel.default_height_m == pytest.approx(54 * 0.0254)
    assert vessel.default_height_m in [pytest.approx(height) for height in vessel.heights_m]
    assert shipped.load().vessel_of(0.28) is None


def test_vessels_grow_in_every_way():
    vessels = shipped.load().vessels
    for smaller, larger in pairwise(vessels):
        assert smaller.diameter_m < larger.diameter_m
        assert smaller.fill.value < larger.fill.value
        assert smaller.inside.value < larger.inside.value
        assert larger.inside.high < larger.diameter_m


def test_drain_sizes_allow_more_the_wider_they_are():
    drains = shipped.load().drains
    assert len(drains) == len(RAW["settings"]["drains"])
    for smaller, larger in pairwise(drains):
        assert smaller.bore.value < larger.bore.value
        assert smaller.note_m3_s < larger.note_m3_s
    assert all(drain.note_m3_s <= drain.plan_m3_s for drain in drains)


def test_settings_in_si():
    catalogue = shipped.load()
    assert catalogue.number("restrictor_tolerance") == pytest.approx(0.10)
    assert catalogue.number("freeboard_margin") == pytest.approx(0.0508)
    assert catalogue.number("low_pressure") == pytest.approx(15 * 6894.757, rel=1e-6)  # NIST SP 811
    assert catalogue.number("water_well_cold") == pytest.approx(282.15)
    assert catalogue.number("water_price") == pytest.approx(
        5 / 3.785412, rel=1e-6
    )  # NIST SP 811, per 1000 gal
    assert catalogue.switch("use_inside_diameter") is False
    assert catalogue.text("default_water") == "mixed"


def test_prices_are_marked_as_guesses():
    guesses = [s for s in shipped.load().settings.values() if s.source == "your-guess"]
    assert {"water_price", "sewer_price", "visit_cost", "media_price"} <= {setting.key for setting in guesses}
    assert all("your guess" in setting.doc for setting in guesses)


def damaged(path, value):
    """Data with one entry replaced, or removed where the value is None."""
    data = copy.deepcopy(RAW)
    table = data
    for part in path[:-1]:
        table = table[part]
    if value is None:
        del table[path[-1]]
    else:
        table[path[-1]] = value
    return data


SAND = ("media", "media", "filter-sand")


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        ((*SAND, "d10", "source"), None, ["media.toml: filter-sand.d10", "no source"]),
        ((*SAND, "d10", "source"), "davis201", ["filter-sand.d10", 'Did you mean "davis2010"']),
        ((*SAND, "d10", "unit"), None, ["filter-sand.d10", "no unit"]),
        (
            (*SAND, "d10", "unit"),
            "furlongs per pint",
            ["filter-sand.d10", "furlongs per pint", "table of units"],
        ),
        ((*SAND, "d10", "unit"), "gpm", ["filter-sand.d10", "gpm", "measures something else"]),
        ((*SAND, "d10", "low"), None, ["filter-sand.d10", "low and high"]),
        ((*SAND, "d10", "low"), 0.9, ["filter-sand.d10", "order"]),
        ((*SAND, "d10", "vlaue"), 0.9, ["filter-sand.d10", 'Did you mean "value"']),
        ((*SAND, "life", "trust"), None, ["filter-sand.life", "trust"]),
        ((*SAND, "d01"), {"value": 1}, ["filter-sand", 'Did you mean "d10"']),
        (
            (*SAND, "uniformity"),
            {"value": 3.1, "unit": "1", "source": "own-choice"},
            ["filter-sand", "uniformity", "1.1 and 3"],
        ),
        (
            (*SAND, "sphericity"),
            {"value": 0.3, "unit": "1", "source": "own-choice"},
            ["filter-sand", "sphericity", "0.4 and 1"],
        ),
        (
            (*SAND, "grain_density"),
            {"value": 1000, "unit": "kg/m3", "source": "own-choice"},
            ["filter-sand", "float"],
        ),
        (
            (*SAND, "bulk_density"),
            {"value": 60, "unit": "lb/ft3", "source": "own-choice"},
            ["filter-sand", "voids"],
        ),
        ((*SAND, "synonyms"), ["gac"], ["gac", "filter-sand", "activated-carbon-12x40"]),
        ((*SAND, "suits"), ["sedimnt"], ["filter-sand.suits", "sedimnt"]),
        ((*SAND, "guard"), "maybe", ["filter-sand.guard", "by-purpose"]),
        (("settings", "settings", "visit_cost", "doc"), None, ["settings.toml: visit_cost", "doc"]),
        (("settings", "settings", "hidden_rows", "value"), "keep", ["settings.toml: hidden_rows", "keep"]),
        (
            ("housings", "housings", "small", "limit", "source"),
            None,
            ["housings.toml: small.limit", "no source"],
        ),
        (("vessels", "vessels", "10", "inside", "source"), None, ["vessels.toml: 10.inside", "no source"]),
        (("restrictors", "stock", "source"), None, ["restrictors.toml", "no source"]),
    ],
)
def test_fault_is_named_by_file_and_key(path, value, said):
    with pytest.raises(CatalogueError) as caught:
        shipped.build(damaged(path, value))
    assert all(word in caught.value.message for word in said), caught.value.message


def test_all_faults_come_in_one_message():
    data = damaged((*SAND, "d10", "source"), None)
    del data["media"]["media"]["gravel"]["bulk_density"]["unit"]
    with pytest.raises(CatalogueError) as caught:
        shipped.build(data)
    assert "filter-sand.d10" in caught.value.message
    assert "gravel.bulk_density" in caught.value.message


def test_hash_follows_content():
    again = shipped.build(copy.deepcopy(RAW))
    assert again.hash == shipped.load().hash
    other = shipped.build(damaged((*SAND, "d10", "value"), 0.51))
    assert other.hash != shipped.load().hash


def test_loading_is_light():
    """No table library or unit library comes along."""
    code = "import json, sys; from fleetaudit.catalogue import shipped; shipped.load(); "
    code += "print(json.dumps(sorted(sys.modules)))"
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        cwd=Path(shipped.__file__).parents[2],
    )
    assert not {"pandas", "pint", "openpyxl", "scipy"} & set(json.loads(done.stdout))
