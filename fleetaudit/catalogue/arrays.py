"""Figures and flags of the media of many units at once, by medium code (-1 where the medium is not known)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fleetaudit.catalogue.model import Catalogue, Figure

Floats = NDArray[np.float64]
Codes = NDArray[np.int64]
Flags = NDArray[np.bool_]
Range = tuple[Floats, Floats, Floats]

_NOTHING = (np.nan, np.nan, np.nan)


def spread(catalogue: Catalogue, codes: Codes, key: str) -> Range:
    """Value, low and high [SI] of a figure for each unit, NaN where there is none."""
    return _pick(_table([_ends(medium.figures.get(key)) for medium in catalogue.media]), codes)


def spread_for_purpose(catalogue: Catalogue, codes: Codes, purposes: Codes, key: str) -> Range:
    """Pick "life_s" or "contact_time_s" by what the bed is there for, else the medium's general figure."""
    rows = [
        _ends(medium.special(key, purpose.key))
        for medium in catalogue.media
        for purpose in catalogue.purposes
    ]
    table = _table(rows)
    where = np.where((codes >= 0) & (purposes >= 0), codes * len(catalogue.purposes) + purposes, -1)
    special, general = _pick(table, where), spread(catalogue, codes, key)
    given = np.isfinite(special[0])
    value, low, high = (np.where(given, own, usual) for own, usual in zip(special, general, strict=True))
    return value, low, high


def flag(catalogue: Catalogue, codes: Codes, name: str) -> Flags:
    """Pick a yes-or-no property such as "loss_sensitive" for each unit, False for an unknown medium."""
    table = np.array([*(bool(getattr(medium, name)) for medium in catalogue.media), False])
    return np.asarray(table[codes], dtype=np.bool_)


def guards_health(catalogue: Catalogue, codes: Codes, purposes: Codes) -> Flags:
    """Tell where the medium always guards health, or may and the purpose of the unit says so."""
    always = np.array([*(medium.guard == "yes" for medium in catalogue.media), False])
    may = np.array([*(medium.guard == "by-purpose" for medium in catalogue.media), False])
    purpose = np.array([*(item.guards for item in catalogue.purposes), False])
    return np.asarray(always[codes] | (may[codes] & purpose[purposes]), dtype=np.bool_)


def suits_purpose(catalogue: Catalogue, codes: Codes, purposes: Codes) -> Flags:
    """Tell where the catalogue says the medium treats the purpose; False where either is unknown."""
    table = np.zeros((len(catalogue.media) + 1, len(catalogue.purposes) + 1), dtype=np.bool_)
    for code, medium in enumerate(catalogue.media):
        table[code, [catalogue.purpose_codes[word] for word in medium.suits]] = True
    return np.asarray(table[codes, purposes], dtype=np.bool_)


def _ends(figure: Figure | None) -> tuple[float, float, float]:
    return _NOTHING if figure is None else (figure.value, figure.low, figure.high)


def _table(rows: list[tuple[float, float, float]]) -> Floats:
    return np.array([*rows, _NOTHING])


def _pick(table: Floats, codes: Codes) -> Range:
    picked = table[codes]
    return picked[..., 0], picked[..., 1], picked[..., 2]
