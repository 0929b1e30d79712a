"""The package of files knows nothing of fleets: with exceptions and texts it could be used alone."""

from __future__ import annotations

import ast
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from workbook_samples import plain_workbook

PACKAGE = Path(__file__).resolve().parents[2] / "fleetaudit" / "workbook"
MODULES = sorted(PACKAGE.glob("*.py"))
#: what the tool is about; the files it is written into are not
SUBJECT = re.compile(
    r"\b(filters?(?= media| bed)|backwash\w*|media|mediums?|vessels?|restrictors?|housings?|gpm|crews?)\b",
    re.I,
)


def imported(path: Path) -> set[str]:
    """Names of all modules that a module imports, wherever it does."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0
            names.add(node.module or "")
            names |= {f"{node.module}.{alias.name}" for alias in node.names}
    return names


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.stem)
def test_nothing_of_the_tool_but_exceptions_and_texts_is_imported(path: Path) -> None:
    ours = {name for name in imported(path) if name.split(".")[0] == "fleetaudit"}
    assert {name for name in ours if not re.match(r"fleetaudit\.(workbook|errors|language)\b", name)} == set()


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.stem)
def test_no_word_of_the_subject_occurs(path: Path) -> None:
    text = path.read_text("utf-8")
    text = text.replace('"/media/', "").replace("/media/", "")  # the folder of pictures in a package
    assert [found[0] for found in SUBJECT.finditer(text)] == []


ALONE = """
import sys
from pathlib import Path
from fleetaudit.workbook.book import open_workbook
from fleetaudit.workbook.splice import Column, annotate
source, target = Path(sys.argv[1]), Path(sys.argv[2])
values = open_workbook(source).read("Units").columns[0][3:]
annotate(source, target, sheet="Units", heading_row=3, rows=range(4, 16),
         columns=[Column("Check: seen", values)], own_prefix="Check: ")
print(open_workbook(target).read("Units").columns[6][3])
print(*sorted(name for name in sys.modules if name.startswith("fleetaudit.")))
"""


def test_it_works_with_nothing_else_of_the_tool_beside_it(tmp_path: Path) -> None:
    alone = tmp_path / "alone" / "fleetaudit"
    shutil.copytree(PACKAGE, alone / "workbook", ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("errors.py", "language.py"):
        shutil.copy(PACKAGE.parent / name, alone)
    (alone / "__init__.py").touch()
    source = plain_workbook(tmp_path / "list.xlsx")
    done = subprocess.run(
        [sys.executable, "-c", ALONE, str(source), str(tmp_path / "out.xlsx")],
        cwd=tmp_path / "alone", capture_output=True, text=True, check=False,
        env={**os.environ, "PYTHONPATH": str(tmp_path / "alone")},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    value, modules = done.stdout.splitlines()
    assert value == "U-101"
    assert all(re.match(r"fleetaudit\.(workbook|errors|language)\b", name) for name in modules.split())


def test_its_docstring_tells_what_where_and_how() -> None:
    text = ast.get_docstring(ast.parse((PACKAGE / "__init__.py").read_text("utf-8"))) or ""
    named = set(re.findall(r"`(\w+)`", text.partition("Where things are")[2]))
    assert named == {path.stem for path in MODULES} - {"__init__"}
    for heading in ("What is kept", "Reading", "Annotating", "Safety", "Limits worth knowing"):
        assert f"\n{heading}\n---" in text
