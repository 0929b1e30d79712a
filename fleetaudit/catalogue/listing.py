"""All figures in force as plain rows, for people who ask where a number comes from."""

from __future__ import annotations

from collections.abc import Iterator

from msgspec import Struct

from fleetaudit.catalogue.entries import nearest
from fleetaudit.catalogue.kinds import BY_KEY, from_si
from fleetaudit.catalogue.model import Catalogue, Figure, Medium, Setting
from fleetaudit.errors import CatalogueError
from fleetaudit.language import later, say

SECTIONS = ("media", "restrictors", "housings", "vessels", "drains", "settings")

_METRIC = {
    "in": "mm",
    "ft": "m",
    "ft3": "L",
    "gpm": "L/min",
    "gpm/ft2": "m/h",
    "gpm/ft3": "BV/h",
    "lb/ft3": "kg/m3",
    "psi": "kPa",
    "degF": "degC",
}
_US = {metric: us for us, metric in _METRIC.items() if metric != "mm"} | {"kg/m3": "kg/m3"}


_DIGITS = 6


class Line(Struct, frozen=True):
    """One figure in the reader's unit; `figure` says in English what it is, for others to say.

    `replaced` is what it took the place of.
    """

    section: str
    what: str
    figure: str
    value: float | bool | str
    low: float
    high: float
    unit: str
    at: str
    trust: str
    source: str
    replaced: str


def lines(catalogue: Catalogue, units: str = "us", only: str | None = None) -> list[Line]:
    """Rows of the whole catalogue, or of one section, medium, setting or family (any spelling)."""
    every = list(_all(catalogue, units))
    if only is None:
        return every
    word = only.strip().casefold()
    key = catalogue.find_medium(only)
    names = {word} if key is None or word in SECTIONS else {key}
    chosen = [line for line in every if names & {line.section, line.what, line.figure}]
    family = {medium.key for medium in catalogue.media if medium.family == word}
    chosen = chosen or [line for line in every if line.what in family]
    if not chosen:
        known = {part for line in every for part in (line.section, line.what, line.figure)} | set(
            catalogue.synonyms
        )
        wrong = say('The catalogue holds nothing called "{name}".', name=only)
        raise CatalogueError(wrong + nearest(word, known))
    return chosen


def _all(catalogue: Catalogue, units: str) -> Iterator[Line]:
    for medium in catalogue.media:
        yield from _medium(catalogue, medium, units)
    for item in catalogue.restrictors:
        rating = later("rating in stock" if item.stocked else "rating, not stocked")
        yield _line(catalogue, ("restrictors", "restrictor", rating), item.rating, units)
    for housing in catalogue.housings:
        yield _line(catalogue, ("housings", housing.key, later("largest rating")), housing.limit, units)
    for vessel in catalogue.vessels:
        what = f"{from_si(vessel.diameter_m, 'in'):.4g} in"
        parts = {later("nominal diameter"): vessel.diameter, later("usual height"): vessel.usual_height}
        optional = {later("inside diameter"): vessel.inside, later("usual fill"): vessel.fill}
        for title, figure in (parts | optional).items():
            if figure is not None:
                yield _line(catalogue, ("vessels", what, title), figure, units)
    for name, nominal, bore in catalogue.drain_bores:
        yield _line(catalogue, ("drains", name, later("nominal size")), nominal, units)
        yield _line(catalogue, ("drains", name, later("bore")), bore, units)
    for setting in catalogue.settings.values():
        yield _setting(catalogue, setting, units)


def _medium(catalogue: Catalogue, medium: Medium, units: str) -> Iterator[Line]:
    for key, figure in medium.figures.items():
        yield _line(catalogue, ("media", medium.key, BY_KEY[key].title), figure, units)
    for purpose, figure in medium.life_by_purpose.items():
        name = later("life for {purpose}", purpose=purpose)
        yield _line(catalogue, ("media", medium.key, name), figure, units)
    for purpose, figure in medium.contact_time_by_purpose.items():
        name = later("contact time for {purpose}", purpose=purpose)
        yield _line(catalogue, ("media", medium.key, name), figure, units)
    for part in medium.layers:
        share = Figure(part.share, part.share, part.share, "%", "", medium.layers_source, "low")
        name = later("share of {medium}", medium=part.medium)
        yield _line(catalogue, ("media", medium.key, name), share, units)


def _line(catalogue: Catalogue, name: tuple[str, str, str], figure: Figure, units: str) -> Line:
    unit = shown_unit(figure.unit, units)
    value, low, high = (_rounded(number, unit) for number in (figure.value, figure.low, figure.high))
    older = figure.replaced
    replaced = f"{from_si(older.value, unit):.4g} {unit} ({catalogue.cite(older.source)})" if older else ""
    return Line(
        *name, value, low, high, unit, figure.at, figure.trust, catalogue.cite(figure.source), replaced
    )


def _setting(catalogue: Catalogue, setting: Setting, units: str) -> Line:
    older = setting.replaced
    source = catalogue.cite(setting.source)
    if setting.kind != "number":
        was = f"{older.value} ({catalogue.cite(older.source)})" if older else ""
        nothing = float("nan")
        return Line(
            "settings",
            setting.key,
            setting.doc,
            setting.value,
            nothing,
            nothing,
            "",
            "",
            setting.trust,
            source,
            was,
        )
    unit = shown_unit(setting.unit, units)
    value, low, high = (
        _rounded(number, unit) for number in (float(setting.value), setting.low, setting.high)
    )
    was = f"{from_si(float(older.value), unit):.4g} {unit} ({catalogue.cite(older.source)})" if older else ""
    return Line("settings", setting.key, setting.doc, value, low, high, unit, "", setting.trust, source, was)


def _rounded(value: float, unit: str) -> float:
    """Carry a value to the unit without the digits that only the conversion made."""
    return float(f"{from_si(value, unit):.{_DIGITS}g}")


def shown_unit(unit: str, units: str) -> str:
    """Name the unit of the reader's system that takes the place of the one a figure was given in."""
    return (_METRIC if units == "metric" else _US).get(unit, unit)
