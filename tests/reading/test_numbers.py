"""Numbers in cells, against what the text says in plain words; conversions against pint, asked directly."""

from __future__ import annotations

import datetime as dt
import math
from fractions import Fraction

import pint
import pytest

from fleetaudit import units
from fleetaudit.reading import grammar
from fleetaudit.reading.grammar import Mark, decimal_mark
from fleetaudit.reading.plain import plain
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Missing, Origin

REGISTRY = pint.UnitRegistry()

READ = [
    ("10", 10, None),
    ('10"', 10, "in"),
    ("10 in", 10, "in"),
    ("10 in.", 10, "in"),
    ("10''", 10, "in"),
    ("10”", 10, "in"),
    ("9 1/2", Fraction(19, 2), None),
    ("9½", Fraction(19, 2), None),
    ("９½", Fraction(19, 2), None),
    ("9-1/2 in", Fraction(19, 2), "in"),
    ('3/4"', Fraction(3, 4), "in"),
    ("¾", Fraction(3, 4), None),
    ("1 1/2 in", Fraction(3, 2), "in"),
    ("2 cu ft", 2, "ft3"),
    ("1.5 ft³", Fraction(3, 2), "ft3"),
    ("5gpm", 5, "gpm"),
    ("5 GPM", 5, "gpm"),
    ("19 L/min", 19, "L/min"),
    ("19 lpm", 19, "L/min"),
    ("1.2 m³/h", Fraction(6, 5), "m3/h"),
    ("55 °F", 55, "degF"),
    ("55°F", 55, "degF"),
    ("8 ℃", 8, "degC"),
    ("10\u00a0", 10, None),
    ("\u00a010\u00a0mm", 10, "mm"),
    ("１０", 10, None),
    ("-3", -3, None),
    ("−3 °C", -3, "degC"),
    (".5", Fraction(1, 2), None),
    ("1,234,567", 1234567, None),
    ("1,234.5 gal", Fraction(12345, 10), "gal"),
    ("1.234,5", Fraction(12345, 10), None),
    ("4 ft 6 in", 54, "in"),
    ("4'6\"", 54, "in"),
    ("4' 6 1/2\"", Fraction(109, 2), "in"),
    ("+7", 7, None),
]
NOT_READ = [
    ("ten", "not a number"),
    ("5-7", "range"),
    ("5 to 7 gpm", "range"),
    ("5 or 7", "range"),
    ("5–7", "range"),
    ("~5", "estimate"),
    ("approx 5 gpm", "estimate"),
    ("about 5", "estimate"),
    ("5?", "estimate"),
    ("5 ish", "estimate"),
    ("10²", "not a number"),
    ("5 furlongs", "no unit"),
    ("1/0", "zero"),
    ("1,,5", "odd places"),
    ("1.2.3", "odd places"),
    ("12,34,5", "odd places"),
    ("10 54", "not a number"),
    ("N/A 5", "not a number"),
    ("1e5", "not a number"),
    ("٥", "not a number"),
    ("5 gpm gpm", "no unit"),
]


@pytest.mark.parametrize(("text", "number", "unit"), READ)
def test_a_cell_reads_as_it_says(text: str, number: float, unit: str | None) -> None:
    typed = grammar.read(plain(text), Mark.UNKNOWN)
    assert typed.problem == ""
    assert typed.number == pytest.approx(float(number))
    assert (typed.unit.name if typed.unit else None) == unit


@pytest.mark.parametrize(("text", "why"), NOT_READ)
def test_what_is_not_wholly_understood_is_not_read(text: str, why: str) -> None:
    typed = grammar.read(plain(text), Mark.UNKNOWN)
    assert math.isnan(typed.number)
    assert why in typed.problem


@pytest.mark.parametrize("text", ["-", "?", "n/a", "NA", "Unknown", "TBD", "None", "not known", "--"])
def test_words_for_unknown_say_nothing(text: str) -> None:
    assert grammar.says_nothing(plain(text))


@pytest.mark.parametrize(
    ("texts", "expected"),
    [
        (["1,5"], Mark.UNKNOWN),
        (["1,5", "2,5"], Mark.UNKNOWN),
        (["1,500"], Mark.UNKNOWN),
        (["0,75", "1,5"], Mark.COMMA),
        (["1.234,5", "1,5"], Mark.COMMA),
        (["1,234.5", "1,500"], Mark.POINT),
        (["1,5", "2,25", "12,75"], Mark.COMMA),
        (["1,500", "12,000", "3,250"], Mark.POINT),
        (["1,500", "2.5"], Mark.POINT),
        (["0,75", "1,234.5"], Mark.UNKNOWN),
        (["1,5", "2,25", "12,75", "3.5"], Mark.UNKNOWN),
        (["1,234,567", "1,5"], Mark.POINT),
        (["5 gpm", "ten"], Mark.UNKNOWN),
    ],
)
def test_a_comma_is_decided_by_its_column(texts: list[str], expected: Mark) -> None:
    assert decimal_mark(texts) is expected
    assert decimal_mark(texts, "comma") is Mark.COMMA


