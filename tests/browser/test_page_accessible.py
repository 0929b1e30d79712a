"""No violation that axe-core knows of, in light, in dark, and 320 pixels wide; and the keyboard alone."""

from __future__ import annotations

import pytest
from modes import enter, violations

pytest.importorskip("axe_playwright_python", reason="axe-core is not installed")


def opened(page, mode, address):
    enter(page, mode)
    page.goto(address)
    page.evaluate("for (const d of document.querySelectorAll('details')) d.open = true")
    return page


@pytest.mark.parametrize(
    "name",
    ["full", "hostile", "owner", "owner-hostile", "letter", "spanish", "owner-spanish", "letter-spanish"],
)
def test_axe_finds_nothing(page, folder, mode, name):
    opened(page, mode, (folder / f"{name}.html").as_uri())
    assert not violations(page)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), "nothing stands out sideways"


def test_axe_would_find_something(page, folder):
    """The check can fail: a picture without a name is told."""
    page.goto((folder / "owner.html").as_uri())
    page.evaluate("document.querySelector('main').append(document.createElement('img'))")
    assert any(entry.startswith("image-alt") for entry in violations(page))


def test_the_keyboard_alone_finds_opens_sorts_and_filters(page, folder):
    page.goto((folder / "full.html").as_uri())
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    assert page.evaluate("location.hash") == "#findings"
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.name") == "q"
    page.keyboard.type("too small")
    # three restrictors that are too small, and three units that could not be judged for that
    assert page.locator("#count").inner_text().startswith("6 of 18 lines shown")
    for _ in range(4):
        page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.type") == "reset"
    page.keyboard.press("Enter")
    page.get_by_text("18 of 18 lines shown").wait_for()
    page.keyboard.press("Tab")
    for _ in range(5):
        page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    assert page.locator("#rows th[aria-sort]").inner_text().strip() == "Cost a year"
    while page.evaluate("document.activeElement.tagName") != "SUMMARY":
        page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.parentElement.open")


def test_focus_is_seen_and_not_under_the_heading(page, folder):
    """WCAG 2.2, 2.4.7 and 2.4.11: a visible mark, not wholly hidden by the heading that stays."""
    page.goto((folder / "full.html").as_uri())
    page.locator("#rows summary").nth(12).focus()
    page.keyboard.press("Shift+Tab")
    page.keyboard.press("Tab")
    told = page.evaluate(
        """() => { const e = document.activeElement, s = getComputedStyle(e);
        const b = e.getBoundingClientRect(),
        h = document.querySelector('#rows thead th').getBoundingClientRect();
        const under = b.bottom - Math.max(0, h.bottom);
        return [s.outlineStyle, parseFloat(s.outlineWidth), under, innerHeight - b.top]; }"""
    )
    assert told[0] == "solid" and told[1] >= 2 and told[2] > 0 and told[3] > 0, told
