"""Days on which media fall due, worked out by hand in each test; 1 ft3 is 7.48052 gallons (NIST SP 811)."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from fleetaudit.catalogue.overrides import OverrideRow, apply
from fleetaudit.catalogue.shipped import load
from fleetaudit.facts.calendar import later
from fleetaudit.facts.due import By, Due, due, top_up_unknown
from fleetaudit.facts.view import View
from tests.frames import frame_of

CATALOGUE = load()
AS_OF = date(2026, 11, 1)
EPOCH = date(1970, 1, 1)
GAL_FT3 = 7.48052
IRON = {"vessel_diameter": "10 in", "medium": "iron-hydroxide", "media_volume": "1 ft3"}
CALCITE = {"vessel_diameter": "10 in", "medium": "calcite-16x40"}


def view_of(**row: str) -> View:
    return View(frame_of([row], CATALOGUE), CATALOGUE, float((AS_OF - EPOCH).days), 0.0)


def ahead(found: Due) -> tuple[float, float, float]:
    """Days from the audit to the middle, the earliest and the latest end."""
    day = (AS_OF - EPOCH).days
    return float(found.day.value[0] - day), float(found.day.low[0] - day), float(found.day.high[0] - day)


def test_by_date_with_the_range_of_the_life_and_of_the_year() -> None:
    found = due(view_of(vessel_diameter="10 in", medium="filter-sand", media_date="2020"))
    assert found.day.low[0] == pytest.approx((date(2025, 1, 1) - EPOCH).days)
    assert found.day.high[0] == pytest.approx((date(2030, 12, 31) - EPOCH).days)
    assert found.by[0] == By.DATE


@pytest.mark.parametrize(
    ("loaded", "life", "ends"),
    [
        ("2021-11-02", "5 year", "2026-11-02"),
        ("2023-03-01", "1 year", "2024-03-01"),  # 366 days
        ("2022-03-01", "1 year", "2023-03-01"),  # 365 days
        ("2019-06-30", "10 year", "2029-06-30"),
        ("2020-02-29", "1 year", "2021-02-28"),
        ("2020-02-29", "4 year", "2024-02-29"),
        ("2024-08-31", "6 month", "2025-02-28"),
        ("2024-08-31", "18 month", "2026-02-28"),
        ("2024-01-31", "1 month", "2024-02-29"),
        ("1999-12-31", "2.5 year", "2002-06-30"),
        ("2024-02-28", "730 day", "2026-02-27"),  # days are days
        ("2024-02-28", "52 week", "2025-02-26"),
    ],
)
def test_a_life_of_whole_months_ends_on_the_same_day_of_the_calendar(
    loaded: str, life: str, ends: str
) -> None:
    """Counted on the calendar by hand; 2020, 2024 and 2028 are leap years."""
    found = due(view_of(**CALCITE, media_date=loaded, media_life=life, depth_left="30 in"))
    day = (date.fromisoformat(ends) - EPOCH).days
    assert (found.day.value[0], found.day.low[0], found.day.high[0]) == (day, day, day)


def test_many_days_and_few_end_on_the_same_days() -> None:
    """Every day of four years, a year on: the same day of the month, but for 29 February."""
    first = (date(2020, 1, 1) - EPOCH).days
    days = np.arange(first, first + 4 * 365 + 1, dtype=np.float64)
    ends = later(np.tile(days, 3), np.full(3 * len(days), 365.25))
    for day, end in zip(days, ends, strict=False):
        begun, over = EPOCH + timedelta(days=int(day)), EPOCH + timedelta(days=int(end))
        leap = (begun.month, begun.day) == (2, 29)
        assert over == (date(begun.year + 1, 2, 28) if leap else begun.replace(year=begun.year + 1))
        assert later(np.array([day]), np.array([365.25]))[0] == end


@pytest.mark.parametrize("loaded", ["2020-11-01", "2021-11-01", "2023-11-01"])
@pytest.mark.parametrize("years", [1, 2, 3, 4, 5])
def test_the_last_day_of_a_life_is_not_past_it_and_the_next_day_is(loaded: str, years: int) -> None:
    first = date.fromisoformat(loaded)
    row = {**CALCITE, "media_date": loaded, "media_life": f"{years} year", "depth_left": "30 in"}
    frame = frame_of([row], CATALOGUE)
    last = (first.replace(year=first.year + years) - EPOCH).days
    for day, over in ((last, False), (last + 1, True)):
        found = due(View(frame, CATALOGUE, float(day), 0.0))
        assert (bool(found.spent[0]), float(found.chance[0])) == (over, float(over))


def test_by_meter_and_daily_use() -> None:
    """300,000 gal of 374,026; at 500 gal a day 148 days, 20 % either way, and 20,000 to 100,000 volumes."""
    found = due(view_of(**IRON, volume_treated="300000 gal", daily_use="500 gpd"))
    middle, low, high = ahead(found)
    assert middle == pytest.approx((50_000 * GAL_FT3 - 300_000) / 500, rel=1e-4)
    assert low == pytest.approx((20_000 * GAL_FT3 - 300_000) / 400, rel=1e-4)
    assert high == pytest.approx((100_000 * GAL_FT3 - 300_000) / 400, rel=1e-4)
    assert found.by[0] == By.VOLUME and not found.spent[0]


def test_by_meter_and_date_the_use_so_far_goes_on() -> None:
    """200,000 gal in 400 days are 500 a day."""
    found = due(view_of(**IRON, volume_treated="200000 gal", media_date="2025-09-27"))
    assert (AS_OF - date(2025, 9, 27)).days == 400
    assert ahead(found)[0] == pytest.approx((50_000 * GAL_FT3 - 200_000) / 500, rel=1e-4)


def test_by_date_and_daily_use() -> None:
    """748 days of 500 gal use up 50,000 bed volumes; 400 are over."""
    found = due(view_of(**IRON, daily_use="500 gpd", media_date="2025-09-27"))
    assert ahead(found)[0] == pytest.approx(50_000 * GAL_FT3 / 500 - 400, rel=1e-4)


def test_two_vessels_treat_twice_as_much() -> None:
    found = due(view_of(**IRON, vessels="2", daily_use="500 gpd", media_date="2025-09-27"))
    assert ahead(found)[0] == pytest.approx(2 * 50_000 * GAL_FT3 / 500 - 400, rel=1e-4)


def test_spent_by_meter_without_a_date_is_due_today_at_the_latest() -> None:
    found = due(view_of(**IRON, volume_treated="400000 gal"))
    assert found.spent[0] and ahead(found) == (0.0, 0.0, 0.0)


def test_by_depth_the_rate_so_far_goes_on() -> None:
    """From 30 to 25 in in a year of 365 days; the inch above 24 in lasts 73 days."""
    found = due(view_of(**CALCITE, media_date="2025-11-01", bed_depth="30 in", depth_left="25 in"))
    middle, low, high = ahead(found)
    assert middle == pytest.approx(73.0, rel=1e-3)
    assert low < middle < high
    assert found.by[0] == By.DEPTH


def test_depth_is_counted_from_the_last_top_up() -> None:
    found = due(
        view_of(
            **CALCITE,
            media_date="2024-11-01",
            top_up_date="2026-07-24",
            bed_depth="30 in",
            depth_left="25 in",
        )
    )
    assert (AS_OF - date(2026, 7, 24)).days == 100
    assert ahead(found)[0] == pytest.approx(100 / 5, rel=1e-3)


def test_top_up_is_counted_from_the_later_of_both_days() -> None:
    found = due(view_of(**CALCITE, media_date="2025-11-01", top_up_date="2025-01-01"))
    assert found.day.value[0] == pytest.approx((date(2026, 11, 1) - EPOCH).days)


def test_a_bed_without_a_word_of_a_top_up_is_neither_new_nor_due() -> None:
    view = view_of(**CALCITE, media_date="2024-11-01")
    assert top_up_unknown(view)[0]
    assert due(view).by[0] == By.DATE
    assert not due(view).spent[0]


@pytest.mark.parametrize("blank", ["media_date", "daily_use", "volume_treated"])
def test_a_blank_never_counts_as_new(blank: str) -> None:
    row = {"media_date": "2025-09-27", "daily_use": "500 gpd", "volume_treated": "400000 gal"}
    told = due(view_of(**IRON, **{blank: ""}))
    assert not told.told[0] and np.isnan(told.day.value[0])
    assert due(view_of(**IRON, **row)).spent[0]


def test_the_way_that_ends_first_leads() -> None:
    row = {"medium": "activated-carbon-12x40", "vessel_diameter": "10 in", "media_date": "2025-11-01"}
    by_date = due(view_of(**row, media_life="2 year"))
    sooner = due(view_of(**row, media_life="2 year", throughput_limit="100000 gal", daily_use="200 gpd"))
    assert by_date.by[0] == By.DATE
    assert sooner.by[0] == By.VOLUME
    assert ahead(sooner)[0] == pytest.approx(100_000 / 200 - 365, rel=1e-4)


def test_bed_volumes_and_top_ups_of_the_company_go_first() -> None:
    """30,000 bed volumes of its own instead of 50,000, and a top-up every two years instead of every one."""
    own = apply(
        CATALOGUE,
        {
            "Media": [
                OverrideRow("Media!A2", {"medium": "iron-hydroxide", "life_bed_volumes": 30000}, "ours.xlsx"),
                OverrideRow("Media!A3", {"medium": "calcite-16x40", "top_up": "2 years"}, "ours.xlsx"),
            ]
        },
    )
    day = float((AS_OF - EPOCH).days)
    iron = due(
        View(frame_of([IRON | {"volume_treated": "200000 gal", "daily_use": "500 gpd"}], own), own, day, 0.0)
    )
    assert ahead(iron)[0] == pytest.approx((30_000 * GAL_FT3 - 200_000) / 500, rel=1e-4)
    calcite = due(View(frame_of([CALCITE | {"media_date": "2025-11-01"}], own), own, day, 0.0))
    assert calcite.day.value[0] == pytest.approx((date(2027, 11, 1) - EPOCH).days)
