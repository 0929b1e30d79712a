"""What is kept is what working it out again would give."""

from __future__ import annotations

import numpy as np
import pytest

from fleetaudit.hydraulics import bed, window
from fleetaudit.hydraulics.kept import Kept


class Doubling:
    """Twice a number, and the number itself; remembers how many it was asked for at a time."""

    def __init__(self, numbers: list[float]) -> None:
        self.numbers = np.array(numbers)
        self.asked: list[int] = []

    def __call__(self, places: np.ndarray) -> np.ndarray:
        self.asked.append(len(places))
        return np.stack([2 * self.numbers[places], self.numbers[places]], axis=1)


@pytest.mark.parametrize(
    ("most", "asked"),
    [
        (9, [[3], [1], []]),
        (4, [[3], [1], []]),
        (3, [[3], [3], []]),
        (2, [[3], [3], [1]]),
        (0, [[3], [3], [1]]),
    ],
)
def test_answers_are_worked_out_once_as_long_as_there_is_room(most: int, asked: list[list[int]]) -> None:
    """Numbers in 1 2 3, then 3 1 4, then 4: with room for all of them, for one lot of them, for none."""
    kept = Kept(most, 1, 2)
    for numbers, times in zip(([1.0, 2.0, 3.0], [3.0, 1.0, 4.0], [4.0]), asked, strict=True):
        work_out = Doubling(numbers)
        found = kept.of([work_out.numbers], work_out)
        np.testing.assert_array_equal(found, [[2 * number, number] for number in numbers])
        assert work_out.asked == times


def test_rows_that_differ_in_one_number_have_answers_of_their_own() -> None:
    kept, one = Kept(8, 2, 1), np.array([1.0, 1.0, np.nan])
    other = np.array([5.0, 6.0, 5.0])
    for _ in range(2):
        found = kept.of([one, other], lambda places: (np.nan_to_num(one) * 10 + other)[places, None])
        np.testing.assert_array_equal(found[:, 0], [15.0, 16.0, 5.0])


def test_many_are_kept_as_more_and_more_come() -> None:
    kept, asked, every = Kept(5000, 1, 2), 0, set()
    rng = np.random.default_rng(5)
    for _ in range(40):
        work_out = Doubling(rng.integers(0, 3000, 400).tolist())
        found = kept.of([work_out.numbers], work_out)
        np.testing.assert_array_equal(found, np.stack([2 * work_out.numbers, work_out.numbers], axis=1))
        asked += sum(work_out.asked)
        every |= set(work_out.numbers.tolist())
    assert asked == len(every) > 2900


def test_what_comes_to_a_slot_that_is_taken_leaves_it_to_the_first() -> None:
    """Of 200 pairs some share one of the few slots that room for two has."""
    for number in range(200):
        kept, one, other = Kept(2, 1, 2), Doubling([float(number)]), Doubling([number + 0.5])
        for work_out in (one, other, one, other):
            kept.of([work_out.numbers], work_out)
        assert one.asked == other.asked == [1]


def test_places_hold_their_answers_when_others_come_and_when_all_begins_anew() -> None:
    kept, first = Kept(6, 1, 2), Doubling([1.0, 2.0, 2.0])
    answers, place = kept.places([first.numbers], first)
    for numbers in ([3.0, 4.0], [5.0, 6.0, 7.0], [8.0, 9.0, 10.0, 11.0, 12.0, 13.0, 14.0]):
        other = Doubling(numbers)
        kept.of([other.numbers], other)
        np.testing.assert_array_equal(answers[place], [[2.0, 1.0], [4.0, 2.0], [4.0, 2.0]])


def test_what_is_given_out_is_a_copy() -> None:
    kept, numbers = Kept(4, 1, 1), np.array([1.0])
    kept.of([numbers], lambda places: np.full((len(places), 1), 7.0))[:] = 0.0
    assert kept.of([numbers], lambda places: np.full((len(places), 1), 8.0))[0, 0] == 7.0


def test_ceilings_of_one_layer_are_kept_and_those_of_two_are_not_mixed_up_with_them(monkeypatch) -> None:
    """A carbon bed, and the same over sand; room, temperature, depth and five figures of the grain."""
    carbon, sand = (0.65e-3, 1.6, 1430, 0.75, 0.48), (0.45e-3, 1.5, 2650, 0.8, 0.42)
    kept, calls = Kept(8, 8, 1), []
    solve = bed.velocity_filling_room
    monkeypatch.setattr(bed, "velocity_filling_room", lambda *args: calls.append(args) or solve(*args))
    for figures, depth in (([carbon], [[0.7]]), ([carbon, sand], [[0.5, 0.2]])):
        grain = window.Grain(*(np.array([row]) for row in zip(*figures, strict=True)))
        ask = (grain, depth, [0.35], [278.15])
        alone = window.freeboard_ceiling(*ask, round_end=True)
        again = [window.freeboard_ceiling(*ask, round_end=True, kept=kept) for _ in range(2)]
        np.testing.assert_array_equal(again, [alone, alone])
    assert len(calls) == 2 + 3, "one layer alone and once for both times, two layers each time"
