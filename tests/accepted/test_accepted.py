"""Accepted findings: set apart while they hold, back when their day or the data pass."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from fleetaudit.accepting import Acceptance, Standing, accept, fingerprint
from fleetaudit.audit_file import Request, audit_file
from fleetaudit.auditing.result import State
from fleetaudit.auditing.run import audit
from fleetaudit.auditing.verdict import Verdict
from fleetaudit.catalogue.shipped import load
from fleetaudit.facts.history import Before
from fleetaudit.parts import parts
from fleetaudit.ranking import ranked
from fleetaudit.reading.accepted import check_named, read_accepted
from fleetaudit.record_file import RecordRequest, record_file
from fleetaudit.schema import fleet as columns
from fleetaudit.summary import count
from fleetaudit.workbook.book import open_workbook
from tests.frames import frame_of
from tests.record.fleets import DAY, HEADINGS, cells, moment, returns, unit, write

CATALOGUE = load()
EPOCH = dt.date(1970, 1, 1)
SMALL = "restrictor-too-small"
CARBON = next(m.key for m in CATALOGUE.media if m.name.startswith("Activated carbon 12x40"))
ROW = {
    "unit_id": "U-1", "vessel_diameter": "10 in", "vessel_height": "54 in", "medium": CARBON,
    "restrictor": "1 gpm",
    "housing": "small", "media_date": "2025-03-01", "water_cold": "45 F", "water_warm": "60 F",
    "mesh_stated": "yes",
}  # fmt: skip


def day(text: str) -> float:
    return float((dt.date.fromisoformat(text) - EPOCH).days)


def line(**changes: Any) -> Acceptance:
    usual = {
        "unit_id": "u-1", "label": "", "check": SMALL, "reason": "new pump in spring", "by": "A. M.",
        "on": day("2026-10-01"), "until": day("2027-03-31"), "mark": "", "row": 2, "cell": "Accepted!B2",
    }  # fmt: skip
    return Acceptance(**{**usual, **changes})


def result_of(*rows: dict[str, str], as_of: str = "2026-11-25"):
    return audit(frame_of(rows or [ROW], CATALOGUE), CATALOGUE, dt.date.fromisoformat(as_of))


def standing(
    one: Acceptance, *rows: dict[str, str], history: Sequence[Before] = (), as_of: str = "2026-11-25"
):
    return accept(result_of(*rows, as_of=as_of), [one], history)[1][0].standing


def test_it_is_in_no_list_no_count_no_parts_and_no_verdict() -> None:
    before = result_of()
    after, (one,) = accept(before, [line()])
    assert one.standing is Standing.HOLDS
    assert count(before).by_check == {SMALL: 1} and count(after).by_check == {}
    assert before.verdict[0] == Verdict.PLAN and after.verdict[0] == Verdict.CLEAN
    assert len(ranked(before).unit) == 1 and len(ranked(after).unit) == 0
    assert parts(before) and not parts(after)
    states = {item.check.slug: int(item.state[0]) for item in after.checks}
    assert states.pop(SMALL) == State.ACCEPTED
    assert states == {
        item.check.slug: int(item.state[0]) for item in before.checks if item.check.slug != SMALL
    }


def test_the_input_of_accepting_is_left_as_it_was() -> None:
    before = result_of()
    accept(before, [line()])
    assert count(before).by_check == {SMALL: 1} and before.verdict[0] == Verdict.PLAN


def test_other_findings_of_the_unit_and_the_same_of_other_units_count_on() -> None:
    rows = ({**ROW, "media_date": "2005-01-01"}, {**ROW, "unit_id": "U-2"})
    after, _ = accept(result_of(*rows), [line()])
    assert count(after).by_check == {SMALL: 1, "media-overdue": 1}
    assert [Verdict(int(code)) for code in after.verdict] == [Verdict.PLAN, Verdict.PLAN]


def test_the_last_day_still_holds_and_the_next_does_not() -> None:
    assert standing(line(until=day("2026-11-25"))) is Standing.HOLDS
    assert standing(line(until=day("2026-11-24"))) is Standing.EXPIRED
    assert standing(line(), as_of="2027-04-01") is Standing.EXPIRED


def test_a_mark_holds_for_the_same_data_and_no_other() -> None:
    mark = fingerprint(result_of().view, 0)
    assert standing(line(mark=mark)) is Standing.HOLDS
    assert standing(line(mark=mark.upper())) is Standing.HOLDS
    for column, value in (
        ("restrictor", "1.5 gpm"),
        ("water_cold", ""),
        ("media_date", "2025-04-01"),
        ("ph", "7"),
    ):
        assert standing(line(mark=mark), {**ROW, column: value}) is Standing.DATA_CHANGED, column


@pytest.mark.parametrize(
    "cell",
    [{"account": "New owner"}, {"note": "seen"}, {"crew": "crew B"}, {"volume_treated": "900 gal"},
     {"restrictor": "3.785411784 L/min"}, {"water_cold": "7.2222222222 C"}],
)  # fmt: skip
def test_names_notes_the_meter_and_the_unit_a_value_is_written_in_do_not_matter(cell: dict[str, str]) -> None:
    """One US gallon is 3.785411784 L (NIST SP 811, B.8); 45 degrees Fahrenheit are 65/9 degrees Celsius."""
    assert fingerprint(result_of({**ROW, **cell}).view, 0) == fingerprint(result_of().view, 0)


def test_a_mark_does_not_hang_on_the_place_of_a_medium_in_the_catalogue() -> None:
    from msgspec.structs import replace  # noqa: PLC0415 - used here alone

    turned = replace(CATALOGUE, media=tuple(reversed(CATALOGUE.media)))
    other = audit(frame_of([ROW], turned), turned, DAY)
    assert fingerprint(other.view, 0) == fingerprint(result_of().view, 0)


def test_without_a_mark_a_later_change_on_record_ends_it() -> None:
    change = Before("U-1", "", columns.RESTRICTOR.title, day("2026-11-01"), "1 gpm", "")
    assert standing(line(), history=[change]) is Standing.DATA_CHANGED
    earlier = Before("U-1", "", columns.RESTRICTOR.title, day("2026-09-01"), "1 gpm", "")
    assert standing(line(), history=[earlier]) is Standing.HOLDS
    assert standing(
        line(), history=[Before("U-2", "", columns.RESTRICTOR.title, day("2026-11-01"), "", "")]
    ) is (Standing.HOLDS)
    assert standing(line(), history=[Before("U-1", "", "Note", day("2026-11-01"), "", "")]) is Standing.HOLDS


def test_nothing_is_accepted_of_a_unit_that_cannot_be_told() -> None:
    assert standing(line(unit_id="U-9")) is Standing.UNKNOWN_UNIT
    twice = ({**ROW, "vessel_label": "A"}, {**ROW, "vessel_label": "B"})
    assert standing(line(), *twice) is Standing.SEVERAL_ROWS
    after, (one,) = accept(result_of(*twice), [line(label="b")])
    assert one.standing is Standing.HOLDS and one.unit == 1 and count(after).by_check[SMALL] == 1
    assert standing(line(check="media-overdue")) is Standing.NOTHING_TO_ACCEPT


@pytest.mark.parametrize(
    ("typed", "slug"),
    [(SMALL, SMALL), ("Restrictor too small", SMALL), ("RESTRICTOR-TOO-SMALL ", SMALL), ("restrictor", None)],
)
def test_checks_go_by_slug_or_title(typed: str, slug: str | None) -> None:
    assert check_named(typed) == slug


# From workbook to results

HEAD = ("Unit ID", "Check", "Reason", "Accepted by", "Accepted on", "Until")
GOOD = ("U-001", SMALL, "new pump in spring", "A. M.", dt.date(2026, 10, 1), dt.date(2027, 3, 31))


def workbook(path: Path, *lines: Sequence[Any], head: Sequence[str] = HEAD) -> Path:
    write(path, [unit(1, **{"DLFC (gpm)": 1}), unit(2)])
    book = openpyxl.load_workbook(path)
    page = book.create_sheet("Accepted")
    page.append(list(head))
    for one in lines:
        page.append(list(one))
    book.save(path)
    return path


def audited(path: Path, folder: Path):
    return audit_file(Request(path, DAY, folder=folder, json_wanted=True))


def test_the_report_lists_it_apart_everywhere(tmp_path: Path) -> None:
    written = audited(workbook(tmp_path / "fleet.xlsx", GOOD), tmp_path / "out")
    document = json.loads(written.json_text)
    assert document["findings"] == [] and document["summary"]["by_verdict"]["clean"] == 2
    (one,) = document["accepted"]
    assert one["unit_id"] == "U-001" and one["check"] == SMALL
    assert one["accepted"] == {"reason": "new pump in spring", "by": "A. M.", "until": "2027-03-31"}
    page = written.summary_path.read_text(encoding="utf-8")
    assert "Accepted findings" in page and "new pump in spring" in page
    (listed,) = cells(tmp_path / "out" / "fleet.audited.xlsx", "Audit accepted")
    assert listed["Reason for accepting it"] == "new pump in spring" and listed["Until"] == moment(
        2027, 3, 31
    )
    first = cells(tmp_path / "out" / "fleet.audited.xlsx")[0]
    assert first["Audit: verdict"] == "clean" and "accepted until 2027-03-31" in first["Audit: findings"]


def test_the_annotated_copy_fills_the_mark_in_and_changes_nothing_else_of_the_sheet(tmp_path: Path) -> None:
    source = workbook(tmp_path / "fleet.xlsx", GOOD)
    audited(source, tmp_path / "out")
    copy = tmp_path / "out" / "fleet.audited.xlsx"
    (before,), (after,) = cells(source, "Accepted"), cells(copy, "Accepted")
    mark = after.pop("Data mark")
    assert after == before and isinstance(mark, str) and len(mark) == 8
    audited(copy, tmp_path / "again")
    again = tmp_path / "again" / f"fleet.audited.{DAY.isoformat()}.xlsx"
    assert cells(again, "Accepted") == [{**before, "Data mark": mark}]


def test_a_changed_cell_brings_it_back_with_a_word_on_it(tmp_path: Path) -> None:
    audited(workbook(tmp_path / "fleet.xlsx", GOOD), tmp_path / "out")
    copy = tmp_path / "out" / "fleet.audited.xlsx"
    book = openpyxl.load_workbook(copy)
    book["Units"]["F2"].value = 1.5
    book.save(tmp_path / "edited.xlsx")
    report = audited(tmp_path / "edited.xlsx", tmp_path / "out").report
    assert [finding.check for finding in report.findings] == [SMALL] and not report.accepted
    assert any("data that have changed" in remark.text for remark in report.remarks)


def test_a_recorded_visit_brings_it_back_where_there_is_no_mark_yet(tmp_path: Path) -> None:
    source = workbook(tmp_path / "fleet.xlsx", GOOD)
    back = returns(tmp_path / "back.xlsx", {"Unit ID": "U-001", "Restrictor fitted": 1.5})
    done = record_file(RecordRequest(source, (back,), DAY))
    report = audited(done.path, tmp_path / "out").report
    assert [finding.check for finding in report.findings] == [SMALL] and not report.accepted


SPOILED = [
    ({"Reason": None}, "without reason"),
    ({"Accepted by": None}, "without accepted by"),
    ({"Until": None}, "without until"),
    ({"Until": "spring"}, "without until"),
    ({"Unit ID": None}, "without unit id"),
    ({"Unit ID": "U-9"}, 'no unit "U-9"'),
    ({"Check": "restrictor-to-small"}, 'Did you mean "restrictor-too-small"'),
    ({"Until": dt.date(2026, 11, 24)}, "which is over"),
]


@pytest.mark.parametrize(("spoiled", "words"), SPOILED)
def test_a_line_that_leaves_something_open_accepts_nothing_and_says_so(
    spoiled: dict[str, Any], words: str, tmp_path: Path
) -> None:
    full = {**dict(zip(HEAD, GOOD, strict=True)), **spoiled}
    report = audited(workbook(tmp_path / "fleet.xlsx", list(full.values())), tmp_path / "out").report
    assert [finding.check for finding in report.findings] == [SMALL] and not report.accepted
    said = [remark for remark in report.remarks if words in remark.text]
    assert said and all("Accepted!" in " ".join(remark.cells) for remark in said)


def test_a_sheet_without_its_headings_is_said_and_left(tmp_path: Path) -> None:
    source = workbook(tmp_path / "fleet.xlsx", ("a", "b"), head=("This", "That"))
    found = read_accepted(open_workbook(source), CATALOGUE)
    assert not found.acceptances and "no headings" in found.remarks[0].text
    assert len(HEADINGS) == len(cells(source)[0])
