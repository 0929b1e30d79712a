"""A piece of work done beside the rest, in a process of its own where the system can do that safely."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Callable, Iterable
from types import TracebackType
from typing import BinaryIO, NoReturn, Self

_DONE = b"\x01"


class Child:
    """A forked process that writes what it has to say, and ends; `said` is where it is read.

    It shares what has been read before. Of the `others`, what earlier children say, it lets go: those would
    else wait for ever for a reader that is gone.
    """

    def __init__(self, write: Callable[[BinaryIO], None], others: Iterable[BinaryIO] = ()) -> None:
        end, entry = os.pipe()
        self.pid = os.fork()
        if not self.pid:
            for other in (end, *(one.fileno() for one in others)):
                os.close(other)
            _serve(write, entry)
        os.close(entry)
        self.said = os.fdopen(end, "rb")

    def wait(self) -> None:
        """Leave nothing behind of a child that has said everything."""
        self.said.close()
        os.waitpid(self.pid, 0)

    def stop(self) -> None:
        """The same of one that may still be at work."""
        import signal  # noqa: PLC0415 - few children are given up

        os.kill(self.pid, signal.SIGKILL)
        self.wait()


class Aside:
    """Work begun now and asked for later; what it gives is the same wherever it was done.

    A child made by fork shares what has been read, so nothing is handed over but the answer. Where there is
    no fork, only one processor, or a thread other than the first asks, the work is done when it is asked
    for. It is also done anew, in this process, when the child failed: so its error is raised here.
    """

    def __init__(self, work: Callable[[], bytes]) -> None:
        self._work = work
        self._child: Child | None = None

    def __enter__(self) -> Self:
        if can_fork():
            self._child = Child(self._hand_over)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, value: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._child is not None:
            self._child.stop()

    def _hand_over(self, given: BinaryIO) -> None:
        given.write(self._work())
        given.write(_DONE)

    def answer(self) -> bytes:
        """Wait for what the work gives."""
        child = self._child
        if child is None:
            return self._work()
        said = child.said.read()
        self._child = None
        child.wait()
        return said[:-1] if said.endswith(_DONE) else self._work()


def can_fork() -> bool:
    """Whether a child can be forked safely, and has a processor to run on."""
    return (
        sys.platform == "linux"
        and threading.current_thread() is threading.main_thread()
        and len(os.sched_getaffinity(0)) > 1
    )


def _serve(write: Callable[[BinaryIO], None], entry: int) -> NoReturn:
    """In the child: say everything, and end without anything of the parent's being run."""
    try:
        with os.fdopen(entry, "wb") as given:
            write(given)
    finally:
        os._exit(0)
