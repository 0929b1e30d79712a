"""Every check against cases whose outcome is worked out by hand; each case says how in its `why`."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from fleetaudit.auditing.result import AuditResult, State
from fleetaudit.auditing.run import audit
from fleetaudit.catalogue.shipped import load
from fleetaudit.checks.check import Confidence, Tier
from fleetaudit.checks.registry import BY_SLUG, CHECKS
from fleetaudit.schema.column import Missing
from tests.frames import frame_of

AS_OF = date(2026, 11, 1)
FOLDER = Path(__file__).parent / "cases"
FILES = {path.stem: tomllib.loads(path.read_text(encoding="utf-8")) for path in sorted(FOLDER.glob("*.toml"))}
CASES = [(slug, case) for slug, held in FILES.items() for case in held["case"]]
EXPECT = {"found", "clean", "not-checked", "not-applicable"}
KEYS = {"name", "expect", "why", "row", "others", "alone", "tier", "confidence", "reason"}


def audited(held: Mapping[str, Any], case: Mapping[str, Any]) -> AuditResult:
    """Audit the case in row 0 beside neighbours that fill its columns, so that a blank cell is no absent
    column."""
    row = {"unit_id": "U-1"} | held["row"] | case.get("row", {})
    others = [held["row"] | other for other in case.get("others", [])]
    if not case.get("alone"):
        filled = {name: held["row"].get(name) or text for name, text in row.items() if text}
        others.extend((filled | {"unit_id": "neighbour"}, held["row"] | {"unit_id": "other neighbour"}))
    catalogue = load()
    return audit(frame_of([row, *others], catalogue), catalogue, AS_OF)


@pytest.mark.parametrize(("slug", "case"), CASES, ids=[f"{slug}: {case['name']}" for slug, case in CASES])
def test_outcome_is_the_one_worked_out_by_hand(slug: str, case: dict[str, Any]) -> None:
    result = next(item for item in audited(FILES[slug], case).checks if item.check.slug == slug)
    state = State(int(result.state[0])).name.lower().replace("_", "-")
    reason = Missing(int(result.reason[0])).name.lower().replace("_", "-")
    assert state == case["expect"], f"{state} ({reason}): {case['why']}"
    if "tier" in case:
        assert Tier(int(result.tier[0])).word == case["tier"], case["why"]
    if "confidence" in case:
        assert Confidence(int(result.confidence[0])).word == case["confidence"], case["why"]
    if "reason" in case:
        assert reason == case["reason"], case["why"]


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.slug)
def test_every_check_has_cases_of_each_kind(check: Any) -> None:
    held = FILES[check.slug]
    seen = {case["expect"] for case in held["case"]}
    assert {"found", "clean", "not-applicable"} <= seen
    never = held.get("never", {}).get("not-checked", "")
    assert ("not-checked" in seen) != bool(never), "cases that were not checked, or why there are none"


@pytest.mark.parametrize(("slug", "case"), CASES, ids=[f"{slug}: {case['name']}" for slug, case in CASES])
def test_case_is_complete(slug: str, case: dict[str, Any]) -> None:
    assert slug in BY_SLUG
    assert set(case) <= KEYS
    assert case["expect"] in EXPECT
    assert case["why"].strip()
    assert ("tier" in case) == (case["expect"] == "found"), "a finding has a tier, and nothing else has"
    assert ("reason" in case) == (case["expect"] == "not-checked")


def test_no_two_cases_of_a_check_share_a_name() -> None:
    names = [(slug, case["name"]) for slug, case in CASES]
    assert len(set(names)) == len(names)
