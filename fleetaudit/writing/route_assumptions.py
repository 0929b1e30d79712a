"""Everything a plan rests on that nobody typed, each with where it comes from."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from math import isnan

from msgspec import Struct

from fleetaudit.catalogue.model import Catalogue
from fleetaudit.routing.distance import Legs
from fleetaudit.routing.geocode import BY_POSTCODE
from fleetaudit.routing.model import Lock, Plan, Problem
from fleetaudit.writing.route_report import Assumption

MUCH_MEMORY_MB = 500
#: most names or legs listed
LISTED = 20
OWN_TABLE = "distance table"


class Basis(Struct, frozen=True):
    """A plan and what was taken for granted on the way to it.

    `alone` counts units of which the work only rides along and whose sites nobody goes to.
    """

    plan: Plan
    ways: Legs
    own_places: Collection[str]
    crews_assumed: Sequence[tuple[str, str, str]]
    crews_unused: Sequence[str]
    usual_hours: Collection[str]
    doubtful_places: Sequence[str]
    density_assumed: int
    alone: int
    locks: Mapping[str, Lock]


def assumptions(basis: Basis, catalogue: Catalogue) -> list[Assumption]:
    """What a plan rests on, in the order of its making."""
    return [
        *_ways(catalogue),
        *(_own_ways(basis) if basis.own_places else ()),
        *_crews(basis),
        *_sites(basis, catalogue),
        *_work(basis, catalogue),
        *_memory(basis.plan.problem),
        *_last_plan(basis),
    ]


def _ways(catalogue: Catalogue) -> Iterator[Assumption]:
    factor = catalogue.settings["route_circuity"]
    yield Assumption(
        "distances",
        f"straight line x {catalogue.number('route_circuity'):g}",
        catalogue.cite(factor.source),
    )
    speeds = [f"{catalogue.number(f'route_speed_{part}'):g}" for part in ("near", "middle", "far")]
    yield Assumption("speeds", f"{', '.join(speeds)} km/h near, between and far", "Settings: route_speed_*")


def _own_ways(basis: Basis) -> Iterator[Assumption]:
    ways, problem = basis.ways, basis.plan.problem
    half = f", {ways.half} given in km or in minutes only, the other estimated" if ways.half else ""
    yield Assumption(
        "own distances",
        f"{ways.given} legs given, {ways.reversed} taken from the way back, {ways.estimated} estimated{half}",
        OWN_TABLE,
    )
    if not isnan(ways.factor):
        yield Assumption(
            "detour factor of your own distances",
            f"{ways.factor:.2f}, the middle of them; write it as route_circuity to use it for the rest",
            OWN_TABLE,
        )
    known = {
        *(crew.matrix_id or crew.name for crew in problem.crews),
        *(visit.matrix_id or visit.id for visit in problem.visits),
    }
    strange = sorted(set(basis.own_places) - known)
    if strange:
        yield Assumption(
            "places of the distance table without a visit", ", ".join(strange[:LISTED]), OWN_TABLE
        )
    for text in ways.doubtful[:LISTED]:
        yield Assumption("leg that contradicts the estimate", text, OWN_TABLE)


def _crews(basis: Basis) -> Iterator[Assumption]:
    yield from (Assumption(*one) for one in basis.crews_assumed)
    if basis.crews_unused:
        yield Assumption(
            "crews without a depot and truck, not planned", ", ".join(basis.crews_unused), "Crews sheet"
        )
    without = [crew.name for crew in basis.plan.problem.crews if not crew.time_zone]
    if without:
        yield Assumption(
            f"times on the calendar of {', '.join(without)}",
            "local time, without a time zone (Crews sheet: Time zone)",
            "RFC 5545, floating time",
        )


def _sites(basis: Basis, catalogue: Catalogue) -> Iterator[Assumption]:
    visits = basis.plan.problem.visits
    names = {visit.site for visit in visits} & set(basis.usual_hours)
    if names:
        opens, closes = (catalogue.number(f"route_site_{word}") / 3600 for word in ("opens", "closes"))
        yield Assumption(
            f"hours of {len(names)} sites that give none",
            f"{opens:g} to {closes:g} h",
            "Settings: route_site_*",
        )
    by_postcode = sum(visit.place is not None and visit.place.known_by == BY_POSTCODE for visit in visits)
    if by_postcode:
        yield Assumption(
            f"place of {by_postcode} sites", "centre of the postcode, 1 to 20 km off", "list of US postcodes"
        )
    for text in basis.doubtful_places:
        yield Assumption("place", text, "list of units")
    for text in _far(basis.plan.problem, catalogue.number("route_far_from_depots")):
        yield Assumption("place far from every depot", text, "Settings: route_far_from_depots")


def _far(problem: Problem, limit_m: float) -> Iterator[str]:
    crews = range(len(problem.crews))
    for number, visit in enumerate(problem.visits):
        way = min((float(problem.road_m[crew, problem.at(number)]) for crew in crews), default=0.0)
        if visit.place is not None and way > limit_m:
            yield (
                f"{visit.site} is {way / 1000:,.0f} km from the nearest depot: are the signs of its "
                f"coordinates right?"
            )


def _work(basis: Basis, catalogue: Catalogue) -> Iterator[Assumption]:
    if basis.density_assumed:
        yield Assumption(
            f"bulk density of the media of {basis.density_assumed} units",
            "the usual one",
            "Settings: route_default_density",
        )
    yield Assumption(
        "mass of spent wet media",
        f"{catalogue.number('route_wet_mass'):g} times dry",
        "Settings: route_wet_mass",
    )
    yield Assumption(
        "time at a site",
        "set-up, work by vessel, volume and fix, with a margin",
        "Settings: route_set_up and below",
    )
    if basis.alone:
        yield Assumption(
            f"{basis.alone} units with notes, doubtful findings or media due later",
            "not planned: nothing else is to be done at their sites",
            "Settings: route_value_along, route_ride_within",
        )


def _memory(problem: Problem) -> Iterator[Assumption]:
    """What the search may need: a price of each leg for every crew-day, in two tables of eight bytes."""
    size = len(problem.crews) + len(problem.visits)
    most_mb = len(problem.shifts) * size**2 * 16 / 1e6
    if most_mb > MUCH_MEMORY_MB:
        yield Assumption(
            "memory of the search",
            f"up to {most_mb:,.0f} MB; plan fewer days at a time if that is too much",
            "crew-days x places x places x 16 bytes",
        )


def _last_plan(basis: Basis) -> Iterator[Assumption]:
    visits = basis.plan.problem.visits
    for number in basis.plan.moved:
        visit = visits[number]
        yield Assumption("moved or dropped since the last plan", f"{visit.site} ({visit.id})", "last plan")
    ids = {visit.id for visit in visits}
    for name, lock in basis.locks.items():
        if name not in ids:
            yield Assumption("locked visit that is no longer due", f"{name} ({lock.where})", "last plan")
