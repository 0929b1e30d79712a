"""Filters and tables made wide enough to hold columns added at their right."""

from __future__ import annotations

from collections.abc import Sequence

from fleetaudit.workbook.markup import (
    Edit,
    Element,
    append_child,
    escape_attribute,
    prefixed,
    set_attributes,
    whole,
)
from fleetaudit.workbook.place import parse_range


def filter_edits(data: bytes, element: Element, last_column: int) -> list[Edit]:
    """Edits that widen a filter and the sort state inside it to a last column."""
    cells = parse_range(element.attributes.get("ref", ""))
    if cells is None or cells.last_column >= last_column:
        return []
    edits = [set_attributes(data, element, ref=str(cells.up_to_column(last_column)))]
    state = element.find("sortState")
    return edits + (sort_edits(data, state, cells.last_column, last_column) if state is not None else [])


def sort_edits(data: bytes, state: Element, old_last: int, last_column: int) -> list[Edit]:
    """Edits that widen a sort state which reached as far as its list did."""
    sorted_cells = parse_range(state.attributes.get("ref", ""))
    if sorted_cells is None or sorted_cells.last_column != old_last:
        return []
    return [set_attributes(data, state, ref=str(sorted_cells.up_to_column(last_column)))]


def table_edits(data: bytes, root: Element, headings: Sequence[str]) -> list[Edit]:
    """Edits of a table part that add columns at its right."""
    cells, parent = parse_range(root.attributes.get("ref", "")), root.find("tableColumns")
    if cells is None or parent is None or not headings:
        return []
    last = cells.last_column + len(headings)
    edits = [set_attributes(data, root, ref=str(cells.up_to_column(last)))]
    inner = root.find("autoFilter")
    if inner is not None:
        edits += filter_edits(data, inner, last)
    state = root.find("sortState")
    if state is not None:
        edits += sort_edits(data, state, cells.last_column, last)
    numbers = [whole(column.attributes.get("id", "")) or 0 for column in parent.children]
    markup = "".join(
        f'<tableColumn id="{max(numbers, default=0) + 1 + index}" name="{_column_name(heading)}"/>'
        for index, heading in enumerate(headings)
    )
    count = str(len(parent.children) + len(headings))
    return edits + append_child(data, parent, prefixed(markup, root.prefix), count=count)


def _column_name(heading: str) -> str:
    """Name of a table column; line breaks have an escape of their own there."""
    return escape_attribute(heading.replace("\n", "\0")).replace("\ufffd", "_x000a_")
