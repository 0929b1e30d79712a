"""Tries every small wrong change of the hydraulics and the checks against the tests; those unnoticed are
survivors.

Run `python -m tests.mutation [hydraulics|checks|module|module.function ...] [--share 0.2] [--jobs 2]` from
the top folder.

For each package, every test that may notice runs once under a trace first, which tells the tests that run
each line and how long they take. Then each mutant gets a process of its own, forked from one that has
imported and collected everything: it exchanges the code of the function that is changed and runs the tests
that reach the statement, those that killed its neighbours and the fastest first, until one fails. A change
that shows on loading a module has the package imported afresh instead. No file is touched. A mutant is killed
when a test fails, when the module cannot be loaded, or when its tests take many times the processor time they
should. `survivors.txt` says of each known survivor why it is none that a test ought to catch; the run fails
on survivors it does not hold, and below the share wanted in either package.

A runner of our own, because the general ones start the tests afresh for every mutant: at half a second to
import and collect, and 1,700 mutants that some two thousand tests may notice, that is hours against minutes.
"""

from __future__ import annotations

import argparse
import os
import pickle
import random
import sys
import time
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import hypothesis
import pytest

from tests.mutation.coverage_map import CoverageMap
from tests.mutation.mutants import Mutant, mutants
from tests.mutation.trying import Loop, Order, Outcome, Tried, from_the_start, in_processes

ROOT = Path(__file__).resolve().parent.parent.parent
#: tests that may notice a change, for each package; those of other floors could only add to the share killed
PACKAGES = {
    "hydraulics": (
        *("tests/hydraulics", "tests/properties/test_hydraulics.py", "tests/facts/test_likelihood.py"),
        *("tests/test_media_table.py", "fleetaudit/hydraulics"),
    ),
    "checks": ("tests/checks", "tests/facts"),
}
SURVIVORS = Path(__file__).with_name("survivors.txt")
WANTED = 0.90
SEED = 20_261
PRINTED = "survived  "
#: heavy libraries loaded once, before the processes part
LIBRARIES = (
    *("numpy", "scipy.integrate", "hypothesis", "pint", "fluids", "chemicals.iapws", "chemicals.viscosity"),
    *("iapws", "click.testing", "rapidfuzz", "tomllib", "msgspec"),
)
QUIET = (
    *("-s", "-q", "--no-header", "-p", "no:cacheprovider", "--tb=no"),
    *("-W", "ignore", "--assert=plain", "--doctest-modules"),
)


def every(package: str, groups: Sequence[str]) -> list[Mutant]:
    """Mutants of the modules of a package that are asked for."""
    found = []
    for path in sorted((ROOT / "fleetaudit" / package).glob("*.py")):
        if {package, path.stem} & set(groups):
            name = f"fleetaudit.{package}.{path.stem}"
            found += mutants(name, path.read_text(encoding="utf-8"))
        elif any(group.startswith(f"{path.stem}.") for group in groups):
            name = f"fleetaudit.{package}.{path.stem}"
            some = mutants(name, path.read_text(encoding="utf-8"))
            found += [mutant for mutant in some if f"{path.stem}.{mutant.function}" in groups]
    return found


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


def elsewhere(work: Any) -> Any:
    """Answer of `work()` from a child process, so that what it loads stays out of this one."""
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(read)
        code = 1
        try:
            with os.fdopen(write, "wb") as out:
                pickle.dump(work(), out)
            code = 0
        finally:
            os._exit(code)
    os.close(write)
    with os.fdopen(read, "rb") as back:
        text = back.read()
    _, status = os.waitpid(child, 0)
    if status:
        sys.exit("the tests could not be run")
    return pickle.loads(text)


def traced(package: str) -> CoverageMap:
    """Every test of a package once, under a trace."""
    plugin = CoverageMap(ROOT, package)
    plugin.start()
    code = pytest.main([*QUIET, *PACKAGES[package]], plugins=[plugin])
    sys.settrace(None)
    if plugin.failed or code != pytest.ExitCode.OK:
        print("fail on the unchanged code:", *plugin.failed, sep="\n  ", file=sys.stderr)
        raise SystemExit(1)
    return plugin


def looped(package: str, chosen: Sequence[Mutant], order: Order, jobs: int, told: Any) -> list[Tried]:
    """Mutants inside functions, put to the tests that a single collection found."""
    done: list[Tried] = []

    def took(tried: Tried) -> None:
        done.append(tried)
        told(tried)

    pytest.main([*QUIET, *PACKAGES[package]], plugins=[Loop(chosen, order, jobs, took)])
    return done


