"""The only module that imports PyVRP: a problem in, orders of visits for crew-days out.

Its times are never shown.
"""

from __future__ import annotations

from collections.abc import Callable
from importlib.util import find_spec
from math import ceil
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fleetaudit.routing.costs import left_cost
from fleetaudit.routing.model import HOUR_S, KM_M, MINUTE_S, Floats, Problem

Integers = NDArray[np.int64]
#: a leg that must not be used [cents, minutes]: large, yet far from where the search overflows
VETO_CENTS, VETO_MINUTES = 50_000_000, 5_000
CENTS = 100
LITRES_10 = 10_000
LATE_CLOSING_S = 14 * HOUR_S
#: opening hours of different weekdays are planned as one where no day loses so much by it
HOURS_LOST_S = 30 * MINUTE_S
SEVERAL = 2


def installed() -> bool:
    """Whether the solver can be used on this computer."""
    return find_spec("pyvrp") is not None


def propose(
    problem: Problem,
    prices: Floats,
    iterations: int,
    seed: int,
    until: Callable[[float], bool] | None = None,
) -> list[tuple[int, tuple[int, ...]]]:
    """Orders of visits by crew-day; iterations are fixed, so that the same input gives the same orders.

    `until` ends the search instead, asked with the best cost so far: for measuring only, as it may look at
    a clock.
    """
    import pyvrp  # noqa: PLC0415 - optional, and slow to load
    from pyvrp.stop import MaxIterations  # noqa: PLC0415 - as slow to load

    library: Any = pyvrp

    model = _Model(problem, prices)
    if not model.clients:
        return []
    result = library.solve(
        model.data(library), stop=until or MaxIterations(iterations), seed=seed, collect_stats=False
    )
    found = []
    for route in result.best.routes():
        stops = [step.idx for step in route.schedule() if step.is_client()]
        shift = model.alike[route.vehicle_type()].pop(0)
        found.append((shift, tuple(model.clients[place] for place in stops)))
    return found


def _merged(by_hours: dict[tuple[int, int], set[int]]) -> dict[tuple[int, int], set[int]]:
    """All days under the hours common to them, where no day loses more than a little by that."""
    if len(by_hours) < SEVERAL:
        return by_hours
    opens, closes = max(hours[0] for hours in by_hours), min(hours[1] for hours in by_hours)
    if max(hours[1] - hours[0] for hours in by_hours) - (closes - opens) >= HOURS_LOST_S:
        return by_hours
    return {(opens, closes): set().union(*by_hours.values())}


def _vehicle(library: Any, kind: tuple[int, ...], count: int) -> Any:
    mass, room, depot, start, end, over, price, over_price, profile, reload, reloads = kind
    return library.VehicleType(
        count,
        capacity=[mass, room],
        start_depot=depot,
        end_depot=depot,
        tw_early=start,
        tw_late=end + over,
        shift_duration=max(0, end - start),
        max_overtime=over,
        unit_distance_cost=1,
        unit_duration_cost=price,
        unit_overtime_cost=over_price,
        profile=profile,
        reload_depots=[reload] if reloads else [],
        max_reloads=reloads,
    )


