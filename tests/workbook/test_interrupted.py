"""A run that is killed, out of room or refused leaves the input whole and each result absent or complete."""

from __future__ import annotations

import errno
import hashlib
import os
import random
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest
from workbook_samples import rich_workbook

from fleetaudit.cli.main import main
from fleetaudit.workbook import atomic

ROOT = Path(__file__).resolve().parents[2]
DAY = "2026-11-01"
POINTS, SEED = 200, 20_261_125
RESULTS = ("fleet.audited.xlsx", "fleet.summary.html")

#: Loads everything once, then audits in children of its own that it kills after so many seconds.
KILLER = """
import os, signal, sys, time
from datetime import date
from pathlib import Path
from fleetaudit.audit_file import Request, audit_file
from fleetaudit.workbook import atomic

folder, points = Path(sys.argv[1]), [tuple(map(float, pair.split(":"))) for pair in sys.argv[2:]]
request = Request(folder / "fleet.xlsx", date(2026, 11, 1), force=True)
audit_file(request)


def in_a_child():
    back, told = os.pipe()
    begun = time.perf_counter()
    if os.fork() == 0:
        writing, opened = [], atomic._open_beside
        atomic._open_beside = lambda target: (writing.append(time.perf_counter()), opened(target))[1]
        audit_file(request)
        os.write(told, f"{time.perf_counter() - begun} {writing[0] - begun}".encode())
        os._exit(0)
    os.wait()
    return tuple(map(float, os.read(back, 100).split()))


whole, first = sorted(in_a_child() for _ in range(5))[2]  # the middle one
for path in folder.iterdir():
    if path.name != "fleet.xlsx":
        path.unlink()
pace = 1.0  # the machine may be busier now, or less busy, than when the middle run was timed
for kind, share in points:
    child = os.fork()
    if child == 0:
        audit_file(request)
        os._exit(0)
    start = 0.0 if kind == 0 else first
    time.sleep(pace * (start + share * (whole * 1.1 - start)))
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    pace *= 1.02 if os.WIFSIGNALED(status) else 0.9
    names = ",".join(sorted(path.name for path in folder.iterdir()))
    print(int(os.WIFSIGNALED(status)), names, flush=True)
    sys.stdin.readline()
"""


def digests(folder: Path) -> dict[str, str]:
    """Sum of every file that is not hidden."""
    return {
        path.name: hashlib.sha256(path.read_bytes()).hexdigest()
        for path in folder.iterdir()
        if not path.name.startswith(".")
    }


def fleet(folder: Path) -> Path:
    return rich_workbook(folder / "fleet.xlsx")


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "fork"), reason="kills by the signal of this kind of system")
def test_killed_at_any_moment(tmp_path: Path) -> None:
    """Half of the moments lie anywhere in the run, half in the short time in which it writes."""
    rng = random.Random(SEED)
    folder = tmp_path / "job"
    folder.mkdir()
    source = fleet(folder)
    with pytest.raises(SystemExit):
        main(["audit", str(source), "--as-of", DAY])
    whole = digests(folder)
    assert whole.keys() == {source.name, *RESULTS}
    points = [f"{number % 2}:{rng.random():.6f}" for number in range(POINTS)]
    killed = unfinished = absent = 0
    with subprocess.Popen(
        [sys.executable, "-c", KILLER, str(folder), *points], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        text=True, env={**os.environ, "PYTHONPATH": str(ROOT)},
    ) as child:  # fmt: skip
        assert child.stdin is not None and child.stdout is not None
        for _ in points:
            signalled, names = child.stdout.readline().split()
            killed += int(signalled)
            found = digests(folder)
            assert found.items() <= whole.items(), names
            assert source.name in found
            absent += len(found) < len(whole)
            unfinished += ".part" in names
            for name in RESULTS:
                (folder / name).unlink(missing_ok=True)
            child.stdin.write("\n")
            child.stdin.flush()
        child.stdin.close()
    assert child.returncode == 0
    print(f"{POINTS} points: {killed} killed before the end, {absent} with a result absent, "
          f"{unfinished} while a result was being written")  # fmt: skip
    assert killed > POINTS / 2 and absent > POINTS / 4 and unfinished > 0
    with pytest.raises(SystemExit) as left:
        main(["audit", str(source), "--as-of", DAY])
    assert left.value.code == 0 and digests(folder) == whole
    assert not [path.name for path in folder.iterdir() if path.name.startswith(".")]


class FullDisk:
    """A file that takes so many bytes and then finds the disk full."""

    left = 0

    def __init__(self, file: object) -> None:
        self._file = file

    def __getattr__(self, name: str) -> object:
        return getattr(self._file, name)

    def __enter__(self) -> FullDisk:
        return self

    def __exit__(self, *_: object) -> None:
        self._file.close()  # type: ignore[attr-defined]  # a binary file

    def writelines(self, pieces: list[bytes]) -> None:
        for piece in pieces:
            if len(piece) > FullDisk.left:
                self._file.write(piece[: FullDisk.left])  # type: ignore[attr-defined]  # a binary file
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            FullDisk.left -= len(piece)
            self._file.write(piece)  # type: ignore[attr-defined]  # a binary file


