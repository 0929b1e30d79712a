"""Contrast of the colours by the formula of WCAG 2.2 (W3C Recommendation, terms: contrast ratio)."""

from __future__ import annotations

import re

import pytest

from fleetaudit.assets import read_text
from fleetaudit.writing.added_sheets import LOOKS

CSS = read_text("templates/summary.css")
TEXTS = ("ink", "soft", "link", "now", "plan", "unk", "note", "ok")
GROUNDS = ("bg", "band")
MARKS = ("edge", "focus", "mark", "now", "plan", "note", "ok")


def luminance(colour: str) -> float:
    digits = colour if len(colour) == 6 else "".join(digit * 2 for digit in colour)
    shares = [int(digits[place : place + 2], 16) / 255 for place in (0, 2, 4)]
    linear = [share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4 for share in shares]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def colours(start: str) -> dict[str, str]:
    block = CSS[CSS.index(start) :]
    block = block[block.index(":root{") :]
    return dict(re.findall(r"--(\w+):#([0-9a-f]{3,6})\b", block[: block.index("}")]))


SCHEMES = {
    "light": colours(":root{"),
    "dark": colours("screen and (prefers-color-scheme:dark"),
    "print": colours(":root{") | colours("@media print"),
}


def test_the_formula_gives_the_published_values():
    """Black on white is 21:1 by definition; the lightest grey that passes on white is #767676, 4.54:1."""
    assert contrast("000", "fff") == pytest.approx(21.0)
    assert contrast("767676", "ffffff") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("scheme", SCHEMES)
def test_text_has_at_least_four_and_a_half_to_one(scheme):
    found = SCHEMES[scheme]
    for text in TEXTS:
        for ground in GROUNDS:
            assert contrast(found[text], found[ground]) >= 4.5, (text, ground)
    assert contrast(found["ink"], found["warn"]) >= 4.5 and contrast(found["ink"], found["in"]) >= 4.5
    for tier in ("now", "plan", "unk", "note", "soft"):
        assert contrast(found[tier], found["warn"]) >= 4.5, tier


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_marks_and_edges_of_controls_have_at_least_three_to_one(scheme):
    found = SCHEMES[scheme]
    for mark in MARKS:
        assert contrast(found[mark], found["bg"]) >= 3.0, mark


def test_words_in_coloured_cells_have_at_least_four_and_a_half_to_one():
    assert len(LOOKS) == 6
    for look in LOOKS:
        assert contrast(look.font, look.fill) >= 4.5, look.equals
