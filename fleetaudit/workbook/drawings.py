"""Charts and pictures that float over a sheet: where they stand."""

from __future__ import annotations

from fleetaudit.workbook.archive import Package
from fleetaudit.workbook.markup import Element, whole
from fleetaudit.workbook.place import LAST_COLUMN, LAST_ROW, Range
from fleetaudit.workbook.structure import parse_part, read_part, read_relations


def floating(package: Package, sheet_part: str) -> list[Range]:
    """Cells that lie under the charts, pictures and shapes of a sheet."""
    found = []
    for relation in read_relations(package, sheet_part).values():
        if relation.type != "drawing" or relation.target not in package:
            continue
        root = parse_part(package, read_part(package, relation.target))
        found += [cells for cells in map(_anchored, root.children) if cells is not None]
    return found


def _anchored(anchor: Element) -> Range | None:
    """Cells of an anchor; one that gives only where it begins counts as one cell."""
    first = _corner(anchor.find("from"))
    if first is None:
        return None
    last = _corner(anchor.find("to")) or first
    return Range(*first, max(first[0], last[0]), max(first[1], last[1]))


def _corner(marker: Element | None) -> tuple[int, int] | None:
    if marker is None:
        return None
    texts = [child.text.strip() for name in ("row", "col") if (child := marker.find(name)) is not None]
    if len(texts) != 2 or any(whole(text) is None for text in texts):
        return None
    return min(int(texts[0]) + 1, LAST_ROW), min(int(texts[1]) + 1, LAST_COLUMN)
