"""Addresses as spreadsheet programs write them; openpyxl's converters are the reference."""

from __future__ import annotations

import pytest
from openpyxl.utils import get_column_letter, quote_sheetname

from fleetaudit.workbook.place import (
    Place,
    Range,
    address,
    column_letters,
    column_number,
    parse_range,
    quoted,
)


def test_letters_of_every_column_agree_with_openpyxl() -> None:
    for number in range(1, 16_385):
        letters = get_column_letter(number)
        assert column_letters(number) == letters
        assert column_number(letters) == number


@pytest.mark.parametrize("name", ["My units", "Bob's", "a-b", "2024 units"])
def test_names_with_marks_are_quoted_as_openpyxl_does(name: str) -> None:
    assert quoted(name) == quote_sheetname(name)


def test_names_that_look_like_a_cell_or_a_number_are_quoted_too() -> None:
    for name in ("A1", "r1c1", "2024", "XFD1"):
        assert quoted(name) == f"'{name}'"
    for name in ("Units", "_x", "Unités", "Fleet.2"):
        assert quoted(name) == name


def test_a_place_is_written_as_the_name_box_takes_it() -> None:
    assert str(Place("a.xlsx", "Units", 17, 6)) == "Units!F17"
    assert str(Place("a.xlsx", "My units", 17, 6)) == "'My units'!F17"
    assert str(Place("a.xlsx", "Bob's", 1, 28)) == "'Bob''s'!AB1"
    assert address(1_048_576, 16_384) == "XFD1048576"


def test_ranges_read_and_write() -> None:
    cells = parse_range("$A$3:F15")
    assert cells == Range(3, 1, 15, 6)
    assert str(cells) == "A3:F15"
    assert cells is not None and cells.absolute() == "$A$3:$F$15"
    assert (3, 6) in cells and (16, 6) not in cells
    assert str(parse_range("C5")) == "C5"
    for text in ("", "A", "A0", "XFE1", "A1048577", "A1:B2:C3", "#REF!", "1:4"):
        assert parse_range(text) is None, text
