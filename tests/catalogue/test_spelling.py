"""Words as typed brought to one form."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetaudit.catalogue.spelling import look_up, normalise


@pytest.mark.parametrize(
    ("typed", "plain"),
    [
        ("  Manganese   GREENSAND ", "manganese greensand"),
        ("multi-media", "multi media"),
        ("multi_media", "multi media"),
        ("12 × 40 mesh carbon", "12x40 carbon"),
        ("12/40", "12x40"),
        ("Ｃａｌｃｉｔｅ", "calcite"),
        ("R.O.", "ro"),
        ("1.0 mm", "1.0 mm"),
        ("carbon\n(new)", "carbon new"),
    ],
)
def test_normalise(typed, plain):
    assert normalise(typed) == plain


@given(st.text(max_size=40))
def test_normalising_twice_changes_nothing(text):
    once = normalise(text)
    assert normalise(once) == once


def test_a_word_for_the_container_is_ignored_only_at_the_end():
    table = {"calcite": "found", "media tank": "other"}
    assert look_up(table, "Calcite tank") == "found"
    assert look_up(table, "media tank") == "other"
    assert look_up(table, "tank calcite") is None
