"""Pieces of work done in several processes of this machine, with the answers in order."""

from __future__ import annotations

import os
import pickle
import signal
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from typing import BinaryIO, TypeVar

from fleetaudit.aside import can_fork
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
            ends[first] = _start(work, range(first, pieces, workers), [*ends.values()], stack)
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


def _start(work: Callable[[int], Answer], mine: range, others: list[BinaryIO], stack: ExitStack) -> BinaryIO:
    """Start a worker on pieces of its own; the end from which its answers are read.

    It lets go of the ends of the others, which would else wait for ever for readers that are gone.
    """
    end, entry = os.pipe()
    child = os.fork()
    if not child:
        for other in (end, *(one.fileno() for one in others)):
            os.close(other)
        _serve(work, mine, entry)
    os.close(entry)
    stack.callback(os.waitpid, child, 0)
    stack.callback(os.kill, child, signal.SIGKILL)
    return stack.enter_context(os.fdopen(end, "rb"))


def _serve(work: Callable[[int], Answer], mine: range, entry: int) -> None:
    """In the worker: hand over the answers, and end without anything of the parent's being run."""
    try:
        hold_on()
        with seldom_searched(), os.fdopen(entry, "wb") as given:
            for piece in mine:
                given.write(pickle.dumps(work(piece)))
                given.flush()
    finally:
        os._exit(0)
