"""A fleet gives the same findings as a workbook, as Parquet and as CSV, in however many files and blocks."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from fleetaudit.audit_file import Request, audit_workbook
from fleetaudit.scale.engine import Plain
from fleetaudit.scale.run import Done, Wish, audit_dataset
from fleetaudit.scale.totals import Totals
from fleetaudit.writing.results_json import document
from tests.scale.one_fleet import AS_OF, as_csv, as_parquet, as_workbook, made, table

UNITS = 400
FLEET = made(UNITS)
#: what a finding says, wherever its row lies
SAID = ("unit_id", "check", "tier", "confidence", "message", "why", "fix", "source")


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """The results for the fleet as one workbook."""
    path = as_workbook(tmp_path_factory.mktemp("book") / "fleet.xlsx", FLEET)
    report, _ = audit_workbook(Request(path, AS_OF, json_wanted=True))
    found: dict[str, Any] = json.loads(json.dumps(document(report)))
    return found


@pytest.fixture(scope="module")
def parts(tmp_path_factory: pytest.TempPathFactory) -> Done:
    """The results for the fleet in seven files of Parquet, read in small blocks."""
    home = tmp_path_factory.mktemp("parquet")
    return audited(as_parquet(home / "units", FLEET, 7), block=13)


def audited(folder: Path, **wishes: Any) -> Done:
    return audit_dataset(Wish(folder, AS_OF, force=True, **wishes), Plain())


def finding(row: Mapping[str, Any]) -> tuple[Any, ...]:
    """All a finding says, with its numbers to the last bit."""
    cost = row.get("cost_year", "apart")
    if cost == "apart":
        ends = [row[f"cost_year_{end}"] for end in ("low", "mid", "high")]
        numbers = json.loads(row["numbers"])
    else:
        ends = [cost[end] for end in ("low", "mid", "high")] if cost else [None] * 3
        numbers = row["numbers"]
    return (*(row[name] for name in SAID), *ends, json.dumps(numbers, sort_keys=True))


def test_parquet_gives_the_findings_of_the_workbook(whole: dict[str, Any], parts: Done) -> None:
    rows = table(parts.folder, "findings")
    assert len(rows) > UNITS
    assert len({row["check"] for row in rows}) >= 10
    assert sorted(map(finding, rows), key=repr) == sorted(map(finding, whole["findings"]), key=repr)


def test_parquet_gives_the_units_of_the_workbook(whole: dict[str, Any], parts: Done) -> None:
    rows = table(parts.folder, "units")
    same = (
        "unit_id", "account", "verdict", "media", "vessel_diameter_in", "area_ft2", "water_cold_c",
        "water_warm_c", "restrictor_gpm", "restrictor_recommended_gpm", "housing_recommended",
    )  # fmt: skip
    assert [[row[name] for name in same] for row in rows] == [
        [u[name] for name in same] for u in whole["units"]
    ]
    assert [row["needed_low_gpm"] for row in rows] == [unit["needed_gpm"]["low"] for unit in whole["units"]]
    assert [set(row["findings"]) for row in rows] == [set(unit["findings"]) for unit in whole["units"]]


def test_what_could_not_run_is_that_of_the_workbook(whole: dict[str, Any], parts: Done) -> None:
    """But for checks that a column silences that no file has, which the page says once."""
    rows = table(parts.folder, "not_checked")
    expected = [row for row in whole["not_checked"] if not row["reason"].startswith("no such column")]
    assert expected
    key = ("unit_id", "check", "reason")
    assert Counter(tuple(row[name] for name in key) for row in rows) == Counter(
        tuple(row[name] for name in key) for row in expected
    )


@pytest.mark.parametrize(("parts_made", "block"), [(1, 1000), (3, 50), (40, 20_000)])
def test_text_tables_give_the_findings_of_the_workbook(
    whole: dict[str, Any], tmp_path: Path, parts_made: int, block: int
) -> None:
    done = audited(as_csv(tmp_path / "units", FLEET, parts_made), block=block)
    rows = table(done.folder, "findings")
    assert sorted(map(finding, rows), key=repr) == sorted(map(finding, whole["findings"]), key=repr)


def test_counts_are_those_of_the_rows_written(parts: Done) -> None:
    findings, units = table(parts.folder, "findings"), table(parts.folder, "units")
    counts = parts.totals.counts
    assert counts.by_check == Counter(row["check"] for row in findings)
    assert +counts.by_tier == Counter(row["tier"] for row in findings)
    assert +counts.by_verdict == Counter(row["verdict"] for row in units)
    told = json.loads((parts.folder / "summary.json").read_text(encoding="utf-8"))
    assert told["units"] == len(units) == UNITS
    assert sum(told["input"]["files"].values()) == UNITS
    summed = Counter()  # type: ignore[var-annotated]
    for row in table(parts.folder, "counts"):
        if row["about"] == "check":
            summed[row["name"]] += row["count"]
    assert summed == counts.by_check


def test_totals_add_up_in_any_grouping(tmp_path: Path, parts: Done) -> None:
    other = audited(as_parquet(tmp_path / "one", FLEET, 2))
    one, two = parts.totals, other.totals
    assert (one + two) + one == one + (two + one)
    assert Totals() + one == one + Totals()
    mine, theirs = (
        (each.counts, each.set_ups, each.by_finding, each.cost, each.blind, each.water_assumed)
        for each in (one, two)
    )
    assert mine == theirs


def test_ids_far_apart_are_found_twice(parts: Done) -> None:
    """Counted here by their text, with nothing of the tool."""
    findings = [row for row in table(parts.folder, "findings") if row["check"] == "duplicate-unit"]
    times = Counter(FLEET["unit_id"])
    twice = sum(count for count in times.values() if count > 1)
    assert twice > UNITS / 4
    assert len(findings) == twice
    assert {row["unit_id"] for row in findings} == {unit for unit, count in times.items() if count > 1}


def test_a_column_in_another_unit_is_told_by_the_whole(tmp_path: Path) -> None:
    """Restrictors in L/min under a name without a unit: no file alone is sure, all of them are."""
    fleet = dict(FLEET)
    flows = fleet.pop("backwash_flow_gpm")
    fleet["restrictor"] = [None if flow is None else round(flow * 3.785, 1) for flow in flows]  # NIST SP 811
    report, _ = audit_workbook(Request(as_workbook(tmp_path / "fleet.xlsx", fleet), AS_OF, json_wanted=True))
    done = audited(as_parquet(tmp_path / "units", fleet, 80))
    assert [remark.kind for remark in done.remarks if "L/min" in remark.text] == ["restrictor-unit"]
    assert any("fits the fleet better as L/min" in line for line in report.banner)
    rows, expected = table(done.folder, "findings"), document(report)["findings"]
    assert sorted(map(finding, rows), key=repr) == sorted(map(finding, expected), key=repr)
    mine = {row["confidence"] for row in rows if row["check"].startswith("restrictor-too")}
    assert mine == {"measure-first"}


def test_the_page_tells_the_totals(parts: Done) -> None:
    page = parts.page.read_text(encoding="utf-8")
    assert f"{UNITS} units" in page
    for verdict, number in parts.totals.counts.by_verdict.items():
        if number:
            assert re.search(rf">{verdict.replace('-', ' ')}</th><td class=\"n\">{number}\n", page)
    assert [page.count(f">part-00{number}.parquet<") for number in range(7)] == [1] * 7
    assert "(invented)" in page  # what comes first names accounts
    assert "//" not in page  # nothing is loaded from anywhere
