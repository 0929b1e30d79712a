"""Parts that nothing leads to any more once some sheets are written anew."""

from __future__ import annotations

from collections.abc import Collection

from fleetaudit.workbook.archive import Package
from fleetaudit.workbook.structure import read_relations, relations_name

#: what a person put on a sheet; settings of a printer are no loss
_MISSED = {
    "drawing": "charts or pictures",
    "comments": "notes",
    "threadedComment": "notes",
    "table": "tables",
    "pivotTable": "pivot tables",
    "slicer": "slicers",
}


def orphans(package: Package, replaced: Collection[str]) -> tuple[set[str], dict[str, list[str]]]:
    """Parts that only the replaced ones lead to, their relationships included.

    Also what each replaced part carried that a person put there, in words.
    """
    kept = _reached(package, [""], set(replaced))
    gone: set[str] = set()
    carried: dict[str, list[str]] = {}
    for part in replaced:
        relations = read_relations(package, part)
        words = {_MISSED[relation.type]: None for relation in relations.values() if relation.type in _MISSED}
        if words:
            carried[part] = list(words)
        targets = [one.target for one in relations.values() if not one.external]
        below = _reached(package, [target for target in targets if target not in kept], kept)
        gone |= below | {relations_name(name) for name in (part, *below)}
    return {name for name in gone if name in package}, carried


def _reached(package: Package, start: Collection[str], stop: Collection[str]) -> set[str]:
    """Parts that relationships lead to from some parts, those included, without going through others."""
    found: set[str] = set()
    waiting = list(start)
    while waiting:
        part = waiting.pop()
        if part in found:
            continue
        found.add(part)
        if part in stop:
            continue
        relations = read_relations(package, part).values()
        waiting += [one.target for one in relations if not one.external and one.target in package]
    return found
