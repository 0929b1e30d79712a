"""Every input that cannot be used as it stands gets one sentence: where, what was seen, what to do."""

from __future__ import annotations

import math

import pytest
from openpyxl.chart import BarChart, Reference
from openpyxl.styles import Font

from fleetaudit.errors import CatalogueError, HeaderError
from fleetaudit.reading.fleet import read_fleet
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Missing, Origin
from fleetaudit.schema.remark import Level

HEAD = ("Unit ID", "Account", "Tank size", "Media type", "DLFC (gpm)")
ONE = ("U-1", "A", "10x54", "sand", 5)


def stop(read, rows, **options) -> str:
    with pytest.raises(HeaderError) as caught:
        read(rows, **options)
    assert "{" not in caught.value.message
    return caught.value.message


def only(found, kind):
    (remark,) = [one for one in found.remarks if one.kind == kind]
    return remark


def test_two_sheets_that_fit(read) -> None:
    message = stop(read, [HEAD, ONE], sheets={"Units old": [HEAD, ONE]})
    assert '"Units" and "Units old"' in message
    assert '--sheet "Units"' in message
    assert read([HEAD, ONE], sheets={"Units old": [HEAD, ONE, ONE]}, sheet="Units old").frame.units == 2


def test_headings_without_units(read) -> None:
    assert "sheet Units has headings but no units" in stop(read, [HEAD])
    assert "has headings but no units" in stop(read, [HEAD, (), (None, "Total", None, None, 0)])


def test_no_headings_at_all(read) -> None:
    message = stop(read, [("U-1", "10x54", "sand"), ("U-2", "12x52", "carbon")])
    assert "fleet.xlsx" in message
    assert "row of headings" in message
    assert "template" in message


def test_a_missing_vessel_column_names_the_nearest_heading_and_the_way_out(read) -> None:
    message = stop(read, [("Unit ID", "Account", "Vesel", "Media", "DLFC"), ONE])
    assert "no column for the vessel" in message
    assert 'Nearest heading: "Vesel" (C1)' in message
    assert '--map "Vesel=Vessel size"' in message


def test_a_missing_medium_column(read) -> None:
    message = stop(read, [("Unit ID", "Account", "Tank", "Fillling", "DLFC"), ONE])
    assert "no column for the medium" in message


def test_all_problems_of_a_run_are_told_together(read) -> None:
    rows = [
        ("Unit ID", "Account", "Rebed date", "DLFC", "BW restrictor", "Crew"),
        ("U-1", "A", "2021", 5, 5, "a"),
    ]
    lines = stop(read, rows).splitlines()
    assert len(lines) == 3
    assert any("vessel" in line for line in lines)
    assert any("medium" in line for line in lines)
    assert any('both "DLFC" (D1) and "BW restrictor" (E1) can be restrictor' in line for line in lines)
    assert any('--map "DLFC=Restrictor" or --map "BW restrictor=Restrictor"' in line for line in lines)


def test_two_headings_for_one_column_ask(read) -> None:
    rows = [("Unit ID", "Tank size", "Diameter", "Tank dia", "Media"), ("U-1", None, 10, 12, "sand")]
    message = stop(read, rows)
    assert 'both "Diameter" (C1) and "Tank dia" (D1) can be vessel diameter' in message
    assert '--map "Diameter=Vessel diameter"' in message
    found = read(rows, header_map={"Tank dia": "Vessel diameter"})
    assert found.frame.number(fleet.DIAMETER)[0] == pytest.approx(12 * 0.0254)
    assert "Diameter" in found.unknown_columns


def test_the_columns_own_title_goes_before_its_other_spellings(read) -> None:
    found = read([("Unit ID", "Account", "Customer", "Tank", "Media"), ("U-1", "A", "B", "10x54", "sand")])
    assert found.frame.text(fleet.ACCOUNT) == ["A"]
    assert only(found, "heading-preferred").level == Level.INFO


def test_the_same_heading_twice(read) -> None:
    assert '"Tank" (B1) and "Tank" (C1) bear the same heading' in stop(
        read, [("Unit ID", "Tank", "Tank", "Media", "DLFC"), ("U-1", "10x54", "10x54", "sand", 5)]
    )
    found = read([(*HEAD, "Date installed", "Date installed"), (*ONE, "2021-01-01", "2022-01-01")])
    remark = only(found, "heading-twice")
    assert "(F1)" in remark.text
    assert "(G1)" in remark.text
    assert not found.frame.has(fleet.INSTALL_DATE)


