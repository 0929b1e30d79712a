"""Invented problems for the tests and the benchmark.

Sites round depots in the open sea, no place that exists.
"""

from __future__ import annotations

import numpy as np

from fleetaudit.routing.distance import Roads, legs
from fleetaudit.routing.model import HOUR_S, Crew, Place, Problem, Riders, Rules, Shift, Task, Visit, weekday

ROADS = Roads(1.3, (30.0, 60.0, 85.0), (8.0, 40.0))
RULES = Rules(
    lunch_s=1800,
    lunch_from_s=11 * HOUR_S,
    lunch_to_s=14 * HOUR_S,
    reload_s=1800,
    value=(150.0, 250.0, 400.0, 800.0, 2000.0),
    lateness=(2.0, 5.0, 10.0, 30.0, 80.0),
    ageing=1.25,
    move_price=30.0,
    move_price_soon=100.0,
    soon_days=2,
)
#: 2026-11-30
MONDAY = 20787


def crew(name="Crew A", **changes) -> Crew:
    plain = {
        "name": name,
        "place": Place(-45.0, -20.0, "invented"),
        "weekdays": frozenset(range(5)),
        "start_s": 7 * HOUR_S,
        "end_s": 16 * HOUR_S,
        "payload_kg": 900.0,
        "volume_m3": 1.2,
        "people": 2,
        "overtime_s": 3600,
        "overtime_price": 60.0,
        "hour_price": 45.0,
        "km_price": 0.6,
        "reloads": 1,
    }
    return Crew(**{**plain, **changes})


def visit(number, north_km=0.0, east_km=0.0, **changes) -> Visit:
    """Visit so far from the depot; kilometres over the ground at 45 degrees south."""
    place = Place(-45.0 + north_km / 111.19, -20.0 + east_km / (111.19 * np.cos(np.radians(45))), "invented")
    plain = {
        "id": f"V-{number:03d}",
        "site": f"site {number}",
        "place": place,
        "service_s": 3600,
        "kg_new": 80.0,
        "m3_new": 0.1,
        "kg_spent": 104.0,
        "people": 1,
        "priority": 3,
        "due_day": MONDAY - 10,
        "open_s": ((8 * HOUR_S, 17 * HOUR_S),) * 7,
    }
    plain.update(changes)
    task = Task(
        number,
        f"U-{number}",
        plain["kg_new"],
        plain["m3_new"],
        plain["kg_spent"],
        plain["service_s"],
        plain["people"],
        plain["due_day"],
        plain["priority"],
        False,
        ("media due",),
    )
    return Visit(tasks=(task,), **plain)


def riders(number, minutes=30, kg=0.0, worth=25.0, people=1) -> Riders:
    """Work at one more unit that may ride along."""
    task = Task(
        1000 + number, f"R-{number}", kg, kg / 800, kg * 1.3, minutes * 60, people, None, 1, True, ("note",)
    )
    return Riders((task,), minutes * 60, kg, kg / 800, kg * 1.3, people, worth)


def problem(visits, crews=(), days=1, rules=RULES, first=MONDAY) -> Problem:
    crews = tuple(crews) or (crew(),)
    last = first + days - 1
    shifts = tuple(
        Shift(number, day)
        for day in range(first, last + 1)
        for number, one in enumerate(crews)
        if weekday(day) in one.weekdays and day not in one.days_off
    )
    found = legs([one.place for one in (*crews, *visits)], ROADS)
    return Problem(tuple(visits), crews, shifts, found.drive_s, found.road_m, rules, first, last)


def invented(sites: int, crews: int, working_days: int, seed: int) -> Problem:
    """Fleet of sites in clumps, with windows, loads, dates and priorities drawn by a fixed seed."""
    rng = np.random.default_rng(seed)
    clumps = rng.normal(0, 45, (max(3, sites // 15), 2))
    made = []
    for number in range(sites):
        north, east = clumps[rng.integers(len(clumps))] + rng.normal(0, 6, 2)
        litres = float(rng.choice([40, 60, 100, 150, 250]) * rng.integers(1, 3))
        opens = int(rng.choice([7, 8, 9])) * HOUR_S
        closes = int(rng.choice([12, 16, 17, 18], p=[0.1, 0.3, 0.4, 0.2])) * HOUR_S
        hours = tuple((opens, closes) if day < 5 and rng.random() > 0.07 else None for day in range(7))
        made.append(
            visit(
                number,
                north,
                east,
                service_s=int(rng.integers(45, 200)) * 60,
                kg_new=litres * 0.8,
                m3_new=litres / 1000,
                kg_spent=litres * 0.8 * 1.3,
                people=int(rng.choice([1, 2], p=[0.8, 0.2])),
                priority=int(rng.integers(1, 6)),
                due_day=MONDAY + int(rng.integers(-200, 20)),
                open_s=hours,
            )
        )
    teams = [crew(f"Crew {chr(65 + number)}", people=2 if number % 2 == 0 else 3) for number in range(crews)]
    return problem(made, teams, days=working_days // 5 * 7 if working_days >= 5 else working_days)
