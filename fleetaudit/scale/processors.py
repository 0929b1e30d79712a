"""Files of a dataset on the processors of this computer: forked, so nothing but tasks and answers is sent."""

from __future__ import annotations

import multiprocessing
import os
import signal
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool

from fleetaudit.aside import can_fork
from fleetaudit.scale.engine import Work
from fleetaudit.scale.job import Answer, Job, Task

#: each process holds the rows of a block, and few disks feed more
MOST = 8

_given: tuple[Work, Job] | None = None


class Processors:
    """Runs tasks in as many processes as there are processors; where there is one, one after the other.

    When a process is lost, most likely for want of memory, what is left is done one after the other.
    """

    def __init__(self) -> None:
        self.workers = min(MOST, len(os.sched_getaffinity(0))) if can_fork() else 1

    def run(self, work: Work, tasks: Sequence[Task], job: Job) -> Iterator[Answer]:
        """Answers to the tasks."""
        done = 0
        if min(self.workers, len(tasks)) > 1:
            for answer in self._beside(work, tasks, job):
                done += 1
                yield answer
        for task in tasks[done:]:
            yield work(task, job)

    def _beside(self, work: Work, tasks: Sequence[Task], job: Job) -> Iterator[Answer]:
        others = multiprocessing.active_children()
        pool = ProcessPoolExecutor(
            min(self.workers, len(tasks)), multiprocessing.get_context("fork"), _begin, (work, job)
        )
        try:
            yield from pool.map(_do, tasks)
        except BrokenProcessPool:
            return
        except BaseException:  # nobody waits for the other answers any more
            for child in multiprocessing.active_children():
                if child not in others:
                    child.kill()
            raise
        finally:
            pool.shutdown(cancel_futures=True)


def _begin(work: Work, job: Job) -> None:
    """In a new process: note what is to be done; who stops the run stops it from the first process."""
    global _given  # noqa: PLW0603 - the pool hands what is the same for all tasks to each process so
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _given = work, job


def _do(task: Task) -> Answer:
    assert _given is not None
    work, job = _given
    return work(task, job)
