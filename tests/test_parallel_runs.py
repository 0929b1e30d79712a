"""Runs side by side in one folder: none of them harms another, and every result is whole."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from tests.bench.soak import workbook

ROOT = Path(__file__).resolve().parent.parent
AUDIT = ("-m", "fleetaudit", "audit")
#: made once, since a workbook holds the moment of its making
WORKBOOKS = [workbook(number) for number in range(3)]
SAME_DAY = ("--as-of", "2026-11-01")


def started(*words: object) -> subprocess.Popen[str]:
    command = [sys.executable, *AUDIT, *map(str, words), *SAME_DAY]
    return subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def ended(runs: list[subprocess.Popen[str]]) -> list[tuple[int, str]]:
    told = [run.communicate(timeout=300) for run in runs]
    return [(run.returncode, errors) for run, (_, errors) in zip(runs, told, strict=True)]


@pytest.fixture(scope="module")
def alone(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """Results of three workbooks audited one after the other, by name."""
    home = tmp_path_factory.mktemp("alone")
    for source in sources(home):
        assert ended([started(source)])[0][0] == 0
    return results(home)


def sources(home: Path) -> list[Path]:
    paths = [home / f"fleet {number}.xlsx" for number in range(3)]
    for content, path in zip(WORKBOOKS, paths, strict=True):
        path.write_bytes(content)
    return paths


def results(home: Path) -> dict[str, bytes]:
    """Everything in the folder but the workbooks that were given; nothing unfinished among it."""
    names = sorted(path.name for path in home.iterdir() if "audited" in path.name or path.suffix == ".html")
    assert len(names) + 3 == len(list(home.iterdir())), sorted(path.name for path in home.iterdir())
    return {name: (home / name).read_bytes() for name in names}


def test_different_workbooks_at_once(tmp_path: Path, alone: dict[str, bytes]) -> None:
    told = ended([started(source) for source in sources(tmp_path)])
    assert [code for code, _ in told] == [0, 0, 0], told
    assert results(tmp_path) == alone


def test_the_same_workbook_at_once_with_leave_to_replace(tmp_path: Path, alone: dict[str, bytes]) -> None:
    first, *_ = sources(tmp_path)
    told = ended([started(first, "--force") for _ in range(4)])
    assert [code for code, _ in told] == [0] * 4, told
    mine = {name: content for name, content in alone.items() if name.startswith("fleet 0.")}
    assert results(tmp_path) == mine


def test_the_same_workbook_at_once_without_leave(tmp_path: Path, alone: dict[str, bytes]) -> None:
    """Whoever comes second either says so in a sentence or wrote the very same bytes."""
    first, *_ = sources(tmp_path)
    told = ended([started(first) for _ in range(3)])
    assert 0 in [code for code, _ in told]
    for code, errors in told:
        assert code == 0 or (code == 2 and "exists already and was not replaced" in errors), errors
        assert "Traceback" not in errors
    mine = {name: content for name, content in alone.items() if name.startswith("fleet 0.")}
    assert results(tmp_path) == mine


def test_readers_of_a_folder_never_see_half_a_result(tmp_path: Path) -> None:
    """While runs replace a page again and again, it can be read whole at any time."""
    first, *_ = sources(tmp_path)
    assert ended([started(first)])[0][0] == 0
    page = tmp_path / "fleet 0.summary.html"
    runs = [started(first, "--force") for _ in range(3)]
    looked = 0
    while any(run.poll() is None for run in runs):
        content = page.read_bytes()
        assert content.startswith(b"<!doctype html>")
        assert content.rstrip().endswith(b"</html>")
        looked += 1
    assert [code for code, _ in ended(runs)] == [0] * 3
    assert looked > 0
