"""Whatever stands in a cell, reading ends with a frame and remarks, and loses no filled cell."""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path
from typing import Any

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleetaudit.catalogue.shipped import load
from fleetaudit.reading import fleet as reading
from fleetaudit.reading import grammar, sizes
from fleetaudit.reading.cells import Rules
from fleetaudit.reading.dates import Order, read_text
from fleetaudit.reading.media import Reader
from fleetaudit.reading.plain import plain
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Missing
from fleetaudit.schema.quantity import Kind as Measures
from fleetaudit.workbook.book import SheetData, SheetInfo
from fleetaudit.workbook.cells import Cells, Special
from fleetaudit.workbook.container import Kind

CATALOGUE = load()
READER = Reader(CATALOGUE)
SCRAPS = st.sampled_from(
    [
        "10",
        "54",
        "x",
        " ",
        "1/2",
        "gpm",
        "L/min",
        "in",
        '"',
        "'",
        ",",
        ".",
        "-",
        "–",
        "/",
        "½",
        "²",
        "°F",
        "N/A",
        "~",
        "?",
        "#N/A",
        "carbon",
        "sand",
        "over",
        "%",
        "90/10",
        "12x40",
        "Apr",
        "2021",
        "13/04/2021",
        "\u00a0",
        "１",
        "(",
        ")",
        ";",
        "yes",
        "to",
        "UV",
        "\n",
        "\u200b",
        "=1+1",
        "\x00",
    ]
)
TEXTS = st.one_of(st.text(max_size=25), st.lists(SCRAPS, max_size=6).map("".join))
VALUES = st.one_of(
    st.none(),
    TEXTS,
    st.integers(-(10**18), 10**18),
    st.floats(allow_nan=False, allow_infinity=False),
    st.booleans(),
    st.dates(),
    st.datetimes(),
    st.times(),
    st.timedeltas(dt.timedelta(0), dt.timedelta(days=9000)),
)
CODES = st.one_of(
    st.just(""),
    st.sampled_from(
        ['0.0" gpm"', "0%", "00000", "mmm-yy", "d-mmm", '0 "days"', "[$ft3] 0", '"', "\\", ";;;", "[h]:mm"]
    ),
    st.text(max_size=12),
)


class OneSheet:
    """Stands in for an opened workbook of one sheet."""

    kind = Kind.XLSX
    epoch_1904 = False
    features = ()
    can_annotate = True
    why_not = None
    sheets = (SheetInfo("Units"),)

    def __init__(self, data: SheetData) -> None:
        self.path = Path("fleet.xlsx")
        self.data = data

    def read(self, name: str) -> SheetData:
        return self.data


def sheet(rows: list[list[Any]], codes: dict[tuple[int, int], str] | None = None) -> OneSheet:
    columns = [list(column) for column in zip(*rows, strict=True)]
    for (row, number), code in (codes or {}).items():
        columns[number - 1][row - 1] = Special(columns[number - 1][row - 1], code)
    return OneSheet(SheetData("Units", Cells.of(columns)))


def read(rows: list[list[Any]], codes: dict[tuple[int, int], str] | None = None) -> reading.Fleet:
    book: Any = sheet(rows, codes)
    return reading.read_fleet("fleet.xlsx", CATALOGUE, workbook=book)


@given(TEXTS)
def test_every_text_passes_the_parsers(text: str) -> None:
    words = plain(text)
    assert plain(words) == words
    for mark in grammar.Mark:
        typed = grammar.read(words, mark)
        assert math.isnan(typed.number) == bool(typed.problem)
    sizes.read(words, CATALOGUE.vessels)
    for order in Order:
        span = read_text(words, order)
        assert span.problem or span.low <= span.high
    READER.read(words, words)
    READER.layers(words)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_every_cell_of_every_column_is_read(data: st.DataObject) -> None:
    headings = [column.title for column in fleet.COLUMNS]
    cells = [data.draw(VALUES, label=column.title) for column in fleet.COLUMNS]
    codes = {
        (2, number): data.draw(CODES)
        for number in data.draw(st.sets(st.integers(1, len(headings)), max_size=6))
    }
    whole = [
        "U-1"
        if column is fleet.UNIT_ID
        else "10x54"
        if column is fleet.SIZE
        else "sand"
        if column is fleet.MEDIUM
        else None
        for column in fleet.COLUMNS
    ]
    found = read([headings, cells, whole], {place: code for place, code in codes.items() if code})
    frame = found.frame
    assert frame.rows[-1] == 3
    for column in fleet.COLUMNS:
        if not frame.has(column):
            continue
        missing = frame.why_missing(column)
        assert len(missing) == frame.units
        if column.quantity.kind in (Measures.NUMBER, Measures.DATE):
            assert np.array_equal(np.isnan(frame.number(column)), missing != Missing.KNOWN)
            if column.bounds:
                known = frame.number(column)[missing == Missing.KNOWN]
                assert (
                    (known >= column.bounds[0] * (1 - 1e-6)) & (known <= column.bounds[1] * (1 + 1e-6))
                ).all()
    unusable = {name for (_, name) in frame.raw}
    said = {one.column for one in found.remarks}
    assert unusable <= said | {fleet.DIAMETER.name, fleet.HEIGHT.name}


@settings(max_examples=60, deadline=None)
@given(st.permutations(list(range(12))), st.lists(TEXTS, min_size=12, max_size=12))
def test_the_order_of_rows_changes_nothing(order: list[int], cells: list[str]) -> None:
    head = ["Unit ID", "Tank", "Media", "DLFC", "Rebed date"]
    rows: list[list[Any]] = [[f"U-{n}", "10x54", "sand", text, text] for n, text in enumerate(cells)]
    first, second = read([head, *rows]).frame, read([head, *(rows[n] for n in order)]).frame
    for column in (fleet.RESTRICTOR, fleet.MEDIA_DATE):
        for array in (
            lambda frame, one=column: frame.number(one),
            lambda frame, one=column: frame.why_missing(one),
            lambda frame, one=column: frame.origins(one),
        ):
            assert np.array_equal(
                array(first)[order], array(second), equal_nan=array(first).dtype.kind == "f"
            )


def test_rules_have_the_shipped_defaults() -> None:
    assert Rules() == Rules(
        CATALOGUE.text("units"), CATALOGUE.text("decimal_mark"), CATALOGUE.text("date_order"), False
    )
