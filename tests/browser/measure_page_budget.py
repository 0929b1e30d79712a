"""Bytes of a row, and how soon a large page is ready and sorted, beside a plain table in the same run.

A measurement, run by name on a quiet machine:
`python -m pytest tests/browser/measure_page_budget.py -m slow`.
"""

from __future__ import annotations

import re
from datetime import date
from itertools import pairwise
from statistics import median

import pytest
from tests_report import make_report

from fleetaudit.audit_file import Request, audit_file
from fleetaudit.writing.html import render
from tests.bench.workbooks import build

BYTES_A_ROW = 400
#: a line with its whole working where no other bed is like it, and the tables of parts, quotes and media
BYTES_A_FULL_LINE = 700
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


@pytest.mark.slow
def test_a_line_takes_few_bytes_where_every_unit_has_one():
    """Each further line of the list, with all that hangs on it elsewhere on the page."""
    sizes = {units: len(render(make_report(units, every_unit_found=True)).encode()) for units in COUNTS}
    empty = len(render(make_report(0)).encode())
    print("all found", {units: round((size - empty) / units) for units, size in sizes.items()})
    for fewer, more in pairwise(COUNTS):
        assert (sizes[more] - sizes[fewer]) / (more - fewer) <= BYTES_A_ROW


@pytest.mark.slow
def test_a_row_of_a_fleet_audited_from_its_workbook_takes_few_bytes(tmp_path):
    """An invented list, badly kept, from the workbook to the page."""
    shares = {}
    for units in COUNTS[:2]:
        build(tmp_path / f"{units}.xlsx", units)
        written = audit_file(Request(tmp_path / f"{units}.xlsx", date(2026, 11, 1)))
        page = written.summary_path.read_text(encoding="utf-8")
        shares[units] = (len(page.encode()), page.count('<tr id="'))
    print("from workbooks: bytes, lines", shares)
    (few, few_lines), (many, many_lines) = shares.values()
    assert (many - few) / (many_lines - few_lines) <= BYTES_A_FULL_LINE


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
