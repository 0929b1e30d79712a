"""One mutant, one process: forked, changed, put to its tests until one fails, gone."""

from __future__ import annotations

import importlib.abc
import importlib.machinery
import inspect
import itertools
import os
import resource
import signal
import sys
from collections import Counter, deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from enum import IntEnum
from pathlib import Path
from types import CodeType, ModuleType
from typing import NamedTuple

import pytest

from tests.mutation.coverage_map import CoverageMap
from tests.mutation.mutants import Mutant

#: processor seconds a mutant may take beyond a multiple of what its tests take on the unchanged code
PATIENCE_S, PATIENCE = 10, 3
#: processor seconds of tests, as traced, that a mutant is put to: one that lives through them is a survivor
MOST_S = 20.0
#: of the name of the test that a child sends back
LONGEST_NAME = 60_000


class Outcome(IntEnum):
    """What became of a mutant."""

    SURVIVED = 0
    KILLED = 1
    TIMED_OUT = 2


class Tried(NamedTuple):
    """A mutant, its outcome, and the test that killed it."""

    mutant: Mutant
    outcome: Outcome
    killer: str


class Order:
    """Which tests to try on a mutant, likeliest first.

    Those that killed its neighbours, then those named after its module, then the fastest; no more than fill
    `MOST_S`, so that the share killed is a lower bound.
    """

    def __init__(self, covered: CoverageMap) -> None:
        self.covered = covered
        self.kills: Counter[tuple[str, str, str]] = Counter()

    def tests(self, mutant: Mutant) -> list[str]:
        """Names of tests that run what is changed."""
        stem = mutant.module.rpartition(".")[2]
        own = (stem, stem.replace("_", "-"))
        seconds = self.covered.seconds
        best = sorted(
            self.covered.running(mutant),
            key=lambda test: (
                -self.kills[mutant.module, mutant.function, test],
                not any(name in test for name in own),
                seconds[test],
                test,
            ),
        )
        so_far = itertools.accumulate(seconds[test] for test in best)
        return [test for test, spent in zip(best, so_far, strict=True) if spent <= MOST_S]

    def limit_s(self, tests: Iterable[str]) -> int:
        """Processor seconds that they may take."""
        return PATIENCE_S + int(PATIENCE * sum(self.covered.seconds[test] for test in tests))

    def learn(self, tried: Tried) -> None:
        """Take note of the test that killed a mutant."""
        if tried.killer:
            self.kills[tried.mutant.module, tried.mutant.function, tried.killer] += 1


def in_processes(
    chosen: Sequence[Mutant], order: Order, attempt: Callable[[Mutant, list[str]], str | None], jobs: int
) -> Iterator[Tried]:
    """Outcome of each mutant as it comes in, by so many child processes at a time.

    `attempt` runs in the child and answers with the name of the test that failed, or None.
    """
    waiting, running = deque(chosen), dict[int, tuple[Mutant, int]]()
    while waiting or running:
        while waiting and len(running) < jobs:
            mutant = waiting.popleft()
            tests = order.tests(mutant)
            if not tests:
                yield Tried(mutant, Outcome.SURVIVED, "")
                continue
            read, write = os.pipe()
            child = os.fork()
            if child == 0:
                _live(mutant, tests, order.limit_s(tests), attempt, write)
            os.close(write)
            running[child] = mutant, read
        if not running:
            continue
        child, status = os.wait()
        mutant, read = running.pop(child)
        killer = os.read(read, LONGEST_NAME).decode()
        os.close(read)
        killed = os.WIFSIGNALED(status)
        outcome = Outcome.TIMED_OUT if killed else Outcome(os.WEXITSTATUS(status))
        tried = Tried(mutant, outcome, killer)
        order.learn(tried)
        yield tried


def _live(
    mutant: Mutant,
    tests: list[str],
    limit_s: int,
    attempt: Callable[[Mutant, list[str]], str | None],
    write: int,
) -> None:
    """The child's whole life; it never comes back."""
    code = Outcome.KILLED
    try:
        resource.setrlimit(resource.RLIMIT_CPU, (limit_s, limit_s))
        signal.alarm(20 * limit_s)  # for one that waits and takes no processor
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 1)
        os.dup2(nowhere, 2)
        killer = attempt(mutant, tests)
        if killer is None:
            code = Outcome.SURVIVED
        else:
            os.write(write, killer.encode()[:LONGEST_NAME])
    finally:  # whatever a wrong change raises, a test would have shown it
        os._exit(code)


