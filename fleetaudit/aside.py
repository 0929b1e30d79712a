"""A piece of work done beside the rest, in a process of its own where the system can do that safely."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Callable
from types import TracebackType
from typing import Self

_DONE = b"\x01"


class Aside:
    """Work begun now and asked for later; what it gives is the same wherever it was done.

    A child made by fork shares what has been read, so nothing is handed over but the answer. Where there is
    no fork, only one processor, or a thread other than the first asks, the work is done when it is asked
    for. It is also done anew, in this process, when the child failed: so its error is raised here.
    """

    def __init__(self, work: Callable[[], bytes]) -> None:
        self._work = work
        self._child = 0
        self._end = -1

    def __enter__(self) -> Self:
        if not can_fork():
            return self
        self._end, entry = os.pipe()
        self._child = os.fork()
        if self._child:
            os.close(entry)
        else:
            os.close(self._end)  # else the child would wait for ever for a parent that is gone
            _serve(self._work, entry)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, value: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._child:
            import signal  # noqa: PLC0415 - few children are given up

            os.kill(self._child, signal.SIGKILL)
            self._reap()

    def answer(self) -> bytes:
        """Wait for what the work gives."""
        if not self._child:
            return self._work()
        with os.fdopen(os.dup(self._end), "rb") as answers:
            said = answers.read()
        self._reap()
        return said[:-1] if said.endswith(_DONE) else self._work()

    def _reap(self) -> None:
        os.close(self._end)
        os.waitpid(self._child, 0)
        self._child = 0


def can_fork() -> bool:
    """Whether a child can be forked safely, and has a processor to run on."""
    return (
        sys.platform == "linux"
        and threading.current_thread() is threading.main_thread()
        and len(os.sched_getaffinity(0)) > 1
    )


def _serve(work: Callable[[], bytes], entry: int) -> None:
    """In the child: do the work, hand it over, and end without anything of the parent's being run."""
    try:
        with os.fdopen(entry, "wb") as answers:
            answers.write(work())
            answers.write(_DONE)
    finally:
        os._exit(0)
