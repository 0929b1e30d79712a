"""Sentences said once: whatever is shortened comes back to the letter."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st
from pagetree import filled

from fleetaudit.writing.sentences import Sentences

#: pieces that make texts alike but for figures, and all that could be taken for a mark, a gap or a figure
PIECES = st.sampled_from(
    [
        "flow ",
        "7",
        "0.5",
        "1,000",
        "2026-11-01",
        "H17",
        "A7:A9",
        " gpm",
        "§",
        "§2 ",
        "…",
        "<b>",
        "&",
        "٣",
        "\n",
        "",
    ]
)
TEXTS = st.lists(st.lists(PIECES, max_size=6).map("".join), max_size=40)


@given(TEXTS)
def test_what_is_shortened_comes_back_to_the_letter(texts):
    sentences = Sentences(texts)
    for text in texts:
        short = sentences.short(text)
        assert not short or filled(short, sentences.shared) == [text]


@given(TEXTS)
def test_texts_are_shortened_where_another_is_like_them_and_none_holds_a_gap(texts):
    sentences = Sentences(texts)
    for text in texts:
        if "…" in text:
            assert not sentences.short(text)
        elif texts.count(text) > 1:
            assert sentences.short(text)


def test_figures_that_many_texts_share_stay_in_the_sentence():
    often, seldom = (
        "water 45 to 64 °F assumed; worked out at 54 °F",
        "water 39 to 72 °F assumed; worked out at 55 °F",
    )
    sentences = Sentences([often] * 30 + [seldom, seldom.replace("39", "40")])
    assert sentences.shared == (often, "water … to … °F assumed; worked out at … °F")
    assert sentences.short(often) == "§1" and sentences.short(seldom) == "§2 39 72 55"
