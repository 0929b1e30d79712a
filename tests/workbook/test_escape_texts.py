"""Texts escaped together come out as texts escaped one by one."""

from hypothesis import given
from hypothesis import strategies as st

from fleetaudit.workbook.markup import escape_text, escape_texts

ODD = st.sampled_from(
    [
        "",
        "plain",
        "a < b & c > d",
        "\x00",
        "\x0b",
        "\r\n",
        "_x0041_",
        "\ufffe",
        "\uffff",
        "\ud800",
        "x" * 32_768,
        "m³·h⁻¹",
    ]
)


@given(st.lists(st.one_of(ODD, st.text(max_size=20)), max_size=6))
def test_all_at_once_is_the_same_as_one_by_one(texts: list[str]) -> None:
    assert escape_texts(texts) == [escape_text(text).encode() for text in texts]