class _Model:
    """The problem in the solver's integers: cents, minutes rounded up, kg, tenths of a litre."""

    def __init__(self, problem: Problem, prices: Floats) -> None:
        self.problem, self.prices = problem, prices
        self.shifts = list(range(len(problem.shifts)))
        #: crew-days of each vehicle type, filled by `data`
        self.alike: list[list[int]] = []
        self.clients: list[int] = []
        self.hours: list[tuple[int, int]] = []
        self.days: list[frozenset[int]] = []
        for visit in range(len(problem.visits)):
            self._copies(visit)

    def _copies(self, visit: int) -> None:
        """One client for each pattern of opening hours on the days a visit may be on.

        Hours that differ little count as what they have in common: copies of a visit make the search worse.
        What rides along is left to the repair for the same reason.
        """
        job = self.problem.visits[visit]
        by_hours: dict[tuple[int, int], set[int]] = {}
        for shift in self.shifts:
            window = job.window(self.problem.shifts[shift].day)
            if window is not None and np.isfinite(self.prices[visit, shift]):
                by_hours.setdefault(window, set()).add(shift)
        for window, shifts in sorted(_merged(by_hours).items()):
            self.clients.append(visit)
            self.hours.append(window)
            self.days.append(frozenset(shifts))

    def data(self, library: Any) -> Any:
        """Problem of the solver.

        A vehicle type for all crew-days that are alike, a profile for each distinct set of costs.
        """
        problem, crews = self.problem, self.problem.crews
        several = [visit for visit in dict.fromkeys(self.clients) if self.clients.count(visit) > 1]
        group_of = {visit: number for number, visit in enumerate(several)}
        clients = [self._client(library, place, group_of) for place in range(len(self.clients))]
        groups = [
            library.ClientGroup([p for p, of in enumerate(self.clients) if of == visit], required=False)
            for visit in several
        ]
        profiles: dict[bytes, int] = {}
        distances: list[Integers] = []
        durations: list[Integers] = []
        kinds: dict[tuple[int, ...], list[int]] = {}
        for shift in self.shifts:
            cost, time = self._matrices(shift)
            number = profiles.setdefault(cost.tobytes() + time.tobytes(), len(distances))
            if number == len(distances):
                distances.append(cost)
                durations.append(time)
            kinds.setdefault(self._kind(shift, number), []).append(shift)
        vehicles = [_vehicle(library, kind, len(shifts)) for kind, shifts in kinds.items()]
        self.alike = list(kinds.values())
        locations = [library.Location(place, 0) for place in range(len(crews) + len(clients))]
        reload = ceil(problem.rules.reload_s / MINUTE_S)
        depots = [library.Depot(place) for place in range(len(crews))]
        depots += [library.Depot(place, service_duration=reload) for place in range(len(crews))]
        return library.ProblemData(locations, clients, depots, vehicles, distances, durations, groups)

    def _client(self, library: Any, place: int, group_of: dict[int, int]) -> Any:
        visit, (opens, closes) = self.clients[place], self.hours[place]
        job = self.problem.visits[visit]
        minutes = ceil(job.service_s / MINUTE_S)
        lunch = self.problem.rules.lunch_s if closes >= LATE_CLOSING_S else 0
        latest = max(ceil(opens / MINUTE_S), (closes - job.service_s - lunch) // MINUTE_S)
        labour = max((crew.hour_price for crew in self.problem.crews), default=0.0) * job.service_s / HOUR_S
        prize = round((left_cost(self.problem, visit) + labour) * CENTS)
        return library.Client(
            len(self.problem.crews) + place,
            delivery=[ceil(job.kg_new), ceil(job.m3_new * LITRES_10)],
            pickup=[ceil(job.kg_spent), ceil(job.m3_spent * LITRES_10)],
            service_duration=minutes,
            tw_early=ceil(opens / MINUTE_S),
            tw_late=int(latest),
            prize=min(prize, VETO_CENTS // 2),
            required=False,
            group=group_of.get(visit),
        )

    def _kind(self, shift: int, profile: int) -> tuple[int, ...]:
        """Everything the search has to know of a crew-day, in the order `_vehicle` takes it apart."""
        problem = self.problem
        here = problem.shifts[shift]
        crew, lunch = problem.crews[here.crew], problem.rules.lunch_s
        start, end = crew.start_s // MINUTE_S, max(crew.start_s, crew.end_s - lunch) // MINUTE_S
        return (
            int(crew.payload_kg),
            int(crew.volume_m3 * LITRES_10),
            self._same_depot(here.crew),
            start,
            end,
            crew.overtime_s // MINUTE_S,
            round(crew.hour_price * CENTS * MINUTE_S / HOUR_S),
            round(crew.overtime_price * CENTS * MINUTE_S / HOUR_S),
            profile,
            len(problem.crews) + self._same_depot(here.crew),
            crew.reloads,
        )

    def _same_depot(self, crew: int) -> int:
        """First crew from whose start all ways are the same."""
        drive_s, road_m = self.problem.drive_s, self.problem.road_m

        def ways(one: int) -> bytes:
            return b"".join(
                part.tobytes() for part in (drive_s[one], drive_s[:, one], road_m[one], road_m[:, one])
            )

        return next(one for one in range(crew + 1) if ways(one) == ways(crew))

    def _matrices(self, shift: int) -> tuple[Integers, Integers]:
        """Cost of a leg [cents], the price of its end included, and its time [min]."""
        problem, crews = self.problem, len(self.problem.crews)
        rows = np.array([*range(crews), *(problem.at(visit) for visit in self.clients)])
        crew = problem.crews[problem.shifts[shift].crew]
        km = problem.road_m[np.ix_(rows, rows)] / KM_M
        cost = np.rint(km * crew.km_price * CENTS).astype(np.int64)
        time = np.ceil(problem.drive_s[np.ix_(rows, rows)] / MINUTE_S).astype(np.int64)
        end = np.zeros(len(rows), dtype=np.int64)
        for place, visit in enumerate(self.clients):
            price = self.prices[visit, shift]
            allowed = shift in self.days[place] and np.isfinite(price)
            end[crews + place] = round(price * CENTS) if allowed else VETO_CENTS
        cost = np.minimum(cost + end[None, :], VETO_CENTS)
        time = np.where(end[None, :] >= VETO_CENTS, VETO_MINUTES, np.minimum(time, VETO_MINUTES))
        np.fill_diagonal(cost, 0)
        np.fill_diagonal(time, 0)
        return np.ascontiguousarray(cost), np.ascontiguousarray(time)
