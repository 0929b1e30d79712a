"""Audit, return sheets, record, audit again: exactly what was fixed is closed, all else stays as it was."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from fleetaudit.audit_file import Request, audit_file
from fleetaudit.compare_file import CompareRequest, compare_files
from fleetaudit.comparing import Became
from fleetaudit.record_file import RecordRequest, record_file
from fleetaudit.returns_file import ReturnsRequest, write_returns_file
from fleetaudit.workbook.rows import SheetPart
from tests.workbook_samples import members, packed_members

SAMPLE = Path(__file__).parents[2] / "sample_fleet.xlsx"
DAY = dt.date(2026, 11, 1)
VISITED = dt.date(2026, 10, 28)
WRONG = {"restrictor-too-small", "restrictor-too-large"}
OLD = {"media-overdue"}
EACH = 8
#: parts of the package that adding the history sheet has to touch
SHARED = {"[Content_Types].xml", "xl/workbook.xml", "xl/_rels/workbook.xml.rels", "xl/styles.xml"}


def audited(path: Path, folder: Path) -> dict[str, Any]:
    written = audit_file(Request(path, DAY, folder=folder, json_wanted=True))
    return json.loads(written.json_text)


def findings(document: dict[str, Any]) -> set[tuple[int, str]]:
    return {(finding["row"], finding["check"]) for finding in document["findings"]}


@pytest.fixture(scope="module")
def trip(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    folder = tmp_path_factory.mktemp("trip")
    source = folder / "fleet.xlsx"
    source.write_bytes(SAMPLE.read_bytes())
    before = audited(source, folder / "before")
    names = [unit["unit_id"] for unit in before["units"]]
    alone = [
        unit
        for unit in before["units"]
        if len(unit["findings"]) == 1
        and names.count(unit["unit_id"]) == 1
        and unit["restrictor_recommended_gpm"]
    ]
    refit = [unit for unit in alone if set(unit["findings"]) <= WRONG][:EACH]
    rebed = [unit for unit in alone if set(unit["findings"]) <= OLD][:EACH]
    form = folder / "form.xlsx"
    units = tuple(unit["unit_id"] for unit in (*refit, *rebed))
    write_returns_file(ReturnsRequest(form, units, DAY, source))
    book = openpyxl.load_workbook(form)
    page = book["Returns"]
    place = {cell.value.partition(" (")[0]: cell.column for cell in page[1]}
    for row in range(2, page.max_row + 1):

        def put(heading: str, value: object, row: int = row) -> None:
            page.cell(row, place[heading]).value = value

        put("Visit date", VISITED)
        put("Initials", "AB")
        if page.cell(row, place["Unit ID"]).value in {unit["unit_id"] for unit in refit}:
            put("Restrictor fitted", page.cell(row, place["Restrictor to fit"]).value)
            put("Measured drain flow", page.cell(row, place["Restrictor to fit"]).value)
        else:
            put("Bed", "new bed")
            put("Media loaded", page.cell(row, place["Medium"]).value)
    book.save(form)
    done = record_file(RecordRequest(source, (form,), DAY))
    assert done.path is not None
    after = audited(done.path, folder / "after")
    return {
        "source": source, "copy": done.path, "done": done, "before": before, "after": after,
        "refit": refit, "rebed": rebed, "folder": folder,
    }  # fmt: skip


def test_enough_units_take_part(trip: dict[str, Any]) -> None:
    assert len(trip["refit"]) == EACH and len(trip["rebed"]) >= 3 and not trip["done"].refused


def test_exactly_what_was_fixed_is_closed(trip: dict[str, Any]) -> None:
    meant = {(unit["row"], unit["findings"][0]) for unit in (*trip["refit"], *trip["rebed"])}
    before, after = findings(trip["before"]), findings(trip["after"])
    assert before - after == meant and after - before == set()


def test_comparing_says_fixed_of_these_and_of_nothing_else(trip: dict[str, Any]) -> None:
    report = compare_files(CompareRequest(trip["source"], trip["copy"], DAY, as_of=DAY, old_as_of=DAY)).report
    fixed = {(entry.unit_id, entry.check) for entry in report.of(Became.FIXED)}
    assert fixed == {(unit["unit_id"], unit["findings"][0]) for unit in (*trip["refit"], *trip["rebed"])}
    assert {entry.became for entry in report.entries} == {Became.FIXED, Became.STILL_OPEN}
    assert len(report.entries) == len(trip["before"]["findings"])


def test_every_part_but_the_list_and_what_lists_sheets_is_the_same_bytes(trip: dict[str, Any]) -> None:
    before, after = packed_members(trip["source"]), packed_members(trip["copy"])
    changed = {name for name in before if before[name] != after.get(name)}
    added = set(after) - set(before)
    lists = changed - SHARED
    assert len(lists) == 1 and next(iter(lists)).startswith("xl/worksheets/")
    assert len(added) == 1 and next(iter(added)).startswith("xl/worksheets/")


def raw_cells(data: bytes) -> dict[tuple[int, int], bytes]:
    part = SheetPart(data)
    return {
        (row.number, cell.column): data[cell.start : cell.end]
        for row in part.rows(canonical=False)
        for cell in row.cells()
    }


def test_every_other_cell_of_the_list_is_the_same_bytes(trip: dict[str, Any]) -> None:
    before, after = members(trip["source"]), members(trip["copy"])
    name = next(n for n in before if n.startswith("xl/worksheets/") and before[n] != after[n])
    old, new = raw_cells(before[name]), raw_cells(after[name])
    changed = {place for place in {*old, *new} if old.get(place) != new.get(place)}
    said = {line.cell.rpartition("!")[2] for line in trip["done"].lines}
    assert {openpyxl.utils.cell.get_column_letter(c) + str(r) for r, c in changed} == said
    # what stands between the cells is the same too
    assert skeleton(before[name], old) == skeleton(after[name], new)


def skeleton(data: bytes, cells: dict[tuple[int, int], bytes]) -> bytes:
    for markup in sorted(set(cells.values()), key=len, reverse=True):
        data = data.replace(markup, b"")
    return data


def test_the_history_holds_a_line_for_each_changed_cell(trip: dict[str, Any]) -> None:
    page = openpyxl.load_workbook(trip["copy"])["History"]
    lines = list(page.iter_rows(min_row=2, values_only=True))
    head = [cell.value for cell in page[1]]
    where = head.index("Cell")
    assert sorted(line[where] for line in lines if line[where]) == sorted(
        line.cell for line in trip["done"].lines
    )
    assert all(
        line[head.index("When")].date() == VISITED and line[head.index("By")] == "AB" for line in lines
    )
