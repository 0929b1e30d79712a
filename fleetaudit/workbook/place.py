"""Where a value stands: file, sheet, row and column, written the way a spreadsheet program writes it."""

from __future__ import annotations

import re
from functools import lru_cache

from msgspec import Struct

LAST_ROW = 1_048_576
LAST_COLUMN = 16_384

_ADDRESS = re.compile(r"\$?([A-Za-z]{1,3})\$?([0-9]{1,7})")
_PLAIN_NAME = re.compile(r"[^\W\d][\w.]*")
_LOOKS_LIKE_A_CELL = re.compile(r"[A-Za-z]{1,3}[0-9]{1,7}|[Rr][0-9]*[Cc][0-9]*")


@lru_cache(maxsize=16_384)
def column_letters(number: int) -> str:
    """Letters of a column counted from 1.

    >>> column_letters(5), column_letters(27), column_letters(16384)
    ('E', 'AA', 'XFD')
    """
    letters = ""
    while number > 0:
        number, rest = divmod(number - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


@lru_cache(maxsize=16_384)
def column_number(letters: str) -> int:
    """Count of a column from its letters.

    >>> column_number("E"), column_number("xfd")
    (5, 16384)
    """
    number = 0
    for letter in letters.upper():
        number = number * 26 + ord(letter) - 64
    return number


def address(row: int, column: int) -> str:
    """Cell address of a row and a column, both counted from 1.

    >>> address(17, 6)
    'F17'
    """
    return f"{column_letters(column)}{row}"


@lru_cache(maxsize=256)
def quoted(sheet: str) -> str:
    """Sheet name as it stands before the exclamation mark of an address.

    >>> quoted("Units"), quoted("My units"), quoted("Bob's")
    ('Units', "'My units'", "'Bob''s'")
    """
    if _PLAIN_NAME.fullmatch(sheet) and not _LOOKS_LIKE_A_CELL.fullmatch(sheet):
        return sheet
    return "'" + sheet.replace("'", "''") + "'"


class Place(Struct, frozen=True, order=True):
    """One cell of one file; rows and columns are counted from 1."""

    file: str
    sheet: str
    row: int
    column: int

    def __str__(self) -> str:
        return f"{quoted(self.sheet)}!{address(self.row, self.column)}"


class Range(Struct, frozen=True):
    """A rectangle of cells; both corners belong to it."""

    first_row: int
    first_column: int
    last_row: int
    last_column: int

    def __str__(self) -> str:
        first = address(self.first_row, self.first_column)
        last = address(self.last_row, self.last_column)
        return first if first == last else f"{first}:{last}"

    def absolute(self) -> str:
        """Write the range with dollar signs, as names in a workbook do."""
        first = f"${column_letters(self.first_column)}${self.first_row}"
        return f"{first}:${column_letters(self.last_column)}${self.last_row}"

    def __contains__(self, cell: tuple[int, int]) -> bool:
        row, column = cell
        rows = self.first_row <= row <= self.last_row
        return rows and self.first_column <= column <= self.last_column

    def meets(self, other: Range) -> bool:
        """Tell whether the two rectangles share a cell."""
        rows = self.first_row <= other.last_row and other.first_row <= self.last_row
        return rows and self.first_column <= other.last_column and other.first_column <= self.last_column

    def up_to_column(self, last_column: int) -> Range:
        """Give the same rows and first column, ending at another column."""
        return Range(self.first_row, self.first_column, self.last_row, last_column)


def parse_range(text: str) -> Range | None:
    """Read "A1:C5", "$A$1:$C$5" or "A1"; None when it is anything else.

    >>> str(parse_range("$A$1:C5"))
    'A1:C5'
    """
    ends = text.split(":")
    if len(ends) > 2:
        return None
    corners = [_ADDRESS.fullmatch(end.strip()) for end in ends]
    if any(corner is None for corner in corners):
        return None
    cells = [(int(c[2]), column_number(c[1])) for c in corners if c is not None]
    rows, columns = [cell[0] for cell in cells], [cell[1] for cell in cells]
    if min(rows) < 1 or max(rows) > LAST_ROW or max(columns) > LAST_COLUMN:
        return None
    return Range(min(rows), min(columns), max(rows), max(columns))
