"""Bytes of a row, and how soon a large page is ready and sorted, beside a plain table in the same run.

A measurement, run by name on a quiet machine:
`python -m pytest tests/browser/measure_page_budget.py -m slow`.
"""

from __future__ import annotations

import re
from statistics import median

import pytest
from tests_report import make_report

from fleetaudit.writing.html import render

BYTES_A_ROW = 400
#: of the time a plain table of all rows takes
READY_SHARE = 0.2
SORT_MS = 500
ROWS = 30_000
ROUNDS = 1
#: milliseconds from the start of loading until two frames were drawn
READY = "new Promise(d => requestAnimationFrame(() => requestAnimationFrame(() => d(performance.now()))))"
SORT = """new Promise(done => { const start = performance.now();
document.querySelectorAll("#rows th button")[4].click();
requestAnimationFrame(() => requestAnimationFrame(() => done(performance.now() - start))); })"""


@pytest.mark.slow
def test_a_row_of_an_ordinary_fleet_takes_few_bytes():
    sizes = {units: len(render(make_report(units)).encode()) for units in (300, 3_000, 30_000)}
    empty = len(render(make_report(0)).encode())
    shares = {units: (size - empty) / units for units, size in sizes.items()}
    print({units: round(share) for units, share in shares.items()})
    assert shares[3_000] <= BYTES_A_ROW and shares[30_000] <= BYTES_A_ROW
    assert (sizes[3_000] - sizes[300]) / 2_700 <= BYTES_A_ROW


@pytest.mark.slow
def test_a_large_page_is_ready_and_sorts_in_a_fraction_of_a_plain_table(chromium, tmp_path):
    """Both pages hold all lines; what the plain one lays out, ours keeps aside."""
    report = make_report(ROWS, every_unit_found=True)
    ours = render(report)
    plain = re.sub(r"<script>.*?</script>|</?noscript>", "", ours, flags=re.DOTALL)
    assert ours.count("<tr id=") == plain.count("<tr id=") == ROWS and "<script" not in plain
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
