"""Reading and annotating bring nothing heavy along; how fast they are is for the benchmark to say."""

from __future__ import annotations

import subprocess
import sys


def test_importing_loads_nothing_heavy() -> None:
    code = (
        "import sys; import fleetaudit.workbook.splice, fleetaudit.workbook.book; "
        "print(*sorted({name.split('.')[0] for name in sys.modules}))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    heavy = {"numpy", "pandas", "openpyxl", "python_calamine", "lxml", "jinja2", "difflib", "tempfile"}
    assert not heavy & set(done.stdout.split())
