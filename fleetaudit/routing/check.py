"""A second look at a finished plan that shares nothing with what built it but the types."""

from __future__ import annotations

from collections import Counter

from fleetaudit.routing.model import Crew, DayPlan, Plan, Stop, Visit

_TINY = 1e-6


def wrong_with(plan: Plan) -> list[str]:
    """Everything about a plan that cannot be; empty for a sound one."""
    found = [text for day in plan.days for text in _day(plan, day)]
    size = len(plan.problem.visits)
    times = Counter(stop.visit % size for day in plan.days for stop in day.stops)
    found += [
        f"visit {plan.problem.visits[v].id} is planned {count} times"
        for v, count in times.items()
        if count > 1
    ]
    left = [item.visit % size for item in plan.left_out if item.visit < 2 * size]
    if sorted([*times, *left]) != list(range(size)):
        found.append("planned and left out together are not all visits")
    short = {stop.visit for day in plan.days for stop in day.stops if stop.visit < size}
    behind = sorted(item.visit - 2 * size for item in plan.left_out if item.visit >= 2 * size)
    if behind != sorted(number for number in short if plan.problem.visits[number].riders):
        found.append("what rides along and what of it is left out together are not all of it")
    crewdays = Counter(day.shift for day in plan.days)
    found += [f"crew-day {shift} stands {count} times" for shift, count in crewdays.items() if count > 1]
    told = {broken.visit for broken in plan.broken_locks}
    for day in plan.days:
        shift = plan.problem.shifts[day.shift]
        for stop in day.stops:
            lock = plan.problem.jobs[stop.visit].lock
            if lock is None or stop.visit in told:
                continue
            name = plan.problem.crews[shift.crew].name
            if (lock.crew and lock.crew.casefold() != name.casefold()) or lock.day not in (None, shift.day):
                found.append(f"lock of {plan.problem.jobs[stop.visit].id} is not kept")
    for item in plan.left_out:
        if plan.problem.jobs[item.visit].lock is not None and item.visit not in told:
            found.append(f"locked visit {plan.problem.jobs[item.visit].id} is left out without a word")
        if not item.reason:
            found.append(f"visit {plan.problem.jobs[item.visit].id} is left out without a reason")
    return found


def _day(plan: Plan, day: DayPlan) -> list[str]:
    problem, shift = plan.problem, plan.problem.shifts[day.shift]
    crew, found = problem.crews[shift.crew], []
    name = f"{crew.name}, day {shift.day}"
    clock, where, trip = day.out_s, shift.crew, 0
    if shift.day in crew.days_off or (shift.day + 3) % 7 not in crew.weekdays:
        found.append(f"{name}: not a day of work")
    if day.out_s < crew.start_s:
        found.append(f"{name}: leaves before its shift")
    for stop in day.stops:
        job = problem.jobs[stop.visit]
        place = len(problem.crews) + stop.visit % len(problem.visits)
        if stop.trip != trip:
            clock += int(problem.drive_s[where, shift.crew]) + problem.rules.reload_s
            where, trip = shift.crew, stop.trip
        if stop.arrive_s < clock + int(problem.drive_s[where, place]):
            found.append(f"{name}: cannot be at {job.id} so early")
        found += _stop(job, stop, crew, shift.day, name)
        clock, where = stop.depart_s, place
    if day.back_s < clock + int(problem.drive_s[where, shift.crew]):
        found.append(f"{name}: cannot be back so early")
    if day.back_s > crew.end_s + crew.overtime_s:
        found.append(f"{name}: too long a day")
    return found + _lunch(plan, day, name) + _truck(plan, day, name)


def _stop(job: Visit, stop: Stop, crew: Crew, day: int, name: str) -> list[str]:
    found = []
    if stop.start_s < stop.arrive_s or stop.depart_s < stop.start_s + job.service_s:
        found.append(f"{name}: too little time at {job.id}")
    hours = None if day in job.closed_days else job.open_s[(day + 3) % 7]
    if hours is None or stop.start_s < hours[0] or stop.depart_s > hours[1]:
        found.append(f"{name}: {job.id} is closed then")
    if job.no_load or (job.place is None and not job.matrix_id):
        found.append(f"{name}: nobody knows where {job.id} is or what it takes")
    if job.people > crew.people:
        found.append(f"{name}: too few people for {job.id}")
    if job.skills - crew.skills:
        found.append(f"{name}: nobody can do what {job.id} asks for")
    if (job.earliest_day or day) > day or (job.latest_day or day) < day:
        found.append(f"{name}: {job.id} is outside its dates")
    return found


def _lunch(plan: Plan, day: DayPlan, name: str) -> list[str]:
    rules = plan.problem.rules
    if not rules.lunch_s or day.back_s <= rules.lunch_to_s or day.out_s >= rules.lunch_to_s:
        return []
    if day.lunch_s is None:
        return [f"{name}: no lunch"]
    in_time = rules.lunch_from_s <= day.lunch_s <= rules.lunch_to_s
    span = day.back_s - day.out_s - day.drive_s - day.work_s - day.reloads * rules.reload_s
    return [] if in_time and span >= rules.lunch_s else [f"{name}: lunch at an impossible time"]


def _truck(plan: Plan, day: DayPlan, name: str) -> list[str]:
    crew, found = plan.problem.crews[plan.problem.shifts[day.shift].crew], []
    trips = sorted({stop.trip for stop in day.stops})
    if len(trips) - 1 > crew.reloads:
        found.append(f"{name}: returns to the depot too often")
    for trip in trips:
        jobs = [plan.problem.jobs[stop.visit] for stop in day.stops if stop.trip == trip]
        for done in range(len(jobs) + 1):
            mass = sum(j.kg_spent for j in jobs[:done]) + sum(j.kg_new for j in jobs[done:])
            room = sum(j.m3_spent for j in jobs[:done]) + sum(j.m3_new for j in jobs[done:])
            if mass > crew.payload_kg + _TINY or room > crew.volume_m3 + _TINY:
                found.append(f"{name}: truck overloaded after {done} stops")
    return found
