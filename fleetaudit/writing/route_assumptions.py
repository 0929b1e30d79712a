"""Everything a plan rests on that nobody typed, each with where it comes from."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from math import isnan

from msgspec import Struct

from fleetaudit.catalogue.model import Catalogue
from fleetaudit.language import say, several
from fleetaudit.routing.distance import Legs
from fleetaudit.routing.geocode import BY_POSTCODE
from fleetaudit.routing.model import Lock, Plan, Problem
from fleetaudit.schema.route import TIME_ZONE
from fleetaudit.writing.route_report import Assumption

MUCH_MEMORY_MB = 500
#: most names or legs listed
LISTED = 20


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
        say("distances"),
        say("straight line x {factor:g}", factor=catalogue.number("route_circuity")),
        catalogue.cite(factor.source),
    )
    speeds = [f"{catalogue.number(f'route_speed_{part}'):g}" for part in ("near", "middle", "far")]
    yield Assumption(
        say("speeds"),
        say("{speeds} km/h near, between and far", speeds=", ".join(speeds)),
        "Settings: route_speed_*",
    )


def _own_ways(basis: Basis) -> Iterator[Assumption]:
    ways, problem = basis.ways, basis.plan.problem
    table = say("distance table")
    told = say(
        "{given} legs given, {back} taken from the way back, {guessed} estimated",
        given=ways.given,
        back=ways.reversed,
        guessed=ways.estimated,
    )
    if ways.half:
        told += say(", {count} given in km or in minutes only, the other estimated", count=ways.half)
    yield Assumption(say("own distances"), told, table)
    if not isnan(ways.factor):
        yield Assumption(
            say("detour factor of your own distances"),
            say(
                "{factor:.2f}, the middle of them; write it as route_circuity to use it for the rest",
                factor=ways.factor,
            ),
            table,
        )
    known = {
        *(crew.matrix_id or crew.name for crew in problem.crews),
        *(visit.matrix_id or visit.id for visit in problem.visits),
    }
    strange = sorted(set(basis.own_places) - known)
    if strange:
        yield Assumption(
            say("places of the distance table without a visit"), ", ".join(strange[:LISTED]), table
        )
    for text in ways.doubtful[:LISTED]:
        yield Assumption(say("leg that contradicts the estimate"), text, table)


def _crews(basis: Basis) -> Iterator[Assumption]:
    yield from (Assumption(*one) for one in basis.crews_assumed)
    if basis.crews_unused:
        yield Assumption(
            say("crews without a depot and truck, not planned"),
            ", ".join(basis.crews_unused),
            say("sheet {name}", name="Crews"),
        )
    without = [crew.name for crew in basis.plan.problem.crews if not crew.time_zone]
    if without:
        yield Assumption(
            say("times on the calendar of {crews}", crews=", ".join(without)),
            say(
                'local time, without a time zone (sheet {name}, column "{column}")',
                name="Crews",
                column=TIME_ZONE.title,
            ),
            say("RFC 5545, floating time"),
        )


def _sites(basis: Basis, catalogue: Catalogue) -> Iterator[Assumption]:
    visits = basis.plan.problem.visits
    names = {visit.site for visit in visits} & set(basis.usual_hours)
    if names:
        opens, closes = (catalogue.number(f"route_site_{word}") / 3600 for word in ("opens", "closes"))
        yield Assumption(
            several(len(names), "hours of 1 site that gives none", "hours of {count} sites that give none"),
            say("{first:g} to {last:g} h", first=opens, last=closes),
            "Settings: route_site_*",
        )
    by_postcode = sum(visit.place is not None and visit.place.known_by == BY_POSTCODE for visit in visits)
    if by_postcode:
        yield Assumption(
            several(by_postcode, "place of 1 site", "place of {count} sites"),
            say("centre of the postcode, 1 to 20 km off"),
            say("list of US postcodes"),
        )
    for text in basis.doubtful_places:
        yield Assumption(say("place"), text, say("list of units"))
    for text in _far(basis.plan.problem, catalogue.number("route_far_from_depots")):
        yield Assumption(say("place far from every depot"), text, "Settings: route_far_from_depots")


def _far(problem: Problem, limit_m: float) -> Iterator[str]:
    crews = range(len(problem.crews))
    for number, visit in enumerate(problem.visits):
        way = min((float(problem.road_m[crew, problem.at(number)]) for crew in crews), default=0.0)
        if visit.place is not None and way > limit_m:
            yield (
                say(
                    "{site} is {km:,.0f} km from the nearest depot: are the signs of its coordinates right?",
                    site=visit.site,
                    km=way / 1000,
                )
            )


def _work(basis: Basis, catalogue: Catalogue) -> Iterator[Assumption]:
    if basis.density_assumed:
        yield Assumption(
            several(
                basis.density_assumed,
                "bulk density of the media of 1 unit",
                "bulk density of the media of {count} units",
            ),
            say("the usual one"),
            "Settings: route_default_density",
        )
    yield Assumption(
        say("mass of spent wet media"),
        say("{factor:g} times dry", factor=catalogue.number("route_wet_mass")),
        "Settings: route_wet_mass",
    )
    yield _gravel(basis.plan.problem, catalogue)
    yield Assumption(
        say("time at a site"),
        say("set-up, work by vessel, volume and fix, with a margin"),
        say("Settings: {name} and below", name="route_set_up"),
    )
    if basis.alone:
        yield Assumption(
            several(
                basis.alone,
                "1 unit with notes, doubtful findings or media due later",
                "{count} units with notes, doubtful findings or media due later",
            ),
            say("not planned: nothing else is to be done at their sites"),
            "Settings: route_value_along, route_ride_within",
        )


def _gravel(problem: Problem, catalogue: Catalogue) -> Assumption:
    """Whether gravel goes along with new beds, and how heavy it is taken to be."""
    what, source = say("gravel under new beds"), "Settings: renew_gravel, default_gravel_depth"
    if not catalogue.switch("renew_gravel"):
        return Assumption(what, say("stays, none is loaded"), source)
    kg = sum(task.kg_gravel for visit in problem.visits for task in visit.with_riders().tasks)
    told = say("renewed and loaded, {kg:,.0f} kg in all; spent gravel as wet as spent media", kg=kg)
    return Assumption(what, told, f"{source}; {say('common practice, no source')}")


def _memory(problem: Problem) -> Iterator[Assumption]:
    """What the search may need: a price of each leg for every crew-day, in two tables of eight bytes."""
    size = len(problem.crews) + len(problem.visits)
    most_mb = len(problem.shifts) * size**2 * 16 / 1e6
    if most_mb > MUCH_MEMORY_MB:
        yield Assumption(
            say("memory of the search"),
            say("up to {size:,.0f} MB; plan fewer days at a time if that is too much", size=most_mb),
            say("crew-days x places x places x 16 bytes"),
        )


def _last_plan(basis: Basis) -> Iterator[Assumption]:
    visits = basis.plan.problem.visits
    for number in basis.plan.moved:
        visit = visits[number]
        yield Assumption(
            say("moved or dropped since the last plan"), f"{visit.site} ({visit.id})", say("last plan")
        )
    ids = {visit.id for visit in visits}
    for name, lock in basis.locks.items():
        if name not in ids:
            yield Assumption(
                say("locked visit that is no longer due"), f"{name} ({lock.where})", say("last plan")
            )
