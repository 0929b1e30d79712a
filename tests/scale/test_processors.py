"""The same dataset on several processors: the same bytes whatever becomes of a process, and none left."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest

from fleetaudit.errors import InputError
from fleetaudit.scale import job as jobs
from fleetaudit.scale.engine import Plain, Processors, Work
from fleetaudit.scale.job import Answer, Job, Task
from fleetaudit.scale.run import Wish, audit_dataset
from fleetaudit.schema import dataset
from tests.forked import APART
from tests.scale.one_fleet import AS_OF, as_parquet, made

pytestmark = pytest.mark.usefixtures("no_child_is_left")

FILES, UNITS = 6, 300
ME = os.getpid()


@pytest.fixture(scope="module")
def units(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return as_parquet(tmp_path_factory.mktemp("data") / "units", made(UNITS), FILES)


@pytest.fixture(scope="module")
def plain(units: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """The results of one process."""
    home = tmp_path_factory.mktemp("plain")
    audit_dataset(Wish(units, AS_OF, folder=home), Plain())
    return _bytes(home)


def _bytes(home: Path) -> dict[str, bytes]:
    """All that was written, by name, hidden files too."""
    return {
        path.relative_to(home).as_posix(): path.read_bytes() for path in home.rglob("*") if path.is_file()
    }


class Watched(Processors):
    """Notes the processes that answered."""

    def __init__(self) -> None:
        self.pids: set[int] = set()

    def run(self, work: Work, tasks: Sequence[Task], job: Job) -> Iterator[Answer]:
        self.pids |= {
            answer.value for answer in super().run(_pid, tasks, job) if isinstance(answer.value, int)
        }
        return super().run(work, tasks, job)


def _pid(task: Task, job: Job) -> Answer:
    return Answer(os.getpid())


def test_the_same_bytes_from_processes_of_their_own(
    units: Path, plain: dict[str, bytes], tmp_path: Path
) -> None:
    engine = Watched()
    done = audit_dataset(Wish(units, AS_OF, folder=tmp_path), engine)
    assert done.totals.counts.units == UNITS
    assert _bytes(tmp_path) == plain
    assert (ME not in engine.pids) == APART


def _dies_once(task: Task, job: Job) -> Answer:
    if os.getpid() != ME and task.number == FILES // 2:
        os.kill(os.getpid(), signal.SIGKILL)
    return audited(task, job)


audited = jobs.audit_file


def test_what_a_lost_process_had_to_do_is_done_by_the_first(
    units: Path, plain: dict[str, bytes], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(jobs, "audit_file", _dies_once)
    audit_dataset(Wish(units, AS_OF, folder=tmp_path), Processors())
    assert _bytes(tmp_path) == plain


def test_a_file_that_cannot_be_read_ends_the_run_with_its_sentence(tmp_path: Path) -> None:
    folder = as_parquet(tmp_path / "units", made(60), 3)
    damaged = sorted(folder.glob("*.parquet"))[1]
    damaged.write_bytes(damaged.read_bytes()[:-8] + b"PAR1PAR1")
    with pytest.raises(InputError, match=r'^"part-001.parquet" cannot be read as'):
        audit_dataset(Wish(folder, AS_OF), Processors())


def test_a_run_that_is_stopped_leaves_nothing_unfinished(units: Path, tmp_path: Path) -> None:
    def stop(stage: str) -> None:
        if stage.startswith("checking every unit, 1 of"):
            raise KeyboardInterrupt

    wish = Wish(units, AS_OF, folder=tmp_path)
    with pytest.raises(KeyboardInterrupt):
        audit_dataset(wish, Processors(), stop)
    written = [path.name for path in (wish.home / dataset.FINDINGS).iterdir()]
    assert 1 <= len(written) <= FILES
    assert all(name.endswith(".parquet") and not name.startswith(".") for name in written)