def test_unknown_columns_are_listed_and_near_ones_named(read) -> None:
    found = read([(*HEAD, "Route", "Insatlled by"), (*ONE, "7", "crew A")])
    assert found.unknown_columns == ("Route", "Insatlled by")
    assert '"Route"' in only(found, "unknown-columns").text
    near = only(found, "heading-near")
    assert near.level == Level.WARN
    assert near.cells == ("Units!G1",)
    assert "installed by" in near.text


def test_a_mapped_heading_that_is_not_there(read) -> None:
    assert 'no heading "Tnak"' in stop(read, [HEAD, ONE], header_map={"Tnak": "Vessel size"})


def test_a_heading_mapped_to_a_column_nobody_knows(read) -> None:
    message = stop(read, [HEAD, ONE], header_map={"Account": "Vesel size", "Unit ID": "zzz"})
    assert len(message.splitlines()) == 2
    assert 'Did you mean "Vessel size"?' in message


def test_a_heading_can_be_set_aside(read) -> None:
    found = read([HEAD, ONE], header_map={"Account": "ignore"})
    assert not found.frame.has(fleet.ACCOUNT)
    assert "Account" in found.unknown_columns


@pytest.mark.parametrize("ours", ["Vessel size", "vessel_size", "tank size"])
def test_headings_can_be_mapped_by_title_name_or_spelling(read, ours) -> None:
    rows = [("Unit ID", "Blue thing", "Media", "DLFC (gpm)"), ("U-1", "10x54", "sand", 5)]
    assert read(rows, header_map={"Blue thing": ours}).frame.number(fleet.DIAMETER)[0] == pytest.approx(0.254)


def test_a_cell_that_is_no_number(read) -> None:
    found = read(
        [
            ("Unit ID", "Diameter (in)", "Media", "DLFC (gpm)"),
            ("U-1", "ten", "sand", "five"),
            ("U-2", 10, "sand", 5),
        ]
    )
    texts = [one.text for one in found.remarks if one.kind == "unreadable"]
    assert any(text.startswith('Units!B2 vessel diameter "ten" is not a number.') for text in texts)
    assert found.frame.raw[0, fleet.DIAMETER.name] == "ten"
    assert found.frame.why_missing(fleet.DIAMETER).tolist() == [Missing.UNREADABLE, Missing.KNOWN]


def test_a_comma_that_could_mean_two_things(column) -> None:
    found = column("DLFC (gpm)", ["1,5", 5])
    assert '"1,5" could be 1.5 or 15' in only(found, "unreadable").text
    assert "decimal mark" in only(found, "unreadable").text
    settled = column(
        "DLFC (gpm)", ["1,5"], sheets={"Settings": [("Setting", "Value"), ("decimal_mark", "comma")]}
    )
    assert settled.frame.number(fleet.RESTRICTOR)[0] == pytest.approx(
        1.5 * 3.785411784e-3 / 60
    )  # US gallon, NIST SP 811


def test_a_comma_decided_by_its_column_is_said(column) -> None:
    found = column("DLFC (gpm)", ["1,5", "2,25", "12,75"])
    assert found.frame.number(fleet.RESTRICTOR)[2] == pytest.approx(12.75 * 3.785411784e-3 / 60)
    assert only(found, "comma-decided").level == Level.WARN


def test_numbers_stored_as_text_are_read_and_said(column) -> None:
    found = column("DLFC (gpm)", ["5", "7.5", 10])
    assert not math.isnan(found.frame.number(fleet.RESTRICTOR)[0])
    assert "2 numbers stored as text" in only(found, "numbers-as-text").text


def test_an_error_is_not_blank(column) -> None:
    found = column("DLFC (gpm)", ["#N/A", None, 5])
    assert found.frame.why_missing(fleet.RESTRICTOR).tolist() == [
        Missing.UNREADABLE,
        Missing.BLANK,
        Missing.KNOWN,
    ]
    remark = only(found, "error-cell")
    assert "holds #N/A" in remark.text
    assert remark.cells == ("Units!D2",)
    assert found.frame.raw[0, fleet.RESTRICTOR.name] == "#N/A"


def test_formulas_never_calculated_stop_where_the_column_is_needed(read) -> None:
    rows = [HEAD, ("U-1", "A", "10x54", "sand", "=2+3"), ("U-2", "A", "10x54", "sand", "=2+3")]
    message = stop(read, rows)
    assert "Units!E2:E3 (restrictor) are formulas never calculated" in message


