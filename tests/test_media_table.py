"""The table of media and temperatures: in step with the code, and against figures worked out elsewhere."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.media_table import lines

PAGE = Path(__file__).resolve().parent.parent / "DEVELOPERS.md"
ROWS = {
    cells[0]: cells for cells in ([part.strip() for part in line.split("|")[1:-1]] for line in lines()[2:])
}


def ends(name: str, column: int) -> list[float]:
    return [float(end) for end in ROWS[name][column].split("–")]


def test_page_holds_the_table_as_it_is() -> None:
    page = PAGE.read_text(encoding="utf-8")
    assert "\n".join(lines()) in page


@pytest.mark.parametrize(
    ("name", "rate", "at_5", "at_25_over_5"),
    [
        # factors at 5 degC and between 5 and 25 degC: bisection over ten layers of the law, done apart from this code
        ("Activated carbon 12x40", (8, 12), 0.892, 1.308 / 0.892),
        ("Manganese greensand (or coated silica)", (10, 12), 0.883, 1.345 / 0.883),
        ("Calcite 16x40", (8, 12), 0.890, 1.315 / 0.890),
        ("Natural zeolite 14x40", (12, 18), 0.890, 1.317 / 0.890),
        ("Cation resin, softening", (4, 6), 0.885, 1.341 / 0.885),
    ],
)
def test_rates_follow_temperature_as_worked_out_apart(
    name: str, rate: tuple[float, float], at_5: float, at_25_over_5: float
) -> None:
    cold, base, warm = (ends(name, column) for column in (3, 4, 7))
    assert base == list(rate)
    for place in (0, 1):
        assert cold[place] == pytest.approx(rate[place] * at_5, abs=0.06)
        assert warm[place] / cold[place] == pytest.approx(at_25_over_5, rel=0.02)


@pytest.mark.parametrize(
    ("name", "off"),
    [
        ("Manganese dioxide ore 8x20", 85),
        ("Calcite 16x40", 37),
        ("Activated carbon 8x30", 22),
        ("Natural zeolite 14x40", -23),
    ],
)
def test_where_physics_and_practice_part(name: str, off: int) -> None:
    """Differences worked out by hand from the law at the catalogue's grain data, middle of the range."""
    assert float(ROWS[name][8].rstrip("%")) == pytest.approx(off, abs=4)


def test_every_medium_that_is_judged_has_a_row_and_a_treatment() -> None:
    assert len(ROWS) >= 20
    assert all(cells[-1] for cells in ROWS.values())
