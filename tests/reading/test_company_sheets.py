"""The company's own sheets: figures, settings, headings and crews, and which of two workbooks goes first."""

from __future__ import annotations

import pint
import pytest

from fleetaudit.catalogue import overrides
from fleetaudit.errors import CatalogueError, HeaderError
from fleetaudit.reading.company import crew_names, heading_map, load_catalogue
from fleetaudit.reading.headers import normalise
from fleetaudit.schema import company
from fleetaudit.schema.remark import Level
from fleetaudit.workbook.book import open_workbook

REGISTRY = pint.UnitRegistry()


def si(number: float, unit: str, base: str) -> float:
    return float(REGISTRY.Quantity(number, unit).to(base).magnitude)


def test_every_column_is_a_field_of_the_catalogue() -> None:
    for sheet in company.SHEETS:
        if sheet is not company.CREWS:
            assert {column.name for column in sheet.columns} <= overrides.FIELDS[sheet.name]


def test_no_heading_of_a_company_sheet_means_two_columns() -> None:
    for sheet in company.SHEETS:
        owners: dict[str, set[str]] = {}
        for column in sheet.columns:
            for spelling in (column.title, column.name, *column.aliases):
                owners.setdefault(normalise(spelling), set()).add(column.name)
        assert {spelling for spelling, names in owners.items() if len(names) > 1} == set()


def test_figures_settings_and_stock_go_before_the_shipped_ones(make) -> None:
    path = make(
        {
            "Settings": [
                ("Setting", "Value", "Unit"),
                ("due_within_days", 60, "d"),
                ("Restrictor tolerance", "8 %"),
                ("hidden_rows", "skip"),
            ],
            "Restrictors": [("Rating (gpm)", "Stocked"), (5, "yes"), (6.5, None), (7, "no")],
            "Housings": [("Housing", "Takes up to (gpm)"), ("small", 6)],
            "Vessels": [("Diameter (in)", "Heights"), (15, "40; 50")],
            "Media": [
                ("My media",),
                (
                    "Medium",
                    "Least wash rate (gpm/ft2)",
                    "Greatest wash rate (gpm/ft2)",
                    "Other spellings",
                    "Source",
                ),
                ("sand", 13, 17, "beach sand; grit", "own tests"),
            ],
        }
    )
    catalogue, remarks = load_catalogue(None, open_workbook(path))
    assert catalogue.number("due_within_days") == 60 * 24 * 60 * 60
    assert catalogue.number("restrictor_tolerance") == pytest.approx(0.08)
    assert catalogue.text("hidden_rows") == "skip"
    stocked = catalogue.stocked_m3_s
    assert any(rating == pytest.approx(si(6.5, "gallon/minute", "m**3/s")) for rating in stocked)
    assert not any(rating == pytest.approx(si(7, "gallon/minute", "m**3/s"), rel=1e-3) for rating in stocked)
    assert catalogue.housings[0].limit_m3_s == pytest.approx(si(6, "gallon/minute", "m**3/s"))
    assert catalogue.vessel_of(si(15, "inch", "m")) is not None
    sand = catalogue.medium("filter-sand")
    assert sand.figures["rate_low_m_s"].value == pytest.approx(si(13, "gallon/minute/foot**2", "m/s"))
    assert "fleet.xlsx, Media, row 3" in sand.figures["rate_low_m_s"].source
    assert sand.figures["rate_low_m_s"].replaced is not None
    assert catalogue.find_medium("beach sand") == "filter-sand"
    assert sum(one.kind == "own-figures" for one in remarks) == 5


def test_the_fleet_workbook_goes_before_the_settings_workbook(make) -> None:
    head = ("Setting", "Value")
    settings = make({"Settings": [head, ("due_within_days", 30), ("date_order", "day")]}, name="company.xlsx")
    fleet = make({"Settings": [head, ("due_within_days", 45)]})
    catalogue, _ = load_catalogue(settings, open_workbook(fleet))
    assert catalogue.number("due_within_days") == 45 * 24 * 60 * 60
    assert catalogue.text("date_order") == "day"


def test_headings_and_crews_of_both_workbooks(make) -> None:
    settings = make(
        {
            "Settings": [
                ("Setting", "Value"),
                ("units", "us"),
                (),
                ("Columns",),
                ("Blue thing", "Vessel size"),
                ("Goo", "Medium"),
            ],
            "Crews": [("Crew", "Other spellings"), ("Crew A", "team a; A")],
        },
        name="company.xlsx",
    )
    fleet = make({"Settings": [("Setting", "Value"), ("Columns:", None), ("Goo", "Note")]})
    book = open_workbook(fleet)
    assert heading_map(settings, book) == {"Blue thing": "Vessel size", "Goo": "Note"}
    assert crew_names(settings, book) == {"crew a": "Crew A", "team a": "Crew A", "a": "Crew A"}
    load_catalogue(settings, book)


def test_the_columns_part_of_settings_places_headings(read) -> None:
    rows = [("Unit ID", "Blue thing", "Media", "DLFC (gpm)"), ("U-1", "10x54", "sand", 5)]
    settings = [("Setting", "Value"), ("Columns",), ("Blue thing", "Vessel size")]
    assert read(rows, sheets={"Settings": settings}).frame.units == 1
    with pytest.raises(HeaderError):
        read(rows)


def test_a_crew_spelling_of_two_crews_is_an_error(make) -> None:
    path = make({"Crews": [("Crew", "Other spellings"), ("Crew A", "blue"), ("Crew B", "Blue")]})
    with pytest.raises(HeaderError, match="Crews!A3"):
        crew_names(None, open_workbook(path))


def test_a_sheet_that_only_bears_the_name_is_reported_not_used(make) -> None:
    path = make({"Media": [("supplier", "phone"), ("shed", "12")]})
    catalogue, remarks = load_catalogue(None, open_workbook(path))
    assert [(one.level, one.kind) for one in remarks] == [(Level.WARN, "company-sheet-unread")]
    assert catalogue.hash == load_catalogue()[0].hash


def test_headings_that_mean_nothing_are_named(make) -> None:
    path = make({"Restrictors": [("Rating (gpm)", "Stocked", "Colour"), (5, "yes", "red")]})
    _, remarks = load_catalogue(None, open_workbook(path))
    assert any(one.kind == "company-heading-unknown" and '"Colour" (C1)' in one.text for one in remarks)


def test_errors_of_all_sheets_are_told_together(make) -> None:
    path = make(
        {
            "Restrictors": [("Rating (gpm)", "Stocked"), ("five", "yes")],
            "Housings": [("Housing", "Takes up to"), ("small", "#N/A")],
            "Settings": [("Setting", "Value"), ("nonsense", 4)],
        }
    )
    with pytest.raises(CatalogueError) as caught:
        load_catalogue(None, open_workbook(path))
    for place in ("Restrictors!A2", "Settings!A2"):
        assert place in caught.value.message


def test_blank_sheets_with_headings_change_nothing(make) -> None:
    sheets = {sheet.name: [tuple(column.title for column in sheet.columns)] for sheet in company.SHEETS}
    catalogue, remarks = load_catalogue(None, open_workbook(make(sheets)))
    assert remarks == []
    assert catalogue.hash == load_catalogue()[0].hash
