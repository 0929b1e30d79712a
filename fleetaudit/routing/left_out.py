"""Why a visit is not in the plan: tests in order, the first that holds is the reason, with its numbers."""

from __future__ import annotations

from math import inf, isfinite

from fleetaudit.language import say, several
from fleetaudit.routing.costs import keeps, left_cost, riders_worth, ruled_out, worth
from fleetaudit.routing.dates import day_words, minutes
from fleetaudit.routing.greedy import Board
from fleetaudit.routing.model import BrokenLock, DayPlan, Fault, LeftOut, Lock, Visit
from fleetaudit.routing.simulate import BULKY, CLOSED, HEAVY, LATE, OVER, simulate

NO_PLACE, LOCK, PEOPLE, SKILL, LOAD, NO_DAY, ALONE, DEAR, NO_ROOM, NO_CREW, NO_LOAD, RIDER = (
    "no-location",
    "lock",
    "crew-size",
    "skill",
    "load",
    "no-open-day",
    "impossible-alone",
    "costs-more",
    "no-room",
    "no-crew-days",
    "unknown-load",
    "no-room-along",
)
Numbers = dict[str, float | str]
#: names of the numbers of a reason beside those of ruled-out days; documents write them with _
NUMBER_NAMES = (
    "crew days", "people needed", "people most", "skills needed", "kg", "kg most", "m3", "m3 most",
    "cost", "value", "kg over", "m3 over", "minutes over",
)  # fmt: skip


def explain(board: Board, visit: int) -> LeftOut:
    """Reason of one visit that no day holds."""
    job = board.problem.jobs[visit]
    for test in _TESTS:
        found = test(board, visit, job)
        if found is not None:
            return LeftOut(board.problem.longer(visit) if job.riders else visit, *found)
    raise AssertionError(f"no reason for {job.id}")


Answer = tuple[str, str, Numbers] | None


def _no_place(board: Board, visit: int, job: Visit) -> Answer:
    if job.place is not None or job.matrix_id:
        return None
    return (
        NO_PLACE,
        say("Nobody knows where it is: {why}. Give latitude and longitude.", why=job.no_place),
        {},
    )


def _no_load(board: Board, visit: int, job: Visit) -> Answer:
    if not job.no_load:
        return None
    return (
        NO_LOAD,
        say("Nobody knows what to take along: {why}. Fill in media volume or vessel size.", why=job.no_load),
        {},
    )


def _no_crew_days(board: Board, visit: int, job: Visit) -> Answer:
    return (
        None
        if board.problem.shifts
        else (NO_CREW, say("No crew works on any day of the plan."), {"crew_days": 0.0})
    )


def _lock(board: Board, visit: int, job: Visit) -> Answer:
    if job.lock is None:
        return None
    lock, problem = job.lock, board.problem
    names = [crew.name for crew in problem.crews]
    if lock.crew and lock.crew.casefold() not in {name.casefold() for name in names}:
        return (
            LOCK,
            say(
                'Locked to crew "{crew}", which is not on the Crews sheet ({names}).',
                crew=lock.crew,
                names=", ".join(names),
            ),
            {},
        )
    wrong_day = None if lock.day is None else _lock_day(board, job, lock.day)
    if wrong_day is not None:
        return wrong_day
    ways = [s for s in problem.shifts if isfinite(board.prices[visit, problem.shifts.index(s)])]
    if not ways:
        said = say("Locked to {what}, but {why}.", what=_asked(lock), why=_why_no_crew(board, job, lock))
        return LOCK, said, {}
    return None


def _asked(lock: Lock) -> str:
    """Crew and day a lock asks for, in words."""
    day = "" if lock.day is None else day_words(lock.day)
    if lock.crew and day:
        return say("{first} and {last}", first=lock.crew, last=day)
    return lock.crew or day


def _why_no_crew(board: Board, job: Visit, lock: Lock) -> str:
    asked = [
        board.problem.crews[s.crew]
        for s in board.problem.shifts
        if keeps(lock, board.problem.crews[s.crew].name, s.day)
    ]
    if asked and all(job.people > crew.people for crew in asked):
        return say("it takes {people} people", people=job.people)
    if asked and all(not job.skills <= crew.skills for crew in asked):
        return say("it asks for {skills}", skills=", ".join(sorted(job.skills)))
    return say("the site is closed then" if asked else "no such crew works then")


