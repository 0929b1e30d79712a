"""The clock of a crew-day: the authority on arrival, lunch, overtime and load, whoever proposed the order."""

from __future__ import annotations

from collections.abc import Sequence

from fleetaudit.routing.model import HOUR_S, KM_M, Crew, DayPlan, Fault, Problem, Rules, Stop

LATE, OVER, HEAVY, BULKY, CLOSED = "late at the site", "day too long", "too heavy", "too bulky", "site closed"
#: rounding of sums of masses and volumes
SLACK = 1e-9


class _Day:
    """A day on its way: the time, whether lunch was had, and what went wrong."""

    __slots__ = ("faults", "lunch_at", "now", "rules")

    def __init__(self, now: int, rules: Rules) -> None:
        self.now = now
        self.rules = rules
        self.lunch_at: int | None = -1 if now >= rules.lunch_to_s or not rules.lunch_s else None
        self.faults: list[Fault] = []

    def drive(self, seconds: int, *, home: bool = False) -> None:
        """Drive on; lunch before leaving inside its hours, or on the way where the way spans them."""
        rules = self.rules
        after = self.now + seconds
        if self.lunch_at is None and not (home and after <= rules.lunch_to_s):
            if self.now >= rules.lunch_from_s:
                self.lunch_at = self.now
                after += rules.lunch_s
            elif after > rules.lunch_to_s:
                self.lunch_at = rules.lunch_from_s
                after += rules.lunch_s
        self.now = after

    def work(self, opens: int, seconds: int) -> int:
        """Wait for the opening and work; gives the start. Lunch where the job would run past its hours."""
        rules, arrive = self.rules, self.now
        start = max(arrive, opens)
        if self.lunch_at is None:
            begin = max(arrive, rules.lunch_from_s)
            if begin + rules.lunch_s <= start and begin <= rules.lunch_to_s:
                self.lunch_at = begin
            elif start + seconds > rules.lunch_to_s:
                if start >= rules.lunch_from_s:
                    self.lunch_at = begin
                    start = max(start, begin + rules.lunch_s)
                else:
                    self.lunch_at = rules.lunch_from_s
                    seconds += rules.lunch_s
        self.now = start + seconds
        return start


def simulate(problem: Problem, shift: int, order: Sequence[int]) -> DayPlan:
    """Run a day in the given order of visits; faults say what makes it impossible."""
    here = problem.shifts[shift]
    crew, rules = problem.crews[here.crew], problem.rules
    trips, faults = loads(problem, crew, order)
    drive_s, road_m, base = problem.drive_s, problem.road_m, here.crew
    stops: list[Stop] = []
    out = _leave(problem, crew, here.crew, here.day, order)
    day = _Day(out, rules)
    day.faults += faults
    driven, distance, worked, waited = 0, 0.0, 0, 0
    last = base
    for number, trip in enumerate(trips):
        if number:
            leg = int(drive_s[last, base])
            day.drive(leg)
            day.work(0, rules.reload_s)
            driven, distance, last = driven + leg, distance + float(road_m[last, base]), base
        for visit in trip:
            place, job = problem.at(visit), problem.jobs[visit]
            leg, metres = int(drive_s[last, place]), float(road_m[last, place])
            day.drive(leg)
            arrive = day.now
            window = job.window(here.day)
            start = day.work(window[0] if window else 0, job.service_s)
            if window is None:
                day.faults.append(Fault(CLOSED, 0.0, visit))
            elif day.now > window[1]:
                day.faults.append(Fault(LATE, float(day.now - window[1]), visit))
            stops.append(Stop(visit, number, arrive, start, day.now, leg, metres))
            driven, distance, worked = driven + leg, distance + metres, worked + job.service_s
            waited += start - arrive
            last = place
    leg = int(drive_s[last, base])
    day.drive(leg, home=True)
    driven, distance = driven + leg, distance + float(road_m[last, base])
    over = max(0, day.now - crew.end_s)
    if over > crew.overtime_s:
        day.faults.append(Fault(OVER, float(over - crew.overtime_s)))
    eaten = day.lunch_at if day.lunch_at is not None and day.lunch_at >= 0 else None
    pause = rules.lunch_s if eaten is not None else 0
    paid = max(0, day.now - out - worked - pause)
    cost = (
        distance / KM_M * crew.km_price
        + paid / HOUR_S * crew.hour_price
        + over / HOUR_S * crew.overtime_price
    )
    return DayPlan(
        shift,
        tuple(order),
        tuple(stops),
        out,
        day.now,
        driven,
        worked,
        waited,
        eaten,
        over,
        distance,
        max(0, len(trips) - 1),
        cost if order else 0.0,
        tuple(day.faults),
    )


def _leave(problem: Problem, crew: Crew, base: int, day: int, order: Sequence[int]) -> int:
    """Start of the shift, later where the first site would not be open yet."""
    if not order:
        return crew.start_s
    window = problem.jobs[order[0]].window(day)
    opens = window[0] if window else 0
    return max(crew.start_s, opens - int(problem.drive_s[base, problem.at(order[0])]))


def loads(problem: Problem, crew: Crew, order: Sequence[int]) -> tuple[list[list[int]], list[Fault]]:
    """Order cut into trips with as few returns to the depot as the truck allows, and what it cannot hold.

    On a trip the truck leaves with all that is new and returns with all that is spent; each stop swaps one
    for the other, so the fullest moment may lie anywhere.
    """
    trips: list[list[int]] = [[]]
    faults: list[Fault] = []
    for visit in order:
        longer = [*trips[-1], visit]
        heavy, bulky = _excess(problem, crew, longer)
        if heavy <= SLACK and bulky <= SLACK:
            trips[-1] = longer
        elif trips[-1] and len(trips) <= crew.reloads and max(_excess(problem, crew, [visit])) <= SLACK:
            trips.append([visit])
        else:
            trips[-1] = longer
            faults.append(Fault(HEAVY, heavy, visit) if heavy > SLACK else Fault(BULKY, bulky, visit))
    return trips, faults


def _excess(problem: Problem, crew: Crew, trip: Sequence[int]) -> tuple[float, float]:
    """How far [kg, m3] the fullest moment of a trip is over what the truck takes."""
    jobs = [problem.jobs[visit] for visit in trip]
    mass, volume = sum(job.kg_new for job in jobs), sum(job.m3_new for job in jobs)
    heaviest, fullest = mass, volume
    for job in jobs:
        mass += job.kg_spent - job.kg_new
        volume += job.m3_spent - job.m3_new
        heaviest, fullest = max(heaviest, mass), max(fullest, volume)
    return heaviest - crew.payload_kg, fullest - crew.volume_m3