def si(number: float, unit: str, base: str) -> float:
    return float(REGISTRY.Quantity(number, unit).to(base).magnitude)


PINT = {
    "gpm": ("gallon/minute", "m**3/s"),
    "L/min": ("liter/minute", "m**3/s"),
    "m3/h": ("m**3/hour", "m**3/s"),
    "in": ("inch", "m"),
    "ft": ("foot", "m"),
    "mm": ("mm", "m"),
    "ft3": ("foot**3", "m**3"),
    "L": ("liter", "m**3"),
    "psi": ("psi", "pascal"),
    "bar": ("bar", "pascal"),
    "kPa": ("kPa", "pascal"),
    "degF": ("degF", "kelvin"),
    "degC": ("degC", "kelvin"),
}


@pytest.mark.parametrize(
    ("heading", "cell", "number", "unit", "name", "origin"),
    [
        ("DLFC (gpm)", 5, 5, "gpm", "restrictor", Origin.HEADER),
        ("DLFC gpm", 5.5, 5.5, "gpm", "restrictor", Origin.HEADER),
        ("Backwash restrictor [L/min]", 19, 19, "L/min", "restrictor", Origin.HEADER),
        ("Drain restrictor, m3/h", 1.2, 1.2, "m3/h", "restrictor", Origin.HEADER),
        ("DLFC", "5 gpm", 5, "gpm", "restrictor", Origin.TYPED),
        ("DLFC", "19 L/min", 19, "L/min", "restrictor", Origin.TYPED),
        ("DLFC", 5, 5, "gpm", "restrictor", Origin.DEFAULT),
        ("DLFC (gpm)", "5 gpm", 5, "gpm", "restrictor", Origin.TYPED),
        ("Temp (F)", 50, 50, "degF", "water_temperature", Origin.HEADER),
        ("Temp F", 50, 50, "degF", "water_temperature", Origin.HEADER),
        ("Winter water (°C)", 4, 4, "degC", "water_cold", Origin.HEADER),
        ("Winter temp", "4 °C", 4, "degC", "water_cold", Origin.TYPED),
        ("Cu ft", 1.5, 1.5, "ft3", "media_volume", Origin.HEADER),
        ("Media volume (L)", 42, 42, "L", "media_volume", Origin.HEADER),
        ("Bed depth (mm)", 900, 900, "mm", "bed_depth", Origin.HEADER),
        ("Bed depth in inches", 36, 36, "in", "bed_depth", Origin.HEADER),
        ("PSI", 50, 50, "psi", "supply_pressure", Origin.HEADER),
        ("Pressure", "3 bar", 3, "bar", "supply_pressure", Origin.TYPED),
        ("Drain line (in)", "3/4", 0.75, "in", "drain_bore", Origin.HEADER),
        ("Drain length", "20 ft", 20, "ft", "drain_length", Origin.TYPED),
        ("Drain line", '1 1/2"', 1.5, "in", "drain_bore", Origin.TYPED),
        ("Pump gpm", 8, 8, "gpm", "supply_flow", Origin.HEADER),
    ],
)
def test_units_come_from_cell_heading_or_default(column, heading, cell, number, unit, name, origin) -> None:
    frame = column(heading, [cell]).frame
    ours = fleet.BY_NAME[name]
    assert frame.number(ours)[0] == pytest.approx(si(number, *PINT[unit]), rel=1e-9)
    assert frame.origins(ours)[0] == origin


@pytest.mark.parametrize(
    ("code", "number", "unit", "heading", "name"),
    [
        ('0.0" gpm"', 5, "gpm", "DLFC", "restrictor"),
        ('0.0" L/min"', 19, "L/min", "DLFC", "restrictor"),
        ("0.0 [$ft3]", 1.5, "ft3", "Media volume", "media_volume"),
        ('0\\"', 10, "in", "Drain size", "drain_bore"),
    ],
)
def test_units_come_from_the_number_format(column, code, number, unit, heading, name) -> None:
    value = number if unit != "in" else 1
    frame = column(heading, [value], code).frame
    ours = fleet.BY_NAME[name]
    assert frame.number(ours)[0] == pytest.approx(si(value, *PINT[unit]))
    assert frame.origins(ours)[0] == Origin.FORMAT


def test_days_in_the_number_format_count_as_days(column) -> None:
    frame = column("BW interval", [3], '0 "days"').frame
    assert frame.number(fleet.WASH_INTERVAL)[0] == 3 * 24 * 60 * 60