def _lock_day(board: Board, job: Visit, day: int) -> Answer:
    problem = board.problem
    asked = day_words(day)
    if job.earliest_day is not None and day < job.earliest_day:
        limit = day_words(job.earliest_day)
        return LOCK, say("Locked to {day}, but its earliest date is {limit}.", day=asked, limit=limit), {}
    if job.latest_day is not None and day > job.latest_day:
        limit = day_words(job.latest_day)
        return LOCK, say("Locked to {day}, but its latest date is {limit}.", day=asked, limit=limit), {}
    if not problem.first_day <= day <= problem.last_day:
        said = say(
            "Locked to {day}, outside the days planned ({first} to {last}).",
            day=asked,
            first=day_words(problem.first_day),
            last=day_words(problem.last_day),
        )
        return LOCK, said, {}
    if job.window(day) is None:
        return LOCK, say("Locked to {day}, when the site is closed.", day=asked), {}
    return None


def _people(board: Board, visit: int, job: Visit) -> Answer:
    most = max(crew.people for crew in board.problem.crews)
    if job.people <= most:
        return None
    numbers: Numbers = {"people_needed": float(job.people), "people_most": float(most)}
    return (
        PEOPLE,
        say(
            "It takes {people} people for the heaviest vessel; the largest crew is {most}.",
            people=job.people,
            most=most,
        ),
        numbers,
    )


def _skill(board: Board, visit: int, job: Visit) -> Answer:
    crews = board.problem.crews
    if any(job.skills <= crew.skills and job.people <= crew.people for crew in crews):
        return None
    wanted = ", ".join(sorted(job.skills))
    enough = [crew.name for crew in crews if job.skills <= crew.skills]
    numbers: Numbers = {"skills_needed": wanted, "people_needed": float(job.people)}
    if enough:
        return (
            SKILL,
            several(
                len(enough),
                "It asks for {wanted} and {people} people; {names} can do it but is too few.",
                "It asks for {wanted} and {people} people; {names} can do it but are too few.",
                wanted=wanted,
                people=job.people,
                names=", ".join(enough),
            ),
            numbers,
        )
    nearest = min(crews, key=lambda crew: (len(job.skills - crew.skills), crew.name))
    missing = ", ".join(sorted(job.skills - nearest.skills))
    said = say(
        "It asks for {wanted}; no crew has all of it. {crew} lacks {missing}.",
        wanted=wanted,
        crew=nearest.name,
        missing=missing,
    )
    return SKILL, said, numbers


def _load(board: Board, visit: int, job: Visit) -> Answer:
    fits = [c for c in board.problem.crews if job.people <= c.people and job.skills <= c.skills]
    peak = max(job.kg_new, job.kg_spent)
    kg = max(crew.payload_kg for crew in fits)
    room = max(crew.volume_m3 for crew in fits)
    if any(peak <= crew.payload_kg and job.m3_new <= crew.volume_m3 for crew in fits):
        return None
    numbers: Numbers = {
        "kg": round(peak),
        "kg_most": round(kg),
        "m3": round(job.m3_new, 3),
        "m3_most": round(room, 3),
    }
    text = say(
        "One unit is more than a truck takes: {peak:,.0f} kg and {litres:,.0f} L against {kg:,.0f} kg and "
        "{room:,.0f} L.",
        peak=peak,
        litres=job.m3_new * 1000,
        kg=kg,
        room=room * 1000,
    )
    return LOAD, text, numbers


def _no_day(board: Board, visit: int, job: Visit) -> Answer:
    problem = board.problem
    if any(isfinite(price) for price in board.prices[visit]):
        return None
    reasons: dict[str, int] = {}
    for shift in problem.shifts:
        word = ruled_out(problem, job, shift)
        reasons[word] = reasons.get(word, 0) + 1
    counted = ", ".join(
        say("{why} on {count}", why=say(word), count=count) for word, count in sorted(reasons.items())
    )
    numbers: Numbers = {word.replace(" ", "_"): float(count) for word, count in reasons.items()}
    said = say(
        "None of the {count} crew-days can be used: {reasons}.", count=len(problem.shifts), reasons=counted
    )
    return NO_DAY, said, numbers


def _alone(board: Board, visit: int, job: Visit) -> Answer:
    """Impossible even as the only stop of the best day."""
    nearest = _nearest(
        board, visit, [simulate(board.problem, s, (visit,)) for s in range(len(board.problem.shifts))]
    )
    if nearest is None or not nearest[0].faults:
        return None
    text, numbers = _by_how_much(nearest[0].faults[0])
    return (
        ALONE,
        say(
            "Even as the only stop of a day ({day}) it does not fit: {why}.",
            day=_name(board, nearest[0]),
            why=text,
        ),
        numbers,
    )


