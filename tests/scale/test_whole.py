"""The few texts that parts of a column hand on settle it as all of its texts do, whatever the parts."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetaudit.catalogue import shipped
from fleetaudit.reading.cells import Cell, Strip
from fleetaudit.reading.dates import column_order
from fleetaudit.reading.grammar import decimal_mark
from fleetaudit.reading.whole import Whole, told
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Column
from tests.frames import frame_of

EMPTY = frame_of([{}], shipped.load())
NUMBERS = (
    "5",
    "1,5",
    "2,75",
    "0,5",
    "1,250",
    "3,125",
    "4,500",
    "1.250",
    "1.5",
    "1,250.5",
    "1.250,5",
    "1,000,000",
    "x",
)
DATES = ("3/4/2021", "13/4/2021", "4/13/2021", "25.12.2020", "2021-04-05", "5 Apr 2021", "soon", "31/12/19")


def part(column: Column, texts: list[str]) -> Whole:
    cells = list(dict.fromkeys(texts))
    index = np.array([cells.index(text) for text in texts], dtype=np.int64)
    rows = np.arange(len(texts))
    strip = Strip(column, 1, column.title, rows, [Cell(text) for text in cells], index, rows < 0)
    return told(EMPTY, {column.name: strip})


@given(st.lists(st.lists(st.sampled_from(NUMBERS), min_size=1, max_size=6), min_size=1, max_size=5))
def test_marks(parts: list[list[str]]) -> None:
    column = fleet.RESTRICTOR
    whole = sum((part(column, texts) for texts in parts), start=Whole())
    every = dict.fromkeys(text for texts in parts for text in texts)
    assert decimal_mark(whole.witnesses.get(column.name, ())) is decimal_mark(every)


@given(st.lists(st.lists(st.sampled_from(DATES), min_size=1, max_size=6), min_size=1, max_size=5))
def test_order_of_day_and_month(parts: list[list[str]]) -> None:
    column = fleet.MEDIA_DATE
    whole = sum((part(column, texts) for texts in parts), start=Whole())
    order, _, contrary = column_order(whole.witnesses.get(column.name, ()))
    wanted, _, mixed = column_order(dict.fromkeys(text for texts in parts for text in texts))
    assert (order, contrary) == (wanted, mixed)


@given(st.permutations([["1,5"], ["1,250", "2,75"], ["0,5"], ["3,125", "4,500", "1,250"], ["1.5"]]))
def test_in_any_order_and_grouping(parts: list[list[str]]) -> None:
    one, two, three, *rest = (part(fleet.RESTRICTOR, texts) for texts in parts)
    assert (one + two) + three == one + (two + three)
    assert one + two == two + one
    assert sum(rest, start=one) == sum(reversed(rest), start=one)


def test_few_texts_are_handed_on() -> None:
    many = part(fleet.RESTRICTOR, [f"1,{number}" for number in range(10, 99)])
    assert len(many.witnesses[fleet.RESTRICTOR.name]) == 3


@pytest.mark.parametrize("texts", [["", "5"], ["none"]])
def test_texts_that_settle_nothing_are_not(texts: list[str]) -> None:
    assert part(fleet.RESTRICTOR, texts).witnesses == {}
