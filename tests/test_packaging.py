"""What an installation holds: code, templates, catalogue data and the sample, and nothing of the tests."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tomllib
import zipfile
from email.parser import Parser
from pathlib import Path

import pytest
from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parent.parent

pytestmark = pytest.mark.slow


@pytest.fixture(scope="session")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built once."""
    folder = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "build", "--wheel", "--outdir", str(folder), str(ROOT)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    (found,) = folder.glob("*.whl")
    return found


@pytest.fixture(scope="session")
def names(wheel: Path) -> set[str]:
    with zipfile.ZipFile(wheel) as archive:
        return set(archive.namelist())


def _shipped(folder: str) -> set[str]:
    return {
        path.relative_to(ROOT).as_posix()
        for path in (ROOT / folder).rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }


def test_every_template_is_in_the_wheel(names: set[str]) -> None:
    templates = _shipped("templates")
    assert templates
    assert {f"fleetaudit/{name}" for name in templates} <= names


def test_every_file_of_the_package_is_in_the_wheel(names: set[str]) -> None:
    assert _shipped("fleetaudit") <= names
    assert any(name.startswith("fleetaudit/data/") and name.endswith(".toml") for name in names)
    assert "fleetaudit/py.typed" in names


def test_the_sample_is_in_the_wheel_byte_for_byte(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        assert archive.read("fleetaudit/data/sample_fleet.xlsx") == (ROOT / "sample_fleet.xlsx").read_bytes()


def test_nothing_else_is_installed(names: set[str]) -> None:
    tops = {name.split("/")[0] for name in names}
    assert {top for top in tops if not top.endswith(".dist-info")} == {"fleetaudit"}


def test_the_licence_and_the_command_are_in_the_wheel(wheel: Path, names: set[str]) -> None:
    (metadata,) = (name for name in names if name.endswith(".dist-info/METADATA"))
    with zipfile.ZipFile(wheel) as archive:
        told = Parser().parsestr(archive.read(metadata).decode())
        points = archive.read(metadata.replace("METADATA", "entry_points.txt")).decode()
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert told["Name"] == "fleetaudit"
    assert told["Version"] == project["version"]
    assert any(name.endswith("LICENSE") for name in names)
    assert "fleetaudit = fleetaudit.cli.process:run" in points


def test_metadata_say_to_programs_what_it_is_and_what_it_needs(wheel: Path, names: set[str]) -> None:
    """Core metadata 2.4 (PEP 639): licence as an SPDX expression, its file, bounds of what is needed."""
    (metadata,) = (name for name in names if name.endswith(".dist-info/METADATA"))
    with zipfile.ZipFile(wheel) as archive:
        told = Parser().parsestr(archive.read(metadata).decode())
    assert tuple(int(part) for part in told["Metadata-Version"].split(".")) >= (2, 4)
    assert told["License-Expression"] == "MIT"
    assert told.get_all("License-File") == ["LICENSE"]
    assert told["License"] is None
    assert not [line for line in told.get_all("Classifier") if line.startswith("License")]
    assert told["Requires-Python"] == ">=3.11"
    assert {"scale", "encrypted", "dev"} <= set(told.get_all("Provides-Extra"))
    needed = [Requirement(text) for text in told.get_all("Requires-Dist")]
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = project["optional-dependencies"].values()
    assert len(needed) == len(project["dependencies"]) + sum(map(len, extras))
    assert all(requirement.specifier for requirement in needed)


def test_nothing_of_a_run_is_in_the_wheel(names: set[str]) -> None:
    assert not [name for name in names if "__pycache__" in name or name.endswith((".pyc", ".part"))]


@pytest.mark.parametrize("kind", ["wheel", "sdist"])
def test_two_builds_give_the_same_bytes(kind: str, tmp_path: Path) -> None:
    """From two copies in folders of other names, with files of another age, one of them used before."""
    made = []
    for number in (1, 2):
        tree = tmp_path / f"tree {number}"
        shutil.copytree(ROOT, tree, ignore=shutil.ignore_patterns(".git", ".venv", "*_cache", ".hypothesis"))
        if number == 2:
            for path in tree.rglob("*"):
                os.utime(path, (1_000_000_000, 1_000_000_000))
        out = tmp_path / f"out {number}"
        build = [sys.executable, "-m", "build", "--no-isolation", f"--{kind}"]
        command = [*build, "--outdir", str(out), str(tree)]
        known = os.environ | {"SOURCE_DATE_EPOCH": "1793500000"}
        done = subprocess.run(command, capture_output=True, text=True, check=False, env=known)
        assert done.returncode == 0, done.stdout + done.stderr
        (file,) = out.iterdir()
        made.append((file.name, file.read_bytes()))
    assert made[0] == made[1]


@pytest.mark.parametrize("name", ["data/media.toml", "templates/summary.html.j2", "data/sample_fleet.xlsx"])
def test_shipped_files_are_found_from_another_folder(wheel: Path, tmp_path: Path, name: str) -> None:
    """Read from the unpacked wheel, far from the checkout, without the checkout on the path."""
    home = tmp_path / "installed"
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(home)
    code = (
        f"import sys; sys.path.insert(0, {str(home)!r}); from fleetaudit import assets; "
        f"print(assets.__file__); print(len(assets.read_bytes({name!r})))"
    )
    done = subprocess.run(
        [sys.executable, "-I", "-c", code], capture_output=True, text=True, cwd=tmp_path, check=False
    )
    assert done.returncode == 0, done.stderr
    place, size = done.stdout.split("\n")[:2]
    assert Path(place).is_relative_to(home)
    assert int(size) > 0
