"""Frames for tests, made from rows as a person would say them; no reading of files involved.

A row is a mapping from column name to a text: "10 in", "5 gpm", "2021-04-05", a choice, "yes" or "no", "" for
a blank cell, "?" for one that could not be read, "!" for one that cannot be true. Prefix "~" marks a guess,
"=" a unit that was assumed. `layers` is "key depth; key depth" or "key 90%; key 10%", top first, `purpose` a
key or several, "iron, ph". A date may be a year, "2021": its middle day with the first and the last as its
ends. A column no row names is absent.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

import numpy as np

from fleetaudit.catalogue.model import Catalogue
from fleetaudit.facts.frame import Frame, Layer
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Column, Missing, Origin
from fleetaudit.schema.quantity import Kind
from fleetaudit.units import to_si

EPOCH = date(1970, 1, 1)
SPECIAL = {"": Missing.BLANK, "?": Missing.UNREADABLE, "!": Missing.IMPLAUSIBLE}
MARKS = {"~": Origin.GUESSED, "=": Origin.DEFAULT}


def frame_of(rows: Sequence[Mapping[str, str]], catalogue: Catalogue) -> Frame:
    """Frame of the rows; sheet rows count from 2, as under one heading row."""
    made = Frame("made.xlsx", "Units", np.arange(2, 2 + len(rows)))
    names = {name for row in rows for name in row}
    unknown = names - set(fleet.BY_NAME) - {"mesh_stated", "bed"}
    assert not unknown, f"no such columns: {unknown}"
    for place, column in enumerate(fleet.COLUMNS, 1):
        if column.name in names:
            _fill(made, column, [row.get(column.name, "") for row in rows], place, catalogue)
    if "mesh_stated" in names:
        made.codes["mesh_stated"] = np.array([int(row.get("mesh_stated") == "yes") for row in rows])
    if "bed" in names:
        made.codes["bed"] = np.array([int(row.get("bed", "yes") == "yes") for row in rows])
    return made


def _fill(made: Frame, column: Column, cells: list[str], place: int, catalogue: Catalogue) -> None:
    origin = [MARKS.get(cell[:1], Origin.TYPED) if cell not in SPECIAL else Origin.ABSENT for cell in cells]
    cells = [cell[1:] if cell[:1] in MARKS else cell for cell in cells]
    made.columns[column.name] = place
    made.origin[column.name] = np.array([int(code) for code in origin])
    made.missing[column.name] = np.array([int(SPECIAL.get(cell, Missing.KNOWN)) for cell in cells])
    for unit, cell in enumerate(cells):
        if cell in ("?", "!"):
            made.raw[unit, column.name] = "ten" if cell == "?" else "0"
    if not any(cells):
        del made.missing[column.name]
        return
    if column is fleet.MEDIUM:
        made.codes[column.name] = np.array([catalogue.codes.get(cell, -1) for cell in cells])
        made.texts[column.key] = cells
        strange = [cell not in SPECIAL and cell not in catalogue.codes for cell in cells]
        made.missing[column.name] = np.where(
            strange, int(Missing.NOT_IN_CATALOGUE), made.missing[column.name]
        )
    elif column is fleet.PURPOSE:
        table = catalogue.purpose_codes
        named = [cell for cell in dict.fromkeys(cells) if table.keys() >= set(cell.split(", "))]
        made.purposes = tuple(tuple(table[one] for one in cell.split(", ")) for cell in named)
        made.codes[column.name] = np.array([named.index(cell) if cell in named else -1 for cell in cells])
        made.texts[column.key] = cells
    elif column is fleet.LAYERS:
        for unit, cell in enumerate(cells):
            if cell not in SPECIAL:
                made.layers[unit] = tuple(_layer(part, catalogue) for part in cell.split(";"))
    elif column.quantity.kind in (Kind.CHOICE, Kind.FLAG):
        words = list(column.choices) or ["no", "yes"]
        made.codes[column.name] = np.array([words.index(cell) if cell in words else -1 for cell in cells])
    elif column.quantity.kind is Kind.DATE:
        ends = np.array([_days(cell) for cell in cells])
        made.date_low[column.key], made.date_high[column.key] = ends[:, 0], ends[:, 1]
        made.numbers[column.key] = ends.mean(axis=1)
    elif column.numeric:
        made.numbers[column.key] = np.array([_number(cell) for cell in cells])
    else:
        made.texts[column.key] = cells


def _days(cell: str) -> tuple[float, float]:
    if cell in SPECIAL:
        return np.nan, np.nan
    first, last = (f"{cell}-01-01", f"{cell}-12-31") if len(cell) == len("2021") else (cell, cell)
    return _day(first), _day(last)


def _day(text: str) -> float:
    return float((date.fromisoformat(text) - EPOCH).days)


def _number(cell: str) -> float:
    if cell in SPECIAL:
        return np.nan
    number, _, unit = cell.partition(" ")
    return to_si(float(number), unit) if unit else float(number)


def _layer(text: str, catalogue: Catalogue) -> Layer:
    key, _, amount = text.strip().partition(" ")
    code = catalogue.codes[key]
    if amount.endswith("%"):
        return Layer(code, np.nan, float(amount[:-1]) / 100)
    return Layer(code, _number(amount) if amount else np.nan, np.nan)
