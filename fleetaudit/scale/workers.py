"""Pieces of work done in several processes of this machine, with the answers in order."""

from __future__ import annotations

import os
import pickle
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from functools import partial
from typing import BinaryIO, TypeVar

from fleetaudit.aside import Child, can_fork
from fleetaudit.memory import hold_on, seldom_searched

Answer = TypeVar("Answer")


def processors() -> int:
    """How many processes may work at once; 1 where they cannot share what was read before."""
    return len(os.sched_getaffinity(0)) if can_fork() else 1


def answers(work: Callable[[int], Answer], pieces: int, workers: int) -> Iterator[Answer]:
    """Answers to the pieces 0, 1, 2 and so on of some work, each worker taking its turn.

    Workers are forked: they share what has been read, keep what they work out for their later pieces, and
    hand over answers alone, a few of which wait to be asked for. What a worker failed at is done again, and
    raised, in this process; so is the rest of its pieces.
    """
    workers = min(workers, pieces)
    if workers <= 1 or not can_fork():
        yield from map(work, range(pieces))
        return
    with ExitStack() as stack:
        ends: dict[int, BinaryIO] = {}
        for first in range(workers):
            child = Child(partial(_hand_over, work, range(first, pieces, workers)), [*ends.values()])
            stack.callback(child.stop)
            ends[first] = child.said
        for piece in range(pieces):
            yield _answer(work, piece, ends, piece % workers)


def _answer(work: Callable[[int], Answer], piece: int, ends: dict[int, BinaryIO], worker: int) -> Answer:
    """What the worker of a piece hands over, or what the work gives here where that worker has failed."""
    if worker in ends:
        try:
            found: Answer = pickle.load(ends[worker])
        except (EOFError, pickle.UnpicklingError):
            del ends[worker]
        else:
            return found
    return work(piece)


def _hand_over(work: Callable[[int], Answer], mine: range, given: BinaryIO) -> None:
    """In a worker: hand over the answers to its pieces as they are ready."""
    hold_on()
    with seldom_searched():
        for piece in mine:
            given.write(pickle.dumps(work(piece)))
            given.flush()
