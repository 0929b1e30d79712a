"""The line that says what the program is at: on a terminal only, after a moment only, and gone at the end."""

from __future__ import annotations

import io
import os
import pty
import subprocess
import sys
import time
from pathlib import Path

import pytest
from workbook_samples import plain_workbook

from fleetaudit.cli import progress

ROOT = Path(__file__).resolve().parents[2]
SLOWED = """
import sys, time
from fleetaudit.cli import progress
from fleetaudit import audit_file
progress.AFTER_SECONDS, progress.EVERY_SECONDS = 0.2, 0.1
real = audit_file.audited
def slow(*arguments):
    time.sleep(0.7)
    return real(*arguments)
audit_file.audited = slow
from fleetaudit.cli.main import main
main(sys.argv[1:])
"""


def said(source: Path, *, terminal: bool) -> bytes:
    """What a slowed audit writes to stderr."""
    command = [sys.executable, "-c", SLOWED, "audit", str(source), "--as-of", "2026-11-01", "--force"]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    if not terminal:
        return subprocess.run(command, capture_output=True, check=True, env=environment).stderr
    ours, theirs = pty.openpty()
    subprocess.run(command, stdout=subprocess.DEVNULL, stderr=theirs, check=True, env=environment)
    os.close(theirs)
    found = b""
    try:
        while piece := os.read(ours, 65536):
            found += piece
    except OSError:  # the other end is closed
        pass
    os.close(ours)
    return found


def test_a_terminal_is_told_the_stage_and_nothing_stays(tmp_path: Path) -> None:
    found = said(plain_workbook(tmp_path / "fleet.xlsx"), terminal=True)
    assert b"\rchecking every unit, " in found
    last = found.rindex(b"checking every unit")
    assert b"\r" + b" " * progress.WIDTH + b"\r" in found[last:]


def test_a_file_or_pipe_is_told_nothing(tmp_path: Path) -> None:
    assert b"checking every unit" not in said(plain_workbook(tmp_path / "fleet.xlsx"), terminal=False)


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_short_work_shows_nothing_even_on_a_terminal() -> None:
    stream = Terminal()
    with progress.Progress(stream) as shown:
        shown.stage("reading")
    assert stream.getvalue() == "" and progress.AFTER_SECONDS == 2.0


def test_a_line_never_wraps(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(progress, "AFTER_SECONDS", 0.01)
    monkeypatch.setattr(progress, "EVERY_SECONDS", 0.01)
    stream = Terminal()
    with progress.Progress(stream) as shown:
        shown.stage("a long name " * 20)
        time.sleep(0.1)
    lines = stream.getvalue().split("\r")
    assert len(lines) > 3 and all(len(line) <= progress.WIDTH for line in lines)
