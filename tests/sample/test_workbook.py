"""The sample as a workbook: reproducible, large enough, and as untidy as real lists."""

from __future__ import annotations

import re
import tomllib
import zipfile
from datetime import datetime
from pathlib import Path
from typing import Any

import make_sample
import openpyxl
import pytest
from sample_units import CREWS, MEDIA, PLACE, SCENARIO

from fleetaudit.checks.registry import BY_SLUG

SAMPLE = Path(__file__).resolve().parent.parent.parent / "sample_fleet.xlsx"


@pytest.fixture(scope="module")
def sheet() -> Any:
    return openpyxl.load_workbook(SAMPLE, data_only=True)[make_sample.SHEET]


@pytest.fixture(scope="module")
def values(sheet: Any) -> list[dict[str, Any]]:
    """Cells of every row below the headings that holds a unit, by own key."""
    rows = []
    for cells in sheet.iter_rows(min_row=make_sample.HEADING_ROW + 1, max_col=len(PLACE), values_only=True):
        row = dict(zip(PLACE, cells, strict=True))
        if row["no"] and row["no"] != "Unit #":
            rows.append(row)
    return rows


def _members(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def test_two_runs_give_the_same_bytes(tmp_path: Path) -> None:
    make_sample.write(tmp_path / "one.xlsx")
    make_sample.write(tmp_path / "two.xlsx")
    assert (tmp_path / "one.xlsx").read_bytes() == (tmp_path / "two.xlsx").read_bytes()


def test_the_sample_is_what_the_script_writes(tmp_path: Path) -> None:
    """Held part by part, since libraries may compress the same parts differently."""
    make_sample.write(tmp_path / "now.xlsx")
    now, kept = _members(tmp_path / "now.xlsx"), _members(SAMPLE)
    assert sorted(now) == sorted(kept)
    assert [name for name in now if now[name] != kept[name]] == []


def test_the_fleet_is_large_enough(values: list[dict[str, Any]]) -> None:
    assert len(values) >= 240
    assert len({row["cust"] for row in values if row["cust"]}) >= 90
    names = {spelling: name for name, crew in CREWS.items() for spelling in crew["spellings"]}
    crews = {names[row["by"]] for row in values if row["by"]}
    assert crews == set(CREWS)
    assert len(crews) >= 6


def test_many_media_are_in_it(values: list[dict[str, Any]]) -> None:
    written = {row["media"] for row in values}
    met = [key for key, bed in MEDIA.items() if written & {*bed["spellings"], *bed.get("typos", [])}]
    assert len(met) >= 14


def test_it_says_that_all_of_it_is_invented(sheet: Any) -> None:
    above = " ".join(
        str(row[0]) for row in sheet.iter_rows(max_row=make_sample.HEADING_ROW - 1, values_only=True)
    )
    assert "EXAMPLE DATA" in above
    assert "all invented" in above


def test_vessels_are_written_in_every_way(values: list[dict[str, Any]]) -> None:
    written = [str(row["tank"]) for row in values]
    for way in (r"\d+x\d+", r"\d+ x \d+", r'\d+"x\d+"', r"\d{3,4}", r"\d+×\d+", r"\d+x\d+ mm"):
        assert any(re.fullmatch(way, size) for size in written), way
    assert "1054" in written


def test_numbers_come_as_numbers_text_and_other_units(values: list[dict[str, Any]]) -> None:
    flows = [row["dlfc"] for row in values]
    assert any(isinstance(flow, int | float) for flow in flows)
    assert any(isinstance(flow, str) and flow.isdigit() for flow in flows)
    assert any(isinstance(flow, str) and flow.endswith("L/min") for flow in flows)
    assert any(isinstance(row["winter"], str) and row["winter"].endswith("°C") for row in values)
    assert any(isinstance(row["free"], str) and row["free"].endswith("mm") for row in values)
    assert any(flow is None for flow in flows)


def test_dates_come_in_several_forms(values: list[dict[str, Any]]) -> None:
    days = [row["rebed"] for row in values]
    assert sum(isinstance(day, datetime) for day in days) > len(days) / 2
    texts = {day for day in days if isinstance(day, str)}
    assert any(text.count("/") == 2 for text in texts)
    assert any(text.isdigit() for text in texts)
    assert any(text[:3].isalpha() and text[-4:].isdigit() for text in texts)


def test_formulas_have_stored_values() -> None:
    sheet = _members(SAMPLE)["xl/worksheets/sheet1.xml"].decode()
    formulas = re.findall(r"<f>[^<]*</f>(<v>[^<]*</v>)?", sheet)
    assert len(formulas) >= 240
    assert "" not in formulas


def test_one_cell_holds_an_error(sheet: Any) -> None:
    assert any(cell.data_type == "e" and cell.value == "#N/A" for row in sheet.iter_rows() for cell in row)


def test_the_trimmings_of_a_grown_workbook_are_there(sheet: Any) -> None:
    parts = _members(SAMPLE)
    assert any(name.startswith("xl/charts/") for name in parts)
    assert any(name.startswith("xl/comments") for name in parts)
    assert sheet.column_dimensions["F"].hidden
    assert any(line.hidden for line in sheet.row_dimensions.values())
    assert sheet.data_validations.dataValidation
    assert sheet.conditional_formatting
    assert sheet.auto_filter.ref
    accounts = [area for area in sheet.merged_cells.ranges if area.min_row > make_sample.HEADING_ROW]
    assert len(accounts) == 2
    assert b"definedName" in parts["xl/workbook.xml"]


def test_every_check_has_a_unit_meant_for_it() -> None:
    story = tomllib.loads(SCENARIO.read_text(encoding="utf-8"))
    assert {slug for unit in story["unit"] for slug in unit["aim"]} == set(BY_SLUG)
