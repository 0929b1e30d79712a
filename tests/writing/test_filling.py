"""Templates filled for many findings at once say what filling them one by one would."""

from __future__ import annotations

import pytest

from fleetaudit.writing.filling import sentences


def test_words_with_holes_are_filled_from_their_own_finding():
    words = {"what": ["bed of {medium}", "bed", "bed of {medium}"], "medium": ["sand", "coal", "garnet"]}
    assert sentences("the {what} is deep.", words, 3) == [
        "The bed of sand is deep.", "The bed is deep.", "The bed of garnet is deep.",
    ]  # fmt: skip


def test_a_unit_that_both_ends_of_a_span_have_is_said_once():
    words = {"low": ["7 gpm", "7 gpm"], "high": ["9 gpm", "9 in"], "span": ["1 in to 2 in", "none"]}
    assert sentences("{low} to {high}, {span}", words, 2) == [
        "7 to 9 gpm, 1 to 2 in", "7 gpm to 9 in, none",
    ]  # fmt: skip


def test_what_a_user_typed_is_left_as_it_is():
    words = {"raw": ['"{low} 100 %"'], "low": ["7 gpm"]}
    assert sentences("100 % of {raw}", words, 1) == ['100 % of "{low} 100 %"']


def test_braces_in_names_of_the_user_are_no_holes():
    words = {"medium": ["sand {low}"], "housing": ["a {box} 100 %"], "low": ["7 gpm"]}
    assert sentences("{housing} on {medium}", words, 1) == ["A {box} 100 % on sand {low}"]


def test_a_hole_of_a_template_that_nothing_fills_is_a_mistake():
    with pytest.raises(KeyError):
        sentences("{nothing}", {}, 1)


def test_a_template_without_holes_is_said_for_each():
    assert sentences("wash it", {}, 2) == ["Wash it", "Wash it"]
