"""How tasks are run: one after the other in this process here; other engines elsewhere look the same."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Protocol

from fleetaudit.scale.job import Answer, Job, Task
from fleetaudit.scale.workers import answers, processors

Work = Callable[[Task, Job], Answer]
#: each process holds the rows of a block, and few disks feed more
MOST = 8


class Engine(Protocol):
    """Runs a piece of work on every task; answers come in the order of the tasks."""

    def run(self, work: Work, tasks: Sequence[Task], job: Job) -> Iterator[Answer]:
        """Answers to the tasks in their order, as they become ready."""
        ...


class Plain:
    """One task after the other, in this process."""

    def run(self, work: Work, tasks: Sequence[Task], job: Job) -> Iterator[Answer]:
        """Answers to the tasks."""
        for task in tasks:
            yield work(task, job)


class Processors:
    """Tasks shared out among forked processes, as many as there are processors; done here where there is one.

    What is the same for all is inherited. Files of a lost process are done by this one.
    """

    def run(self, work: Work, tasks: Sequence[Task], job: Job) -> Iterator[Answer]:
        """Answers to the tasks."""
        return answers(lambda number: work(tasks[number], job), len(tasks), min(MOST, processors()))
