"""Pages for the tests in a real browser: Chromium of the system, driven by Playwright."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from msgspec.structs import replace

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "writing"))

from browser import program
from modes import MODES
from tests_report import hostile_report, make_report, with_figures

from fleetaudit.catalogue.shipped import load
from fleetaudit.crews.counts import Job, SetUpCounts, Tally
from fleetaudit.crews.report import report as compare
from fleetaudit.crews.rules import rules_of
from fleetaudit.language import spoken
from fleetaudit.writing.html import render
from fleetaudit.writing.letters import letters
from fleetaudit.writing.owner import render_owner
from fleetaudit.writing.report import Report, Span

#: nothing in here is an example to run, and two files of this name cannot both be collected
collect_ignore = ["conftest.py"]

HERE = Path(__file__).resolve().parent
PROGRAM = program()


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Skip, with the reason, what needs a browser that the system does not have."""
    if PROGRAM is None:
        for item in items:
            if HERE in item.path.parents:
                item.add_marker(pytest.mark.skip(reason="no Chromium on this system"))


@pytest.fixture(scope="session")
def chromium() -> Iterator[object]:
    """One browser for all tests."""
    api = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed")
    with api.sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=PROGRAM, args=["--no-sandbox"])
        yield opened
        opened.close()


@pytest.fixture(params=MODES)
def mode(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture
def page(chromium) -> Iterator[object]:
    """A fresh page; anything that is logged as an error fails the test."""
    context = chromium.new_context(viewport={"width": 1280, "height": 900})
    opened = context.new_page()
    troubles: list[str] = []
    opened.on("pageerror", lambda error: troubles.append(str(error)))
    opened.on("console", lambda said: troubles.append(said.text) if said.type == "error" else None)
    yield opened
    context.close()
    assert not troubles, troubles


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The pages as files: a fleet with everything on its page, a hostile one, a large one, the owner's."""
    place = tmp_path_factory.mktemp("pages")
    full = full_report(27)
    hostile = whole(hostile_report())
    planned = full_report(27)
    planned.route_days = {unit: (date(2026, 11, 30 - unit % 2), "Crew B") for unit in range(0, 27, 3)}
    with spoken("es", "day-first"):
        spanish, letter, owner = render(planned), next(letters(full)).page, render_owner(full)
    (place / "spanish.html").write_text(spanish, encoding="utf-8")
    (place / "letter-spanish.html").write_text(letter, encoding="utf-8")
    (place / "owner-spanish.html").write_text(owner, encoding="utf-8")
    (place / "letter.html").write_text(next(letters(full)).page, encoding="utf-8")
    for name, text in {
        "full": render(full), "large": render(full_report(1800)), "hostile": render(hostile),
        "owner": render_owner(full), "owner-hostile": render_owner(hostile),
    }.items():  # fmt: skip
        (place / f"{name}.html").write_text(text, encoding="utf-8")
    return place


def full_report(units: int) -> Report:
    return whole(make_report(units))


def whole(report: Report) -> Report:
    """The report with crews to compare, places for a map and flows to draw. All invented."""
    jobs = {
        Job(crew, 254, 6800, 2021, "small"): Tally(36, wrong, wrong, 0, 0)
        for crew, wrong in {"Crew A": 1, "Crew B": 13, "Crew C": 1, "Crew D": 2, "Crew E": 0}.items()
    }
    report.crews = compare(SetUpCounts(jobs), rules_of(load()))
    report.units = [
        replace(
            unit,
            latitude=52 + 0.01 * (unit.index % 30),
            longitude=5 + 0.02 * (unit.index % 17),
            drain_gpm=Span(3.6, 4.0, 4.4),
        )
        for unit in report.units
    ]
    report.findings = [
        with_figures(one, low_gpm=6.0, high_gpm=8.0, flow_gpm=4.0)
        if one.check.startswith("restrictor")
        else one
        for one in report.findings
    ]
    return report
