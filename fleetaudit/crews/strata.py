"""Kinds of job: vessel size, medium and install year, put together until each is large enough to compare."""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from msgspec import Struct

from fleetaudit.crews.counts import LAYERED, MM, UM, UNKNOWN, Job
from fleetaudit.crews.rules import Rules


class Kind(NamedTuple):
    """Finest kind of job told apart: class of vessel, class of medium, class of years; -1 where not known.

    The class of medium after the last is that of beds in layers. `years` is the number of the run of years.
    """

    vessel: int
    medium: int
    years: int


class Stratum(Struct, frozen=True):
    """Kinds of job that are compared together."""

    kinds: tuple[Kind, ...]
    units: int
    wrong: int

    @property
    def vessels(self) -> tuple[int, ...]:
        """Classes of vessel, ascending."""
        return tuple(sorted({kind.vessel for kind in self.kinds}))

    @property
    def media(self) -> tuple[int, ...]:
        """Classes of medium, ascending."""
        return tuple(sorted({kind.medium for kind in self.kinds}))

    @property
    def years(self) -> tuple[int, ...]:
        """Runs of years, ascending."""
        return tuple(sorted({kind.years for kind in self.kinds}))


def kind_of(job: Job, rules: Rules, with_years: bool = True) -> Kind:
    """The finest kind of a job."""
    vessel = UNKNOWN if job.diameter_mm < 0 else bisect_left(rules.vessel_edges_m, job.diameter_mm / MM)
    if job.wash_um_s == LAYERED:
        medium = len(rules.wash_edges_m_s) + 1
    else:
        medium = UNKNOWN if job.wash_um_s < 0 else bisect_left(rules.wash_edges_m_s, job.wash_um_s / UM)
    years = UNKNOWN if job.year < 0 or not with_years else job.year // rules.years_together
    return Kind(vessel, medium, years)


def merged(units: Mapping[Kind, int], least: int) -> list[tuple[Kind, ...]]:
    """Kinds put together so that each stratum has `least` units or more, as long as the fleet has as many.

    First whole classes of vessel that are too small join the next larger one. Inside each, runs of years of
    one medium join their neighbours; media that are still too small join each other, and if that is not
    enough the smallest other stratum of those vessels. Only the sizes decide, never what was wrong. What is
    left apart in the end is vessel size at least, unless the whole fleet is too small for that.
    """
    found: list[tuple[Kind, ...]] = []
    by_vessel: dict[int, list[Kind]] = defaultdict(list)
    for kind in sorted(units):
        by_vessel[kind.vessel].append(kind)
    for kinds in _neighbours(list(by_vessel.values()), units, least):
        found.extend(_within_vessels(kinds, units, least))
    return found


def _within_vessels(kinds: Iterable[Kind], units: Mapping[Kind, int], least: int) -> list[tuple[Kind, ...]]:
    by_medium: dict[int, dict[int, list[Kind]]] = defaultdict(lambda: defaultdict(list))
    for kind in kinds:
        by_medium[kind.medium][kind.years].append(kind)
    parts: list[list[Kind]] = []
    for by_years in by_medium.values():
        parts.extend(_neighbours([by_years[years] for years in sorted(by_years)], units, least))
    large = [part for part in parts if _size(part, units) >= least]
    rest = [kind for part in parts if _size(part, units) < least for kind in part]
    if rest and large and _size(rest, units) < least:
        smallest = min(large, key=lambda part: (_size(part, units), part))
        large.remove(smallest)
        rest += smallest
    return [tuple(sorted(part)) for part in (*large, rest) if part]


def _neighbours(parts: list[list[Kind]], units: Mapping[Kind, int], least: int) -> list[list[Kind]]:
    """Parts in order, each too small one joined to the next, a last one to the one before."""
    found: list[list[Kind]] = []
    waiting: list[Kind] = []
    for part in parts:
        waiting = waiting + part
        if _size(waiting, units) >= least:
            found.append(waiting)
            waiting = []
    if waiting and found:
        found[-1] = found[-1] + waiting
    elif waiting:
        found.append(waiting)
    return found


def _size(kinds: Iterable[Kind], units: Mapping[Kind, int]) -> int:
    return sum(units[kind] for kind in kinds)
