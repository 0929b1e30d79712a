"""The summary page in a real browser; without one on the system these tests are skipped and say so."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from browser import Browser, program
from tests_report import hostile_report, make_report

from fleetaudit.writing.html import render

pytestmark = pytest.mark.skipif(program() is None, reason="no Chromium on this system")

COUNT = 'document.querySelector("#count").value'
SHOWN = '[...document.querySelectorAll("#rows tbody tr")].filter(r => r.getClientRects().length).length'
#: what reaching for a field and choosing does; its choices may be made only when it is reached for
SELECT = """(name, value) => { const field = document.querySelector("#filter").elements[name];
 field.dispatchEvent(new Event("focusin", { bubbles: true }));
 field.value = value; field.dispatchEvent(new Event("input", { bubbles: true })); }"""


@pytest.fixture(scope="module")
def browser(tmp_path_factory) -> Iterator[Browser]:
    opened = Browser(tmp_path_factory.mktemp("profile"))
    opened.size(1280)
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    place = tmp_path_factory.mktemp("pages")
    (place / "small.html").write_text(render(make_report(27)), encoding="utf-8")
    (place / "large.html").write_text(render(make_report(1800)), encoding="utf-8")
    (place / "hostile.html").write_text(render(hostile_report()), encoding="utf-8")
    return place


def requests(browser: Browser) -> list[str]:
    return [
        e["params"]["request"]["url"] for e in browser.events if e["method"] == "Network.requestWillBeSent"
    ]


def complaints(browser: Browser) -> list[str]:
    seen = [e for e in browser.events if e["method"] in ("Runtime.exceptionThrown", "Log.entryAdded")]
    return [str(event["params"]) for event in seen]


def test_one_request_and_no_complaint(browser, folder):
    browser.open((folder / "small.html").as_uri())
    assert len(requests(browser)) == 1 and not complaints(browser)
    assert browser.run(COUNT) == "18 of 18 lines shown"


def test_hostile_text_runs_nothing(browser, folder):
    browser.open((folder / "hostile.html").as_uri())
    assert browser.run("window.pwned === undefined")
    assert len(requests(browser)) == 1 and not complaints(browser)
    assert browser.run('document.querySelectorAll("#rows tbody tr").length') > 0


def test_filters_search_and_count_follow_each_other_and_the_address(browser, folder):
    browser.open((folder / "small.html").as_uri())
    browser.run(f'({SELECT})("tier", "plan")')
    assert browser.run(COUNT) == "9 of 18 lines shown" and browser.run("location.hash") == "#tier=plan"
    browser.run(f'({SELECT})("q", "greensand overdue")')
    matching = [
        f
        for f in make_report(27).findings
        if f.tier == "plan" and "overdue" in f.title and "greensand" in f.message
    ]
    assert browser.run(COUNT) == f"{len(matching)} of 18 lines shown"
    browser.open((folder / "small.html").as_uri() + "#tier=not+checked")
    assert browser.run(COUNT) == "3 of 18 lines shown" and browser.run(SHOWN) == 3


def test_a_link_of_the_headline_filters_the_list(browser, folder):
    browser.open((folder / "small.html").as_uri())
    browser.run('document.querySelector(".big a").click(); new Promise(done => setTimeout(done, 100))')
    assert browser.run(COUNT) == "3 of 18 lines shown"
    browser.run(
        'document.querySelector("#filter [type=reset]").click(); new Promise(done => setTimeout(done, 100))'
    )
    assert browser.run(COUNT) == "18 of 18 lines shown"


def test_rows_come_in_chunks_of_three_hundred_and_the_button_shows_more(browser, folder):
    browser.open((folder / "large.html").as_uri())
    assert (
        browser.run(COUNT) == "1200 of 1200 lines shown, the first 300 on screen"
        and browser.run(SHOWN) == 300
    )
    browser.run('document.querySelector("#more").click()')
    assert browser.run(SHOWN) == 600


def test_the_address_of_a_finding_opens_it_wherever_it_stands(browser, folder):
    last = [f for f in make_report(1800).findings if f.tier == "plan"][-1]
    anchor = f"f-filter-list-{last.row}-{last.check}"
    browser.open((folder / "large.html").as_uri() + "#" + anchor)
    place = browser.run(
        f'(() => {{ const b = document.getElementById("{anchor}").getBoundingClientRect();'
        " return [b.top, b.bottom, innerHeight]; })()"
    )
    assert 0 < place[0] < place[2], place
    assert browser.run(f'document.querySelector("#{anchor} details").open')
    assert last.why in browser.run(f'document.getElementById("{anchor}").textContent')
    assert browser.run("location.hash") == "#" + anchor


def test_headings_sort_by_keyboard_and_say_so(browser, folder):
    browser.open((folder / "small.html").as_uri())
    assert browser.run('document.querySelector("#rows th").getAttribute("aria-sort")') == "ascending"
    browser.run('document.querySelectorAll("#rows th button")[5].focus()')
    key = {"key": "Enter", "code": "Enter", "windowsVirtualKeyCode": 13, "text": "\r"}
    browser.send("Input.dispatchKeyEvent", type="keyDown", **key)
    browser.send("Input.dispatchKeyEvent", type="keyUp", **key)
    assert browser.run('[...document.querySelectorAll("#rows th[aria-sort]")].map(h => h.textContent)') == [
        "Cost a year"
    ]
    costs = browser.run('[...document.querySelectorAll("#rows tbody tr")].map(r => r.cells[5].textContent)')
    highs = [int(cost.split(" to ")[1]) for cost in costs if cost]
    assert highs == sorted(highs, reverse=True) and len(highs) == 12


@pytest.mark.parametrize("width", [320, 480, 1280])
def test_nothing_stands_out_of_the_window(browser, folder, width):
    browser.size(width)
    try:
        for name in ("small.html", "hostile.html"):
            browser.open((folder / name).as_uri())
            assert browser.run("document.documentElement.scrollWidth <= innerWidth")
    finally:
        browser.size(1280)


def test_without_scripts_every_row_is_there(browser, folder):
    browser.send("Emulation.setScriptExecutionDisabled", value=True)
    try:
        browser.open((folder / "large.html").as_uri(), scripts=False)
        assert browser.run(SHOWN) == 1200
        assert browser.run('getComputedStyle(document.querySelector("#filter")).display') == "none"
    finally:
        browser.send("Emulation.setScriptExecutionDisabled", value=False)


def test_print_opens_every_finding_and_shows_all_chunks(browser, folder):
    browser.open((folder / "large.html").as_uri())
    browser.send("Emulation.setEmulatedMedia", media="print")
    try:
        browser.run('dispatchEvent(new Event("beforeprint"))')
        assert browser.run(SHOWN) == 1200
        assert browser.run('document.querySelectorAll("details:not([open])").length') == 0
        assert browser.run("document.querySelector('#rows > table').textContent.includes('§')") is False
        browser.run('dispatchEvent(new Event("afterprint"))')
        assert browser.run('document.querySelectorAll("#rows details[open]").length') == 0
    finally:
        browser.send("Emulation.setEmulatedMedia", media="")
    browser.open((folder / "small.html").as_uri())
    assert browser.pdf().startswith(b"%PDF")


def test_targets_are_large_enough_to_hit(browser, folder):
    """WCAG 2.2, 2.5.8: 24 by 24 CSS pixels for buttons and fields."""
    browser.open((folder / "large.html").as_uri())
    sizes = browser.run(
        '[...document.querySelectorAll("button, input, select, summary")]'
        ".filter(e => e.getClientRects().length)"
        ".map(e => { const b = e.getBoundingClientRect(); return [b.width, b.height]; })"
    )
    assert len(sizes) > 300 and all(width >= 24 and height >= 24 for width, height in sizes)
