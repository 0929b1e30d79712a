"""How tasks are run: one after the other in this process here; other engines elsewhere look the same."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Protocol

from fleetaudit.scale.job import Answer, Job, Task

Work = Callable[[Task, Job], Answer]


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
