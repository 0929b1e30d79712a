"""Added sheets that are one table: a short one from its rows, a long one from what each row tells of."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

from fleetaudit.schema.results import ResultColumn
from fleetaudit.workbook.sheets import MadeRows, Sheet, Styled

Row = list[object]
Record = TypeVar("Record")


def table(
    name: str, columns: Sequence[ResultColumn], rows: Sequence[Sequence[object]], system: str = "us"
) -> Sheet:
    """A sheet that is one table: headings that stay, a filter, widths of the columns."""
    widths = [column.width for column in columns]
    return Sheet(name, [headings(columns, system), *rows], widths, freeze_rows=1, filter=True)


def long_table(
    name: str,
    columns: Sequence[ResultColumn],
    records: Sequence[Record],
    row: Callable[[Record], Row],
    styles: Sequence[str],
    none: str,
) -> Sheet:
    """The same for many records: a row is made when it is written; `none` is said where there are none."""
    sheet = table(name, columns, [] if records else [[Styled(none)]])
    sheet.styles = styles
    if records:
        sheet.rows = MadeRows([headings(columns)], records, row)
    return sheet


def headings(columns: Sequence[ResultColumn], system: str = "us") -> Row:
    """Row of headings."""
    return [Styled(column.heading(system), "heading") for column in columns]


def wrapped(text: str) -> Styled:
    """Long text that may take several lines."""
    return Styled(text, "wrap")
