"""The arithmetic beside a cost is worked out again from the figures it shows, to the digits shown."""

from __future__ import annotations

import re
from datetime import date

import numpy as np
import pytest

from fleetaudit.auditing.run import audit
from fleetaudit.catalogue.shipped import load
from fleetaudit.checks.registry import BY_SLUG, CHECKS
from fleetaudit.ranking import MEDIA, VISITS, WATER, ranked, sensitivity
from fleetaudit.writing.cost_words import cost_lines, sensitivity_words
from fleetaudit.writing.display import Display
from tests.frames import frame_of

CATALOGUE = load()
UNIT = {
    "vessel_diameter": "10 in",
    "medium": "activated-carbon-12x40",
    "mesh_stated": "yes",
    "water_temperature": "10 degC",
    "media_volume": "1.5 ft3",
    "wash_minutes": "10 min",
    "wash_interval": "3.5 d",
    "restrictor": "10 gpm",
}
LITRES_PER_GALLON = 3.785412


def lines(system: str) -> dict[str, str]:
    result = audit(frame_of([UNIT], CATALOGUE), CATALOGUE, date(2026, 11, 1))
    cost = ranked(result).costs[CHECKS.index(BY_SLUG["restrictor-too-large"])]
    found = cost_lines(cost, np.array([0]), Display(system))[0]
    return {line.partition(":")[0]: line for line in found}


def figures(line: str) -> list[float]:
    return [float(number.replace(",", "")) for number in re.findall(r"\d[\d,]*\.?\d*", line)]


def test_water_in_gallons() -> None:
    """8 to 12 gpm/ft2 at 10 degC on 0.5454 ft2: 10 gpm are 3.5 over 6.5.

    Every 3.5 days makes 104 washes; 5 + 7 per 1,000 gal.
    """
    over, minutes, washes, price, per, total = figures(lines("us")[WATER])
    assert (over, minutes, washes, price, per) == (
        pytest.approx(10 - 12 * 0.5454, abs=0.06),
        10,
        104,
        12,
        1000,
    )
    assert total == pytest.approx((10 - 12 * 0.5454) * 10 * 365.25 / 3.5 * 12 / 1000, abs=0.6)


def test_water_in_litres_costs_the_same() -> None:
    over, minutes, washes, price, total = figures(lines("metric")[WATER].replace("m³", ""))
    assert over == pytest.approx((10 - 12 * 0.5454) * LITRES_PER_GALLON, abs=0.06)
    assert price == pytest.approx(12 / LITRES_PER_GALLON, rel=1e-3)
    assert total == figures(lines("us")[WATER])[-1]
    assert (minutes, washes) == (10, 104)


def test_media_and_visits() -> None:
    """A part in 2,000 of the water over 6.5 gpm at 90, and 20 visits in a hundred at what a visit costs.

    One US gallon is 231 cubic inches (NIST Handbook 44, appendix C), a cubic foot 1,728.
    """
    share, water, price, total = figures(lines("us")[MEDIA].replace("ft³", ""))
    wasted = (10 - 12 * 0.5454) * 10 * 365.25 / 3.5 * 231 / 1728
    assert (share, price) == (0.05, 90) and water == pytest.approx(wasted, rel=2e-3)
    assert total == pytest.approx(wasted * 0.0005 * 90, abs=0.6)
    chance, visit, cost = figures(lines("us")[VISITS])
    assert cost == round(chance / 100 * visit)


def test_the_sentence_on_prices() -> None:
    rows = [UNIT | {"unit_id": f"U-{n}"} for n in range(3)]
    result = audit(frame_of(rows, CATALOGUE), CATALOGUE, date(2026, 11, 1))
    text = sensitivity_words(sensitivity(result, ranked(result), np.ones(3, dtype=bool)))
    assert "water and sewer cost twice as much" in text and "a visit costs twice as much" in text
    assert sensitivity_words(()) == ""
