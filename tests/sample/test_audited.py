"""The sample after the audit: every check speaks where it was meant to, and most units are right."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from collections import Counter
from datetime import date
from pathlib import Path
from typing import Any

import make_sample
import pytest
from sample_units import CREWS, Row

from fleetaudit.checks.registry import BY_SLUG

SAMPLE = Path(__file__).resolve().parent.parent.parent / "sample_fleet.xlsx"
FINE = ("clean", "note")
CREW_OF = {spelling: name for name, crew in CREWS.items() for spelling in crew["spellings"]}


@pytest.fixture(scope="session")
def audited(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """The document the command writes for the sample."""
    folder = tmp_path_factory.mktemp("audited")
    document = folder / "audit.json"
    command = [
        sys.executable,
        "-m",
        "fleetaudit",
        "audit",
        str(SAMPLE),
        "--as-of",
        make_sample.AS_OF.isoformat(),
    ]
    done = subprocess.run(
        [*command, "-o", str(folder), "--json", str(document)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert (folder / "sample_fleet.audited.xlsx").is_file()
    assert (folder / "sample_fleet.summary.html").is_file()
    return json.loads(document.read_text(encoding="utf-8"))


@pytest.fixture(scope="session")
def rows(tmp_path_factory: pytest.TempPathFactory) -> list[Row]:
    """The rows as they were made."""
    return make_sample.write(tmp_path_factory.mktemp("made") / "again.xlsx")


@pytest.fixture(scope="session")
def by_row(audited: dict[str, Any]) -> dict[int, dict[str, Any]]:
    return {unit["row"]: unit for unit in audited["units"]}


def _in_service(row: Row) -> bool:
    return row.cells.get("status", "") in ("", "in service", "active") and "tank" in row.cells


def test_every_row_is_listed_once(audited: dict[str, Any], rows: list[Row]) -> None:
    assert sorted(unit["row"] for unit in audited["units"]) == sorted(row.line + 1 for row in rows)


def test_every_check_fires(audited: dict[str, Any]) -> None:
    found = Counter(finding["check"] for finding in audited["findings"])
    assert set(BY_SLUG) - set(found) == set()


def test_units_meant_for_a_check_are_found_by_it(by_row: dict[int, dict[str, Any]], rows: list[Row]) -> None:
    missed = [
        (row.line + 1, slug, by_row[row.line + 1]["findings"])
        for row in rows
        if row.planned
        for slug in row.aim
        if slug not in by_row[row.line + 1]["findings"]
    ]
    assert missed == []


def test_most_units_in_service_are_fine(by_row: dict[int, dict[str, Any]], rows: list[Row]) -> None:
    verdicts = [by_row[row.line + 1]["verdict"] for row in rows if _in_service(row)]
    assert len(verdicts) >= 240
    assert sum(verdict in FINE for verdict in verdicts) / len(verdicts) >= 0.6


def test_sound_units_are_not_frightened(by_row: dict[int, dict[str, Any]], rows: list[Row]) -> None:
    """A unit nobody meant anything by may carry a note; at most one in twenty may carry more."""
    sound = [
        row
        for row in rows
        if not row.aim
        and not row.planned
        and _in_service(row)
        and row.cells["house"] != ""
        and not str(row.cells["dlfc"]).endswith("L/min")  # at odds with the heading
    ]
    loud = [
        (
            row.line + 1,
            row.cells["media"],
            row.cells["tank"],
            row.cells["dlfc"],
            by_row[row.line + 1]["findings"],
        )
        for row in sound
        if by_row[row.line + 1]["verdict"] not in FINE
    ]
    assert len(sound) > 150
    assert len(loud) <= len(sound) / 20, loud


def test_rows_out_of_service_and_other_equipment_are_counted_only(
    by_row: dict[int, dict[str, Any]], rows: list[Row]
) -> None:
    aside = [by_row[row.line + 1] for row in rows if not _in_service(row)]
    assert len(aside) == 9
    assert [unit for unit in aside if unit["verdict"] in (*FINE, "now", "plan")] == []


def test_the_crew_with_one_size_for_all_stands_out(
    by_row: dict[int, dict[str, Any]], rows: list[Row]
) -> None:
    wrong: Counter[str] = Counter()
    units: Counter[str] = Counter()
    for row in rows:
        if not row.planned and _in_service(row):
            crew = CREW_OF[row.cells["by"]]
            units[crew] += 1
            wrong[crew] += bool(
                {"restrictor-too-small", "restrictor-too-large"} & set(by_row[row.line + 1]["findings"])
            )
    shares = {crew: wrong[crew] / count for crew, count in units.items()}
    assert max(shares, key=lambda crew: shares[crew]) == "Crew Amber"
    assert shares["Crew Amber"] > 0.25
    assert shares["Crew Fern"] == 0


def test_days_overdue_are_those_of_the_calendar(audited: dict[str, Any]) -> None:
    """From the day a medium was due, as the message writes it, to the day of the audit."""
    said = re.compile(r"over since (\d{4}-\d\d-\d\d), ([\d,]+) days ago")
    found = [said.search(finding["message"]) for finding in audited["findings"]]
    told = [(date.fromisoformat(one[1]), int(one[2].replace(",", ""))) for one in found if one]
    assert len(told) >= 10
    assert [days for _, days in told] == [(make_sample.AS_OF - due).days for due, _ in told]


def test_every_finding_names_a_source(audited: dict[str, Any]) -> None:
    assert [(found["unit_id"], found["check"]) for found in audited["findings"] if not found["source"]] == []
