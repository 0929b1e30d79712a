"""Every dependency is justified, bounded on both sides, and used where it is said to be."""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parent.parent
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
EXTRAS = {name: several for name, several in PROJECT["optional-dependencies"].items() if name != "dev"}
NEEDED = [Requirement(text) for text in PROJECT["dependencies"]]
OPTIONAL = [Requirement(text) for several in EXTRAS.values() for text in several]
#: names of modules where they are not those of the package
MODULES = {"msoffcrypto-tool": "msoffcrypto", "python-calamine": "python_calamine", "dask": "distributed"}


def _imported() -> set[str]:
    found = set()
    for path in (ROOT / "fleetaudit").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                found |= {alias.name.split(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module:
                found.add(node.module.split(".")[0])
    return found


def _justified() -> dict[str, list[str]]:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").partition("## Dependencies")[2]
    table = text.partition("\n## ")[0]
    lines = [line.strip("|") for line in table.splitlines() if line.startswith("|")]
    rows = [[cell.strip() for cell in line.split("|")] for line in lines]
    return {re.split(r" \(", row[0])[0]: row for row in rows[2:]}


@pytest.mark.parametrize("requirement", [*NEEDED, *OPTIONAL], ids=lambda one: one.name)
def test_a_dependency_has_a_lower_and_an_upper_bound(requirement: Requirement) -> None:
    assert {one.operator for one in requirement.specifier} == {">=", "<"}


@pytest.mark.parametrize("requirement", [*NEEDED, *OPTIONAL], ids=lambda one: one.name)
def test_a_dependency_is_imported(requirement: Requirement) -> None:
    assert MODULES.get(requirement.name, requirement.name) in _imported()


def test_the_table_of_dependencies_is_that_of_the_project() -> None:
    assert set(_justified()) == {requirement.name for requirement in (*NEEDED, *OPTIONAL)}


@pytest.mark.parametrize("name", sorted(_justified()))
def test_every_line_says_what_for_and_why_and_how_large_and_under_which_licence(name: str) -> None:
    row = _justified()[name]
    assert len(row) == 5
    assert all(row)
    assert float(row[3]) > 0


def test_nothing_is_imported_that_is_not_declared() -> None:
    declared = {MODULES.get(one.name, one.name) for one in (*NEEDED, *OPTIONAL)}
    #: jinja2's own dependency, which it documents as part of its interface
    assert _imported() - set(sys.stdlib_module_names) - declared == {"fleetaudit", "markupsafe"}
