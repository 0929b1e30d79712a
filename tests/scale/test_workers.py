"""Pieces shared out among processes give what they give in one, and leave no process behind."""

from __future__ import annotations

import os
import signal
import threading
from datetime import date

import pytest

from fleetaudit.catalogue import shipped
from fleetaudit.scale import workers
from fleetaudit.scale.partitions import audit_parts, parts_of
from fleetaudit.scale.workers import answers, processors
from tests.forked import APART
from tests.frames import frame_of

pytestmark = pytest.mark.usefixtures("no_child_is_left")

HERE = os.getpid()
CATALOGUE = shipped.load()


def squared(piece: int) -> tuple[int, bytes]:
    return piece * piece, bytes(100_000)  # more than a pipe holds


@pytest.mark.parametrize("number", [1, 2, 3, 7, 20])
@pytest.mark.parametrize("pieces", [0, 1, 7])
def test_answers_come_in_order_whoever_works(pieces: int, number: int) -> None:
    assert list(answers(squared, pieces, number)) == [squared(piece) for piece in range(pieces)]


def test_each_worker_is_a_process_that_takes_its_turn() -> None:
    by = list(answers(lambda _: os.getpid(), 6, 2))
    assert by[::2] == [by[0]] * 3
    assert by[1::2] == [by[1]] * 3
    assert len({*by, HERE}) == (3 if APART else 1)


def test_a_worker_keeps_what_it_works_out() -> None:
    seen: list[int] = []

    def work(piece: int) -> list[int]:
        seen.append(piece)
        return list(seen)

    assert list(answers(work, 4, 2)) == (
        [[0], [1], [0, 2], [1, 3]] if APART else [[0], [0, 1], [0, 1, 2], [0, 1, 2, 3]]
    )


def test_what_a_lost_worker_had_to_do_is_done_here() -> None:
    def work(piece: int) -> int:
        if piece == 3 and os.getpid() != HERE:
            os.kill(os.getpid(), signal.SIGKILL)
        return piece

    assert list(answers(work, 8, 2)) == list(range(8))


def test_an_error_is_raised_where_the_answer_is_asked_for() -> None:
    def work(piece: int) -> int:
        return 1 // (piece - 2)

    found = answers(work, 4, 2)
    assert [next(found), next(found)] == [-1, -1]
    with pytest.raises(ZeroDivisionError):
        next(found)


def test_answers_that_nobody_waits_for_are_given_up() -> None:
    found = answers(squared, 50, 2)
    assert next(found)[0] == 0
    found.close()  # type: ignore[attr-defined]  # a generator


def test_no_worker_is_started_from_another_thread() -> None:
    by: list[int] = []
    thread = threading.Thread(target=lambda: by.extend(answers(lambda _: os.getpid(), 3, 2)))
    thread.start()
    thread.join()
    assert by == [HERE] * 3


def test_counts_are_the_same_however_many_work(monkeypatch: pytest.MonkeyPatch) -> None:
    rows = [
        {
            "unit_id": f"U-{number % 50}",
            "medium": ("filter-sand", "calcite-16x40", "multi-media")[number % 3],
            "vessel_diameter": ("10 in", "13 in")[number % 2],
            "restrictor": f"{number % 11 + 2} gpm",
            "crew": ("north", "south")[number % 5 // 4],
        }
        for number in range(70)
    ]
    parts = list(parts_of(frame_of(rows, CATALOGUE), 20))
    as_of = date(2026, 11, 1)
    alone = audit_parts(parts, CATALOGUE, as_of)
    assert alone.counts.by_check["duplicate-unit"] == 40
    assert audit_parts(parts, CATALOGUE, as_of, workers=3) == alone
    assert processors() >= 1
    monkeypatch.setattr(workers, "can_fork", lambda: False)
    assert processors() == 1
    assert audit_parts(parts, CATALOGUE, as_of, workers=3) == alone
