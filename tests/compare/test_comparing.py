"""What became of each finding, on frames made by hand; what each case must give was worked out by hand."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

import pytest

from fleetaudit.accepting import Acceptance, accept
from fleetaudit.auditing.result import AuditResult
from fleetaudit.auditing.run import audit
from fleetaudit.catalogue.shipped import load
from fleetaudit.comparing import OPEN, Age, Became, Comparison, compare
from fleetaudit.facts.history import Before
from fleetaudit.schema import fleet
from tests.frames import frame_of

CATALOGUE = load()
OLD_DAY, NEW_DAY = date(2026, 6, 1), date(2026, 11, 25)
EPOCH = date(1970, 1, 1)
#: a 10 inch vessel of carbon in cool water, in order with 5 gpm; 1 gpm is far too small, 12 far too large
GOOD = {
    "unit_id": "U-1", "account": "Mill (invented)", "address": "1 Example Road", "vessel_diameter": "10 in",
    "vessel_height": "54 in", "medium": "activated-carbon-12x40", "restrictor": "5 gpm", "housing": "small",
    "media_date": "2025-03-01", "water_cold": "45 F", "water_warm": "60 F", "status": "in service",
    "freeboard": "24 in", "bed_depth": "30 in", "mesh_stated": "yes",
}  # fmt: skip
WRONG = {**GOOD, "restrictor": "1 gpm"}
SMALL = "restrictor-too-small"


@pytest.fixture(scope="module")
def carbon() -> str:
    return next(medium.key for medium in CATALOGUE.media if medium.name.startswith("Activated carbon 12x40"))


def audited(rows: list[Mapping[str, str]], day: date, carbon: str) -> AuditResult:
    rows = [{**row, "medium": carbon if row["medium"] == GOOD["medium"] else row["medium"]} for row in rows]
    return audit(frame_of(rows, CATALOGUE), CATALOGUE, day)


def compared(
    old: list[Mapping[str, str]], new: list[Mapping[str, str]], carbon: str,
    history: list[Before] | None = None,
    old_day: date = OLD_DAY,
) -> Comparison:  # fmt: skip
    return compare(audited(old, old_day, carbon), audited(new, NEW_DAY, carbon), history or ())


def told(found: Comparison) -> dict[str, Became]:
    """What became of each finding of a fleet of one unit."""
    out = {}
    for item in found.items:
        result, check = (found.new, item.new_check) if item.new_check >= 0 else (found.old, item.old_check)
        out[result.checks[check].check.slug] = item.became
    return out


def test_the_sound_unit_is_sound_and_the_wrong_one_wrong(carbon: str) -> None:
    assert told(compared([GOOD], [GOOD], carbon)) == {}
    assert told(compared([WRONG], [WRONG], carbon))[SMALL] is Became.STILL_OPEN


def test_a_right_restrictor_fixes_and_a_wrong_one_is_new(carbon: str) -> None:
    assert told(compared([WRONG], [GOOD], carbon)) == {SMALL: Became.FIXED}
    assert told(compared([GOOD], [WRONG], carbon)) == {SMALL: Became.NEW}


def test_too_small_made_too_large_is_one_fixed_and_one_new_and_a_graver_one_is_worse(carbon: str) -> None:
    found = told(compared([WRONG], [{**GOOD, "restrictor": "9 gpm", "housing": "large"}], carbon))
    assert found[SMALL] is Became.FIXED and found["restrictor-too-large"] is Became.NEW
    found = told(compared([WRONG], [{**GOOD, "restrictor": "14 gpm", "housing": "large"}], carbon))
    assert found["restrictor-too-large"] is Became.WORSE and SMALL not in found


@pytest.mark.parametrize(
    "lost",
    ["restrictor", "medium", "vessel_diameter", "water_cold", "water_warm", "bed_depth", "freeboard",
     "housing",
     "vessel_height", "media_date"],
)  # fmt: skip
@pytest.mark.parametrize("mark", ["", "?", "!"])
def test_a_cell_emptied_or_spoiled_never_reads_as_fixed(lost: str, mark: str, carbon: str) -> None:
    wrong = {**WRONG, "media_date": "2005-01-01", "freeboard": "2 in"}
    before = told(compared([wrong], [wrong], carbon))
    assert {SMALL, "media-overdue"} <= set(before)
    found = told(compared([wrong], [{**wrong, lost: mark}], carbon))
    assert Became.FIXED not in found.values()
    assert set(before) - {slug for slug, became in found.items()} == set()


def test_a_whole_column_taken_away_never_reads_as_fixed(carbon: str) -> None:
    wrong = {**WRONG, "media_date": "2005-01-01"}
    for name in ("restrictor", "media_date", "bed_depth", "water_cold"):
        found = told(compared([wrong], [{k: v for k, v in wrong.items() if k != name}], carbon))
        assert Became.FIXED not in found.values(), name


def test_purposes_emptied_never_read_as_fixed() -> None:
    """Chloramine shortens the life of carbon to 1 to 2 years, any other use leaves 3 to 5 (from memory)."""
    carbon = "activated-carbon-12x40"
    old = {**GOOD, "media_date": "2024-06-01", "purpose": "taste-odour, chloramine"}
    other = {**GOOD, "unit_id": "U-2", "purpose": "sediment", "restrictor": "1 gpm"}
    assert "media-overdue" in told(compared([old], [old], carbon))
    found = told(compared([other, old], [{**old, "purpose": ""}, other], carbon))
    assert found["media-overdue"] is Became.NO_LONGER_CHECKED


def test_a_blank_that_hid_nothing_does_not_hide_a_fix(carbon: str) -> None:
    assert told(compared([WRONG], [{**GOOD, "housing": ""}], carbon))[SMALL] is Became.FIXED


def test_a_cell_that_could_not_be_read_is_fixed_by_a_value_and_not_by_a_blank(carbon: str) -> None:
    spoiled = {**GOOD, "restrictor": "?"}
    slug = "data-unreadable"
    assert told(compared([spoiled], [GOOD], carbon))[slug] is Became.FIXED
    assert told(compared([spoiled], [{**GOOD, "restrictor": ""}], carbon))[slug] is Became.NO_LONGER_CHECKED


def test_a_measured_flow_emptied_as_the_restrictor_changed_is_no_loss(carbon: str) -> None:
    wrong = {**WRONG, "measured_flow": "1 gpm"}
    assert told(compared([wrong], [{**GOOD, "measured_flow": ""}], carbon))[SMALL] is Became.FIXED
    assert (
        told(compared([{**GOOD, "measured_flow": "1 gpm"}], [{**GOOD, "measured_flow": ""}], carbon))[SMALL]
        is Became.NO_LONGER_CHECKED
    )


def test_a_core_check_that_ran_and_cannot_now_is_told(carbon: str) -> None:
    found = told(compared([GOOD], [{**GOOD, "restrictor": ""}], carbon))
    assert found[SMALL] is Became.NO_LONGER_CHECKED


def test_due_soon_that_fell_due_is_worse_and_its_age_runs_from_the_due_day(carbon: str) -> None:
    medium = next(m for m in CATALOGUE.media if m.key == carbon)
    life = medium.figures["life_s"].value / 86400
    loaded = date.fromordinal(round(NEW_DAY.toordinal() - life - 30))
    row = {**GOOD, "media_date": loaded.isoformat()}
    old_day = date.fromordinal(NEW_DAY.toordinal() - 60)
    found = compared([row], [row], carbon, old_day=old_day)
    assert told(found)["media-overdue"] is Became.WORSE
    age = found.items[0].age
    assert age is not None and age.least == age.most and abs(age.least - 30) <= 1


def test_what_only_the_calendar_mended_is_said(carbon: str) -> None:
    """A date after the day of the older audit is in the past by the newer one; nobody mended it."""
    row = {**WRONG, "media_date": "2026-08-01"}
    found = compared([row], [{**row, "restrictor": "5 gpm"}], carbon)
    said = {found.old.checks[item.old_check].check.slug: item.by_the_calendar for item in found.items}
    assert told(found) == {"data-implausible": Became.FIXED, SMALL: Became.FIXED}
    assert said == {"data-implausible": True, SMALL: False}


def test_out_of_service_or_no_longer_listed_is_gone(carbon: str) -> None:
    assert told(compared([WRONG], [{**WRONG, "status": "removed"}], carbon)) == {SMALL: Became.GONE}
    other = {**GOOD, "unit_id": "U-2", "account": "Other", "address": "2 Example Road"}
    found = compared([WRONG, other], [other], carbon)
    assert told(found) == {SMALL: Became.GONE} and found.gone == [0] and found.pairs == [(1, 0)]
    found = compared([other], [WRONG, other], carbon)
    assert told(found) == {SMALL: Became.ADDED} and found.added == [0]


# Matching ---------------------------------------------------------------------------------------------------


def test_units_are_known_by_id_wherever_they_stand(carbon: str) -> None:
    rows = [{**WRONG, "unit_id": f"U-{n}", "address": f"{n} Example Road"} for n in range(1, 6)]
    new = [{**row, "unit_id": row["unit_id"].lower()} for row in reversed(rows)]
    found = compared(rows, new, carbon)
    assert found.pairs == [(4 - n, n) for n in range(5)] and not found.renamed
    assert {item.became for item in found.items} == {Became.STILL_OPEN}


def test_vessels_of_one_id_are_told_apart_by_their_label(carbon: str) -> None:
    rows = [{**WRONG, "vessel_label": "A"}, {**GOOD, "vessel_label": "B"}]
    found = compared(rows, [rows[1], rows[0]], carbon)
    assert found.pairs == [(1, 0), (0, 1)]
    assert [item.became for item in found.items if item.new_check >= 0] == [Became.STILL_OPEN]


def test_another_id_at_the_same_account_address_and_vessel_is_the_same_unit(carbon: str) -> None:
    other = {**GOOD, "unit_id": "U-9", "vessel_diameter": "13 in", "restrictor": "9 gpm"}
    found = compared([WRONG, other], [{**GOOD, "unit_id": "NEW-1"}, other], carbon)
    assert found.pairs == [(0, 0), (1, 1)] and found.renamed == [(0, 0)]
    assert told(found)[SMALL] is Became.FIXED


def test_two_units_alike_at_one_address_are_never_mixed_up_by_guess(carbon: str) -> None:
    old = [{**WRONG, "unit_id": "A-1"}, {**GOOD, "unit_id": "A-2"}]
    new = [{**GOOD, "unit_id": "B-1"}, {**WRONG, "unit_id": "B-2"}]
    found = compared(old, new, carbon)
    assert found.pairs == [] and found.gone == [0, 1] and found.added == [0, 1]
    assert Became.FIXED not in {item.became for item in found.items}


def test_every_finding_of_both_lists_is_told_once(carbon: str) -> None:
    old = [{**WRONG, "unit_id": f"U-{n}", "media_date": "2005-01-01"} for n in range(4)]
    new = [{**GOOD, "unit_id": f"U-{n}", "address": f"{n} Far Road"} for n in range(2, 6)]
    found = compared(old, new, carbon)
    states = [[int((item.state == 3).sum()) for item in side.checks] for side in (found.old, found.new)]
    assert sum(
        item.old_check >= 0 and item.became is not Became.NO_LONGER_CHECKED for item in found.items
    ) == sum(states[0])
    assert sum(item.became in OPEN for item in found.items) == sum(states[1])


# Age and acceptance -----------------------------------------------------------------------------------------


def only(found: Comparison, slug: str) -> Age | None:
    return next(
        item.age
        for item in found.items
        if item.new_check >= 0 and found.new.checks[item.new_check].check.slug == slug
    )


def test_ages_rest_on_the_older_list_and_on_the_history(carbon: str) -> None:
    days = (NEW_DAY - OLD_DAY).days
    assert days == 177
    assert only(compared([WRONG], [WRONG], carbon), SMALL) == Age(days, None, "the older list")
    assert only(compared([GOOD], [WRONG], carbon), SMALL) == Age(0, days, "the older list")
    day = float((date(2026, 11, 15) - EPOCH).days)
    changed = Before("u-1", "", fleet.RESTRICTOR.title, day, "1 gpm", "")
    assert only(compared([GOOD], [WRONG], carbon, [changed]), SMALL) == Age(0, 10, "the last recorded change")
    other = Before("U-1", "", fleet.HOUSING.title, day, "small", "")
    assert only(compared([GOOD], [WRONG], carbon, [other]), SMALL) == Age(0, days, "the older list")


def test_no_age_rests_on_an_older_list_of_unknown_day(carbon: str) -> None:
    found = compare(audited([WRONG], NEW_DAY, carbon), audited([WRONG], NEW_DAY, carbon), old_day_known=False)
    assert only(found, SMALL) is None


def test_a_finding_accepted_since_is_neither_open_nor_fixed(carbon: str) -> None:
    until = float((date(2027, 1, 1) - EPOCH).days)
    line = Acceptance("U-1", "", SMALL, "why", "who", float("nan"), until, "", 2, "Accepted!C2")
    old, new = audited([WRONG], OLD_DAY, carbon), audited([WRONG], NEW_DAY, carbon)
    accepted, _ = accept(new, [line])
    assert told(compare(old, accepted)) == {SMALL: Became.ACCEPTED}
    before, _ = accept(old, [line])
    assert told(compare(before, new)) == {SMALL: Became.STILL_OPEN}
