"""Where the list stands on its sheet, and what stands around it."""

from __future__ import annotations

import pytest
from openpyxl.worksheet.table import Table

from fleetaudit.errors import HeaderError
from fleetaudit.reading import headers
from fleetaudit.reading.fleet import read_fleet
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Missing, Origin

HEAD = ("Unit ID", "Account", "Tank size", "Media type", "DLFC (gpm)")
ONE = ("U-1", "A", "10x54", "sand", 5)
TWO = ("U-2", "B", "12x52", "carbon", 8)


def test_no_spelling_of_a_heading_belongs_to_two_columns() -> None:
    owners: dict[str, set[str]] = {}
    for column in fleet.COLUMNS:
        for spelling in (column.title, column.name, *column.aliases):
            owners.setdefault(headers.normalise(spelling), set()).add(column.name)
    assert {spelling: names for spelling, names in owners.items() if len(names) > 1} == {}


@pytest.mark.parametrize(
    ("heading", "title"),
    [
        ("Tank", "Vessel size"),
        ("Cold water", "Coldest water"),
        ("Warm water (°C)", "Warmest water"),
        ("Vessel", "Vessel size"),
        ("Size", "Vessel size"),
        ("Tank size", "Vessel size"),
        ("DLFC", "Restrictor"),
        ("Drain restrictor", "Restrictor"),
        ("BW restrictor gpm", "Restrictor"),
        ("Media type", "Medium"),
        ("Bed", "Medium"),
        ("Rebed date", "Media date"),
        ("Installed by", "Crew"),
        ("Crew", "Crew"),
        ("tank_size", "Vessel size"),
        ("TANK  SIZE:", "Vessel size"),
        ("Tank\nsize", "Vessel size"),
        ("Tank\u00a0size", "Vessel size"),
        ("Ｔａｎｋ size", "Vessel size"),
        ("Unit #", "Unit ID"),
        ("Unit No.", "Unit ID"),
        ("Marked?", "Restrictor labelled"),
        ("Tank (dia x ht)", "Vessel size"),
        ("Tank size (in)", "Vessel size"),
        ("Bed depth, in", "Bed depth"),
        ("DLFC in gpm", "Restrictor"),
        ("pH", "pH"),
        ("Zip", "Postcode"),
        ("# of tanks", "Vessels"),
    ],
)
def test_headings_as_people_write_them(heading, title) -> None:
    found = headers.match(heading)
    assert found is not None
    assert found.title == title


@pytest.mark.parametrize(
    "heading", ["Route", "Key code", "Gate", "Invoice", "Salesperson", "Yrs on bed", "Tanker", ""]
)
def test_other_headings_mean_nothing(heading) -> None:
    assert headers.match(heading) is None


def test_rows_keep_their_own_numbers_below_titles_and_blank_rows(read) -> None:
    found = read([("WATER ROOMS",), ("updated in June, all sizes in inches",), (), HEAD, ONE, (), TWO])
    assert found.heading_row == 4
    assert found.frame.rows.tolist() == [5, 7]
    assert any(
        one.kind == "heading-row" and "row 4 (3 title rows above)" in one.text for one in found.remarks
    )


def test_headings_in_two_rows(read) -> None:
    rows = [
        (None, "Vessel", None, "Bed", "Backwash", None),
        ("Unit ID", "Dia", "Ht", "Media", "restrictor gpm", "time"),
        ("U-1", 10, 54, "sand", 5, 10),
    ]
    found = read(rows)
    assert found.heading_row == 2
    assert found.frame.columns[fleet.DIAMETER.name] == 2
    assert found.frame.columns[fleet.HEIGHT.name] == 3
    assert found.frame.columns[fleet.RESTRICTOR.name] == 5
    assert found.frame.columns[fleet.WASH_MINUTES.name] == 6


