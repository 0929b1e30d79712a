"""Dates in cells, compared with the calendar of the standard library."""

from __future__ import annotations

import datetime as dt
import math

import pytest
from openpyxl.utils.datetime import MAC_EPOCH

from fleetaudit.reading.dates import Order, column_order, read_text
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Missing, Origin


def day(year: int, month: int, number: int) -> int:
    return (dt.date(year, month, number) - dt.date(1970, 1, 1)).days


APRIL_5 = day(2021, 4, 5)
SAME = [
    "2021-04-05",
    "2021/04/05",
    "2021.4.5",
    "20210405",
    "5 Apr 2021",
    "5 April 2021",
    "5-Apr-2021",
    "5-Apr-21",
    "05 Apr. 2021",
    "5th April 2021",
    "April 5, 2021",
    "Apr 5 2021",
    "apr 5, 2021",
    "2021-04-05 00:00:00",
    "2021-04-05T08:30",
    "5.Apr.2021",
]
RANGES = [
    ("Apr 2021", day(2021, 4, 1), day(2021, 4, 30)),
    ("April 2021", day(2021, 4, 1), day(2021, 4, 30)),
    ("04/2021", day(2021, 4, 1), day(2021, 4, 30)),
    ("2021-04", day(2021, 4, 1), day(2021, 4, 30)),
    ("Feb 2020", day(2020, 2, 1), day(2020, 2, 29)),
    ("2021", day(2021, 1, 1), day(2021, 12, 31)),
    ("Apr '21", day(2021, 4, 1), day(2021, 4, 30)),
    ("Mar-95", day(1995, 3, 1), day(1995, 3, 31)),
]
NOT_DATES = [
    "12",
    "U1234",
    "10-54",
    "soon",
    "31/02/2021",
    "30 Feb 2021",
    "13/13/2021",
    "0/5/2021",
    "Q2 2021",
    "spring 2020",
    "April",
    "5 April",
    "1/1/1",
    "2021-13-01",
    "yesterday",
    "5/2021/4",
    "00/00/0000",
]


@pytest.mark.parametrize("text", SAME)
def test_forms_of_one_day(text: str) -> None:
    span = read_text(text, Order.UNKNOWN)
    assert (span.low, span.high, span.problem) == (APRIL_5, APRIL_5, "")


@pytest.mark.parametrize(("text", "low", "high"), RANGES)
def test_a_month_or_a_year_is_a_range(text: str, low: int, high: int) -> None:
    span = read_text(text, Order.UNKNOWN)
    assert (span.low, span.high, span.problem) == (low, high, "")


@pytest.mark.parametrize("text", NOT_DATES)
def test_what_is_not_on_the_list_is_no_date(text: str) -> None:
    assert read_text(text, Order.UNKNOWN).problem
    assert read_text(text, Order.DAY).problem


def test_day_and_month_order_belongs_to_the_column(column) -> None:
    found = column("Rebed date", ["03/04/2021", "13/04/2021", "01/12/2020"])
    assert found.frame.number(fleet.MEDIA_DATE).tolist() == [
        day(2021, 4, 3),
        day(2021, 4, 13),
        day(2020, 12, 1),
    ]
    (remark,) = [one for one in found.remarks if one.kind == "date-order"]
    assert remark.assumed == "day first"
    assert remark.cells == ("Units!D2", "Units!D4")
    months = column("Rebed date", ["03/04/2021", "04/13/2021"]).frame
    assert months.number(fleet.MEDIA_DATE).tolist() == [day(2021, 3, 4), day(2021, 4, 13)]


def test_dates_that_could_be_two_days_are_not_read(column) -> None:
    found = column("Rebed date", ["03/04/2021", "05/05/2021", "2021-04-05"])
    assert found.frame.why_missing(fleet.MEDIA_DATE).tolist() == [
        Missing.UNREADABLE,
        Missing.KNOWN,
        Missing.KNOWN,
    ]
    assert any("3 April or 4 March" in one.text and "date_order" in one.text for one in found.remarks)