@pytest.mark.parametrize("share", [0.0, 0.01, 0.2, 0.4, 0.6, 0.8, 0.99])
def test_disk_full_after_any_share_of_the_results(
    share: float, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    source = fleet(tmp_path)
    with pytest.raises(SystemExit):
        main(["audit", str(source), "--as-of", "2026-10-01"])
    old = digests(tmp_path)
    size = sum((tmp_path / name).stat().st_size for name in RESULTS)
    real = os.fdopen
    FullDisk.left = int(size * share)
    monkeypatch.setattr(atomic.os, "fdopen", lambda handle, mode: FullDisk(real(handle, mode)))
    capsys.readouterr()
    with pytest.raises(SystemExit) as left:
        main(["audit", str(source), "--as-of", DAY, "--force"])
    said = capsys.readouterr()
    assert left.value.code == 2 and "the disk is full" in said.err and "Traceback" not in said.err
    new = digests(tmp_path)
    assert new.keys() == old.keys() and new[source.name] == old[source.name]
    changed = [name for name in RESULTS if new[name] != old[name]]
    assert changed in ([], [RESULTS[0]])
    assert not changed or RESULTS[0] in said.err  # which file is there already is said
    assert not [path.name for path in tmp_path.iterdir() if path.name.startswith(".")]


LIMITED = """
import resource, signal, sys
from fleetaudit.cli.main import main
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[1]), int(sys.argv[1])))
main(sys.argv[2:])
"""


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="limits files by the kernel's own rule")
def test_a_file_that_the_system_stops_from_growing(tmp_path: Path) -> None:
    """The system itself refuses to go on writing, at the end of the first result or in the second."""
    source = fleet(tmp_path)
    for room in (1_000, 20_000, 60_000):
        done = subprocess.run(
            [sys.executable, "-c", LIMITED, str(room), "audit", source.name, "--as-of", DAY, "--force"],
            cwd=tmp_path, capture_output=True, text=True, check=False,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )  # fmt: skip
        assert done.returncode == 2 and "Cannot write" in done.stderr and "Traceback" not in done.stderr
        assert not [path.name for path in tmp_path.iterdir() if path.name.startswith(".")]


REFUSED = """
import os, sys
from datetime import date
from pathlib import Path
from fleetaudit.audit_file import Request, audit_file
from fleetaudit.cli.main import main
main_folder = Path(sys.argv[1])
audit_file(Request(main_folder / "warm" / "fleet.xlsx", date(2026, 11, 1), force=True))
(main_folder / "job").chmod(0o555)
if os.geteuid() == 0:  # an administrator may write anywhere
    os.setgroups([])
    os.setgid(65534)
    os.setuid(65534)
main(["audit", str(main_folder / "job" / "fleet.xlsx"), "--as-of", "2026-11-01"])
"""


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="permissions of this kind of system")
def test_a_folder_that_may_only_be_read() -> None:
    with tempfile.TemporaryDirectory() as name:  # the folders of the test run are closed to other users
        top = Path(name)
        top.chmod(0o755)
        for inner in ("job", "warm"):
            (top / inner).mkdir()
            fleet(top / inner).chmod(0o644)
        before = digests(top / "job")
        done = subprocess.run(
            [sys.executable, "-c", REFUSED, name], capture_output=True, text=True, check=False,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )  # fmt: skip
        (top / "job").chmod(0o755)
        assert done.returncode == 2, done.stderr
        assert "permission denied" in done.stderr and "-o" in done.stderr and "Traceback" not in done.stderr
        assert digests(top / "job") == before


def test_a_result_open_elsewhere_is_kept_under_another_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    source = fleet(tmp_path)
    (tmp_path / RESULTS[0]).write_bytes(b"old")
    real = os.replace

    def replace(start: os.PathLike[str], end: os.PathLike[str]) -> None:
        if Path(end).name == RESULTS[0]:
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
        real(start, end)

    monkeypatch.setattr(os, "replace", replace)
    with pytest.raises(SystemExit) as left:
        main(["audit", str(source), "--as-of", DAY, "--force"])
    said = capsys.readouterr().err
    assert left.value.code == 2 and "open in another program" in said and "fleet.audited.2.xlsx" in said
    assert (tmp_path / RESULTS[0]).read_bytes() == b"old"
    assert (tmp_path / "fleet.audited.2.xlsx").stat().st_size > 5_000


def test_unfinished_files_of_dead_processes_go_and_of_living_ones_stay(tmp_path: Path) -> None:
    code = "import os; print(os.getpid())"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    dead = done.stdout.strip()
    target = tmp_path / "a.bin"
    names = {
        "dead": f".a.bin.{atomic._host()}-{dead}-0.part",
        "alive": f".a.bin.{atomic._host()}-{os.getppid()}-0.part",
        "elsewhere": f".a.bin.ffffffffff-{dead}-0.part",
        "another": f".b.bin.{atomic._host()}-{dead}-0.part",
    }
    for name in names.values():
        (tmp_path / name).write_bytes(b"half")
    atomic.write_atomic(target, [b"whole"])
    left = {path.name for path in tmp_path.iterdir()}
    assert left == {"a.bin", names["alive"], names["elsewhere"], names["another"]}


def test_ctrl_c_while_writing_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    source = fleet(tmp_path)

    def interrupt(_handle: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", interrupt)
    with pytest.raises(SystemExit) as left:
        main(["audit", str(source), "--as-of", DAY])
    assert left.value.code == 2
    assert [path.name for path in tmp_path.iterdir()] == [source.name]