def test_units_in_a_row_of_their_own(read) -> None:
    found = read(
        [
            ("Unit ID", "Dia", "Media", "DLFC", "Bed depth", "Rebed date"),
            (None, "(mm)", "-", "L/min", "mm", "dd.mm.yyyy"),
            ("U-1", 250, "sand", 19, 600, "13.05.2022"),
        ]
    )
    assert found.frame.units == 1
    assert found.frame.number(fleet.DIAMETER)[0] == pytest.approx(0.25)
    assert found.frame.number(fleet.DEPTH)[0] == pytest.approx(0.6)
    assert found.frame.origins(fleet.RESTRICTOR)[0] == Origin.HEADER
    assert found.frame.why_missing(fleet.MEDIA_DATE)[0] == Missing.KNOWN


def test_a_column_of_units_of_measure_names_no_unit(read) -> None:
    found = read(
        [("Tank", "Media", "DLFC", "Unit"), ("10x54", "sand", 19, "l/min"), ("12x52", "sand", 30, "gpm")]
    )
    told = next(one for one in found.remarks if one.kind == "units-of-measure")
    assert '"Unit" (D1)' in told.text
    assert list(found.frame.text(fleet.UNIT_ID)) == ["row 2", "row 3"]


def test_ids_of_which_one_looks_like_a_unit_of_measure_stay_ids(read) -> None:
    found = read([("Tank", "Media", "DLFC", "Unit"), ("10x54", "sand", 5, "M"), ("12x52", "sand", 6, "U-2")])
    assert list(found.frame.text(fleet.UNIT_ID)) == ["M", "U-2"]


def test_group_headings_above_do_not_disturb(read) -> None:
    found = read([("WHERE", None, "TANK + BED", None, "WASH"), HEAD, ONE])
    assert found.frame.units == 1
    assert found.frame.columns[fleet.SIZE.name] == 3


def test_repeated_headings_totals_and_notes_are_left_out_and_said(read) -> None:
    rows = [HEAD, ONE, HEAD, TWO, (None, "Total", None, None, 13), (), ("call the ferry office first",)]
    found = read(rows)
    assert found.frame.rows.tolist() == [2, 4]
    assert {"repeated-heading", "totals-row", "no-unit"} <= {one.kind for one in found.remarks}
    cells = {one.kind: one.cells for one in found.remarks}
    assert cells["repeated-heading"] == ("Units!A3",)
    assert cells["totals-row"] == ("Units!A5",)
    assert cells["no-unit"] == ("Units!A7",)


def test_an_account_that_is_called_total_is_a_unit(read) -> None:
    found = read([HEAD, ONE, ("U-2", "Total Care", "12x52", "sand", 8)])
    assert found.frame.units == 2


def test_a_unit_with_unknown_vessel_and_medium_stays_a_unit(read) -> None:
    found = read([HEAD, ONE, ("U-2", "B", None, None, 8), ("U-3", "B", None, None, None)])
    assert found.frame.rows.tolist() == [2, 3, 4]


def test_a_second_list_below_is_reported_and_not_counted(read) -> None:
    other = ("Media", "Unit ID", "Tank", "Restrictor")
    found = read([HEAD, ONE, (), ("OLD UNITS",), (), other, ("sand", "U-9", "10x54", 5)])
    assert found.frame.rows.tolist() == [2]
    (remark,) = [one for one in found.remarks if one.kind == "second-list"]
    assert remark.cells == ("Units!A6",)


def test_merged_cells_count_for_all_their_rows(read) -> None:
    def merge(book) -> None:
        book["Units"].merge_cells("B2:B3")

    found = read(
        [HEAD, ONE, ("U-2", None, "12x52", "carbon", 8), ("U-3", None, "12x52", "carbon", 8)], change=merge
    )
    assert found.frame.text(fleet.ACCOUNT) == ["A", "A", ""]
    assert found.frame.origins(fleet.ACCOUNT).tolist() == [Origin.TYPED, Origin.FILLED, Origin.ABSENT]
    (remark,) = [one for one in found.remarks if one.kind == "merged-cells"]
    assert remark.text.startswith('Units!B2:B3 is merged: account "A" used for rows 2-3')


def test_a_merged_number_is_filled_too(read) -> None:
    def merge(book) -> None:
        book["Units"].merge_cells("E2:E3")

    frame = read([HEAD, ONE, ("U-2", "B", "12x52", "carbon", None)], change=merge).frame
    assert frame.number(fleet.RESTRICTOR)[0] == frame.number(fleet.RESTRICTOR)[1]
    assert frame.origins(fleet.RESTRICTOR).tolist() == [Origin.HEADER, Origin.FILLED]


