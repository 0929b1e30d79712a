"""The JSON document: its keys are a contract, typed here by hand and not taken from the code."""

from __future__ import annotations

import json

import numpy as np
from msgspec.structs import replace
from tests_report import HOSTILE, make_report

from fleetaudit.writing import results_json
from fleetaudit.writing.report import Span

TOP = {"schema_version", "tool", "input", "as_of", "units", "findings", "not_checked", "summary"}
UNIT = {
    "unit_id",
    "account",
    "sheet",
    "row",
    "verdict",
    "media",
    "vessel_diameter_in",
    "area_ft2",
    "water_cold_c",
    "water_warm_c",
    "needed_gpm",
    "restrictor_gpm",
    "restrictor_recommended_gpm",
    "housing_recommended",
    "expansion_pct",
    "media_due",
    "findings",
}
FINDING = {
    "unit_id",
    "sheet",
    "row",
    "cell",
    "check",
    "tier",
    "confidence",
    "message",
    "why",
    "fix",
    "cost_year",
    "numbers",
    "source",
}


def written(report):
    text = results_json.text(report)
    assert text.endswith("}\n") and not text.endswith("\n\n")
    return json.loads(text, parse_constant=lambda word: (_ for _ in ()).throw(ValueError(word)))


def test_keys_are_those_of_the_contract(report):
    found = written(report)
    assert set(found) == TOP and found["schema_version"] == 1
    assert set(found["tool"]) == {"name", "version"} and found["tool"]["name"] == "fleetaudit"
    assert set(found["input"]) == {"file", "sheet", "sha256"}
    assert all(set(unit) == UNIT for unit in found["units"])
    assert all(set(unit["needed_gpm"]) == {"low", "target", "high"} for unit in found["units"])
    assert all(set(unit["expansion_pct"]) == {"cold", "warm"} for unit in found["units"])
    assert all(set(finding) == FINDING for finding in found["findings"])
    assert any(f["cost_year"] is None for f in found["findings"])
    assert all(
        set(f["cost_year"]) == {"low", "mid", "high"} for f in found["findings"] if f["cost_year"] is not None
    )
    assert found["not_checked"] and all(
        set(gap) == {"unit_id", "sheet", "row", "check", "reason"} for gap in found["not_checked"]
    )
    assert set(found["summary"]) == {"units", "by_verdict", "by_check", "by_tier"}


def test_values_are_those_of_the_report(report):
    found = written(report)
    assert found["as_of"] == "2026-11-25" and found["input"]["sha256"] == "ab" * 32
    assert [unit["unit_id"] for unit in found["units"]] == [unit.unit_id for unit in report.units]
    finding, record = found["findings"][0], report.findings[0]
    assert finding["numbers"] == record.values and finding["cost_year"]["mid"] == record.cost_year.target
    assert found["units"][0]["findings"] == ["restrictor-too-large"]
    assert found["summary"]["units"] == 27 and found["summary"]["by_tier"] == {"now": 3, "note": 3, "plan": 9}
    dated = next(unit for unit in report.units if unit.media_due)
    assert found["units"][dated.index]["media_due"] == dated.media_due.isoformat()


def test_figures_that_are_not_known_are_null_and_numpy_ones_plain(report):
    report.units[0] = replace(
        report.units[0],
        area_ft2=float("nan"),
        water_cold_c=float("inf"),
        vessel_diameter_in=np.float64(10.0),
        needed_gpm=Span(None, float("nan"), np.float64("nan")),
        media_due=None,
        housing_recommended=None,
    )
    unit = written(report)["units"][0]
    assert unit["area_ft2"] is None and unit["water_cold_c"] is None and unit["vessel_diameter_in"] == 10.0
    assert unit["needed_gpm"] == {"low": None, "target": None, "high": None}
    assert unit["media_due"] is None and unit["housing_recommended"] is None


def test_hostile_text_survives_as_text(hostile):
    assert written(hostile)["findings"][0]["message"] == HOSTILE


def test_half_characters_do_not_stop_the_document(report):
    report.findings[0] = replace(report.findings[0], message="half \ud800 gone")
    results_json.text(report).encode("utf-8")
    assert written(report)["findings"][0]["message"] == "half ? gone"


def test_same_report_same_text(report):
    assert results_json.text(report) == results_json.text(make_report())
