"""Beds of layers and beds that are topped up: what was done is recorded, and closed by the next audit."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from fleetaudit.audit_file import Request, audit_workbook
from fleetaudit.record_file import Recorded, RecordRequest, record_file
from fleetaudit.returns_file import ReturnsRequest, write_returns_file
from tests.record.fleets import DAY, VISITED, cells, moment, returns, unit, write
from tests.record.test_round_trip import raw_cells, skeleton
from tests.workbook_samples import members

OLD = dt.date(2008, 5, 1)
HEADINGS = (
    "Unit ID", "Account", "Vessel size", "Medium", "Mesh", "Layers", "DLFC (gpm)", "Media date", "Media crew",
    "Bed depth (in)", "Depth left (in)", "Top-up date", "Coldest water (F)", "Warmest water (F)",
)  # fmt: skip
COAL_ON_SAND = "anthracite 18 in; filter sand 12 in"
SHALLOW = "anthracite 15 in; filter sand 9 in"


def bed(number: int, **said: Any) -> dict[str, Any]:
    """A 24 in vessel whose bed is old."""
    plain = {"Vessel size": "24x72", "Mesh": None, "DLFC (gpm)": 45, "Media date": OLD}
    return {**unit(number), **plain, **said}


FLEET = (
    bed(1, Medium="multi-media", Layers=COAL_ON_SAND),
    bed(2, Medium="multi-media", Layers=COAL_ON_SAND, **{"Bed depth (in)": 30}),
    bed(3, Medium=COAL_ON_SAND),
    bed(4, Medium="multi-media", Layers=COAL_ON_SAND),
    bed(5, Medium="multi-media", Layers=COAL_ON_SAND),
    bed(6, Medium="filter sand"),
    {**unit(7), "Medium": "calcite", "Mesh": None, "Bed depth (in)": 36, "Depth left (in)": 8},
    bed(8, Medium="multi-media", Layers=COAL_ON_SAND),
    bed(9, Medium="dual media"),
)
NEW = {"Bed": "new bed", "Crew": "crew B"}
DONE = (
    {"Unit ID": "U-001", **NEW, "Media loaded": "Anthracite 18 in;  filter sand 12 in"},
    {"Unit ID": "U-002", **NEW, "Media loaded": SHALLOW},
    {"Unit ID": "U-003", **NEW, "Media loaded": SHALLOW},
    {"Unit ID": "U-004", **NEW, "Media loaded": "anthracite"},
    {"Unit ID": "U-005", **NEW, "Media loaded": "filter sand 30 in"},
    {"Unit ID": "U-006", **NEW, "Media loaded": COAL_ON_SAND},
    {"Unit ID": "U-007", "Bed": "topped up", "Media loaded": "calcite", "Volume loaded": 0.9,
     "Bed depth now": 36},
    {"Unit ID": "U-009", **NEW, "Media loaded": SHALLOW},
)  # fmt: skip


@pytest.fixture
def recorded(tmp_path: Path) -> Recorded:
    source = write(tmp_path / "fleet.xlsx", FLEET, HEADINGS)
    back = returns(tmp_path / "back.xlsx", *DONE)
    return record_file(RecordRequest(source, (back,), DAY))


def found(path: Path) -> set[tuple[str, str]]:
    report, _ = audit_workbook(Request(path, DAY))
    return {(finding.unit_id, finding.check) for finding in report.findings}


def test_layers_are_written_where_the_list_keeps_them(recorded: Recorded) -> None:
    rows = cells(recorded.path)
    made_up = [(row["Medium"], row["Layers"]) for row in rows]
    kept = ("multi-media", COAL_ON_SAND)
    assert made_up[:4] == [kept, ("multi-media", SHALLOW), (SHALLOW, None), kept]
    assert made_up[4:6] == [("Filter sand", None), ("Anthracite, fine", COAL_ON_SAND)]
    assert made_up[6:8] == [("calcite", None), kept]
    assert made_up[8] == ("dual media", SHALLOW), "a name of a bed of several stands for any layers"
    renewed = [row["Media date"] == moment(VISITED.year, VISITED.month, VISITED.day) for row in rows]
    assert renewed == [True, True, True, False, True, True, False, False, True]
    assert rows[1]["Bed depth (in)"] is None, "the depth was that of the layers before"
    assert rows[4]["Bed depth (in)"] == 30


def test_one_layer_alone_is_asked_about_and_left(recorded: Recorded) -> None:
    assert len(recorded.refused) == 1
    assert (
        'of which "anthracite" is one' in recorded.refused[0] and "from the top down" in recorded.refused[0]
    )


def test_a_top_up_has_its_day_and_the_depth_found_before_it_is_gone(recorded: Recorded) -> None:
    row = cells(recorded.path)[6]
    assert row["Top-up date"] == moment(VISITED.year, VISITED.month, VISITED.day)
    assert row["Depth left (in)"] is None and row["Bed depth (in)"] == 36
    assert row["Media date"] == moment(2025, 3, 1), "topping up does not make the bed new"


def test_auditing_the_copy_closes_what_was_done_and_nothing_else(recorded: Recorded, tmp_path: Path) -> None:
    before, after = found(tmp_path / "fleet.xlsx"), found(recorded.path)
    renewed = {(name, "media-overdue") for name in ("U-001", "U-002", "U-003", "U-005", "U-006", "U-007")}
    assert renewed <= before and not renewed & after
    untouched = ("U-004", "U-008")
    assert {one for one in before if one[0] in untouched} == {one for one in after if one[0] in untouched}
    assert {one for one in before if one[0] in ("U-001", "U-007")} - after <= renewed


def test_all_other_cells_are_the_same_bytes(recorded: Recorded, tmp_path: Path) -> None:
    before, after = members(tmp_path / "fleet.xlsx"), members(recorded.path)
    name = "xl/worksheets/sheet1.xml"
    old, new = raw_cells(before[name]), raw_cells(after[name])
    changed = {place for place in {*old, *new} if old.get(place) != new.get(place)}
    said = {line.cell.rpartition("!")[2] for line in recorded.lines}
    assert {openpyxl.utils.cell.get_column_letter(c) + str(r) for r, c in changed} == said
    assert skeleton(before[name], old) == skeleton(after[name], new)
    history = cells(recorded.path, "History")
    assert sorted(line["Cell"] for line in history if line["Cell"]) == sorted(x.cell for x in recorded.lines)


def test_the_form_shows_layers_as_the_list_writes_them_and_copying_them_changes_no_make_up(
    tmp_path: Path,
) -> None:
    source = write(tmp_path / "fleet.xlsx", FLEET, HEADINGS)
    form = tmp_path / "form.xlsx"
    write_returns_file(ReturnsRequest(form, ("U-001", "U-003"), DAY, source))
    book = openpyxl.load_workbook(form)
    page = book["Returns"]
    place = {cell.value.partition(" (")[0]: cell.column for cell in page[1]}
    for row in (2, 3):
        assert page.cell(row, place["Medium"]).value == COAL_ON_SAND
        for heading, value in (
            ("Visit date", VISITED), ("Initials", "AB"), ("Bed", "new bed"), ("Media loaded", COAL_ON_SAND),
        ):  # fmt: skip
            page.cell(row, place[heading]).value = value
    book.save(form)
    done = record_file(RecordRequest(source, (form,), DAY))
    assert not done.refused and {line.what for line in done.lines} == {"Media date", "Media crew"}


def test_a_list_without_the_column_keeps_a_top_up_on_the_history_and_says_how_to_add_it(
    tmp_path: Path,
) -> None:
    headings = [name for name in HEADINGS if name not in ("Top-up date", "Depth left (in)")]
    rows = [{**unit(1), "Medium": "calcite", "Mesh": None}]
    source = write(tmp_path / "fleet.xlsx", rows, headings)
    back = returns(tmp_path / "back.xlsx", {"Unit ID": "U-001", "Bed": "topped up"})
    done = record_file(RecordRequest(source, (back,), DAY))
    assert done.no_column == ["Top-up date"] and cells(done.path) == cells(source)
    done = record_file(RecordRequest(source, (back,), DAY, add_columns=True, force=True))
    assert cells(done.path)[0]["Top-up date"] == moment(VISITED.year, VISITED.month, VISITED.day)
    assert found(source) and not found(done.path)
