"""The clock of a day against days worked out by hand on paper; legs are set to round figures."""

from __future__ import annotations

import numpy as np
import pytest
from invented_routes import MONDAY, crew, problem, visit
from msgspec.structs import replace

from fleetaudit.routing.model import HOUR_S, Problem
from fleetaudit.routing.simulate import BULKY, CLOSED, HEAVY, LATE, OVER, simulate

MIN = 60


def even(visits, crews=(), leg_min=30, km=20.0, **changes) -> Problem:
    """A problem in which every leg takes the same time and way."""
    made = problem(visits, crews, **changes)
    size = len(made.drive_s)
    off = 1 - np.eye(size)
    return replace(made, drive_s=off * leg_min * MIN, road_m=off * km * 1000)


def hm(seconds):
    return f"{seconds // HOUR_S}:{seconds % HOUR_S // MIN:02d}"


def test_one_stop_by_hand():
    # leaves at 7:30 so as to arrive when the site opens at 8:00; works an hour; back 9:30
    day = simulate(even([visit(1)]), 0, (0,))
    assert [hm(t) for t in (day.out_s, day.stops[0].arrive_s, day.stops[0].depart_s, day.back_s)] == [
        "7:30", "8:00", "9:00", "9:30",
    ]  # fmt: skip
    # 40 km at 0.6 and one hour on the road at 45; time at the site is not charged
    assert day.cost == pytest.approx(40 * 0.6 + 45)
    assert day.faults == ()
    assert day.lunch_s is None


@pytest.mark.parametrize(
    ("service_min", "lunch", "back"),
    [
        (149, None, "10:59"),  # out 7:30, work 8:00 to 10:29, home before lunch begins
        (330, None, "14:00"),  # work to 13:30, home at the last moment for lunch: had at home
        (
            331,
            "13:31",
            "14:31",
        ),  # a minute longer: lunch has to be had, after the job and before the way home
        (361, "11:00", "15:01"),  # the job would run past the last start of lunch: it is had inside the job
    ],
)
def test_lunch_at_its_edges(service_min, lunch, back):
    day = simulate(even([visit(1, service_s=service_min * MIN)]), 0, (0,))
    assert (None if day.lunch_s is None else hm(day.lunch_s)) == lunch
    assert hm(day.back_s) == back


def test_lunch_between_two_stops():
    # 8:00 to 11:10 at the first; lunch 11:10 to 11:40 before driving; second 12:10 to 14:00; home 14:30
    day = simulate(even([visit(1, service_s=190 * MIN), visit(2, service_s=110 * MIN)]), 0, (0, 1))
    assert hm(day.lunch_s) == "11:10"
    assert [hm(day.stops[1].arrive_s), hm(day.back_s)] == ["12:10", "14:30"]


def test_lunch_while_waiting_costs_nothing():
    late = visit(2, open_s=((13 * HOUR_S, 17 * HOUR_S),) * 7)
    # first stop 8:00 to 9:00, at the second 9:30, waits for 13:00: lunch at 11:00 lies in the wait
    day = simulate(even([visit(1), late]), 0, (0, 1))
    assert [hm(day.lunch_s), hm(day.stops[1].start_s)] == ["11:00", "13:00"]


def test_overtime_to_the_minute():
    # out 7:30, work 8:00 to 17:00 less lunch in the job: 8:30 h of work ends 17:00,
    # home 17:30 = 90 min over 16:00
    job = visit(1, service_s=510 * MIN, open_s=((8 * HOUR_S, 20 * HOUR_S),) * 7)
    just = simulate(even([job], [crew(overtime_s=90 * MIN)]), 0, (0,))
    short = simulate(even([job], [crew(overtime_s=89 * MIN)]), 0, (0,))
    assert (just.overtime_s, just.faults) == (90 * MIN, ())
    assert [(fault.kind, fault.amount) for fault in short.faults] == [(OVER, MIN)]
    assert just.cost == pytest.approx(40 * 0.6 + 45 + 1.5 * 60)


def test_closed_and_late():
    noon = visit(1, service_s=250 * MIN, open_s=((8 * HOUR_S, 12 * HOUR_S),) * 7)
    assert [(f.kind, f.amount) for f in simulate(even([noon]), 0, (0,)).faults] == [(LATE, 10 * MIN)]
    shut = visit(1, closed_days=frozenset({MONDAY}))
    assert simulate(even([shut]), 0, (0,)).faults[0].kind == CLOSED


def test_wet_load_is_heaviest_on_the_way_home():
    # 400 kg out, 520 kg back: a truck for 500 is too small although it leaves with less
    job = visit(1, kg_new=400.0, kg_spent=520.0)
    fault = simulate(even([job], [crew(payload_kg=500.0)]), 0, (0,)).faults[0]
    assert (fault.kind, fault.amount) == (HEAVY, 20.0)
    assert simulate(even([job], [crew(payload_kg=520.0)]), 0, (0,)).faults == ()


def test_a_second_load_at_the_depot():
    jobs = [visit(number, kg_new=400.0, kg_spent=520.0) for number in (1, 2)]
    day = simulate(even(jobs, [crew(payload_kg=600.0)]), 0, (0, 1))
    # 8:00 to 9:00, depot 9:30 to 10:00 for the reload, second 10:30 to 11:30, home by 12:00
    assert [stop.trip for stop in day.stops] == [0, 1]
    assert [hm(day.stops[1].arrive_s), hm(day.back_s), day.reloads] == ["10:30", "12:00", 1]
    never = simulate(even(jobs, [crew(payload_kg=600.0, reloads=0)]), 0, (0, 1))
    assert [fault.kind for fault in never.faults] == [HEAVY]
    # the fullest moment lies between the stops: 400 + 520
    assert never.faults[0].amount == pytest.approx(1040 - 600)


def test_room_counts_too():
    job = visit(1, m3_new=1.5)
    assert simulate(even([job], [crew(volume_m3=1.2)]), 0, (0,)).faults[0].kind == BULKY
