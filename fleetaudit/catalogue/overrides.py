"""The user's sheets laid over the catalogue row by row; each replaced figure is kept beside its successor."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise

from msgspec.structs import replace

from fleetaudit.catalogue.entries import nearest
from fleetaudit.catalogue.model import EXTERNAL, Catalogue, Figure, Housing, Restrictor, Setting, Vessel
from fleetaudit.catalogue.override_media import FIELDS as MEDIA_FIELDS
from fleetaudit.catalogue.override_media import MediaDraft
from fleetaudit.catalogue.sheets import Cell, Ledger, OverrideRow, blank
from fleetaudit.errors import CatalogueError, together

__all__ = ["FIELDS", "OverrideRow", "apply"]

_NOTES = ("source", "note")
_SAME = 1e-4
"""Relative difference below which two ratings or diameters are the same one."""

FIELDS: Mapping[str, frozenset[str]] = {
    "Media": MEDIA_FIELDS,
    "Restrictors": frozenset({"rating", "rating_m3_s", "stocked", *_NOTES}),
    "Housings": frozenset({"housing", "key", "limit", "limit_m3_s", *_NOTES}),
    "Vessels": frozenset(
        {
            "diameter",
            "diameter_m",
            "height",
            "height_m",
            "heights",
            "inside",
            "inside_m",
            "fill",
            "fill_low",
            "fill_high",
        }
        | {"fill_low_m3", "fill_high_m3", *_NOTES}
    ),
    "Settings": frozenset({"setting", "key", "value", "unit", *_NOTES}),
}
"""Fields each sheet may have."""


def apply(catalogue: Catalogue, sheets: Mapping[str, Sequence[OverrideRow]]) -> Catalogue:
    """Lay the rows of the sheets over a catalogue; one CatalogueError lists all that cannot be used."""
    ledger = Ledger()
    known = {name.casefold(): name for name in FIELDS}
    rows: dict[str, Sequence[OverrideRow]] = {}
    for name, found in sheets.items():
        title = known.get(name.strip().casefold())
        if title is None:
            ledger.problems.append(f'No sheet of figures is called "{name}".{nearest(name, FIELDS)}')
        else:
            rows[title] = found
    for title, step in _STEPS.items():
        catalogue = step(catalogue, rows.get(title, ()), ledger)
    if ledger.problems:
        raise CatalogueError(together(ledger.problems))
    return catalogue


def _settings(catalogue: Catalogue, rows: Sequence[OverrideRow], ledger: Ledger) -> Catalogue:
    settings = dict(catalogue.settings)
    for row in rows:
        ledger.unknown(row, FIELDS["Settings"])
        key = str(row.first("setting", "key") or "").strip().casefold().replace(" ", "_").replace("-", "_")
        if key not in settings:
            ledger.report(row, f'has the unknown setting "{key}".{nearest(key, settings)}')
            continue
        cell = row.values.get("value")
        if not blank(cell):
            changed = _SETTING_KINDS[settings[key].kind](settings[key], row, cell, ledger)
            settings[key] = changed or settings[key]
    return replace(catalogue, settings=settings)


def _number(old: Setting, row: OverrideRow, cell: Cell, ledger: Ledger) -> Setting | None:
    unit = row.values.get("unit")
    typed = f"{cell} {unit}" if not blank(unit) and str(unit).strip() != old.unit else cell
    if old.unit.startswith("money"):
        typed = re.sub(rf"\s*{re.escape(old.unit)}\s*$", "", str(typed))
    figure = ledger.figure(row, old.key, typed, old.unit)
    if figure is None:
        return None
    if old.unit not in ("degC", "degF") and figure.low < 0:
        ledger.report(row, f'has "{cell}" for {old.key}, which cannot be below zero.')
        return None
    if old.unit == "%" and figure.high > 1:
        ledger.report(row, f'has "{cell}" for {old.key}, which is a share and cannot be above 100 %.')
        return None
    return replace(
        old,
        value=figure.value,
        low=figure.low,
        high=figure.high,
        source=figure.source,
        trust="high",
        replaced=old,
    )


def _switch(old: Setting, row: OverrideRow, cell: Cell, ledger: Ledger) -> Setting | None:
    answer = ledger.yes(row, old.key, cell)
    return (
        None if answer is None else replace(old, value=answer, source=row.source, trust="high", replaced=old)
    )


def _text(old: Setting, row: OverrideRow, cell: Cell, ledger: Ledger) -> Setting | None:
    word = str(cell).strip().casefold()
    if word not in old.choices:
        ledger.report(
            row, f'has "{cell}" for {old.key}. Write {" or ".join(old.choices)}.{nearest(word, old.choices)}'
        )
        return None
    return replace(old, value=word, source=row.source, trust="high", replaced=old)


_SETTING_KINDS: Mapping[str, Callable[[Setting, OverrideRow, Cell, Ledger], Setting | None]] = {
    "number": _number,
    "switch": _switch,
    "text": _text,
}


def _media(catalogue: Catalogue, rows: Sequence[OverrideRow], ledger: Ledger) -> Catalogue:
    if not rows:
        return catalogue
    draft = MediaDraft(catalogue, ledger)
    for row in rows:
        draft.lay(row)
    return replace(catalogue, media=draft.finish(), synonyms=draft.table)


def _restrictors(catalogue: Catalogue, rows: Sequence[OverrideRow], ledger: Ledger) -> Catalogue:
    series = list(catalogue.restrictors)
    for row in rows:
        ledger.unknown(row, FIELDS["Restrictors"])
        rating = _measured(row, ledger, "rating", "_m3_s", "gpm")
        stocked = row.values.get("stocked")
        answer = True if blank(stocked) else ledger.yes(row, "stocked", stocked)
        if rating is None or answer is None:
            continue
        place = _position([item.rating_m3_s for item in series], rating.value)
        if place is None:
            series.append(Restrictor(rating, answer))
        else:
            series[place] = Restrictor(rating.instead_of(series[place].rating), answer)
    if catalogue.text("restrictor_series") == "mine only":
        series = [
            item if item.rating.source.startswith("user:") else replace(item, stocked=False)
            for item in series
        ]
    return replace(catalogue, restrictors=tuple(sorted(series, key=lambda item: item.rating_m3_s)))


def _housings(catalogue: Catalogue, rows: Sequence[OverrideRow], ledger: Ledger) -> Catalogue:
    housings = {housing.key: housing for housing in catalogue.housings}
    for row in rows:
        ledger.unknown(row, FIELDS["Housings"])
        word = str(row.first("housing", "key") or "")
        key = catalogue.find_housing(word)
        if key is None or key == EXTERNAL:
            names = ", ".join(housings)
            ledger.report(
                row, f'has "{word}" under housing. Only {names} have a limit.{nearest(word, housings)}'
            )
            continue
        limit = _measured(row, ledger, "limit", "_m3_s", "gpm")
        if limit is not None:
            housings[key] = replace(housings[key], limit=limit.instead_of(housings[key].limit))
    _check_order(tuple(housings.values()), rows, ledger)
    return replace(catalogue, housings=tuple(housings.values()))


def _check_order(housings: tuple[Housing, ...], rows: Sequence[OverrideRow], ledger: Ledger) -> None:
    for smaller, larger in pairwise(housings):
        if rows and smaller.limit_m3_s > larger.limit_m3_s:
            ledger.report(
                rows[-1], f"leaves the {smaller.key} housing with a higher limit than the {larger.key} one."
            )


def _vessels(catalogue: Catalogue, rows: Sequence[OverrideRow], ledger: Ledger) -> Catalogue:
    vessels = list(catalogue.vessels)
    for row in rows:
        ledger.unknown(row, FIELDS["Vessels"])
        diameter = _measured(row, ledger, "diameter", "_m", "in")
        if diameter is None:
            continue
        place = _position([vessel.diameter_m for vessel in vessels], diameter.value)
        old = None if place is None else vessels[place]
        new = _vessel(row, diameter, old, ledger)
        if new is None:
            continue
        if place is None:
            vessels.append(new)
        else:
            vessels[place] = new
    return replace(catalogue, vessels=tuple(sorted(vessels, key=lambda vessel: vessel.diameter_m)))


def _vessel(row: OverrideRow, diameter: Figure, old: Vessel | None, ledger: Ledger) -> Vessel | None:
    heights = _heights(row, ledger)
    if old is None and not heights:
        ledger.report(row, "adds a vessel without a height. Fill height or heights.")
        return None
    usual = heights[-1] if heights else None
    inside = _measured(row, ledger, "inside", "_m", "in", needed=False)
    if inside is not None and inside.value >= diameter.value:
        ledger.report(row, "has an inside diameter that is not below the nominal one. Check both.")
    fill = _fill(row, ledger)
    if old is None:
        return Vessel(diameter, tuple(sorted(h.value for h in heights)), heights[-1], inside, fill)
    return replace(
        old,
        heights_m=tuple(sorted({*old.heights_m, *(height.value for height in heights)})),
        usual_height=usual.instead_of(old.usual_height) if usual else old.usual_height,
        inside=inside.instead_of(old.inside) if inside else old.inside,
        fill=fill.instead_of(old.fill) if fill else old.fill,
    )


def _heights(row: OverrideRow, ledger: Ledger) -> list[Figure]:
    cell = row.values.get("heights")
    parts: list[Cell] = [] if blank(cell) else [part for part in re.split(r"[;,]", str(cell)) if part.strip()]
    found = [ledger.figure(row, "heights", part, "in") for part in parts]
    found.append(_measured(row, ledger, "height", "_m", "in", needed=False))
    return [height for height in found if height is not None]


def _fill(row: OverrideRow, ledger: Ledger) -> Figure | None:
    whole = _measured(row, ledger, "fill", "_m3", "ft3", needed=False)
    low = _measured(row, ledger, "fill_low", "_m3", "ft3", needed=False)
    high = _measured(row, ledger, "fill_high", "_m3", "ft3", needed=False)
    if low is None or high is None:
        return whole or low or high
    if low.value > high.value:
        ledger.report(row, "has a least fill above its greatest. Swap them.")
        return None
    return replace(low, value=(low.value + high.value) / 2, high=high.value)


def _measured(
    row: OverrideRow, ledger: Ledger, name: str, suffix: str, unit: str, *, needed: bool = True
) -> Figure | None:
    """Figure under `name` in `unit`, or under `name` with its SI suffix in SI; above zero."""
    for field, si in ((name, False), (name + suffix, True)):
        cell = row.values.get(field)
        if blank(cell):
            continue
        figure = ledger.figure(row, field, cell, unit, si=si)
        if figure is not None and figure.low <= 0:
            ledger.report(row, f'has "{cell}" under {field}; it must be above zero.')
            return None
        return figure
    if needed:
        ledger.report(row, f"has nothing under {name}. Fill it or remove the row.")
    return None


def _position(values: Sequence[float], wanted: float) -> int | None:
    return next((i for i, value in enumerate(values) if abs(value - wanted) <= _SAME * wanted), None)


_STEPS: Mapping[str, Callable[[Catalogue, Sequence[OverrideRow], Ledger], Catalogue]] = {
    "Settings": _settings,
    "Media": _media,
    "Restrictors": _restrictors,
    "Housings": _housings,
    "Vessels": _vessels,
}
