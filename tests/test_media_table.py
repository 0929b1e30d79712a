"""The table of media and temperatures: in step with the code, and against the law solved the slow way."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path

import pytest
from iapws import IAPWS95

from tests.hydraulics import plain
from tests.media_table import lines

ROOT = Path(__file__).resolve().parent.parent
MEDIA = tomllib.loads((ROOT / "fleetaudit" / "data" / "media.toml").read_text(encoding="utf-8"))["media"]
TRIED = ("activated-carbon-12x40", "calcite-16x40", "cation-resin")
ROUNDING = 0.051  # a tenth, as the table shows


def value(key: str, name: str) -> float:
    """Figure of the data file in the unit it is written in, the middle of a range that has no value."""
    entry = MEDIA[key][name]
    return float(entry.get("value", (entry.get("low", 0) + entry.get("high", 0)) / 2))


@cache
def rows() -> dict[str, list[str]]:
    """Cells of the table by the name of the medium."""
    cells = ([part.strip() for part in line.split("|")[1:-1]] for line in lines()[2:])
    return {row[0]: row for row in cells}


@cache
def velocity(key: str, celsius: float, shape: float | None = None) -> float:
    """Velocity [m/s] at the target expansion, by halving, with water from a reference library."""
    water = IAPWS95(T=273.15 + celsius, P=0.101325)
    psi = value(key, "sphericity") if shape is None else shape
    grain = (
        *(value(key, "d10") * 1e-3, value(key, "uniformity"), value(key, "grain_density"), psi),
        value(key, "porosity"),
    )
    target = MEDIA[key]["expansion"].get("value", 0) / 100
    return plain.root(lambda v: plain.expansion(v, *grain, water.rho, water.mu) - target, 1e-5, 0.2)


def row(key: str) -> list[str]:
    return rows()[MEDIA[key]["name"]]


def ends(key: str, column: int) -> list[float]:
    return [float(end) for end in row(key)[column].split("–")]


def test_page_holds_the_table_as_it_is() -> None:
    assert "\n".join(lines()) in (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("key", TRIED)
def test_rates_follow_temperature_by_the_law(key: str) -> None:
    """The rate of the data file times v(T) / v(10 degC), to the digit the table shows."""
    rate = MEDIA[key]["rate"]
    for column, celsius in ((3, 5), (4, 10), (7, 25)):
        factor = velocity(key, celsius) / velocity(key, 10)
        assert ends(key, column) == pytest.approx([rate["low"] * factor, rate["high"] * factor], abs=ROUNDING)


@pytest.mark.parametrize("key", ["calcite-16x40", "zeolite-14x40", "manganese-ore-8x20"])
def test_where_physics_and_practice_part(key: str) -> None:
    """Mean of v with the sphericity and half-way to a sphere, over the middle of the rate (1 gpm/ft2 =
    0.679097 mm/s).
    """
    psi = value(key, "sphericity")
    middle = (velocity(key, 10) + velocity(key, 10, (1 + psi) / 2)) / 2
    rate = (MEDIA[key]["rate"]["low"] + MEDIA[key]["rate"]["high"]) / 2 * 0.679097e-3
    assert float(row(key)[8].rstrip("%")) == pytest.approx((middle / rate - 1) * 100, abs=0.6)


def test_every_medium_that_is_judged_has_a_row_and_a_treatment() -> None:
    judged = {medium["name"] for medium in MEDIA.values() if "rate" in medium}
    assert judged <= set(rows())
    assert all(cells[-1] for cells in rows().values())