@pytest.mark.parametrize(("setting", "rows"), [("audit", [2, 3]), ("skip", [2])])
def test_hidden_rows_are_audited_and_counted_unless_settings_say_otherwise(read, setting, rows) -> None:
    def hide(book) -> None:
        book["Units"].row_dimensions[3].hidden = True

    found = read(
        [HEAD, ONE, TWO], change=hide, sheets={"Settings": [("Setting", "Value"), ("hidden_rows", setting)]}
    )
    assert found.frame.rows.tolist() == rows
    (remark,) = [one for one in found.remarks if one.kind == "hidden-rows"]
    assert remark.cells == ("Units!A3",)


def test_a_table_ends_the_list(read) -> None:
    def table(book) -> None:
        book["Units"].add_table(Table(displayName="Fleet", ref="A2:E4"))

    found = read([("Water rooms",), HEAD, ONE, TWO, ("U-9", "notes", "10x54", "sand", 5)], change=table)
    assert found.frame.rows.tolist() == [3, 4]
    assert any(one.kind == "below-table" for one in found.remarks)


def test_own_columns_are_not_read(read) -> None:
    found = read([(*HEAD, "Audit: verdict", "Audit: fitted restrictor (gpm)"), (*ONE, "clean", 5)])
    assert found.own_columns == ("Audit: verdict", "Audit: fitted restrictor (gpm)")
    assert found.unknown_columns == ()
    assert any(one.kind == "own-columns" for one in found.remarks)


def test_our_own_sheets_and_company_sheets_are_not_taken_for_the_fleet(read) -> None:
    copy = [HEAD, ONE]
    found = read([HEAD, ONE, TWO], sheets={"Audit units": copy, "History": copy, "Vessels": [("nothing",)]})
    assert found.sheet == "Units"


def test_order_of_rows_and_columns_does_not_matter(read) -> None:
    first = read([HEAD, ONE, TWO]).frame
    turned = read([HEAD[::-1], TWO[::-1], ONE[::-1]]).frame
    for column in (fleet.DIAMETER, fleet.RESTRICTOR):
        assert turned.number(column).tolist() == first.number(column)[::-1].tolist()
    assert turned.code(fleet.MEDIUM.name).tolist() == first.code(fleet.MEDIUM.name)[::-1].tolist()


@pytest.mark.parametrize("kind", ["csv", "csv-semicolon"])
def test_a_text_table_reads_like_a_sheet(tmp_path, catalogue, kind) -> None:
    mark = "," if kind == "csv" else ";"
    lines = [
        HEAD,
        ("007", "Åkesson Dairy (invented)", '10"x54', "carbon", "7.5"),
        ("008", "B", "12x52", "sand", "8"),
    ]
    path = tmp_path / "fleet.csv"
    path.write_text(
        "\n".join(mark.join('"' + part.replace('"', '""') + '"' for part in line) for line in lines),
        encoding="utf-8-sig",
    )
    found = read_fleet(path, catalogue)
    assert found.frame.text(fleet.UNIT_ID) == ["007", "008"]
    assert found.frame.number(fleet.RESTRICTOR)[0] == pytest.approx(
        7.5 * 3.785411784e-3 / 60
    )  # US gallon, NIST SP 811
    assert any(one.kind == "not-annotated" for one in found.remarks)
    assert all(one.kind != "numbers-as-text" for one in found.remarks)


def test_the_sheet_is_found_among_others(read) -> None:
    found = read(
        [HEAD, ONE],
        sheets={"Phones": [("ferry", "extension 12")], "Counts": [("Media", "how many"), ("sand", 4)]},
    )
    assert found.sheet == "Units"


def test_a_hidden_copy_does_not_stand_in_the_way(read) -> None:
    def hide(book) -> None:
        book["Units old"].sheet_state = "hidden"

    assert read([HEAD, ONE], sheets={"Units old": [HEAD, ONE]}, change=hide).sheet == "Units"
    with pytest.raises(HeaderError):
        read([HEAD, ONE], sheets={"Units old": [HEAD, ONE]})
