"""Parts and media that the findings ask for, unit by unit, in SI."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np

from fleetaudit.auditing.result import AuditResult, State
from fleetaudit.checks.registry import BY_SLUG, CHECKS
from fleetaudit.facts import site
from fleetaudit.facts.frame import Flags
from fleetaudit.facts.needed import needed
from fleetaudit.schema import fleet


class PartKind(Enum):
    """What is taken along."""

    RESTRICTOR = "restrictor"
    HOUSING = "housing"
    EXTERNAL = "external flow control"
    MEDIUM = "medium"


@dataclass(frozen=True, slots=True)
class Part:
    """One line: unit position, what, its size [m3/s for flows, m3 for media; NaN not known], how many, and why."""

    unit: int
    kind: PartKind
    size: float
    count: float
    because: str
    to_bring: bool


def _found(result: AuditResult, *slugs: str) -> Flags:
    places = [CHECKS.index(BY_SLUG[slug]) for slug in slugs]
    return np.asarray(np.any([result.checks[place].state == State.FOUND for place in places], axis=0))


def parts(result: AuditResult) -> list[Part]:
    """Parts and media for all findings that name one; parts for units still to be measured are marked as brought along."""
    view = result.view
    need, vessels = needed(view), site.vessels(view)
    change = _found(result, "restrictor-too-small", "restrictor-too-large")
    unknown = _found(result, "restrictor-missing")
    house = _found(result, "housing-too-small")
    outside = _found(result, "needs-external-flow-control")
    renew = _found(result, "media-overdue", "media-due-soon")
    lines: list[Part] = []
    for unit in np.flatnonzero(change | unknown | house | outside | renew):
        row = int(unit)
        count = float(vessels[row])
        if not np.isnan(need.rating_m3_s[row]):
            rating = float(need.rating_m3_s[row])
            if outside[row]:
                lines.append(Part(row, PartKind.EXTERNAL, rating, count, "no external flow control recorded", False))
            elif change[row] or house[row]:
                lines.append(Part(row, PartKind.RESTRICTOR, rating, count, "restrictor to change", False))
            elif unknown[row]:
                lines.append(Part(row, PartKind.RESTRICTOR, rating, count, "restrictor not recorded, measure first", True))
            if house[row] and not outside[row]:
                lines.append(Part(row, PartKind.HOUSING, float(need.housing[row]), count, "housing too small", False))
        if renew[row]:
            bed = site.volume(view)
            known = bool(bed.known[row])
            usual = site.usual_depth(view).value[row] * site.area(view).value[row]
            volume = float(bed.value[row] if known else usual)
            because = "medium due" if known else "medium due; volume assumed from the usual fill of the vessel, measure first"
            lines.append(Part(row, PartKind.MEDIUM, volume, count, because, not known))
    return lines


def medium_name(result: AuditResult, unit: int) -> str:
    """Name of a unit's medium, or what its cell says where the catalogue does not know it."""
    code = int(result.view.medium[unit])
    text = result.view.frame.text(fleet.MEDIUM)[unit]
    return result.view.catalogue.media[code].name if code >= 0 else text
