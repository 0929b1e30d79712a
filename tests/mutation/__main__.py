"""Tries every small wrong change of the hydraulics and the checks against the tests; those unnoticed are
survivors.

Run `python -m tests.mutation [hydraulics|checks|module ...] [--share 0.2] [--jobs 2]` from the top folder.
Each mutant gets a process of its own, forked from one that has loaded the libraries but none of the package;
the changed module is handed to the tests by an import hook, and no file is touched. A mutant is killed when a
test fails, when the module cannot be loaded, or when the tests do not come to an end. `survivors.txt` says of
each known survivor why it is none that a test ought to catch; the run fails on survivors it does not hold,
and below the share wanted.
"""

from __future__ import annotations

import argparse
import contextlib
import importlib.abc
import importlib.machinery
import io
import os
import random
import signal
import sys
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from types import ModuleType

import pytest

from tests.mutation.mutants import Mutant, mutants

ROOT = Path(__file__).resolve().parent.parent.parent
SURVIVORS = Path(__file__).with_name("survivors.txt")
WANTED = 0.90
PATIENCE_S = 240
SEED = 20_261
PRINTED = "survived  "
KILLED, SURVIVED, TIMED_OUT = 1, 0, 2
#: heavy libraries loaded once, before the processes part
LIBRARIES = (
    *("numpy", "scipy.integrate", "hypothesis", "pint", "fluids", "chemicals.iapws", "chemicals.viscosity"),
    *("iapws", "click.testing", "rapidfuzz", "tomllib"),
)
#: tests that know a module beside those that carry its name
ALSO = {
    "akgiray_soyer": ("test_bed.py",),
    "held_at_porosity": ("../facts/test_likelihood.py",),
    "fixed_bed": ("test_bed.py",),
    "other_laws": ("test_bed.py",),
    "grading": ("test_bed.py",),
}


def every(groups: Sequence[str]) -> list[Mutant]:
    """Mutants of the modules asked for."""
    found = []
    for package in ("hydraulics", "checks"):
        for path in sorted((ROOT / "fleetaudit" / package).glob("*.py")):
            if {package, path.stem} & set(groups):
                found += mutants(f"fleetaudit.{package}.{path.stem}", path.read_text(encoding="utf-8"))
    return found