class Progress:
    """Prints survivors as they come, and now and then how it stands."""

    def __init__(self, total: int) -> None:
        self.total, self.done, self.start = total, Counter[Outcome](), time.perf_counter()

    def __call__(self, tried: Tried) -> None:
        """Take note of one outcome."""
        self.done[tried.outcome] += 1
        count = self.done.total()
        if tried.outcome == Outcome.SURVIVED:
            print(f"{PRINTED}{key(tried.mutant)}", flush=True)
        if count % 50 == 0:
            spent = time.perf_counter() - self.start
            killed = count - self.done[Outcome.SURVIVED]
            print(
                f"{killed} of {count} killed, {self.total} in all, {spent:.0f} s", file=sys.stderr, flush=True
            )


def main() -> int:
    """Try the mutants and print what survived."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description="Mutation test.")
    parser.add_argument("groups", nargs="*", default=list(PACKAGES))
    parser.add_argument(
        "--share", type=float, default=1.0, help="share of the mutants, drawn with a fixed seed"
    )
    parser.add_argument("--again", type=Path, help="only the survivors that an earlier run printed to a file")
    parser.add_argument("--jobs", type=int, default=2)
    asked = parser.parse_args()
    os.chdir(ROOT)
    for library in LIBRARIES:
        __import__(library)
    hypothesis.settings.register_profile(
        "mutation", derandomize=True, database=None, deadline=None,
        phases=(hypothesis.Phase.explicit, hypothesis.Phase.generate),
    )  # fmt: skip
    hypothesis.settings.load_profile("mutation")

    start, outcomes, total = time.perf_counter(), list[Tried](), 0
    for package in PACKAGES:
        chosen = every(package, asked.groups)
        total += len(chosen)
        random.Random(SEED).shuffle(chosen)  # so that a run cut short is a fair sample too
        chosen = chosen[: round(len(chosen) * asked.share)]
        if asked.again:
            lines = asked.again.read_text(encoding="utf-8").splitlines()
            earlier = {line.rpartition(PRINTED)[2].strip() for line in lines if PRINTED in line}
            chosen = [mutant for mutant in chosen if key(mutant) in earlier]
        if chosen:
            outcomes += tried_all(package, chosen, asked.jobs)
    return report(outcomes, total, time.perf_counter() - start)


def tried_all(package: str, chosen: Sequence[Mutant], jobs: int) -> list[Tried]:
    """Outcome of each of the mutants of a package."""
    start = time.perf_counter()
    covered = elsewhere(lambda: traced(package))
    loading = [mutant for mutant in chosen if covered.met_on_loading(mutant)]
    inside = [mutant for mutant in chosen if not covered.met_on_loading(mutant)]
    print(
        f"{package}: {len(covered.seconds)} tests traced in {time.perf_counter() - start:.0f} s; "
        f"{len(loading)} of {len(chosen)} mutants show on loading",
        file=sys.stderr,
        flush=True,
    )
    order, told = Order(covered), Progress(len(chosen))
    outcomes: list[Tried] = elsewhere(lambda: looped(package, inside, order, jobs, told))
    told.done.update(one.outcome for one in outcomes)
    for tried in in_processes(loading, order, from_the_start(ROOT, QUIET), jobs):
        outcomes.append(tried)
        told(tried)
    return outcomes


def report(outcomes: Sequence[Tried], total: int, seconds: float) -> int:
    """Print the outcome of each package; 1 where one falls short, or a survivor has no reason."""
    said = known()
    unsaid = [one for one in outcomes if one.outcome == Outcome.SURVIVED and key(one.mutant) not in said]
    short = False
    for package in PACKAGES:
        mine = Counter(one.outcome for one in outcomes if f".{package}." in one.mutant.module)
        if not mine.total():
            continue
        share = 1 - mine[Outcome.SURVIVED] / mine.total()
        short |= share < WANTED
        print(
            f"{package}: {mine.total()} mutants, {mine[Outcome.KILLED]} killed by tests, "
            f"{mine[Outcome.TIMED_OUT]} by time, {mine[Outcome.SURVIVED]} survived. Killed: {share:.1%}, "
            f"wanted {WANTED:.0%}."
        )
    print(f"{len(outcomes)} of {total} mutants in {seconds:.0f} s; {len(unsaid)} survivors without a reason.")
    return int(short or bool(unsaid))


if __name__ == "__main__":
    sys.exit(main())