def test_a_column_with_proof_of_both_orders_decides_nothing(column) -> None:
    found = column("Rebed date", ["13/04/2021", "04/13/2021", "03/04/2021"])
    assert found.frame.number(fleet.MEDIA_DATE)[:2].tolist() == [day(2021, 4, 13)] * 2
    assert found.frame.why_missing(fleet.MEDIA_DATE)[2] == Missing.UNREADABLE
    assert any(one.kind == "date-order-mixed" for one in found.remarks)


@pytest.mark.parametrize(("setting", "month"), [("day", 4), ("month", 3)])
def test_the_setting_decides_where_the_column_does_not(column, setting, month) -> None:
    found = column(
        "Rebed date", ["03/04/2021"], sheets={"Settings": [("Setting", "Value"), ("date_order", setting)]}
    )
    number = found.frame.number(fleet.MEDIA_DATE)[0]
    assert dt.date(1970, 1, 1) + dt.timedelta(days=number) == dt.date(2021, month, 7 - month)


def test_real_dates_serials_and_years(column) -> None:
    found = column(
        "Rebed date",
        [
            dt.date(2021, 4, 5),
            44291,
            "44291",
            2021,
            dt.datetime.combine(dt.date(2021, 4, 5), dt.time(9, 30)),
            20210405,
        ],
    )
    values = found.frame.number(fleet.MEDIA_DATE)
    # 44291 is 5 April 2021: ECMA-376 part 1, 18.17.4.1, counts from 1 January 1900 as 1, 29 February included
    assert values[0] == values[1] == values[4] == values[5] == APRIL_5
    assert math.isnan(values[2])
    assert (
        found.frame.date_low[fleet.MEDIA_DATE.key][3],
        found.frame.date_high[fleet.MEDIA_DATE.key][3],
    ) == (day(2021, 1, 1), day(2021, 12, 31))
    assert any(one.kind == "serial-date" and "44291 read as 2021-04-05" in one.text for one in found.remarks)


def test_the_1904_system_is_honoured(column) -> None:
    def early(book) -> None:
        book.epoch = MAC_EPOCH

    found = column("Rebed date", [42829], change=early)
    assert found.frame.number(fleet.MEDIA_DATE)[0] == APRIL_5  # 44291 - 1462 days between the two systems


@pytest.mark.parametrize("cell", [dt.date(1925, 1, 1), 5, 3000000, "1 Jan 1890", "5/5/2150"])
def test_dates_outside_any_plausible_span_are_not_used(column, cell) -> None:
    found = column("Rebed date", [cell, "2021-04-05"])
    assert found.frame.why_missing(fleet.MEDIA_DATE).tolist() == [Missing.IMPLAUSIBLE, Missing.KNOWN]


def test_a_month_with_two_digits_is_shown_as_a_guess(column) -> None:
    found = column("Rebed date", ["Apr-21"])
    assert found.frame.origins(fleet.MEDIA_DATE)[0] == Origin.GUESSED
    assert any(one.kind == "guessed-date" for one in found.remarks)


def test_exact_dates_have_equal_ends(column) -> None:
    frame = column("Rebed date", ["2021-04-05", "Apr 2021", None]).frame
    key = fleet.MEDIA_DATE.key
    assert frame.date_low[key][0] == frame.date_high[key][0] == frame.numbers[key][0]
    assert frame.date_low[key][1] <= frame.numbers[key][1] <= frame.date_high[key][1]
    assert math.isnan(frame.date_low[key][2])


def test_order_counts_only_texts_that_prove_it() -> None:
    assert column_order(["03/04/2021", "13/04/2021", "n/a"]) == (Order.DAY, 1, False)
    assert column_order(["2021-04-13"]) == (Order.UNKNOWN, 0, False)


def test_dates_perhaps_turned_on_the_way_in_are_warned_of(column) -> None:
    real = [dt.date(2021, month, month % 12 + 1) for month in range(1, 10)]
    found = column("Rebed date", [*real, "13/04/2021", "25/06/2021"])
    (remark,) = [one for one in found.remarks if one.kind == "dates-perhaps-turned"]
    assert len(remark.cells) == len(real)
    sound = column("Rebed date", [*real, dt.date(2021, 5, 20), "13/04/2021"])
    assert all(one.kind != "dates-perhaps-turned" for one in sound.remarks)
