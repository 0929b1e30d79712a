"""The unit table against pint and against printed conversion factors."""

from __future__ import annotations

import tomllib

import make_units
import pint
import pytest

from fleetaudit import units
from fleetaudit.assets import read_text
from fleetaudit.errors import InputError

TABLE = tomllib.loads(read_text("data/units.toml"))["unit"]
SPELLINGS = [(name, spelling) for name, row in TABLE.items() for spelling in (name, *row["spellings"])]

#: Thompson and Taylor, Guide for the Use of the International System of Units, NIST Special Publication 811
#: (2008), Appendix B.8: unit, factor to SI as printed (seven digits; exact ones are shorter)
NIST_SP_811 = [
    ("in", 2.54e-02),  # inch to metre, exact
    ("ft", 3.048e-01),  # foot to metre, exact
    ("ft2", 9.290304e-02),  # square foot to square metre, exact
    ("ft3", 2.831685e-02),  # cubic foot to cubic metre
    ("gal", 3.785412e-03),  # gallon (U.S.) to cubic metre
    ("L", 1.0e-03),  # litre to cubic metre, exact
    ("gpm", 6.309020e-05),  # gallon (U.S.) per minute to cubic metre per second
    ("gpd", 4.381264e-08),  # gallon (U.S.) per day to cubic metre per second
    ("lb", 4.535924e-01),  # pound (avoirdupois) to kilogram
    ("lb/ft3", 1.601846e01),  # pound per cubic foot to kilogram per cubic metre
    ("psi", 6.894757e03),  # pound-force per square inch to pascal
    ("bar", 1.0e05),  # bar to pascal, exact
    ("min", 6.0e01),  # minute to second, exact
    ("h", 3.6e03),  # hour to second, exact
    ("d", 8.64e04),  # day to second, exact
]

#: fixed points of the Celsius and Fahrenheit scales, kelvin; the first two by definition of the scales
#: (same publication, Appendix B.8: T/K = t/degC + 273.15 and T/K = (t/degF + 459.67)/1.8)
FIXED_POINTS = [
    ("degC", 0.0, 273.15),
    ("degF", 32.0, 273.15),
    ("degF", 212.0, 373.15),
    ("degF", -459.67, 0.0),
    ("degC", -40.0, 233.15),
    ("degF", -40.0, 233.15),
]


def test_the_table_on_disk_is_the_one_pint_gives() -> None:
    assert read_text("data/units.toml") == make_units.render()


def test_a_spelling_means_one_unit_only() -> None:
    meaning: dict[str, set[str]] = {}
    for name, spelling in SPELLINGS:
        meaning.setdefault(units.fold(spelling), set()).add(name)
    assert {spelling: names for spelling, names in meaning.items() if len(names) > 1} == {}


@pytest.mark.parametrize(("name", "spelling"), SPELLINGS)
def test_every_spelling_is_found_whatever_its_case(name: str, spelling: str) -> None:
    for variant in (spelling, spelling.upper(), f"  {spelling} "):
        found = units.find(variant)
        assert found is not None
        assert found.name == name


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry[float]:
    return pint.UnitRegistry()


@pytest.mark.parametrize(("name", "expression"), [(name, row["pint"]) for name, row in TABLE.items()])
def test_factors_agree_with_pint(registry: pint.UnitRegistry[float], name: str, expression: str) -> None:
    for value in (0.0, 1.0, 37.5):
        expected = registry.Quantity(value, expression).to_base_units().magnitude  # m, kg, s, K throughout
        assert units.to_si(value, name) == pytest.approx(expected, rel=1e-12, abs=1e-9)


@pytest.mark.parametrize(("name", "factor"), NIST_SP_811)
def test_factors_agree_with_the_printed_ones(name: str, factor: float) -> None:
    assert units.to_si(1.0, name) == pytest.approx(
        factor, rel=5e-7
    )  # half a unit of the seventh digit at most
    assert units.from_si(factor, name) == pytest.approx(1.0, rel=5e-7)


@pytest.mark.parametrize(("name", "shown", "kelvin"), FIXED_POINTS)
def test_fixed_points_of_temperature(name: str, shown: float, kelvin: float) -> None:
    assert units.to_si(shown, name) == pytest.approx(kelvin, abs=1e-9)
    assert units.from_si(kelvin, name) == pytest.approx(shown, abs=1e-9)


def test_flow_per_area_in_both_systems() -> None:
    # 1 US gal/min per square foot is 2.444 m/h: 3.785412e-3 x 60 / 9.290304e-2 from the NIST factors above
    assert units.from_si(units.to_si(1.0, "gpm/ft2"), "m/h") == pytest.approx(
        3.785412e-3 * 60 / 9.290304e-2, rel=1e-6
    )


def test_us_and_imperial_gallons_are_kept_apart() -> None:
    # imperial gallon 4.54609e-3 m3 exactly (NIST SP 811, Appendix B.8)
    assert units.to_si(1.0, "igpm") / units.to_si(1.0, "gpm") == pytest.approx(4.54609 / 3.785412, rel=1e-6)


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("GPM", "gpm"),
        ("g.p.m.", "gpm"),
        ("US gpm", "gpm"),
        ("l / min", "L/min"),
        ("LPM", "L/min"),
        ("m³/h", "m3/h"),
        ("″", "in"),
        ("Inches", "in"),
        ("cu. ft.", "ft3"),
        ("° F", "degF"),
        ("C", "degC"),
        ("psig", "psi"),
    ],
)
def test_units_as_people_write_them(written: str, name: str) -> None:
    found = units.find(written)
    assert found is not None
    assert found.name == name


def test_an_expression_outside_the_table_is_worked_out() -> None:
    # 1 acre foot per day: 1233.489 m3 (NIST SP 811, Appendix B.8, acre foot, 1.233489e3) over 86 400 s
    assert units.to_si(1.0, "acre_foot/day") == pytest.approx(1.233489e3 / 86400, rel=1e-5)


@pytest.mark.parametrize("written", ["drops", "gpm per tank", "bucketfuls/min"])
def test_an_unknown_unit_is_named_in_the_message(written: str) -> None:
    with pytest.raises(InputError, match="not a unit") as caught:
        units.factor(written)
    assert written in str(caught.value)