class _Changed(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Hands out one changed module in place of the one on the disk."""

    def __init__(self, mutant: Mutant) -> None:
        self.mutant = mutant

    def find_spec(self, name: str, path: object = None, target: object = None) -> object:
        if name != self.mutant.module:
            return None
        origin = str(ROOT.joinpath(*name.split(".")).with_suffix(".py"))
        spec = importlib.machinery.ModuleSpec(name, self, origin=origin)
        spec.has_location = True
        return spec

    def create_module(self, spec: object) -> None:
        return None

    def exec_module(self, module: ModuleType) -> None:
        exec(compile(self.mutant.source, module.__spec__.origin, "exec"), module.__dict__)


class _Only:
    """Keeps the cases of one check, and the rest of the tests."""

    def __init__(self, slug: str) -> None:
        self.slug = slug

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        items[:] = [item for item in items if "[" not in item.name or f"[{self.slug}: " in item.name]


class _NoCases:
    """Leaves out the cases of all checks."""

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        items[:] = [item for item in items if "test_cases" not in item.nodeid]


def rounds(mutant: Mutant) -> Iterator[tuple[list[str], list[object]]]:
    """Tests to try, likeliest first; the first that fails is enough."""
    _, package, stem = mutant.module.split(".")
    if package == "checks":
        if stem == "check":
            yield ["tests/checks"], []
            return
        yield ["tests/checks/test_cases.py"], [_Only(stem.replace("_", "-"))]
        yield [str(path) for path in sorted((ROOT / "tests" / "checks").glob("test_*.py"))], [_NoCases()]
        yield ["tests/facts/test_site.py"], []
        return
    folder = ROOT / "tests" / "hydraulics"
    own = [folder / name for name in (f"test_{stem}.py", *ALSO.get(stem, ())) if (folder / name).exists()]
    module = ROOT.joinpath(*mutant.module.split(".")).with_suffix(".py")
    yield [*map(str, own), "--doctest-modules", str(module)], []
    yield ["tests/hydraulics"], []
    yield ["tests/facts/test_site.py"], []


def tried(mutant: Mutant) -> int:
    """Whether the tests notice a mutant; runs in a process of its own."""
    sys.meta_path.insert(0, _Changed(mutant))
    quiet = ["-x", "-q", "--no-header", "-p", "no:cacheprovider", "-W", "ignore", "--tb=no", "--assert=plain"]
    try:
        for arguments, plugins in rounds(mutant):
            with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
                code = pytest.main([*quiet, *arguments], plugins=plugins)
            if code not in (pytest.ExitCode.OK, pytest.ExitCode.NO_TESTS_COLLECTED):
                return KILLED
    except BaseException:  # whatever a wrong change raises, the tests would show it
        return KILLED
    return SURVIVED


def forked(mutant: Mutant) -> int:
    """Outcome of one mutant from a child process; one that does not end is killed."""
    child = os.fork()
    if child == 0:
        code = KILLED
        try:
            signal.alarm(PATIENCE_S)
            code = tried(mutant)
        finally:
            os._exit(code)
    _, status = os.waitpid(child, 0)
    return TIMED_OUT if os.WIFSIGNALED(status) else os.WEXITSTATUS(status)


def known() -> dict[str, str]:
    """Survivors with the reason for each, from the file: "module:text of the line | what | why"."""
    found: dict[str, str] = {}
    if not SURVIVORS.exists():
        return found
    for line in SURVIVORS.read_text(encoding="utf-8").splitlines():
        if line.strip() and not line.startswith("#"):
            where, what, why = (part.strip() for part in line.split(" | ", 2))
            found[f"{where} | {what}"] = why
    return found


def key(mutant: Mutant) -> str:
    """How the file names a mutant: by the text of its line, so that lines may move."""
    path = ROOT.joinpath(*mutant.module.split(".")).with_suffix(".py")
    text = path.read_text(encoding="utf-8").splitlines()[mutant.line - 1].strip() if mutant.line else ""
    return f"{mutant.module.partition('.')[2]}: {text.replace(' | ', ' ¦ ')} | {mutant.what}"


def main() -> int:
    """Try the mutants and print what survived."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description="Mutation test.")
    parser.add_argument("groups", nargs="*", default=["hydraulics", "checks"])
    parser.add_argument(
        "--share", type=float, default=1.0, help="share of the mutants, drawn with a fixed seed"
    )
    parser.add_argument("--again", type=Path, help="only the survivors that an earlier run printed to a file")
    parser.add_argument("--jobs", type=int, default=2)
    asked = parser.parse_args()
    chosen = every(asked.groups)
    total = len(chosen)
    random.Random(SEED).shuffle(chosen)  # so that a run cut short is a fair sample too
    chosen = chosen[: round(total * asked.share)]
    if asked.again:
        earlier = {
            line[len(PRINTED) :].strip() for line in asked.again.read_text(encoding="utf-8").splitlines()
        }
        chosen = [mutant for mutant in chosen if key(mutant) in earlier]
    for library in LIBRARIES:
        __import__(library)
    os.chdir(ROOT)
    start = time.perf_counter()
    with ThreadPoolExecutor(asked.jobs) as pool:
        outcomes = []
        for mutant, outcome in zip(chosen, pool.map(forked, chosen), strict=True):
            outcomes.append(outcome)
            if len(outcomes) % 25 == 0:
                caught = len(outcomes) - outcomes.count(SURVIVED)
                print(f"{caught} of the first {len(outcomes)} killed", file=sys.stderr, flush=True)
            if outcome == SURVIVED:
                print(f"{PRINTED}{key(mutant)}", flush=True)
    survivors = [mutant for mutant, outcome in zip(chosen, outcomes, strict=True) if outcome == SURVIVED]
    killed = len(chosen) - len(survivors)
    said = known()
    unsaid = [mutant for mutant in survivors if key(mutant) not in said]
    print(
        f"{len(chosen)} of {total} mutants in {time.perf_counter() - start:.0f} s: {killed} killed "
        f"({outcomes.count(TIMED_OUT)} by time), {len(survivors)} survived, {len(unsaid)} without a reason. "
        f"Killed: {killed / max(len(chosen), 1):.1%}, wanted {WANTED:.0%}."
    )
    return int(killed < WANTED * len(chosen) or bool(unsaid))


if __name__ == "__main__":
    sys.exit(main())
