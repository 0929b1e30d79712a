"""Pages of a route in a browser: nothing against axe-core, and the stop sheets as a printer gives them."""

from __future__ import annotations

import html
import re
import subprocess
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from modes import enter, violations

from fleetaudit.audit_file import Request
from fleetaudit.language import say, spoken
from fleetaudit.route_file import Planned, RouteRequest, plan_workbook
from fleetaudit.schema import visits
from fleetaudit.writing.cautions import CAUTIONS
from fleetaudit.writing.job_steps import STEPS
from fleetaudit.writing.route_html import render
from fleetaudit.writing.stop_sheet import load_list, stop_sheets
from tests.routing.route_workbook import write_workbook

LANGUAGES = ("en", "es")
AS_OF = date(2026, 11, 27)
#: points (1/72 in) of the narrower and the wider side
PAPERS = {"A4": (595, 842), "Letter": (612, 792)}
#: twelve invented sites, so that days are full; one has more units than a page holds
UNITS = [
    (
        f"U-{number}", f"site {number % 12}", -45.0 + 0.02 * (number % 12), -20.0 + 0.03 * (number % 5),
        "10x54", "activated carbon", 1.5, "2015-05-01", 5,
    )
    for number in range(1, 25)
]  # fmt: skip
CREWS = [("Crew A", -45.0, -20.0, 900, 40, 3, "Mon-Fri"), ("Crew B", -45.0, -20.0, 900, 40, 3, "Mon-Fri")]


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Planned:
    folder = tmp_path_factory.mktemp("route")
    source = write_workbook(folder / "fleet.xlsx", units=UNITS, crews=CREWS)
    return plan_workbook(RouteRequest(Request(source, AS_OF), date(2026, 11, 30), 3, effort="quick"))


@pytest.fixture(scope="module")
def pages(planned: Planned, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("pages")
    for code in LANGUAGES:
        with spoken(code):
            for name, make in {"route": render, "stops": stop_sheets, "loads": load_list}.items():
                (folder / f"{name}-{code}.html").write_text(make(planned.report), encoding="utf-8")
    return folder


@pytest.mark.parametrize("name", ["route-en", "route-es", "stops-es", "loads-es"])
def test_axe_finds_nothing_on_the_pages_of_a_route(page, pages, mode, name):
    pytest.importorskip("axe_playwright_python", reason="axe-core is not installed")
    enter(page, mode)
    page.goto((pages / f"{name}.html").as_uri())
    assert not violations(page)


@pytest.fixture(params=[(paper, code) for paper in PAPERS for code in LANGUAGES], ids="-".join)
def printed(request, page, pages, tmp_path) -> Iterator[tuple[str, str, list[str], Path]]:
    """Paper, language, the text of each printed page, and the file."""
    paper, code = request.param
    page.goto((pages / f"stops-{code}.html").as_uri())
    path = tmp_path / "stops.pdf"
    page.pdf(path=path, format=paper)
    told = subprocess.run(
        ["pdftotext", "-layout", path, "-"], capture_output=True, text=True, check=True
    ).stdout
    yield paper, code, told.split("\f")[:-1], path


def squeezed(text: str) -> str:
    return " ".join(text.split())


def heads(pages: Path, code: str) -> list[str]:
    text = (pages / f"stops-{code}.html").read_text(encoding="utf-8")
    return [html.unescape(found) for found in re.findall(r"<h1>(.*?)</h1>", text)]


def test_every_crew_day_starts_a_page_and_every_page_says_whose_it_is(printed, pages):
    _, code, sheets, _ = printed
    days = heads(pages, code)
    assert len(days) >= 4
    first = [squeezed(sheet.strip().splitlines()[0]) for sheet in sheets]
    # the head of a day is repeated on its further pages, and no page holds two days
    assert list(dict.fromkeys(first)) == days
    assert all(sum(day in squeezed(sheet) for day in days) == 1 for sheet in sheets)


def test_boxes_steps_and_cautions_are_on_the_sheets_of_every_day(printed, pages, planned):
    _, code, sheets, _ = printed
    by_day = {
        day: squeezed(" ".join(sheet for sheet in sheets if day in squeezed(sheet)))
        for day in heads(pages, code)
    }
    words = {day: set(re.findall(r"\w+", text)) for day, text in by_day.items()}
    with spoken(code):
        for text in (*STEPS, *CAUTIONS):
            # two columns stand beside each other in the text of a page, so words are looked for one by one
            assert all(set(re.findall(r"\w+", say(text))) <= found for found in words.values()), text
        titles = [say(column.title) for column in visits.FILLED_IN]
    units = {
        day: sum(len(planned.report.visit(stop.visit).tasks) for stop in one.stops)
        for day, one in zip(by_day, planned.report.plan.days, strict=True)
    }
    for day, text in by_day.items():
        for title in titles:
            last = title.split()[-1]
            assert len(re.findall(rf"\b{re.escape(last)}\b", text)) >= units[day], (day, title)


def test_nothing_is_cut_off_at_the_edge_of_the_paper(printed, planned):
    paper, _, sheets, path = printed
    width, height = PAPERS[paper]
    told = subprocess.run(
        ["pdftotext", "-bbox", path, "-"], capture_output=True, text=True, check=True
    ).stdout
    sizes = re.findall(r'<page width="([\d.]+)" height="([\d.]+)"', told)
    assert sizes and all(abs(float(w) - width) < 2 and abs(float(h) - height) < 2 for w, h in sizes)
    boxes = re.findall(r'xMin="(-?[\d.]+)" yMin="(-?[\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)"', told)
    margin = 10 / 25.4 * 72 - 2  # the style sheet leaves 10 mm; the ink of a letter is narrower than its box
    assert boxes and all(
        float(left) >= margin and float(top) >= margin and float(right) <= width - margin
        and float(bottom) <= height - margin
        for left, top, right, bottom in boxes
    )  # fmt: skip
    text = squeezed(" ".join(sheets))
    for day in planned.report.plan.days:
        for stop in day.stops:
            visit = planned.report.visit(stop.visit)
            assert visit.id in text and all(task.unit_id in text for task in visit.tasks)
