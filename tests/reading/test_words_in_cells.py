"""Identifiers, choices, and yes or no."""

from __future__ import annotations

import datetime as dt

import pytest

from fleetaudit.schema import fleet
from fleetaudit.schema.column import Missing, Origin

ROW = ("10x54", "sand")


def test_identifiers_keep_their_zeros_and_drop_stray_blanks(read) -> None:
    rows = [
        ("Unit ID", "Tank", "Media"),
        (123, *ROW),
        ("00123", *ROW),
        (" U-1\u00a0", *ROW),
        (104.0, *ROW),
        ("Ｕ－９", *ROW),
        (7, *ROW),
    ]
    found = read(rows, formats={"A2": "00000", "A7": '"U-"000'})
    assert found.frame.text(fleet.UNIT_ID) == ["00123", "00123", "U-1", "104", "U-9", "U-007"]


def test_a_number_too_long_for_a_spreadsheet_is_said(read) -> None:
    found = read([("Unit ID", "Tank", "Media"), (12345678901234567, *ROW), ("12345678901234567", *ROW)])
    (remark,) = [one for one in found.remarks if one.kind == "long-number"]
    assert remark.cells == ("Units!A2",)
    assert found.frame.text(fleet.UNIT_ID)[1] == "12345678901234567"


def test_units_without_a_name_are_called_after_their_row(read) -> None:
    found = read([("Unit ID", "Tank", "Media"), ("U-1", *ROW), (None, *ROW)])
    assert found.frame.text(fleet.UNIT_ID) == ["U-1", "row 3"]
    assert found.frame.origins(fleet.UNIT_ID).tolist() == [Origin.TYPED, Origin.FILLED]
    assert found.frame.why_missing(fleet.UNIT_ID).tolist() == [Missing.KNOWN, Missing.KNOWN]
    assert any(one.kind == "unnamed-units" for one in found.remarks)
    assert read([("Account", "Tank", "Media"), ("A", *ROW)]).frame.text(fleet.UNIT_ID) == ["row 2"]


@pytest.mark.parametrize(
    ("heading", "words", "expected"),
    [
        (
            "Status",
            ["in service", "ACTIVE", None, "Removed", "spare ", "Closed"],
            ["in service", "in service", "in service", "removed", "spare", "account closed"],
        ),
        (
            "DLFC housing",
            ["S", "Small", "med", "LARGE", "ext."],
            ["small", "small", "medium", "large", "external"],
        ),
        ("In/out", ["OK", "swapped", "Right"], ["right", "reversed", "right"]),
        ("Source", ["Well", "city", "Lake", "unknown"], ["well", "mixed", "surface", "mixed"]),
    ],
)
def test_choices_take_the_words_people_use(column, heading, words, expected) -> None:
    frame = column(heading, words).frame
    (ours,) = [
        one
        for one in fleet.COLUMNS
        if one.title in ("Status", "Housing", "Connections", "Water source") and one.name in frame.codes
    ]
    assert [list(ours.choices)[code] for code in frame.code(ours.name)] == expected


def test_an_unknown_choice_is_not_taken_for_blank(column) -> None:
    found = column("DLFC housing", ["teapot", None, "small"])
    assert found.frame.code(fleet.HOUSING.name).tolist() == [-1, -1, 0]
    assert found.frame.why_missing(fleet.HOUSING).tolist() == [
        Missing.UNREADABLE,
        Missing.BLANK,
        Missing.KNOWN,
    ]
    (remark,) = [one for one in found.remarks if one.kind == "unknown-word"]
    assert "small, medium, large, external" in remark.text


def test_yes_and_no(column) -> None:
    found = column("Labelled", ["yes", "N", True, False, 1, 0, "✓", "perhaps", None, "X"])
    assert found.frame.code(fleet.LABEL.name).tolist() == [1, 0, 1, 0, 1, 0, 1, -1, -1, 1]
    assert found.frame.why_missing(fleet.LABEL)[7] == Missing.UNREADABLE


def test_an_identifier_the_spreadsheet_made_a_date_is_said(read) -> None:
    found = read([("Unit ID", "Tank", "Media"), (dt.date(1954, 10, 1), *ROW)])
    assert any(one.kind == "name-became-date" for one in found.remarks)
