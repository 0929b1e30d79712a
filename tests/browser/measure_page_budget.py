"""Bytes of a row, and how soon a large page is ready and sorted, beside a plain table in the same run.

A measurement, run by name on a quiet machine:
`python -m pytest tests/browser/measure_page_budget.py -m slow -s`.

Bytes a line are those of the list, from its table to its end, lines for browsers without scripts included,
and of the sentences by number its lines lean on, over the number of lines. The rest (style, script, pictures,
headline, counts, tables of parts, quotes and media, sources) is left out; the whole file is printed beside.
"""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path
from statistics import median

import pytest
from tests_report import make_report

from fleetaudit.audit_file import Request, audit_file
from fleetaudit.writing.html import render
from tests.bench.workbooks import build

BYTES_A_LINE = 400
#: a list where a quarter of the lines draw and work out a flow, or count dates, as invented workbooks have it
BYTES_A_WORDY_LINE = 430
#: the sample, which has every check fire and every second line with a flow: by line, and by row of its list
SAMPLE = Path(__file__).resolve().parents[2] / "sample_fleet.xlsx"
SAMPLE_LINE, SAMPLE_ROW = 600, 400
COUNTS = (300, 3_000, 30_000)
#: of the time a plain table of all rows takes
READY_SHARE = 0.2
SORT_MS = 500
ROWS = 30_000
ROUNDS = 2
#: milliseconds from the start of loading until two frames were drawn
READY = "new Promise(d => requestAnimationFrame(() => requestAnimationFrame(() => d(performance.now()))))"
SORT = """new Promise(done => { const start = performance.now();
document.querySelectorAll("#rows th button")[4].click();
requestAnimationFrame(() => requestAnimationFrame(() => done(performance.now() - start))); })"""


def bytes_and_lines(page: str) -> tuple[int, int]:
    """Bytes of the list and of the sentences by number, and how many lines the list has."""
    rows = page[page.index('<div id="rows">') : page.index('<button type="button" class="more')]
    said = page[page.index('<section id="said">') :]
    said = said[: said.index("</section>")]
    return len((rows + said).encode()), rows.count('<tr id="')


@pytest.mark.slow
@pytest.mark.parametrize("units", COUNTS)
def test_a_line_takes_few_bytes_where_every_unit_has_one(units):
    page = render(make_report(units, every_unit_found=True))
    size, lines = bytes_and_lines(page)
    print(f"one finding each, {units}: {size / lines:.0f} a line, whole file {len(page.encode()):,}")
    assert lines == units and size / lines <= BYTES_A_LINE


@pytest.mark.slow
@pytest.mark.parametrize("units", COUNTS[:2])
def test_a_line_of_a_fleet_audited_from_its_workbook_takes_few_bytes(tmp_path, units):
    """An invented list, badly kept, from the workbook to the page."""
    build(tmp_path / "fleet.xlsx", units)
    page = audited(tmp_path / "fleet.xlsx", tmp_path)
    size, lines = bytes_and_lines(page)
    print(f"workbook of {units}: {size / lines:.0f} a line, {lines} lines, whole file {len(page.encode()):,}")
    assert size / lines <= BYTES_A_WORDY_LINE


@pytest.mark.slow
def test_a_line_of_the_sample_takes_few_bytes(tmp_path):
    page = audited(SAMPLE, tmp_path)
    size, lines = bytes_and_lines(page)
    rows = int(re.search(r"Rows read</dt><dd>(\d+)", page)[1])
    print(f"sample: {size / lines:.0f} a line, {size / rows:.0f} a row, whole file {len(page.encode()):,}")
    assert size / lines <= SAMPLE_LINE and size / rows <= SAMPLE_ROW


def audited(workbook: Path, folder: Path) -> str:
    written = audit_file(Request(workbook, date(2026, 11, 1), folder=folder))
    return written.summary_path.read_text(encoding="utf-8")


@pytest.mark.slow
def test_a_large_page_is_ready_and_sorts_in_a_fraction_of_a_plain_table(chromium, tmp_path):
    """Both pages hold all lines; what the plain one lays out, ours keeps aside."""
    report = make_report(ROWS, every_unit_found=True)
    ours = render(report)
    plain = re.sub(r"<script>.*?</script>|</?noscript>", "", ours, flags=re.DOTALL)
    assert ours.count('<tr id="f-') == plain.count('<tr id="f-') == ROWS and "<script" not in plain
    for name, text in (("ours", ours), ("plain", plain)):
        (tmp_path / f"{name}.html").write_text(text, encoding="utf-8")
    ready: dict[str, list[float]] = {"ours": [], "plain": []}
    sorts = []
    for _ in range(ROUNDS):
        for name, times in ready.items():
            page = chromium.new_page(viewport={"width": 1280, "height": 900})
            page.set_default_timeout(180_000)
            page.goto((tmp_path / f"{name}.html").as_uri())
            times.append(page.evaluate(READY))
            if name == "ours":
                sorts.append(page.evaluate(SORT))
            page.close()
    share = median(ready["ours"]) / median(ready["plain"])
    print(f"ready {ready}, share {share:.3f}, sort {sorts}")
    assert share <= READY_SHARE
    assert median(sorts) < SORT_MS
