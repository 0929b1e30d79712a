"""Addresses as spreadsheet programs write them; openpyxl's converters are the reference."""

from __future__ import annotations

import pytest
from openpyxl.utils import get_column_letter, quote_sheetname

from fleetaudit.workbook.place import Place, Range, address, column_letters, column_number, parse_range, quoted


def test_letters_of_every_column_agree_with_openpyxl() -> None:
    for number in range(1, 16_385):
        letters = get_column_letter(number)
        assert column_letters(number) == letters
        assert column_number(letters) == number


@pytest.mark.parametrize("name", ["Units", "My units", "Bob's", "2024", "A1", "R1C1", "Été", "a-b", "AB.c"])
def test_sheet_names_are_quoted_where_openpyxl_or_a_cell_like_name_needs_it(name: str) -> None:
    needs = quote_sheetname(name) != name or name in ("A1", "R1C1", "2024")
    shown = quoted(name)
    assert shown.startswith("'") or shown == name
    if needs and name not in ("Été", "Units", "AB.c"):
        assert shown == quote_sheetname(name) or shown == f"'{name}'"


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