def test_a_formula_never_calculated_elsewhere_is_not_blank(column) -> None:
    found = column("pH", ["=7+0", 7.5])
    assert found.frame.why_missing(fleet.PH).tolist() == [Missing.NEVER_CALCULATED, Missing.KNOWN]
    assert only(found, "never-calculated").cells == ("Units!D2",)


def test_a_blank_restrictor_is_blank_not_zero(read) -> None:
    frame = read([HEAD, ONE, ("U-2", "A", "10x54", "sand", None)]).frame
    assert frame.why_missing(fleet.RESTRICTOR).tolist() == [Missing.KNOWN, Missing.BLANK]
    assert math.isnan(frame.number(fleet.RESTRICTOR)[1])


def test_a_misspelt_medium_with_one_close_match(read) -> None:
    found = read([HEAD, ("U-1", "A", "10x54", "grensand", 5)])
    assert found.frame.origins(fleet.MEDIUM)[0] == Origin.GUESSED
    remark = only(found, "guessed-medium")
    assert remark.text.startswith('Units!D2 "grensand" read as Manganese greensand')
    assert remark.level == Level.WARN


def test_a_medium_with_no_or_several_close_matches(read) -> None:
    found = read([HEAD, ("U-1", "A", "10x54", "greensnd mix", 5)])
    assert found.frame.code(fleet.MEDIUM.name)[0] == -1
    remark = only(found, "unknown-medium")
    assert "Not guessed." in remark.text
    assert "Media sheet" in remark.text


def test_spellings_of_a_crew_are_merged_only_where_the_crews_sheet_says_so(read) -> None:
    rows = [(*HEAD, "Installed by"), (*ONE, "team a"), (*ONE, "A-Team "), (*ONE, "Crew A")]
    assert read(rows).frame.text(fleet.CREW) == ["team a", "A-Team", "Crew A"]
    merged = read(rows, sheets={"Crews": [("Crew", "Other spellings"), ("Crew A", "Team A; a-team")]})
    assert merged.frame.text(fleet.CREW) == ["Crew A", "Crew A", "Crew A"]


def test_macros_charts_and_the_like_are_said_to_stay(read) -> None:
    def chart(book) -> None:
        picture = BarChart()
        picture.add_data(Reference(book["Units"], min_col=5, min_row=1, max_row=2))
        book["Units"].add_chart(picture, "H2")

    assert "1 chart: kept unchanged" in only(read([HEAD, ONE], change=chart), "kept-unchanged").text


def test_like_remarks_are_one_with_all_their_cells(read) -> None:
    found = read([HEAD, *[("U", "A", "10x54", "sand", "five")] * 14])
    remark = only(found, "unreadable")
    assert len(remark.cells) == 14
    assert remark.text.startswith('Units!E2, E3, E4 and 11 more restrictor "five"')


def test_a_sheet_name_with_blanks_is_quoted_in_every_address(make, catalogue) -> None:
    path = make({"Bob's units": [HEAD, ("U-1", "A", "10x54", "sand", "five")]})
    assert only(read_fleet(path, catalogue), "unreadable").cells == ("'Bob''s units'!E2",)


def test_a_company_sheet_with_an_unknown_setting(read) -> None:
    with pytest.raises(CatalogueError) as caught:
        read(
            [HEAD, ONE],
            sheets={"Settings": [("Setting", "Value"), ("due_within_dayz", 60), ("hidden_rows", "maybe")]},
        )
    assert "Settings!A2" in caught.value.message
    assert "due_within_days" in caught.value.message
    assert "Settings!A3" in caught.value.message


def test_spellings_that_may_be_one_crew_are_shown_and_not_merged(read) -> None:
    names = ["B. Wren", "Wren B", "wren", "Plover", "K. Plover", "L. Plover"]
    found = read([(*HEAD, "Installed by"), *((*ONE, name) for name in names)])
    assert found.frame.text(fleet.CREW) == names
    remark = only(found, "crews-alike")
    assert "3 spellings may be one crew" in remark.text
    assert remark.cells == ("Units!F2", "Units!F3", "Units!F4")


def test_stray_formatting_far_below_is_said(read) -> None:
    def style(book) -> None:
        book["Units"]["A5000"].font = Font(bold=True)

    assert (
        "claims 5,000 rows; the last with data is 2"
        in only(read([HEAD, ONE], change=style), "stray-formatting").text
    )