@pytest.mark.parametrize(
    ("heading", "cell", "code"),
    [
        ("DLFC (gpm)", "19 L/min", None),
        ("DLFC (L/min)", 5, '0" gpm"'),
        ("Winter water (F)", "4 °C", None),
        ("DLFC (psi)", 5, None),
    ],
)
def test_two_units_that_disagree_give_no_value(column, heading, cell, code) -> None:
    found = column(heading, [cell], code)
    ours = fleet.RESTRICTOR if "DLFC" in heading else fleet.COLD
    assert math.isnan(found.frame.number(ours)[0])
    assert found.frame.why_missing(ours)[0] == Missing.CONFLICT
    assert found.frame.origins(ours)[0] == Origin.CONFLICT
    (remark,) = [one for one in found.remarks if one.kind in ("units-disagree", "heading-unit")]
    assert remark.cells == ("Units!D2",)


def test_a_default_unit_is_said_once_with_all_its_cells(column) -> None:
    found = column("DLFC", [5, 7, "5 gpm", None, 10])
    (remark,) = [one for one in found.remarks if one.kind == "unit-assumed"]
    assert remark.cells == ("Units!D2", "Units!D3", "Units!D6")
    assert remark.assumed == "gpm"
    assert list(found.frame.origins(fleet.RESTRICTOR)) == [4, 4, 1, 0, 4]


def test_a_company_that_works_in_metric_has_metric_defaults(column) -> None:
    found = column("DLFC", [19], sheets={"Settings": [("Setting", "Value"), ("units", "metric")]})
    assert found.frame.number(fleet.RESTRICTOR)[0] == pytest.approx(si(19, "liter/minute", "m**3/s"))


@pytest.mark.parametrize(
    ("heading", "cell", "name", "said", "expected"),
    [
        ("Diameter (in)", 0, "vessel_diameter", "0 in", "6 to 72 in"),
        ("Diameter (in)", -10, "vessel_diameter", "-10 in", "6 to 72 in"),
        ("Diameter (mm)", 2500, "vessel_diameter", "2500 mm", "152.4 to 1829 mm"),
        ("DLFC (gpm)", 5000, "restrictor", "5000 gpm", "0.2 to 400 gpm"),
        ("pH", 72, "ph", "72", "2 to 12.5"),
        ("Winter water (F)", 450, "water_cold", "450 °F", "30.2 to 140 °F"),
    ],
)
def test_what_cannot_be_true_is_named_with_its_range(read, heading, cell, name, said, expected) -> None:
    found = read(
        [("Unit ID", "Tank", "Media", heading), ("U-1", None if "Dia" in heading else "10x54", "sand", cell)]
    )
    ours = fleet.BY_NAME[name]
    assert math.isnan(found.frame.number(ours)[0])
    assert found.frame.why_missing(ours)[0] == Missing.IMPLAUSIBLE
    (remark,) = [one for one in found.remarks if one.kind == "implausible"]
    assert remark.cells == ("Units!D2",)
    assert f" {said}. Expected {expected}." in remark.text
    assert found.frame.raw[0, name] == str(cell)


def test_times_and_durations_count_as_minutes(column) -> None:
    frame = column("BW minutes", [dt.time(0, 10), dt.timedelta(minutes=12), 8, "15 min"]).frame
    assert frame.number(fleet.WASH_MINUTES).tolist() == [600.0, 720.0, 480.0, 900.0]


def test_a_date_is_no_number(column) -> None:
    frame = column("DLFC (gpm)", [dt.date(2021, 5, 7), True, 5]).frame
    assert frame.why_missing(fleet.RESTRICTOR).tolist() == [
        Missing.UNREADABLE,
        Missing.UNREADABLE,
        Missing.KNOWN,
    ]


def test_words_for_unknown_are_blank_and_a_blank_column_is_absent(column) -> None:
    frame = column("DLFC (gpm)", ["unknown", None, "n/a", 5]).frame
    assert frame.why_missing(fleet.RESTRICTOR).tolist() == [
        Missing.BLANK,
        Missing.BLANK,
        Missing.BLANK,
        Missing.KNOWN,
    ]
    assert not column("DLFC (gpm)", ["unknown", None]).frame.has(fleet.RESTRICTOR)


def test_every_unit_of_the_table_survives_the_round_trip() -> None:
    for name in ("gpm", "L/min", "m3/h", "in", "mm", "ft3", "psi", "degF", "degC", "min", "d"):
        assert units.from_si(units.to_si(12.5, name), name) == pytest.approx(12.5)


def test_a_cell_that_is_no_count_is_told_to_be_one_or_to_belong_elsewhere(read) -> None:
    found = read([("Tank", "Media", "Qty"), ("10x54", "sand", "1 1/2 cu ft")])
    told = next(one for one in found.remarks if one.kind == "unreadable")
    assert told.text.endswith(
        "Type the number alone; where the column holds something else, rename its heading."
    )
