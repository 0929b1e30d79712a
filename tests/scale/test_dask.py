"""The same dataset on Dask: several workers, one of them killed on the way, the same bytes at the end."""

from __future__ import annotations

import os
import signal
import threading
import time
from pathlib import Path

import pytest

from fleetaudit.errors import InputError
from fleetaudit.scale.dask_engine import Dask
from fleetaudit.scale.engine import Plain
from fleetaudit.scale.run import Done, Wish, audit_dataset
from tests.scale.one_fleet import AS_OF, as_parquet, made

pytestmark = pytest.mark.slow

FILES = 16
UNITS = 4_000
PATIENCE_S = 120


@pytest.fixture(scope="module")
def units(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return as_parquet(tmp_path_factory.mktemp("data") / "units", made(UNITS), FILES)


@pytest.fixture(scope="module")
def plain(units: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """The results on this machine alone."""
    home = tmp_path_factory.mktemp("plain")
    return _bytes(audit_dataset(Wish(units, AS_OF, folder=home), Plain()), home)


def _bytes(done: Done, home: Path) -> dict[str, bytes]:
    """All that was written, by name."""
    files = {path.relative_to(home).as_posix(): path for path in home.rglob("*") if path.is_file()}
    assert len([name for name in files if "/findings/" in name]) == done.files
    return {name: path.read_bytes() for name, path in files.items()}


def test_several_workers_write_the_same_bytes(units: Path, plain: dict[str, bytes], tmp_path: Path) -> None:
    with Dask(workers=3) as engine:
        assert len(engine.client.run(os.getpid)) == 3
        done = audit_dataset(Wish(units, AS_OF, folder=tmp_path), engine)
    assert done.totals.counts.units == UNITS
    assert _bytes(done, tmp_path) == plain


def test_a_worker_that_is_killed_changes_nothing(
    units: Path, plain: dict[str, bytes], tmp_path: Path
) -> None:
    with Dask(workers=2) as engine:
        before = set(engine.client.run(os.getpid).values())
        wish = Wish(units, AS_OF, folder=tmp_path)
        killed: list[tuple[int, int]] = []
        killer = threading.Thread(target=_kill_one, args=(engine, wish.home / "findings", killed))
        killer.start()
        done = audit_dataset(wish, engine)
        killer.join()
        after = set(engine.client.run(os.getpid).values())
    ((victim, written),) = killed
    assert 0 < written < FILES  # in the middle of it
    assert victim in before
    assert victim not in after
    assert _bytes(done, tmp_path) == plain


def _kill_one(engine: Dask, findings: Path, killed: list[tuple[int, int]]) -> None:
    """Kill a worker that is at work, once the first results are there."""
    pids = engine.client.run(os.getpid)
    end = time.monotonic() + PATIENCE_S
    while time.monotonic() < end:
        written = len(list(findings.glob("[0-9]*.parquet")))
        busy = [worker for worker, tasks in engine.client.processing().items() if tasks]
        if written and busy:
            os.kill(pids[busy[0]], signal.SIGKILL)
            killed.append((pids[busy[0]], written))
            return
        time.sleep(0.01)


def test_a_scheduler_that_does_not_answer_is_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("fleetaudit.scale.dask_engine.PATIENCE_S", 1)
    with pytest.raises(InputError, match=r"no answer from a Dask scheduler at tcp://127\.0\.0\.1:9"):
        Dask("tcp://127.0.0.1:9").__enter__()


def test_trouble_in_a_worker_comes_back_as_its_sentence(tmp_path: Path) -> None:
    folder = as_parquet(tmp_path / "units", made(40), 2)
    damaged = folder / "part-001.parquet"
    content = damaged.read_bytes()
    damaged.write_bytes(content[:8] + b"\xff" * 600 + content[608:])  # data, not the description at the end
    with Dask(workers=1) as engine, pytest.raises(InputError, match=r'^"part-001.parquet" cannot be read as'):
        audit_dataset(Wish(folder, AS_OF), engine)


def test_a_cluster_that_exists_is_joined_by_its_address(
    units: Path, plain: dict[str, bytes], tmp_path: Path
) -> None:
    """The address of another cluster; its workers end with it, not with the audit."""
    with Dask(workers=2) as other:
        address = other.client.scheduler.address
        with Dask(address) as engine:
            done = audit_dataset(Wish(units, AS_OF, folder=tmp_path), engine)
        assert len(other.client.run(os.getpid)) == 2
    assert _bytes(done, tmp_path) == plain
