"""Tasks on Dask: a cluster of workers on this machine, or one that exists already."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from types import TracebackType
from typing import Any, Self

import distributed
from distributed import Client, LocalCluster

from fleetaudit.errors import InputError
from fleetaudit.language import say
from fleetaudit.scale import job as jobs
from fleetaudit.scale.engine import Work
from fleetaudit.scale.job import Answer, Job, Task
from fleetaudit.schema.version import VERSION

#: how long a cluster is waited for
PATIENCE_S = 30


def _handed_over(job: Job) -> Job:
    """What is the same for all tasks, where they run."""
    return job


class Dask:
    """Runs tasks on the workers of a cluster; what a lost worker had to do is done again by another."""

    def __init__(self, scheduler: str | None = None, workers: int | None = None) -> None:
        self.scheduler, self.workers = scheduler, workers
        self._open = ExitStack()
        self.client: Any = None

    def __enter__(self) -> Self:
        try:
            address = self.scheduler or self._open.enter_context(self._local())
            self.client = self._open.enter_context(
                Client(address, timeout=PATIENCE_S, set_as_default=False)  # type: ignore[no-untyped-call]  # no types
            )
        except (OSError, TimeoutError, ValueError) as trouble:
            self._open.close()
            raise InputError(
                say(
                    "There is no answer from a Dask scheduler at {address}. Give its address as it prints "
                    "it, such as tcp://10.0.0.5:8786.",
                    address=self.scheduler,
                )
            ) from trouble
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._open.close()

    def _local(self) -> Any:
        """Workers of one thread each on this machine, reached by nobody else."""
        return LocalCluster(  # type: ignore[no-untyped-call]  # the library has no types
            n_workers=self.workers, threads_per_worker=1, host="127.0.0.1", dashboard_address=None
        )

    def run(self, work: Work, tasks: Sequence[Task], job: Job) -> Iterator[Answer]:
        """Answers to the tasks; what is the same for all is sent to the workers once."""
        self._same_version()
        # a task of its own, not data scattered: should the worker that holds it be lost, it is made again
        shared = self.client.submit(_handed_over, job, pure=False)
        futures = [self.client.submit(work, task, shared, pure=False) for task in tasks]
        for future in futures:
            try:
                answer: Answer = future.result()
            except distributed.KilledWorker as trouble:
                raise InputError(
                    say(
                        "A part of the dataset was lost with every worker that took it, most likely for "
                        "want of memory. Give the workers more, or write the dataset in smaller files."
                    )
                ) from trouble
            future.release()
            yield answer

    def _same_version(self) -> None:
        """Raise where a worker has another version of this tool, or none."""
        try:
            told = self.client.run(jobs.version, None, None)
        except ModuleNotFoundError as trouble:
            raise InputError(
                say(
                    "A worker has no fleetaudit. Install {package} on all of them.",
                    package=f"fleetaudit[scale]=={VERSION}",
                )
            ) from trouble
        other = {worker: version for worker, version in told.items() if version != VERSION}
        if other:
            worker, version = next(iter(other.items()))
            raise InputError(
                say(
                    "The worker at {worker} has fleetaudit {version}, and this is {own}. Install the same "
                    "version on all of them.",
                    worker=worker,
                    version=version,
                    own=VERSION,
                )
            )
