"""Water said once for an account: taken for units that give none, and shown as taken over."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import openpyxl
import pytest

from fleetaudit.auditing.result import State
from fleetaudit.auditing.run import audit
from fleetaudit.catalogue.shipped import load
from fleetaudit.checks.check import Confidence
from fleetaudit.reading.fleet import Fleet, read_fleet
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Missing, Origin

HEADINGS = (
    "Unit ID",
    "Account",
    "City",
    "Vessel diameter",
    "Medium",
    "Restrictor",
    "Coldest water",
    "Warmest water",
)
BED = ("13 in", "activated carbon 12x40", "12 gpm")
SITES = (
    ("Account", "City", "Coldest water", "Warmest water", "Water source"),
    ("Bakery of Dunes", None, "2 C", "25 C", None),
    ("Bakery of Dunes", "Upper Marsh", "9 C", "13 C", None),
    ("Inn of Reeds", None, None, None, "surface"),
    ("Mill of Loam", None, "cold", "13 C", None),
)


def listed(
    folder: Path, *rows: tuple[str | None, ...], sites: tuple[tuple[str | None, ...], ...] = SITES
) -> Fleet:
    book = openpyxl.Workbook()
    units = book.active
    assert units is not None
    units.title = "Units"
    for row in (HEADINGS, *rows):
        units.append(row)
    other = book.create_sheet("Sites")
    for line in sites:
        other.append(line)
    book.save(folder / "fleet.xlsx")
    return read_fleet(folder / "fleet.xlsx", load())


def celsius(found: Fleet, unit: int) -> tuple[float, float]:
    ends = (float(found.frame.number(column)[unit]) for column in (fleet.COLD, fleet.WARM))
    cold, warm = (round(kelvin - 273.15, 6) for kelvin in ends)
    return cold, warm


def test_a_unit_without_temperatures_takes_those_of_its_account_and_town(tmp_path: Path) -> None:
    found = listed(
        tmp_path,
        ("A", "Bakery of Dunes", "Low Marsh", *BED, None, None),
        ("B", "bakery of  dunes", "upper marsh", *BED, None, None),
        ("C", "Bakery of Dunes", None, *BED, "10 C", "16 C"),
        ("D", "Forge of Chalk", None, *BED, None, None),
    )
    assert [celsius(found, unit) for unit in range(3)] == [(2, 25), (9, 13), (10, 16)]
    assert found.frame.why_missing(fleet.COLD).tolist() == [0, 0, 0, int(Missing.BLANK)]
    origins = [Origin(int(code)) for code in found.frame.origins(fleet.COLD)[:3]]
    assert origins == [Origin.FILLED, Origin.FILLED, Origin.TYPED]
    remarks = [remark for remark in found.remarks if remark.kind == "water-of-the-site"]
    assert [remark.column for remark in remarks] == ["water_cold", "water_warm"]
    assert remarks[0].cells == ("Units!G2", "Units!G3")


def test_one_end_that_is_given_is_left_alone(tmp_path: Path) -> None:
    found = listed(tmp_path, ("A", "Bakery of Dunes", None, *BED, "10 C", None))
    assert found.frame.why_missing(fleet.WARM).tolist() in ([int(Missing.BLANK)], [int(Missing.NO_COLUMN)])


def test_the_source_of_an_account_stands_where_the_list_has_no_such_column(tmp_path: Path) -> None:
    found = listed(tmp_path, ("A", "Inn of Reeds", None, *BED, None, None))
    assert found.frame.code(fleet.WATER_SOURCE.name).tolist() == [
        list(fleet.WATER_SOURCE.choices).index("surface")
    ]
    assert found.frame.origins(fleet.WATER_SOURCE).tolist() == [int(Origin.FILLED)]


def test_a_temperature_that_cannot_be_read_is_said_and_not_taken(tmp_path: Path) -> None:
    found = listed(tmp_path, ("A", "Mill of Loam", None, *BED, None, None))
    assert found.frame.why_missing(fleet.COLD).tolist() in ([int(Missing.BLANK)], [int(Missing.NO_COLUMN)])
    assert any("Sites!C5" in remark.text for remark in found.remarks)


@pytest.mark.parametrize(
    "sites", [(("Account", "City"), ("Bakery of Dunes", None)), (("Remarks",), ("none",)), (SITES[0],)]
)
def test_a_sheet_that_says_nothing_of_water_changes_nothing(
    tmp_path: Path, sites: tuple[tuple[str | None, ...], ...]
) -> None:
    found = listed(tmp_path, ("A", "Bakery of Dunes", None, *BED, None, None), sites=sites)
    assert not found.frame.has(fleet.COLD)


def test_water_of_the_account_decides_and_its_findings_are_likely_at_most(tmp_path: Path) -> None:
    """12 gpm is far over what 13 in of carbon take in water of 2 to 25 C, where low and high contradict."""
    found = listed(
        tmp_path,
        ("A", "Bakery of Dunes", None, *BED, None, None),
        ("B", "Bakery of Dunes", None, *BED, "2 C", "25 C"),
        ("C", "Forge of Chalk", None, *BED, None, None),
    )
    checks = {item.check.slug: item for item in audit(found.frame, load(), date(2026, 11, 1)).checks}
    season = checks["season-conflict"]
    assert [State(int(code)) for code in season.state] == [State.FOUND, State.FOUND, State.NOT_CHECKED]
    large = checks["restrictor-too-large"]
    taken, typed = (Confidence(int(code)) for code in large.confidence[:2])
    assert State(int(large.state[0])) is State(int(large.state[1])) is State.FOUND
    assert taken is max(typed, Confidence.LIKELY)
