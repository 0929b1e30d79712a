"""Which lines of the package each test runs, how long it takes, and which lines loading the tests runs."""

from __future__ import annotations

import sys
import time
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from types import FrameType
from typing import Any

import pytest

from tests.mutation.mutants import Mutant

Line = tuple[str, int]


class CoverageMap:
    """A pytest plugin: run every test once under a trace of the modules that are to be changed.

    `seconds` and `tests` are by the tests' own names, `tests` by module and line; `on_loading` holds lines
    inside functions that run while test modules are imported; `failed` the tests that fail as things are.
    """

    def __init__(self, root: Path, package: str) -> None:
        self.root, self.folder = root, f"{root / 'fleetaudit' / package}/"
        self.modules: dict[str, str | None] = {}
        self.seen: set[Line] = set()
        self.on_loading: set[Line] = set()
        self.tests: dict[Line, set[str]] = defaultdict(set)
        self.seconds: dict[str, float] = {}
        self.failed: list[str] = []

    def start(self) -> None:
        """Trace from here on, in this thread."""
        sys.settrace(self._enter)

    def _module(self, path: str) -> str | None:
        """Name of the module in a file, None where it is none of those to be changed."""
        if path not in self.modules:
            mine = path.startswith(self.folder)
            name = ".".join(Path(path).relative_to(self.root).with_suffix("").parts) if mine else None
            self.modules[path] = name
        return self.modules[path]

    def _enter(self, frame: FrameType, event: str, argument: Any) -> Any:
        module = self._module(frame.f_code.co_filename)
        if module is None or frame.f_code.co_name == "<module>":
            return None
        seen = self.seen

        def line(inner: FrameType, event: str, argument: Any) -> Any:
            if event == "line":
                seen.add((module, inner.f_lineno))
            return line

        seen.add((module, frame.f_lineno))
        return line

    def pytest_collection_finish(self) -> None:
        self.on_loading = set(self.seen)

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        self.seen.clear()
        self._forget()
        sys.settrace(self._enter)  # a test may have left it off
        start = time.process_time()
        result = yield
        self.seconds[item.nodeid] = time.process_time() - start
        for line in self.seen:
            self.tests[line].add(item.nodeid)
        return result

    def _forget(self) -> None:
        """Empty what the modules keep, so that every test that needs it is seen to run what makes it."""
        for name in {module for module in self.modules.values() if module}:
            for held in vars(sys.modules[name]).values() if name in sys.modules else ():
                if hasattr(held, "cache_clear"):
                    held.cache_clear()

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self.failed.append(report.nodeid)

    def running(self, mutant: Mutant) -> set[str]:
        """Tests that run the statement changed; any where loading the module shows the change."""
        if not mutant.function:
            return set(self.seconds)
        lines = range(mutant.first, mutant.last + 1)
        return {test for line in lines for test in self.tests.get((mutant.module, line), ())}

    def met_on_loading(self, mutant: Mutant) -> bool:
        """Whether the change would have shown before any test began."""
        lines = range(mutant.first, mutant.last + 1)
        return not mutant.function or any((mutant.module, line) in self.on_loading for line in lines)