def _dear_or_full(board: Board, visit: int, job: Visit) -> Answer:
    value = worth(board.problem, visit)
    best = board.cheapest(visit)
    if best is not None:
        numbers: Numbers = {"cost": round(best[0], 2), "value": round(value, 2)}
        text = say(
            "It would cost {cost:,.0f} ({day}) and is valued at {value:,.0f}.",
            cost=best[0],
            day=_name(board, best[2]),
            value=value,
        )
        return DEAR, text, numbers
    tried = [
        simulate(board.problem, shift, (*day.order[:place], visit, *day.order[place:]))
        for shift, day in enumerate(board.days)
        for place in range(len(day.order) + 1)
    ]
    nearest = _nearest(board, visit, tried)
    assert nearest is not None
    text, numbers = _by_how_much(nearest[0].faults[0])
    others = [v for v in board.days[nearest[0].shift].order if board.problem.jobs[v].lock is None]
    swap = ""
    if others:
        least = min(others, key=lambda one: (board.problem.jobs[one].priority, left_cost(board.problem, one)))
        other = board.problem.jobs[least]
        order = tuple(visit if one == least else one for one in nearest[0].order if one != visit)
        if not simulate(board.problem, nearest[0].shift, order).faults:
            swap = " " + say(
                "It would fit there if {site} ({visit}, priority {priority}) were left.",
                site=other.site,
                visit=other.id,
                priority=other.priority,
            )
    numbers["value"] = round(value, 2)
    said = say("No room: nearest is {day}, where {why}.", day=_name(board, nearest[0]), why=text)
    return NO_ROOM, said + swap, numbers


def explain_riders(board: Board, visit: int) -> LeftOut:
    """Why what could ride along with a planned visit does not."""
    problem = board.problem
    shift = next(number for number, day in enumerate(board.days) if visit in day.order)
    crew, left = problem.crews[problem.shifts[shift].crew], problem.left_riders(visit)
    people = problem.jobs[left].people
    tried, cost = board.with_riders(shift, visit)
    numbers: Numbers
    if people > crew.people:
        text = say(
            "{people} people would be needed, and the crew has {most}", people=people, most=crew.people
        )
        numbers = {"people_needed": float(people), "people_most": float(crew.people)}
    elif tried.faults:
        text, numbers = _by_how_much(tried.faults[0])
    else:
        value = riders_worth(problem, visit)
        text = say(
            "the day would cost {cost:,.0f} more, and it is valued at {value:,.0f}", cost=cost, value=value
        )
        numbers = {"cost": round(cost, 2), "value": round(value, 2)}
    said = say(
        "It only rides along with {visit} on {day}; with it {why}.",
        visit=problem.jobs[visit].id,
        day=_name(board, tried),
        why=text,
    )
    return LeftOut(left, RIDER, said, numbers)


def _nearest(board: Board, visit: int, days: list[DayPlan]) -> tuple[DayPlan, float] | None:
    best: tuple[DayPlan, float] | None = None
    for day in days:
        if not isfinite(board.prices[visit, day.shift]):
            continue
        miss = sum(_weight(fault) for fault in day.faults)
        if miss < (inf if best is None else best[1]):
            best = day, miss
    return best


def _weight(fault: Fault) -> float:
    """Minutes over, or a load over as a long time: a full truck is farther off than a full day."""
    return {LATE: fault.amount, OVER: fault.amount, CLOSED: 1e9}.get(fault.kind, 1e6 + fault.amount)


def _by_how_much(fault: Fault) -> tuple[str, Numbers]:
    if fault.kind == HEAVY:
        said = say("the truck would be {kg:,.0f} kg over", kg=fault.amount)
        return said, {"kg_over": round(fault.amount, 1)}
    if fault.kind == BULKY:
        said = say("the load would be {litres:,.0f} L over", litres=fault.amount * 1000)
        return said, {"m3_over": round(fault.amount, 4)}
    over = minutes(fault.amount)
    said = say(
        "the day would be {minutes} min over"
        if fault.kind == OVER
        else "a site would close {minutes} min before the work is done",
        minutes=over,
    )
    return said, {"minutes_over": float(over)}


def _name(board: Board, day: DayPlan) -> str:
    shift = board.problem.shifts[day.shift]
    return f"{day_words(shift.day)}, {board.problem.crews[shift.crew].name}"


_TESTS = (_no_place, _no_load, _no_crew_days, _lock, _people, _skill, _load, _no_day, _alone, _dear_or_full)


def broken_locks(board: Board, left: list[LeftOut]) -> list[BrokenLock]:
    """Locked visits that are not in the plan, each with its cell and reason."""
    found = []
    for item in left:
        job = board.problem.jobs[item.visit]
        if job.lock is not None:
            where = f"{job.lock.where}: " if job.lock.where else ""
            said = say(
                "the lock of {site} ({visit}) cannot be kept. {reason}",
                site=job.site,
                visit=job.id,
                reason=item.reason,
            )
            found.append(BrokenLock(item.visit, where + said))
    return found
