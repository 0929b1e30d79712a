"""Vessel sizes as people write them, against what they say in plain words."""

from __future__ import annotations

import datetime as dt
import math

import pytest

from fleetaudit.schema import fleet
from fleetaudit.schema.column import Missing, Origin

INCH = 0.0254  # exact by definition (international inch, 1959)
SIZES = [
    ("10x54", 10, 54),
    ("10 x 54", 10, 54),
    ("10X54", 10, 54),
    ('10"x54"', 10, 54),
    ('10"x54', 10, 54),
    ('10X54"', 10, 54),
    ("10×54", 10, 54),
    ("10 by 54", 10, 54),
    ("10*54", 10, 54),
    ("10-54", 10, 54),
    ("10 - 54 in", 10, 54),
    ("13x54 in.", 13, 54),
    ("10 x 54", 10, 54),
    ("１０x５４", 10, 54),
    ("10 in x 54 in", 10, 54),
    ("10½x54", 10.5, 54),
    ("9 1/2 x 48", 9.5, 48),
    (" 10x54 ", 10, 54),
    ("10”x54”", 10, 54),
    ("10''x54''", 10, 54),
]
GUESSED = [("1054", 10, 54), (1054, 10, 54), (1054.0, 10, 54), ("948", 9, 48), (844, 8, 44), ("1665", 16, 65)]


def sizes(read, cells, heading="Tank size", **options):
    rows = [
        ("Unit ID", heading, "Media", "DLFC (gpm)"),
        *((f"U-{n}", cell, "sand", 5) for n, cell in enumerate(cells)),
    ]
    return read(rows, **options)


@pytest.mark.parametrize(("cell", "wide", "tall"), SIZES)
def test_a_size_reads_as_it_says(read, cell, wide, tall) -> None:
    frame = sizes(read, [cell]).frame
    assert frame.number(fleet.DIAMETER)[0] == pytest.approx(wide * INCH)
    assert frame.number(fleet.HEIGHT)[0] == pytest.approx(tall * INCH)
    assert frame.origins(fleet.DIAMETER)[0] == Origin.TYPED
    assert frame.columns[fleet.DIAMETER.name] == frame.columns[fleet.SIZE.name] == 2


@pytest.mark.parametrize(("cell", "wide", "tall"), GUESSED)
def test_a_run_of_digits_is_split_where_one_split_is_a_vessel(read, cell, wide, tall) -> None:
    found = sizes(read, [cell])
    assert found.frame.number(fleet.DIAMETER)[0] == pytest.approx(wide * INCH)
    assert found.frame.number(fleet.HEIGHT)[0] == pytest.approx(tall * INCH)
    assert found.frame.origins(fleet.DIAMETER)[0] == Origin.GUESSED
    (remark,) = [one for one in found.remarks if one.kind == "guessed-size"]
    assert remark.assumed == f"{wide}x{tall}"


@pytest.mark.parametrize(
    "cell",
    ["999", "1099", 5555, "tank", "10x54x2", "4x4x54", "2 x 10x54x2", "ten x 54", "10x", "x54", "10x54 blue"],
)
def test_what_is_no_size_is_not_read(read, cell) -> None:
    frame = sizes(read, [cell, "10x54"]).frame
    assert math.isnan(frame.number(fleet.DIAMETER)[0])
    assert frame.why_missing(fleet.DIAMETER)[0] in (Missing.UNREADABLE, Missing.IMPLAUSIBLE)
    assert frame.number(fleet.DIAMETER)[1] == pytest.approx(10 * INCH)


SEVERAL = [
    ("2 x 10x54", 2, 10, 54),
    ("(2) 13x54", 2, 13, 54),
    ("3 @ 12 x 52", 3, 12, 52),
    ('2 x 9.5"x48"', 2, 9.5, 48),
]


@pytest.mark.parametrize(("cell", "count", "wide", "tall"), SEVERAL)
def test_a_first_number_too_small_for_a_diameter_counts_vessels(read, cell, count, wide, tall) -> None:
    """No vessel of this trade is narrower than six inches, so there is no other reading."""
    found = sizes(read, [cell, "10x54"])
    assert found.frame.number(fleet.VESSELS)[0] == count and math.isnan(found.frame.number(fleet.VESSELS)[1])
    assert found.frame.number(fleet.DIAMETER)[0] == pytest.approx(wide * INCH)
    assert found.frame.number(fleet.HEIGHT)[0] == pytest.approx(tall * INCH)
    assert found.frame.origins(fleet.DIAMETER)[0] == found.frame.origins(fleet.VESSELS)[0] == Origin.GUESSED
    (remark,) = [one for one in found.remarks if one.kind == "guessed-size"]
    assert remark.assumed == f"{count} vessels of {wide}x{tall}"


