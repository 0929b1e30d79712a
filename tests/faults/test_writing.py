"""Results that cannot be written: input and older results stay whole, and one sentence says what to do."""

from __future__ import annotations

import errno
import io
import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from fleetaudit.cli.main import main

from .fault import fleet

OUTPUTS = ("fleet.audited.xlsx", "fleet.summary.html", "results.json")
DAY = "2026-11-01"
REPLACE, OPEN = os.replace, os.open

Run = Callable[..., tuple[int, str]]


@pytest.fixture
def job(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a sound fleet and older results."""
    fleet()(tmp_path)
    for name in OUTPUTS:
        (tmp_path / name).write_text(f"older {name}")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def run(job: Path, capsys: pytest.CaptureFixture[str]) -> Run:
    """Audit with everything on; gives the exit code and what was said."""

    def call(*options: str) -> tuple[int, str]:
        before = (job / "fleet.xlsx").read_bytes()
        with pytest.raises(SystemExit) as left:
            main(["audit", "fleet.xlsx", "--as-of", DAY, "--json", "results.json", "--force", *options])
        out, err = capsys.readouterr()
        assert (job / "fleet.xlsx").read_bytes() == before
        assert "Traceback" not in err and "unexpected" not in err
        assert not [path for path in job.iterdir() if path.name.endswith(".part")]
        assert out == "" or left.value.code == 0
        return int(left.value.code or 0), err

    return call


def failing(name: str, error: OSError, call: Callable[..., Any]) -> Callable[..., Any]:
    """A system call that fails where a path belongs to the result of this name."""

    def instead(path: Any, *arguments: Any, **options: Any) -> Any:
        touched = [path, *arguments[:1]] if call is REPLACE else [path]
        names = [Path(str(one)).name for one in touched]
        if any(one == name or (one.startswith(f".{name}.") and one.endswith(".part")) for one in names):
            raise error
        return call(path, *arguments, **options)

    return instead


def _older(job: Path, failed: str) -> None:
    """Results before the failed one are new and whole; it and those after it are the older ones."""
    place = OUTPUTS.index(failed)
    for name in OUTPUTS[place:]:
        assert (job / name).read_text() == f"older {name}"
    for name in OUTPUTS[:place]:
        assert not (job / name).read_bytes().startswith(b"older")


@pytest.mark.parametrize("name", OUTPUTS)
def test_a_result_that_is_open_elsewhere_is_kept_under_another_name(
    name: str, job: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "replace", failing_once(name))
    code, said = run()
    stem, _, suffix = name.rpartition(".")
    other = f"{stem}.2.{suffix}"
    assert code == 2
    assert f"Cannot write {name}: it is open in another program" in said and other in said
    _older(job, name)
    assert (job / other).stat().st_size > 100
    if suffix == "xlsx":
        assert "Audit problems" in openpyxl.load_workbook(job / other).sheetnames


def failing_once(name: str) -> Callable[..., None]:
    """A rename that another program's lock forbids for one target only."""

    def instead(source: Any, target: Any) -> None:
        if Path(target).name == name:
            raise PermissionError(errno.EACCES, "Permission denied", str(target))
        REPLACE(source, target)

    return instead


@pytest.mark.parametrize("name", OUTPUTS)
@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.ENOSPC, ("the disk is full", "free some space")),
        (errno.EACCES, ("permission denied", "-o")),
        (errno.EROFS, ("-o",)),
        (errno.EIO, ("-o",)),
    ],
)
def test_a_folder_that_takes_no_file(
    name: str, number: int, words: tuple[str, ...], job: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "open", failing(name, OSError(number, os.strerror(number)), OPEN))
    code, said = run()
    assert code == 2 and f"Cannot write {name}" in said
    assert all(word in said for word in words), said
    _older(job, name)
    if name != OUTPUTS[0]:
        assert "Written before that: fleet.audited.xlsx" in said


@pytest.mark.parametrize("name", OUTPUTS)
@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="asks the kernel which file is written")
def test_a_disk_that_fills_up_in_the_middle_of_a_result(
    name: str, job: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    plain = os.fdopen

    class Full(io.FileIO):
        """Takes a thousand bytes and no more."""

        taken = 0

        def write(self, data: Any) -> int:
            if self.taken + len(data) > 1000:
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            self.taken += len(data)
            return super().write(data)

        def writelines(self, lines: Any) -> None:
            for line in lines:
                self.write(line)

    def fdopen(handle: int, *arguments: Any, **options: Any) -> Any:
        wanted = Path(f"/proc/self/fd/{handle}").resolve().name.startswith(f".{name}.")
        return Full(handle, "wb") if wanted else plain(handle, *arguments, **options)

    monkeypatch.setattr(os, "fdopen", fdopen)
    code, said = run()
    assert code == 2 and f"Cannot write {name}: the disk is full" in said
    _older(job, name)


def test_all_that_stops_a_run_is_listed_at_once(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    headings = [
        "Unit ID",
        "Notes",
        "Colour",
        "Shape",
        "Restrictor",
        "Restrictor",
        "Mesh",
        "Media date",
        "City",
    ]
    fleet(headings=headings)(job)
    with pytest.raises(SystemExit) as left:
        main(["audit", "fleet.xlsx", "--force", "--map", "Nowhere=account"])
    said = capsys.readouterr().err.splitlines()
    assert left.value.code == 2
    for words in (
        ("no column for the vessel",),
        ("no column for the medium",),
        ('"Restrictor" (E1)', '"Restrictor" (F1)'),
        ('"Nowhere"', "to map"),
    ):
        assert sum(all(word in line for word in words) for line in said) == 1, said
    assert len(said) == 4


def test_all_mistakes_of_the_companys_own_sheets_are_listed_at_once(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    settings = [
        ("Setting", "Value"),
        ("restrictor_tolerance", "lots"),
        ("no_such_thing", 1),
        ("default_water", "lake"),
    ]
    media = [("Medium", "Least wash rate (gpm/ft2)"), ("activated carbon", "fast")]
    fleet(others={"Settings": settings, "Media": media})(job)
    with pytest.raises(SystemExit) as left:
        main(["audit", "fleet.xlsx", "--force"])
    said = capsys.readouterr().err
    assert left.value.code == 2
    for word in ('"lots"', '"no_such_thing"', '"lake"', '"fast"'):
        assert word in said, said
    assert len(said.splitlines()) == 4
