"""Values of single cells, put in with the look the cell has, or its column has around it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from functools import cached_property

from fleetaudit.workbook.cellmarkup import cell, default_code, plain
from fleetaudit.workbook.formats import GENERAL, NumberFormat, cell_formats
from fleetaudit.workbook.job import CannotSplice, Job
from fleetaudit.workbook.place import address, quoted
from fleetaudit.workbook.rows import Cell
from fleetaudit.workbook.sheetedit import SheetEdit, cell_at
from fleetaudit.workbook.sheets import NAMED_STYLES, Styled
from fleetaudit.workbook.structure import SheetEntry, parse_part, read_part

Values = Mapping[tuple[int, int], object]


def write_cells(job: Job, entry: SheetEntry, values: Values, first_row: int = 1) -> None:
    """Set cells of one sheet, (row, column) counted from 1; None leaves a cell that is only styled.

    A new cell takes the look of the nearest one of its column from `first_row` on. What stands there is not
    looked at.
    """
    if not values:
        return
    part, sheet = job.opened.sheet(entry.part)
    edit = SheetEdit(sheet)
    edit.write(cell_markups(job, edit, entry, values, first_row), {})
    edit.extend_dimension(max(row for row, _ in values), max(column for _, column in values))
    job.change(part, edit.edits)


def cell_markups(
    job: Job, edit: SheetEdit, entry: SheetEntry, values: Values, first_row: int
) -> dict[int, dict[int, bytes]]:
    """Markup of each cell by row and column."""
    if edit.part.rows_element is None or not edit.in_order:
        raise CannotSplice(
            f"{job.package.label}: the rows of sheet {quoted(entry.name)} are not in order. Save it anew "
            "from your "
            "spreadsheet program first."
        )
    looks = _Looks(job, edit, first_row)
    markups: dict[int, dict[int, bytes]] = {}
    for (row, column), given in values.items():
        value, style = looks.dressed(row, column, given)
        where = address(row, column)
        markup = cell(where, value, style, edit.prefix, epoch_1904=job.structure.epoch_1904)
        if value is None and style:
            markup = f'<{edit.prefix}c r="{where}" s="{style}"/>'
        markups.setdefault(row, {})[column] = markup.encode()
    return markups


class _Looks:
    """Finds the style a value gets in a place."""

    def __init__(self, job: Job, edit: SheetEdit, first_row: int) -> None:
        self.job, self.edit, self.first_row = job, edit, first_row

    @cached_property
    def formats(self) -> list[NumberFormat]:
        """Number format of each cell style of the file."""
        name = self.job.structure.styles_part
        package = self.job.package
        return cell_formats(parse_part(package, read_part(package, name)) if name else None)

    def dressed(self, row: int, column: int, given: object) -> tuple[object, int]:
        """Plain value and style index."""
        if isinstance(given, Styled):
            named = given.style if not isinstance(given.style, str) else NAMED_STYLES[given.style]
            style = self.job.styles.cell(named)
            value = plain(given.value)
        else:
            style, value = self._around(row, column), plain(given)
        return value, self._fitting(style, value)

    def _fitting(self, style: int, value: object) -> int:
        """The style, with another number format where the value would be shown as what it is not."""
        shows = self.formats[style].shows if style < len(self.formats) else "number"
        if isinstance(value, date | datetime):
            return (
                style if shows == "date" else self.job.styles.recoded(style, default_code(value) or GENERAL)
            )
        if isinstance(value, int | float) and shows != "number":
            return self.job.styles.recoded(style, GENERAL)
        return style

    def _around(self, row: int, column: int) -> int:
        """Style of the cell itself, else of the nearest cell above, else below."""
        there = cell_at(self.edit.row(row), column)
        if there is not None:
            return there.style
        above = [number for number in self.edit.numbers if self.first_row <= number < row]
        below = [number for number in self.edit.numbers if number > row]
        for number in (*reversed(above), *below):
            near: Cell | None = cell_at(self.edit.row(number), column)
            if near is not None:
                return near.style
        return 0