def test_millimetres_are_read_where_stated_in_cell_or_heading(read) -> None:
    stated = sizes(read, ["250x1370 mm", "250 mm x 1370 mm"]).frame
    headed = sizes(read, ["250x1370", "250 x 1370"], "Tank size (mm)").frame
    for frame in (stated, headed):
        assert frame.number(fleet.DIAMETER) == pytest.approx([0.25, 0.25])
        assert frame.number(fleet.HEIGHT) == pytest.approx([1.37, 1.37])
    assert headed.origins(fleet.DIAMETER)[0] == Origin.HEADER


def test_a_size_that_can_only_be_millimetres_is_guessed_and_shown(read) -> None:
    found = sizes(read, ["250x1370"])
    assert found.frame.number(fleet.DIAMETER)[0] == pytest.approx(0.25)
    assert found.frame.origins(fleet.DIAMETER)[0] == Origin.GUESSED
    assert any(one.kind == "guessed-size-unit" and "250x1370" in one.text for one in found.remarks)


def test_a_size_with_the_diameter_alone_is_a_diameter(read) -> None:
    frame = sizes(read, ["10 in", 10, '10"', "250 mm"]).frame
    assert frame.number(fleet.DIAMETER) == pytest.approx([10 * INCH, 10 * INCH, 10 * INCH, 0.25])
    assert not frame.has(fleet.HEIGHT)


@pytest.mark.parametrize(
    ("stored", "code", "proposed"),
    [
        (dt.date(1954, 10, 1), "mmm-yy", "10x54"),  # what "10-54" becomes
        (dt.date(2026, 10, 12), "d-mmm", "10x12"),  # what "10-12" becomes where the month comes first
        (dt.date(2026, 12, 10), "d-mmm", "10x12"),  # and where the day does
    ],
)
def test_a_size_the_spreadsheet_made_a_date_is_proposed_never_applied(read, stored, code, proposed) -> None:
    found = sizes(read, [stored, "10x54"], formats={"B2": code})
    assert found.frame.why_missing(fleet.SIZE)[0] == Missing.UNREADABLE
    assert math.isnan(found.frame.number(fleet.DIAMETER)[0])
    (remark,) = [one for one in found.remarks if one.kind == "size-became-date"]
    assert proposed in remark.text
    assert remark.cells == ("Units!B2",)


def test_diameter_and_height_of_their_own_go_before_the_size(read) -> None:
    rows = [
        ("Tank size", "Diameter (in)", "Height (in)", "Media"),
        ("10x54", None, None, "sand"),
        (None, 12, 52, "sand"),
        ("10x54", 10, None, "sand"),
    ]
    frame = read(rows).frame
    assert frame.number(fleet.DIAMETER) == pytest.approx([10 * INCH, 12 * INCH, 10 * INCH])
    assert frame.number(fleet.HEIGHT) == pytest.approx([54 * INCH, 52 * INCH, 54 * INCH])
    assert frame.columns[fleet.DIAMETER.name] == 2


def test_size_and_diameter_that_contradict_each_other_give_no_value(read) -> None:
    found = read([("Tank size", "Diameter (in)", "Media"), ("10x54", 12, "sand"), ("12x52", 12, "sand")])
    assert found.frame.why_missing(fleet.DIAMETER).tolist() == [Missing.CONFLICT, Missing.KNOWN]
    (remark,) = [one for one in found.remarks if one.kind == "sizes-disagree"]
    assert remark.cells == ("Units!B2", "Units!A2")


def test_a_size_in_a_unit_other_than_the_heading_gives_no_value(read) -> None:
    frame = sizes(read, ["250x1370 mm", "10x54"], "Tank size (in)").frame
    assert frame.why_missing(fleet.DIAMETER).tolist() == [Missing.CONFLICT, Missing.KNOWN]


@pytest.mark.parametrize("text", ["UV", "2.5x20 cartridge", '20" big cartridge', "RO"])
def test_equipment_that_is_no_bed_may_stand_where_the_size_should(read, text) -> None:
    found = read([("Unit", "Tank", "Media"), ("U-1", text, ""), ("U-2", "10x54", "sand")])
    assert found.frame.code("bed").tolist() == [0, 1]
    assert not [one for one in found.remarks if one.kind == "unreadable"]
    assert any(one.kind == "no-bed" for one in found.remarks)
