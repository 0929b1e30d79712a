"""Write fleetaudit/data/units.toml: every unit spelling the tool knows, its factor to SI taken from pint.

Run `python tests/make_units.py` after a change of the table below; tests/test_units.py compares the two.
"""

from __future__ import annotations

from pathlib import Path

import pint

TARGET = Path(__file__).resolve().parent.parent / "fleetaudit" / "data" / "units.toml"

#: canonical name, SI name, pint expression of the unit and of its SI unit, other spellings
TABLE = [
    ("1", "1", "dimensionless", "dimensionless", []),
    ("%", "1", "percent", "dimensionless", ["percent", "pct"]),
    ("m", "m", "meter", "meter", ["meter", "meters", "metre", "metres"]),
    ("cm", "m", "centimeter", "meter", ["centimeter", "centimeters", "centimetre", "centimetres"]),
    ("mm", "m", "millimeter", "meter", ["millimeter", "millimeters", "millimetre", "millimetres"]),
    ("in", "m", "inch", "meter", ["inch", "inches", "ins", '"', "''", "″", "”", "“", "in dia", "inch dia"]),
    ("ft", "m", "foot", "meter", ["foot", "feet", "'", "′", "’"]),
    ("km", "m", "kilometer", "meter", ["kilometer", "kilometers", "kilometre", "kilometres"]),
    ("m2", "m2", "meter**2", "meter**2", ["m²", "sq m", "sqm"]),
    ("ft2", "m2", "foot**2", "meter**2", ["ft²", "sq ft", "sqft", "square feet"]),
    (
        "m3",
        "m3",
        "meter**3",
        "meter**3",
        ["m³", "cum", "cu m", "cubic meter", "cubic meters", "cubic metres"],
    ),
    ("L", "m3", "liter", "meter**3", ["l", "lt", "ltr", "ltrs", "liter", "liters", "litre", "litres"]),
    ("ft3", "m3", "foot**3", "meter**3", ["ft³", "cuft", "cu ft", "cf", "cubic foot", "cubic feet", "ft^3"]),
    ("gal", "m3", "gallon", "meter**3", ["gallon", "gallons", "gals", "us gal", "us gallons"]),
    (
        "gpm",
        "m3/s",
        "gallon/minute",
        "meter**3/second",
        ["gal/min", "us gpm", "usgpm", "gallons per minute", "gal per min", "g/m", "gpm us", "gals/min"],
    ),
    ("imp gpm", "m3/s", "imperial_gallon/minute", "meter**3/second", ["igpm", "imperial gpm", "uk gpm"]),
    ("gpd", "m3/s", "gallon/day", "meter**3/second", ["gal/day", "gallons/day", "gallons per day"]),
    (
        "L/min",
        "m3/s",
        "liter/minute",
        "meter**3/second",
        ["lpm", "l/m", "ltr/min", "litres/min", "liters/min", "litres per minute", "liters per minute"],
    ),
    ("L/s", "m3/s", "liter/second", "meter**3/second", ["lps", "l/sec", "litres per second"]),
    ("L/h", "m3/s", "liter/hour", "meter**3/second", ["lph", "l/hr", "litres per hour", "liters per hour"]),
    ("L/d", "m3/s", "liter/day", "meter**3/second", ["l/day", "litres/day", "litres per day"]),
    (
        "m3/h",
        "m3/s",
        "meter**3/hour",
        "meter**3/second",
        ["m³/h", "m3/hr", "m³/hr", "cmh", "cum/h", "cu m/h", "m3 per hour"],
    ),
    ("m3/d", "m3/s", "meter**3/day", "meter**3/second", ["m³/d", "m3/day", "m³/day"]),
    (
        "gpm/ft2",
        "m/s",
        "gallon/minute/foot**2",
        "meter/second",
        ["gpm/sqft", "gpm/sq ft", "gpm/ft²", "gpm per sq ft", "gpm/sf"],
    ),
    ("m/h", "m/s", "meter/hour", "meter/second", ["m/hr", "m3/m2/h", "m³/m²/h", "m/hour"]),
    ("mm/s", "m/s", "millimeter/second", "meter/second", []),
    (
        "gpm/ft3",
        "1/s",
        "gallon/minute/foot**3",
        "1/second",
        ["gpm/cuft", "gpm/cu ft", "gpm/ft³", "gpm per cu ft"],
    ),
    ("BV/h", "1/s", "1/hour", "1/second", ["bed volumes/h", "bv/hr"]),
    ("lb/ft3", "kg/m3", "pound/foot**3", "kilogram/meter**3", ["lb/cuft", "lbs/ft3", "lb/cu ft", "pcf"]),
    ("kg/m3", "kg/m3", "kilogram/meter**3", "kilogram/meter**3", ["kg/m³"]),
    ("g/cm3", "kg/m3", "gram/centimeter**3", "kilogram/meter**3", ["g/cc", "g/ml", "sg", "kg/l"]),
    ("lb", "kg", "pound", "kilogram", ["lbs", "pound", "pounds"]),
    ("kg", "kg", "kilogram", "kilogram", ["kgs", "kilo", "kilos"]),
    ("degC", "K", "degC", "kelvin", ["°c", "c", "deg c", "celsius", "º c", "ºc", "° c"]),
    ("degF", "K", "degF", "kelvin", ["°f", "f", "deg f", "fahrenheit", "ºf", "° f"]),
    ("K", "K", "kelvin", "kelvin", ["kelvin"]),
    ("s", "s", "second", "second", ["sec", "secs", "second", "seconds"]),
    ("min", "s", "minute", "second", ["mins", "minute", "minutes"]),
    ("h", "s", "hour", "second", ["hr", "hrs", "hour", "hours"]),
    ("d", "s", "day", "second", ["day", "days"]),
    ("week", "s", "week", "second", ["weeks", "wk", "wks"]),
    ("month", "s", "month", "second", ["months", "mo", "mos"]),
    ("year", "s", "year", "second", ["years", "yr", "yrs", "y", "a"]),
    ("psi", "Pa", "psi", "pascal", ["psig", "lb/in2", "pounds"]),
    ("bar", "Pa", "bar", "pascal", ["bars", "barg"]),
    ("kPa", "Pa", "kilopascal", "pascal", []),
    ("MPa", "Pa", "megapascal", "pascal", []),
    ("Pa s", "Pa s", "pascal*second", "pascal*second", []),
]


def render() -> str:
    registry = pint.UnitRegistry()
    lines = [
        "# Unit spellings and factors to SI. Written by tests/make_units.py from pint; do not edit by hand.",
        "# value in SI = (value in the unit + offset) * factor",
        "",
    ]
    for name, si, unit, si_unit, aliases in TABLE:
        one = registry.Quantity(1.0, unit).to(si_unit).magnitude
        zero = registry.Quantity(0.0, unit).to(si_unit).magnitude
        factor = one - zero
        if unit == "degF":
            factor = 5 / 9
        elif unit == "degC":
            factor = 1.0
        offset = zero / factor
        lines.append(f"[unit.{_quoted(name)}]")
        lines.append(f"si = {_quoted(si)}")
        lines.append(f"pint = {_quoted(unit)}")
        lines.append(f"factor = {factor!r}")
        lines.append(f"offset = {round(offset, 9)!r}")
        spellings = [a for a in aliases if not (name == "psi" and a == "pounds")]
        lines.append("spellings = [" + ", ".join(_quoted(a) for a in spellings) + "]")
        lines.append("")
    return "\n".join(lines)


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


if __name__ == "__main__":
    TARGET.write_text(render(), encoding="utf-8")