# --- inside functions: everything is imported and collected once, the child exchanges the function's code


def exchange(mutant: Mutant) -> None:
    """Give the function that is loaded the code of the changed one; every module that holds it follows."""
    module = sys.modules[mutant.module]
    compiled = compile(mutant.source, module.__file__ or "", "exec")
    held: object = module
    for part in mutant.function.split("."):
        held = inspect.getattr_static(held, part)
    if isinstance(held, property):
        held = held.fget
    function = inspect.unwrap(held)  # type: ignore[arg-type]  # a function of the package, by its own name
    function.__code__ = _code(compiled, mutant.function)


def _code(compiled: CodeType, name: str) -> CodeType:
    for constant in compiled.co_consts:
        if isinstance(constant, CodeType):
            if constant.co_qualname == name:
                return constant
            if name.startswith(f"{constant.co_qualname}."):
                return _code(constant, name)
    raise LookupError(name)


class Loop:
    """A pytest plugin: in place of running the tests once, run them on every mutant."""

    def __init__(
        self, chosen: Sequence[Mutant], order: Order, jobs: int, told: Callable[[Tried], None]
    ) -> None:
        self.chosen, self.order, self.jobs, self.told = chosen, order, jobs, told
        self.failed = ""

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        items = {item.nodeid: item for item in session.items}

        def attempt(mutant: Mutant, tests: list[str]) -> str | None:
            exchange(mutant)
            for test, after in zip(tests, [*tests[1:], ""], strict=True):
                item = items[test]
                item.config.hook.pytest_runtest_protocol(item=item, nextitem=items.get(after))
                if self.failed:
                    return self.failed
            return None

        for tried in in_processes(self.chosen, self.order, attempt, self.jobs):
            self.told(tried)
        return True

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self.failed = report.nodeid


# --- met on loading the module: the child imports the package itself, with the changed module in its place


class _Changed(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Hands out one changed module in place of the one on the disk."""

    def __init__(self, mutant: Mutant, root: Path) -> None:
        self.mutant = mutant
        self.origin = str(root.joinpath(*mutant.module.split(".")).with_suffix(".py"))

    def find_spec(self, name: str, path: object = None, target: object = None) -> object:
        if name != self.mutant.module:
            return None
        spec = importlib.machinery.ModuleSpec(name, self, origin=self.origin)
        spec.has_location = True
        return spec

    def create_module(self, spec: object) -> None:
        return None

    def exec_module(self, module: ModuleType) -> None:
        exec(compile(self.mutant.source, self.origin, "exec"), module.__dict__)


class _Chosen:
    """A pytest plugin: only these tests, in this order."""

    def __init__(self, tests: list[str]) -> None:
        self.place = {test: place for place, test in enumerate(tests)}
        self.failed = ""

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        items[:] = sorted(
            (item for item in items if item.nodeid in self.place), key=lambda item: self.place[item.nodeid]
        )

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self.failed = report.nodeid

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        if report.failed:
            self.failed = report.nodeid


def from_the_start(root: Path, quiet: Sequence[str]) -> Callable[[Mutant, list[str]], str | None]:
    """Attempt for `in_processes` that loads the package with the changed module and collects the tests."""

    def attempt(mutant: Mutant, tests: list[str]) -> str | None:
        sys.meta_path.insert(0, _Changed(mutant, root))
        stem = mutant.module.rpartition(".")[2]
        named = [test for test in tests if stem in test.partition("::")[0]]
        for some in (named, tests):
            plugin = _Chosen(some)
            files = dict.fromkeys(test.partition("::")[0] for test in some)
            if not files:
                continue
            code = pytest.main(["-x", *quiet, *files], plugins=[plugin])
            if plugin.failed or code not in (pytest.ExitCode.OK, pytest.ExitCode.NO_TESTS_COLLECTED):
                return plugin.failed or "loading"
        return None

    return attempt
