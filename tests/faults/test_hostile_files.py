"""Hostile files in a process of their own: two seconds, 300 MB, one sentence, nothing written elsewhere."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from .fault import STOP, Fault
from .hostile import FAULTS

SECONDS, MEGABYTES = 2.0, 300
#: real rows have to be read before they can be counted; a fleet of that size is refused late but surely
SLOWER = {"more rows than allowed": 12.0}
ROOT = Path(__file__).resolve().parents[2]
CHILD = """
import json, re, resource, sys
resource.setrlimit(resource.RLIMIT_AS, (4 << 30, 4 << 30))
resource.setrlimit(resource.RLIMIT_CPU, (30, 30))
from fleetaudit.cli.main import main
code = None
try:
    main(sys.argv[1:])
except SystemExit as left:
    code = left.code
used = resource.getrusage(resource.RUSAGE_SELF)
with open("/proc/self/status", encoding="ascii") as status:
    peak = int(re.search(r"VmHWM:\\s+(\\d+) kB", status.read())[1]) / 1024
print("\\n" + json.dumps({"code": code, "seconds": used.ru_utime + used.ru_stime, "megabytes": peak}))
"""

pytestmark = pytest.mark.skipif(
    not sys.platform.startswith("linux"), reason="measures by the kernel's own books"
)


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
def test_hostile_file(fault: Fault, tmp_path: Path) -> None:
    folder = tmp_path / "job"
    folder.mkdir()
    path = fault.build(folder)
    before = path.read_bytes()
    done = subprocess.run(
        [sys.executable, "-c", CHILD, "audit", path.name, "--as-of", "2026-11-01"],
        capture_output=True,
        text=True,
        cwd=folder,
        timeout=60,
        check=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    used = json.loads(done.stdout.splitlines()[-1])
    assert "Traceback" not in done.stderr and "unexpected" not in done.stderr, done.stderr
    assert used["code"] == fault.code, done.stderr
    assert used["seconds"] <= SLOWER.get(fault.name, SECONDS) and used["megabytes"] <= MEGABYTES, used
    assert path.read_bytes() == before
    assert [entry.name for entry in tmp_path.iterdir()] == ["job"]
    written = sorted(entry.name for entry in folder.iterdir())
    if fault.level == STOP:
        assert written == [path.name]
        assert any(all(word in line for word in fault.words) for line in done.stderr.splitlines()), (
            done.stderr
        )
    else:
        assert written == ["fleet.audited.xlsx", "fleet.summary.html", "fleet.xlsx"]
        assert max(map(len, (done.stdout + done.stderr).splitlines()[:-1])) <= 160
