"""The shipped data files -> Catalogue, unit strings carried to SI once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cache
from typing import Any

from fleetaudit.assets import read_table
from fleetaudit.catalogue import other_languages
from fleetaudit.catalogue.entries import Desk, Entry, nearest, read_spreads
from fleetaudit.catalogue.kinds import BY_NAME, ENDS, TRIPLES, to_si
from fleetaudit.catalogue.limits import faults
from fleetaudit.catalogue.model import (
    EXTERNAL,
    Catalogue,
    Figure,
    Housing,
    Medium,
    Purpose,
    Restrictor,
    Setting,
    Share,
    Source,
    Vessel,
)
from fleetaudit.catalogue.spelling import normalise
from fleetaudit.errors import CatalogueError, together

NAMES = ("sources", "media", "purposes", "restrictors", "housings", "vessels", "settings")
FLAGS = ("usual", "loss_sensitive", "sets_rate", "partial_ok", "blend_only", "dissolves", "support", "porous")
GUARDS = ("yes", "no", "by-purpose")
_LINES = frozenset(BY_NAME) - {part for names in (*ENDS.values(), *TRIPLES.values()) for part in names}
MEDIUM_LINES = _LINES | frozenset(ENDS) | frozenset(TRIPLES)
_WORDS = frozenset({"name", "mesh", "family", "guard", "synonyms", "suits", "layers", "layers_source"})


@cache
def load() -> Catalogue:
    """Read the catalogue as shipped, once."""
    return build({name: read_table(f"data/{name}.toml") for name in NAMES})


def build(data: Mapping[str, Mapping[str, Any]]) -> Catalogue:
    """Catalogue of parsed data files, keyed by file name without ending; all problems in one error."""
    sources = {key: Source(key=key, **row) for key, row in data["sources"].items()}
    desk = Desk(sources, read_spreads(data["media"].get("spread", {})))
    desk.source(data["media"].get("spread", {}), "media.toml: spread")
    purposes = tuple(
        Purpose(key, tuple(row["synonyms"]), row["guards"], row.get("words", key.replace("-", " ")))
        for key, row in data["purposes"]["purposes"].items()
    )
    desk.purposes = frozenset(data["purposes"]["purposes"])
    desk.bounds = _bounds(data["media"].get("bounds", {}), desk)
    media = _media(data["media"], desk)
    housings = tuple(_housing(key, row, desk) for key, row in data["housings"]["housings"].items())
    outside = data["housings"][EXTERNAL]
    catalogue = Catalogue(
        media=media,
        restrictors=_restrictors(data["restrictors"]["stock"], desk),
        housings=housings,
        vessels=tuple(_vessel(key, row, desk) for key, row in data["vessels"]["vessels"].items()),
        settings={key: _setting(key, row, desk) for key, row in data["settings"]["settings"].items()},
        sources=sources,
        purposes=purposes,
        drain_bores=tuple(_drain(row, desk) for row in data["settings"]["drains"]),
        spreads=desk.spreads,
        bounds=desk.bounds,
        synonyms=index("media.toml", _spelled(media), desk.problems),
        purpose_synonyms=index(
            "purposes.toml", ((p.key, (p.key, *p.synonyms)) for p in purposes), desk.problems
        ),
        housing_synonyms=index(
            "housings.toml",
            [
                *((h.key, (h.key, h.name, *h.synonyms)) for h in housings),
                (EXTERNAL, (outside["name"], *outside["synonyms"])),
            ],
            desk.problems,
        ),
        non_beds=index("purposes.toml", data["purposes"]["non_beds"].items(), desk.problems),
    )
    if desk.problems:
        raise CatalogueError(together(desk.problems))
    return catalogue


def _spelled(media: Sequence[Medium]) -> Iterator[tuple[str, tuple[str, ...]]]:
    foreign = other_languages.spellings("media")
    for medium in media:
        yield medium.key, (*words_of(medium), *foreign.get(medium.key, ()))


def words_of(medium: Medium) -> tuple[str, ...]:
    """Every spelling of a medium."""
    return (medium.key, medium.name, *medium.synonyms)


def index(where: str, rows: Iterable[tuple[str, Iterable[str]]], problems: list[str]) -> dict[str, str]:
    """Table from normalised spelling to key; a spelling that means two things is a problem."""
    found: dict[str, str] = {}
    for key, spellings in rows:
        for spelling in spellings:
            plain = normalise(spelling)
            if found.setdefault(plain, key) != key:
                problems.append(
                    f'{where}: "{spelling}" means both {found[plain]} and {key}. Keep it for one of them.'
                )
    return found


def _bounds(rows: Mapping[str, Entry], desk: Desk) -> dict[str, Figure]:
    found = {name: desk.figure(row, f"media.toml: bounds.{name}") for name, row in rows.items()}
    return {
        BY_NAME[name].key if name in BY_NAME else name: figure for name, figure in found.items() if figure
    }


def _media(data: Entry, desk: Desk) -> tuple[Medium, ...]:
    common: dict[str, Figure] = {}
    for name, entry in data.get("common", {}).items():
        common.update(desk.figures_of(name, entry, f"media.toml: common.{name}"))
    return tuple(_medium(key, row, common, desk) for key, row in data["media"].items())


def _medium(key: str, row: Entry, common: Mapping[str, Figure], desk: Desk) -> Medium:
    where = f"media.toml: {key}"
    flags = {name: row[name] for name in FLAGS if name in row}
    figures = dict(common) if flags.get("sets_rate", True) and not flags.get("support") else {}
    for name in row.keys() & MEDIUM_LINES:
        figures.update(desk.figures_of(name, row[name], f"{where}.{name}"))
    by_purpose = {name: _by_purpose(row.get(name, ()), f"{where}.{name}", desk) for name in _PURPOSED}
    for name in row.keys() - MEDIUM_LINES - _WORDS - set(FLAGS) - set(_PURPOSED):
        desk.problems.append(
            f'{where} has an unknown figure "{name}".{nearest(name, MEDIUM_LINES | _WORDS | set(FLAGS))}'
        )
    desk.problems.extend(
        f"{where}: {fault}." for fault in faults(figures, desk.bounds, flags.get("porous", False))
    )
    layers = tuple(Share(part["medium"], float(part["share"])) for part in row.get("layers", ()))
    if layers:
        desk.source({"source": row.get("layers_source"), "trust": "low"}, f"{where}.layers")
    return Medium(
        key=key,
        name=row["name"],
        synonyms=tuple(row["synonyms"]),
        mesh=row["mesh"],
        family=row["family"],
        usual=flags.pop("usual", False),
        figures={kind: figures[kind] for kind in _ORDER if kind in figures},
        guard=_one_of(row.get("guard", "no"), GUARDS, f"{where}.guard", desk),
        suits=tuple(_one_of(word, desk.purposes, f"{where}.suits", desk) for word in row.get("suits", ())),
        layers=layers,
        layers_source=row.get("layers_source", ""),
        life_by_purpose=by_purpose["life_by_purpose"],
        contact_time_by_purpose=by_purpose["contact_time_by_purpose"],
        **flags,
    )


_PURPOSED = {"life_by_purpose": "life", "contact_time_by_purpose": "contact_time"}
_ORDER = tuple(kind.key for kind in BY_NAME.values())


def _by_purpose(rows: Iterable[Entry], where: str, desk: Desk) -> dict[str, Figure]:
    found: dict[str, Figure] = {}
    for row in rows:
        figure = desk.figure(row, where, geometric=True)
        for word in row.get("purposes", ()):
            if figure is not None:
                found[_one_of(word, desk.purposes, where, desk)] = figure
    return found


def _one_of(word: str, known: Iterable[str], where: str, desk: Desk) -> str:
    known = tuple(known)
    if word not in known:
        desk.problems.append(f'{where}: "{word}" is not one of {", ".join(sorted(known))}.')
    return word


def _needed(entry: Entry, where: str, desk: Desk, spread: str = "") -> Figure:
    blank = Figure(0.0, 0.0, 0.0, "1", "", "", "low")
    return desk.figure(entry, where, spread) or blank


def _restrictors(stock: Entry, desk: Desk) -> tuple[Restrictor, ...]:
    parts = {name: stock[name] for name in ("unit", "source", "trust") if name in stock}
    rows = ((rating, f"restrictors.toml: rating {rating:g}") for rating in sorted(stock["ratings"]))
    return tuple(Restrictor(_needed({**parts, "value": rating}, where, desk), True) for rating, where in rows)


def _housing(key: str, row: Entry, desk: Desk) -> Housing:
    return Housing(
        key, row["name"], tuple(row["synonyms"]), _needed(row["limit"], f"housings.toml: {key}.limit", desk)
    )


def _vessel(key: str, row: Entry, desk: Desk) -> Vessel:
    where = f"vessels.toml: {key}"
    heights = row["heights"]
    usual = {name: heights[name] for name in ("unit", "source", "trust") if name in heights} | {
        "value": heights["usual"]
    }
    return Vessel(
        diameter=_needed(row["diameter"], f"{where}.diameter", desk),
        heights_m=tuple(to_si(float(height), heights["unit"]) for height in heights["values"]),
        usual_height=_needed(usual, f"{where}.heights", desk),
        inside=desk.figure(row["inside"], f"{where}.inside") if "inside" in row else None,
        fill=desk.figure(row["fill"], f"{where}.fill") if "fill" in row else None,
    )


def _drain(row: Entry, desk: Desk) -> tuple[str, Figure, Figure]:
    where = f"settings.toml: drains.{row['name']}"
    return (
        row["name"],
        _needed(row["nominal"], f"{where}.nominal", desk),
        _needed(row["bore"], f"{where}.bore", desk),
    )


def _setting(key: str, row: Entry, desk: Desk) -> Setting:
    where = f"settings.toml: {key}"
    if not row.get("doc"):
        desk.problems.append(f"{where} does not say what it is for. Add doc.")
    doc = row.get("doc", "")
    if isinstance(row["value"], bool):
        source, trust = desk.source(row, where)
        return Setting(key, "switch", row["value"], doc, source, trust=trust)
    if isinstance(row["value"], str):
        source, trust = desk.source(row, where)
        choices = tuple(row.get("choices", ()))
        return Setting(
            key,
            "text",
            _one_of(row["value"], choices, where, desk),
            doc,
            source,
            choices=choices,
            trust=trust,
        )
    figure = _needed(row, where, desk)
    return Setting(
        key,
        "number",
        figure.value,
        doc,
        figure.source,
        figure.unit,
        figure.low,
        figure.high,
        trust=figure.trust,
    )
