"""Rows of a table made by column are the same as rows made one by one, whatever their cells hold."""

import datetime as dt
from collections.abc import Sequence

from hypothesis import given
from hypothesis import strategies as st

from fleetaudit.workbook.cellmarkup import cell, plain
from fleetaudit.workbook.columns import across, cell_ends, digits, kinds, runs
from fleetaudit.workbook.markup import escape_attribute, escape_attributes
from fleetaudit.workbook.sheet_rows import Rows
from fleetaudit.workbook.sheets import Link, MadeRows, Styled
from fleetaudit.workbook.styles import Styles

WIDTHS = (12.0, 8.0, 30.0)
STYLES = ("wrap", "", "top", "integer", "date", "wrap")
TEXTS = st.one_of(
    st.sampled_from(["", "plain", "a < b & c", 'say "so"', "two\nlines", "m³/h", "_x0041_", "\x0b", "=1+1"]),
    st.builds("x".__mul__, st.sampled_from([10, 11, 12, 13, 22, 23, 29, 30])),  # as long as a line takes
    st.text(max_size=60),
)
NUMBERS = st.one_of(
    st.integers(-(10**18), 10**18), st.sampled_from([0.5, 1.0, 1, 0, float("nan"), float("inf"), -1e-9])
)
DAYS = st.dates(dt.date(1950, 1, 1), dt.date(2090, 1, 1))
LINKS = st.builds(Link, TEXTS, st.sampled_from(["Units!A7", "'Bob''s & co'!B2", 'a"b!C3', "Ä!D4"]))
ODD = st.one_of(TEXTS, NUMBERS, DAYS, LINKS, st.builds(Styled, TEXTS, st.just("wrap")), st.booleans())


@st.composite
def tables(draw: st.DrawFn) -> list[list[object]]:
    """Rows whose columns hold one kind of value, or all kinds, with blanks."""
    count = draw(st.integers(1, 8))
    columns = [
        draw(st.lists(st.one_of(st.none(), kind), min_size=count, max_size=count))
        for kind in draw(
            st.lists(st.sampled_from([TEXTS, NUMBERS, DAYS, LINKS, ODD]), min_size=6, max_size=6)
        )
    ]
    return [list(row) for row in zip(*columns, strict=True)]


def maker() -> Rows:
    """Rows in the making, of a workbook without styles."""
    return Rows(Styles(None, strict=False), False, WIDTHS, str)


@given(tables())
def test_by_column_is_the_same_as_row_by_row(rows: list[list[object]]) -> None:
    one, other = maker(), maker()
    # the styles are numbered as they are met, so both are to meet them in one order
    for made in (one, other):
        for row in rows:
            made.row(1, row, STYLES)
        made.links.clear()
        made.last_column = 1
    by_column = one.table(9, rows, STYLES)
    by_row = "".join(other.row(number, row, STYLES) for number, row in enumerate(rows, start=9))
    assert by_column.decode() == by_row
    assert one.last_column == other.last_column
    links = [b"".join(made.links).replace(b"/><", b"/>\n<").split(b"\n") for made in (one, other)]
    assert sorted(links[0]) == sorted(links[1])


@given(
    st.one_of(*[st.lists(st.one_of(st.none(), kind), max_size=8) for kind in (TEXTS, NUMBERS, DAYS)]),
    st.sampled_from(["", "x:"]),
)
def test_a_column_is_the_same_as_its_cells(values: Sequence[object], prefix: str) -> None:
    rows = range(5, 5 + len(values))
    ends = cell_ends(values, kinds(values), lambda _: 3, prefix)
    assert ends is not None
    made = across([*runs("AB", digits(rows), ends, prefix)]) if values else []
    assert [markup.decode() for markup in made] == [
        "" if plain(value) is None else cell(f"AB{row}", value, 3, prefix)
        for row, value in zip(rows, values, strict=True)
    ]


@given(st.lists(st.one_of(TEXTS, st.sampled_from(["\x00", "\ud800", "\uffff", "\t", "a>b"])), max_size=6))
def test_attributes_at_once_are_the_same_as_one_by_one(texts: list[str]) -> None:
    assert escape_attributes(texts) == [escape_attribute(text).encode() for text in texts]


@given(st.lists(st.integers(), max_size=4), st.lists(st.integers(), max_size=6), st.slices(10))
def test_rows_made_on_demand_are_cut_as_a_list_is(above: list[int], records: list[int], cut: slice) -> None:
    rows = MadeRows([[number] for number in above], records, lambda number: [number, "made"])
    every = [*([number] for number in above), *([number, "made"] for number in records)]
    assert len(rows) == len(every)
    assert list(rows) == every
    assert rows[cut] == every[cut]
