"""Verdict and scope: the gravest thing known decides, what could not be checked is no pass, and only units in
service count."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest

from fleetaudit.auditing.result import AuditResult, State
from fleetaudit.auditing.run import audit
from fleetaudit.auditing.verdict import Verdict
from fleetaudit.catalogue.shipped import load
from fleetaudit.checks.check import Tier
from fleetaudit.checks.registry import CHECKS
from fleetaudit.schema import fleet
from tests.checks.documented import DOCUMENTED
from tests.checks.test_cases import AS_OF
from tests.frames import frame_of

#: one change of the documented unit for every tier, with the reason by hand
NOW = {"connections": "reversed"}
PLAN = {"drain_bore": "0.5 in"}  # 9 gpm > 7 gpm
NOT_CHECKED = {"housing": ""}  # a core check cannot run
NOTE = {"restrictor_label": "no"}

#: columns that only say more: a check that reads them runs without, by design. Why, beside each.
MAY_BE_BLANK = {
    "measured_flow": "replaces the rating where somebody measured; without it the rating counts",
    "supply_flow": "has a check of its own, which is then not checked; the drain flow is as rated",
    "supply_pressure": "takes from the drain flow where it is given; the supply's flow decides",
    "drain_length": "takes pressure where it is given",
    "drain_rise": "takes pressure where it is given",
    "drain_elbows": "takes pressure; a default stands in",
    "purpose": "raises the tier and shortens the life; without it the medium's general life counts",
    "media_life": "the site's own word; without it the catalogue's life counts",
    "volume_treated": "one of three ways to tell the life",
    "depth_left": "one of three ways to tell the life",
    "layers": "a blank cell means a bed of one medium",
    "status": "a blank cell means in service",
    "vessels": "a blank cell means one",
    "wash_together": "a blank cell means one at a time",
    "volume_is_total": "a blank cell means of each vessel",
    "inside_diameter": "without it the nominal diameter counts",
    "gravel_depth": "takes room where it is given",
    "install_date": "another look at the media date",
    "vessel_height": "another way to the freeboard, and a look at the fill",
    "vessel_label": "tells twins apart",
    "unit_id": "a row without an id is no repeat",
    "mesh_stated": "not a cell of its own",
    "bed": "not a cell of its own",
    "water_cold": "the other end, or a default, stands in; season-conflict is then not checked",
    "water_warm": "the other end, or a default, stands in; season-conflict is then not checked",
    "water_temperature": "a default stands in",
}


def audited(*changes: Mapping[str, str]) -> AuditResult:
    """Each change of the documented unit as one row, and the unit itself last."""
    catalogue = load()
    rows = [
        DOCUMENTED | change | {"unit_id": change.get("unit_id", f"U-{place}")}
        for place, change in enumerate(changes, 2)
    ]
    return audit(frame_of([*rows, DOCUMENTED], catalogue), catalogue, AS_OF)


def verdict(change: Mapping[str, str]) -> Verdict:
    return Verdict(int(audited(change).verdict[0]))


def test_documented_unit_is_clean_and_every_check_ran_or_does_not_apply() -> None:
    result = audited({})
    assert Verdict(int(result.verdict[0])) is Verdict.CLEAN
    states = {item.check.slug: State(int(item.state[0])) for item in result.checks}
    assert {slug for slug, state in states.items() if state is State.NOT_APPLICABLE} == {
        "contact-time-too-short",  # carbon for chlorine has no contact time in the catalogue
        "layers-mismatched",  # one medium
    }
    assert all(state in (State.CLEAN, State.NOT_APPLICABLE) for state in states.values())


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ((NOW, PLAN, NOT_CHECKED, NOTE), Verdict.NOW),
        ((PLAN, NOT_CHECKED, NOTE), Verdict.PLAN),
        ((NOT_CHECKED, NOTE), Verdict.NOT_CHECKED),
        ((NOTE,), Verdict.NOTE),
        ((), Verdict.CLEAN),
        ((NOW, NOT_CHECKED), Verdict.NOW),
        ((PLAN, NOTE), Verdict.PLAN),
        ((NOW, NOTE), Verdict.NOW),
        ((NOW,), Verdict.NOW),
        ((PLAN,), Verdict.PLAN),
        ((NOT_CHECKED,), Verdict.NOT_CHECKED),
    ],
)
def test_the_gravest_decides(changes: tuple[Mapping[str, str], ...], expected: Verdict) -> None:
    together: dict[str, str] = {}
    for change in changes:
        together |= change
    assert verdict(together) is expected


def test_a_check_that_is_not_core_takes_no_verdict_away() -> None:
    change = {
        "ph": "",
        "wash_minutes": "",
        "service_flow": "",
        "drain_bore": "",
        "freeboard": "",
        "bed_depth": "",
    }
    result = audited(change)
    states = {item.check.slug: State(int(item.state[0])) for item in result.checks}
    for slug in (
        "media-unsuited",
        "wash-too-short",
        "service-flow-too-high",
        "drain-too-small",
        "freeboard-too-small",
    ):
        assert states[slug] is State.NOT_CHECKED
    assert Verdict(int(result.verdict[0])) is Verdict.CLEAN


@pytest.mark.parametrize(
    "scope", [{"status": "removed"}, {"status": "spare"}, {"status": "account closed"}, {"bed": "no"}]
)
def test_out_of_scope_is_not_judged_and_no_check_applies(scope: dict[str, str]) -> None:
    result = audited(
        NOW | PLAN | {"restrictor": "?", "medium": "moon dust", "media_date": "2001-01-01"} | scope,
        {"bed": "yes"},
    )
    assert Verdict(int(result.verdict[0])) is Verdict.NOT_JUDGED
    assert all(State(int(item.state[0])) is State.NOT_APPLICABLE for item in result.checks)


def test_a_blank_status_counts_as_in_service() -> None:
    assert verdict(NOW | {"status": ""}) is Verdict.NOW


@pytest.mark.parametrize("cell", ["", "?", "!"])
@pytest.mark.parametrize("column", ["medium", "vessel_diameter", "restrictor", "housing", "media_date"])
def test_a_core_input_that_is_not_known_never_gives_clean(column: str, cell: str) -> None:
    assert verdict({column: cell, "measured_flow": ""}) is not Verdict.CLEAN


@pytest.mark.parametrize("column", ["medium", "vessel_diameter", "restrictor"])
def test_a_core_input_without_a_column_never_gives_clean(column: str) -> None:
    catalogue = load()
    row = {name: cell for name, cell in DOCUMENTED.items() if name not in (column, "measured_flow")}
    result = audit(frame_of([row], catalogue), catalogue, AS_OF)
    assert Verdict(int(result.verdict[0])) is Verdict.NOT_CHECKED


def test_a_housing_column_nobody_has_is_said_once_and_takes_no_verdict_away() -> None:
    catalogue = load()
    row = {name: cell for name, cell in DOCUMENTED.items() if name != "housing"}
    result = audit(frame_of([row], catalogue), catalogue, AS_OF)
    item = next(item for item in result.checks if item.check.slug == "housing-too-small")
    assert State(int(item.state[0])) is State.NOT_CHECKED
    assert Verdict(int(result.verdict[0])) is Verdict.CLEAN


#: faults that together make most checks find something; each by the arithmetic of its case file
FAULTS = [
    {
        "restrictor": "7 gpm",
        "measured_flow": "",
        "supply_flow": "6 gpm",
        "drain_bore": "0.5 in",
        "housing": "small",
    },
    {"restrictor": "12 gpm", "measured_flow": "", "drain_bore": "0.5 in", "supply_flow": "10 gpm"},
    {"measured_flow": "7 gpm", "connections": "reversed", "restrictor_label": "no"},
    {"media_date": "2021-01-01", "ph": "3", "bed_depth": "20 in", "freeboard": "9 in"},
    {"freeboard": "9 in", "service_flow": "12 gpm", "wash_minutes": "3 min", "wash_interval": "20 d"},
    {"water_cold": "2 degC", "water_warm": "25 degC", "restrictor": "9.4 gpm", "measured_flow": ""},
    {
        "medium": "manganese-greensand",
        "purpose": "iron",
        "water_warm": "30 degC",
        "ph": "5",
        "restrictor": "12 gpm",
        "measured_flow": "",
    },
    {
        "medium": "activated-alumina-28x48",
        "purpose": "arsenic",
        "service_flow": "6 gpm",
        "ph": "9",
        "media_date": "2022-01-01",
    },
    {"purpose": "pfas", "service_flow": "6 gpm", "media_date": "2024-01-01"},
    {
        "vessel_diameter": "30 in",
        "vessel_height": "72 in",
        "medium": "filter-sand",
        "purpose": "sediment",
        "restrictor": "45 gpm",
        "measured_flow": "",
        "housing": "large",
    },
    {"media_date": "2023-01-10", "restrictor": "10 gpm", "measured_flow": ""},
    {},
]


#: findings about a cell itself
SAID_OF_A_CELL = ("restrictor-missing", "media-date-unknown", "data-unreadable", "data-implausible")
#: without a rating on record the supply is held against the one to fit
HELD_AGAINST_SOMETHING_ELSE = {("supply-too-weak", "restrictor"), ("drain-too-small", "restrictor")}


@pytest.mark.parametrize("column", [name for name in DOCUMENTED if name not in MAY_BE_BLANK])
@pytest.mark.parametrize("cell", ["", "?", "!"])
def test_blanking_a_cell_never_lets_a_finding_pass(column: str, cell: str) -> None:
    """A finding stays, is listed as not checked, or is replaced by what is said of the blank cell itself."""
    both = {column: cell} | (
        {"vessel_height": ""} if column == "freeboard" else {}
    )  # height is another way to it
    whole, blanked = audited(*FAULTS), audited(*(fault | both for fault in FAULTS))
    said = np.any([finds(blanked, slug) for slug in SAID_OF_A_CELL], axis=0)
    for before, after in zip(whole.checks, blanked.checks, strict=True):
        slug = before.check.slug
        found = (before.state == State.FOUND) & (np.arange(len(before.state)) < len(FAULTS))
        silent = found & (after.state != State.FOUND) & (after.state != State.NOT_CHECKED)
        if (slug, column) in HELD_AGAINST_SOMETHING_ELSE or (
            slug.startswith("media-") and column == "media_date"
        ):
            silent &= ~said
        if slug == "restrictor-borderline":  # what lay across one end may lie wholly outside by another input
            silent &= ~finds(blanked, "restrictor-too-small") & ~finds(blanked, "restrictor-too-large")
            silent &= ~((column == "freeboard") & not_checked(blanked, "freeboard-too-small"))
        assert not silent.any(), f"{slug} passes {np.flatnonzero(silent)} once {column} is {cell!r}"


def finds(result: AuditResult, slug: str) -> np.ndarray:
    return next(item for item in result.checks if item.check.slug == slug).state == State.FOUND


def not_checked(result: AuditResult, slug: str) -> np.ndarray:
    return next(item for item in result.checks if item.check.slug == slug).state == State.NOT_CHECKED


def test_the_faults_make_most_checks_find_something() -> None:
    result = audited(*FAULTS)
    quiet = {item.check.slug for item in result.checks if not (item.state == State.FOUND).any()}
    assert quiet <= {
        "restrictor-missing",
        "media-date-unknown",
        "data-unreadable",
        "data-implausible",
        "duplicate-unit",
        "layers-mismatched",
        "restrictor-not-stocked",
    }, "these are about blank, odd or repeated cells, or about beds in layers"
    assert len(CHECKS) - len(quiet) >= 20


def test_every_exception_is_a_column_and_has_its_reason() -> None:
    assert set(MAY_BE_BLANK) - {"mesh_stated", "bed"} <= set(fleet.BY_NAME)
    assert all(reason.strip() for reason in MAY_BE_BLANK.values())


@pytest.mark.parametrize("cell", ["6 degC", "~6 degC", "?"], ids=["typed", "guessed", "unreadable"])
def test_an_alarm_does_not_hang_on_a_cell_it_does_not_rest_on(cell: str) -> None:
    """A softening resin that is to take out organics alarms, however the water temperature is typed."""
    result = audited({"medium": "cation-resin", "purpose": "organics", "water_cold": cell})
    item = next(item for item in result.checks if item.check.slug == "media-unsuited")
    assert item.state[0] == State.FOUND
    assert item.tier[0] == Tier.NOW
