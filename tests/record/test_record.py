"""What return sheets change, what they leave alone, and what is said of it."""

from __future__ import annotations

import datetime as dt
import hashlib
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from fleetaudit.cli.main import main
from fleetaudit.errors import InputError, OutputError
from fleetaudit.record_file import Recorded, RecordRequest, record_file, record_target
from fleetaudit.units import from_si, to_si
from tests.record.fleets import DAY, HEADINGS, VISITED, cells, moment, returns, unit, write


def record(tmp_path: Path, rows: list[dict[str, Any]], *sheets: dict[str, Any], **options: Any) -> Recorded:
    """Record one return sheet into one fleet."""
    source = write(tmp_path / "fleet.xlsx", rows, options.pop("headings", HEADINGS))
    back = returns(tmp_path / "back.xlsx", *sheets)
    return record_file(RecordRequest(source, (back,), DAY, **options))


def refused(done: Recorded) -> str:
    return "\n".join(done.refused)


def test_a_value_goes_into_its_cell_and_onto_the_history(tmp_path: Path) -> None:
    done = record(
        tmp_path, [unit(1), unit(2)], {"Unit ID": "u-002", "Restrictor fitted": 7, "Note": "stiff valve"}
    )
    assert done.path == tmp_path / "fleet.recorded.xlsx" and not done.refused
    first, second = cells(done.path)
    assert first == cells(tmp_path / "fleet.xlsx")[0]
    assert second["DLFC (gpm)"] == 7 and second["Media crew"] == "AB"
    lines = cells(done.path, "History")
    change = lines[0]
    assert (change["What"], change["Cell"], change["Old value"], change["New value"]) == (
        "Restrictor", "Units!F3", "5 gpm", "7 gpm",
    )  # fmt: skip
    assert change["When"] == moment(2026, 11, 20) and change["Recorded on"] == moment(2026, 11, 25)
    assert change["By"] == "AB" and change["Source"] == "back.xlsx, Returns row 2"
    assert [line["New value"] for line in lines if line["What"] == "Note"] == ["stiff valve"]
    assert all(line["Unit ID"] == "U-002" for line in lines)


FORMS = [
    # heading, what stands there, format, what the crew wrote, what must stand there; 3.785411784 L to a US
    # gallon (NIST Special Publication 811, appendix B.8)
    ("DLFC (gpm)", 5, "General", 7, 7),
    ("DLFC (gpm)", 5, "General", "26.497882 L/min", 7),
    ("DLFC", "5 gpm", "General", 7, "7 gpm"),
    ("DLFC", "19 L/min", "General", 7, "26.5 L/min"),
    ("DLFC", 19, '0.0" L/min"', 7, 26.5),
    ("DLFC (L/min)", 19, "General", 7, 26.5),
    ("DLFC", 5, "General", 7, 7),
    ("DLFC (gpm)", "5", "General", 7, 7),
    ("DLFC (gpm)", None, "General", 7, 7),
]


@pytest.mark.parametrize(("heading", "there", "code", "wrote", "wanted"), FORMS)
def test_a_value_is_written_as_the_list_writes_it(
    heading: str, there: Any, code: str, wrote: Any, wanted: Any, tmp_path: Path
) -> None:
    headings = [heading if name == "DLFC (gpm)" else name for name in HEADINGS]
    source = write(tmp_path / "fleet.xlsx", [{**unit(n), heading: there} for n in (1, 2, 3)], headings)
    book = openpyxl.load_workbook(source)
    for row in (2, 3, 4):
        book["Units"].cell(row, 6).number_format = code
    book.save(source)
    back = returns(tmp_path / "back.xlsx", {"Unit ID": "U-002", "Restrictor fitted (gpm)": wrote})
    done = record_file(RecordRequest(source, (back,), DAY))
    assert done.path is not None and not done.refused
    page = openpyxl.load_workbook(done.path)["Units"]
    assert page["F3"].value == wanted and page["F3"].number_format == code
    assert page["F2"].value == there


def test_metric_settings_take_bare_numbers_as_litres(tmp_path: Path) -> None:
    headings = ["DLFC (L/min)" if name == "DLFC (gpm)" else name for name in HEADINGS]
    source = write(tmp_path / "fleet.xlsx", [{**unit(1), "DLFC (L/min)": 19}], headings)
    book = openpyxl.load_workbook(source)
    page = book.create_sheet("Settings")
    page.append(["Setting", "Value", "Source"])
    page.append(["units", "metric", "ours"])
    book.save(source)
    back = returns(tmp_path / "back.xlsx", {"Unit ID": "U-001", "Restrictor fitted": 26})
    done = record_file(RecordRequest(source, (back,), DAY))
    assert cells(done.path)[0]["DLFC (L/min)"] == 26


def test_words_of_the_list_are_kept(tmp_path: Path) -> None:
    rows = [unit(1, Housing="S"), unit(2, Housing="L"), unit(3, Housing="S")]
    done = record(tmp_path, rows, {"Unit ID": "U-001", "Housing fitted": "large"})
    assert cells(done.path)[0]["Housing"] == "L"


def test_a_measured_flow_of_the_old_restrictor_is_emptied_and_said(tmp_path: Path) -> None:
    done = record(
        tmp_path, [unit(1, **{"Bucket test (gpm)": 4.8})], {"Unit ID": "U-001", "Restrictor fitted": 7}
    )
    assert cells(done.path)[0]["Bucket test (gpm)"] is None
    line = next(line for line in cells(done.path, "History") if line["What"] == "Measured drain flow")
    assert line["Old value"] == "4.8 gpm" and line["New value"] is None and "restrictor" in line["Remark"]
    again = record(
        tmp_path, [unit(1, **{"Bucket test (gpm)": 4.8})],
        {"Unit ID": "U-001", "Restrictor fitted": 7, "Measured drain flow": 6.9}, force=True,
    )  # fmt: skip
    assert cells(again.path)[0]["Bucket test (gpm)"] == 6.9


def test_the_same_restrictor_leaves_the_measured_flow(tmp_path: Path) -> None:
    done = record(
        tmp_path, [unit(1, **{"Bucket test (gpm)": 4.8})], {"Unit ID": "U-001", "Restrictor found": 5}
    )
    assert done.lines == [] and done.path is None


def test_a_new_bed_starts_its_life_anew_and_a_topped_up_one_does_not(tmp_path: Path) -> None:
    new = {"Unit ID": "U-001", "Bed": "new bed", "Media loaded": "calcite", "Crew": "crew B"}
    top = {
        "Unit ID": "U-002",
        "Bed": "topped up",
        "Media loaded": "activated carbon 12x40",
        "Volume loaded": 0.2,
    }
    done = record(tmp_path, [unit(1), unit(2)], new, top)
    first, second = cells(done.path)
    assert first["Media date"] == moment(2026, 11, 20) and first["Medium"] == "calcite"
    assert first["Mesh"] is None and first["Media crew"] == "crew B"
    assert second == cells(tmp_path / "fleet.xlsx")[1]
    assert {line["What"] for line in cells(done.path, "History") if line["Unit ID"] == "U-002"} == {
        "Bed", "Media loaded", "Volume loaded",
    }  # fmt: skip


REFUSALS = [
    ({"Unit ID": "U-01"}, "no unit", 'Did you mean "U-001"'),
    ({"Unit ID": None}, "no unit is named", ""),
    ({"Visit date": None}, "day of the visit is missing", ""),
    ({"Visit date": dt.date(2026, 12, 1)}, "lies in the future", "2026-12-01"),
    ({"Visit date": "11/2026"}, "could not be used", ""),
    ({"Initials": None}, "nobody signed", ""),
    ({"Restrictor fitted": 4000}, "could not be used", "Restrictor fitted"),
    ({"Restrictor fitted": "five"}, "could not be used", "Restrictor fitted"),
    ({"Restrictor fitted": None, "Media loaded": "calcite"}, "does not say whether the whole bed", ""),
    ({"Restrictor fitted": None, "Bed": "new bed"}, "not of which medium", ""),
    (
        {"Restrictor fitted": None, "Bed": "new bed", "Media loaded": "moon dust"},
        "no medium of the catalogue",
        "",
    ),
]


@pytest.mark.parametrize(("spoiled", "words", "more"), REFUSALS)
def test_what_cannot_be_taken_over_is_listed_and_left(
    spoiled: dict[str, Any], words: str, more: str, tmp_path: Path
) -> None:
    done = record(tmp_path, [unit(1), unit(22)], {"Unit ID": "U-001", "Restrictor fitted": 7, **spoiled})
    assert words in refused(done) and more in refused(done)
    assert done.lines == [] and done.path is None and not (tmp_path / "fleet.recorded.xlsx").exists()


def test_two_returns_that_differ_are_both_left_and_equal_ones_count_once(tmp_path: Path) -> None:
    one, other = {"Unit ID": "U-001", "Restrictor fitted": 7}, {"Unit ID": "U-001", "Restrictor fitted": 8}
    done = record(tmp_path, [unit(1)], one, other)
    assert len(done.refused) == 2 and done.path is None
    done = record(tmp_path, [unit(1)], one, dict(one))
    assert not done.refused and done.repeated == 1 and cells(done.path)[0]["DLFC (gpm)"] == 7


def test_one_id_in_two_rows_needs_the_vessel_label(tmp_path: Path) -> None:
    headings = [*HEADINGS, "Vessel label"]
    rows = [unit(1, **{"Vessel label": "A"}), unit(1, **{"Vessel label": "B"})]
    line = {"Unit ID": "U-001", "Restrictor fitted": 7}
    done = record(tmp_path, rows, line, headings=headings)
    assert "rows 2, 3" in refused(done) and done.path is None
    done = record(tmp_path, rows, {**line, "Vessel label": "b"}, headings=headings)
    assert [row["DLFC (gpm)"] for row in cells(done.path)] == [5, 7]


def test_formulas_and_merged_cells_are_left_while_the_rest_of_the_line_is_taken(tmp_path: Path) -> None:
    source = write(tmp_path / "fleet.xlsx", [unit(1, **{"DLFC (gpm)": "=2+3"}), unit(2), unit(3)])
    book = openpyxl.load_workbook(source)
    book["Units"].merge_cells("F3:F4")
    book.save(source)
    back = returns(
        tmp_path / "back.xlsx",
        {"Unit ID": "U-001", "Restrictor fitted": 7, "Housing fitted": "large"},
        {"Unit ID": "U-003", "Restrictor fitted": 7},
    )
    done = record_file(RecordRequest(source, (back,), DAY))
    assert "Units!F2: it holds a formula" in refused(done) and "merged" in refused(done)
    page = openpyxl.load_workbook(done.path)["Units"]
    assert page["F2"].value == "=2+3" and page["F3"].value == 5 and page["G2"].value == "large"


def test_a_missing_column_keeps_to_the_history_unless_it_is_to_be_added(tmp_path: Path) -> None:
    headings = [name for name in HEADINGS if name != "Bucket test (gpm)"]
    line = {"Unit ID": "U-002", "Measured drain flow": "18.92705892 L/min"}
    done = record(tmp_path, [unit(1), unit(2)], line, headings=headings)
    assert done.no_column == ["Measured drain flow"] and done.lines == []
    assert cells(done.path) == cells(tmp_path / "fleet.xlsx")
    assert cells(done.path, "History")[0]["New value"] == "18.92705892 L/min"
    done = record(tmp_path, [unit(1), unit(2)], line, headings=headings, add_columns=True, force=True)
    added = [row["Measured drain flow (gpm)"] for row in cells(done.path)]
    assert added == [None, pytest.approx(5, rel=1e-4)]
    assert list(cells(done.path)[0])[:-1] == headings


def test_recording_again_changes_nothing_and_adds_no_line(tmp_path: Path) -> None:
    line = {"Unit ID": "U-001", "Restrictor fitted": 7, "What was found": "worn"}
    first = record(tmp_path, [unit(1)], line)
    again = record_file(RecordRequest(first.path, (tmp_path / "back.xlsx",), DAY))
    assert again.lines == [] and again.history_only == [] and again.path is None and not again.refused


def test_further_lines_go_below_those_of_the_history_and_an_older_visit_overrides_nothing(
    tmp_path: Path,
) -> None:
    first = record(tmp_path, [unit(1), unit(2)], {"Unit ID": "U-001", "Restrictor fitted": 7})
    before = cells(first.path, "History")
    late = returns(tmp_path / "late.xlsx", {"Unit ID": "U-002", "Restrictor fitted": 6})
    old = returns(
        tmp_path / "old.xlsx",
        {"Unit ID": "U-001", "Restrictor fitted": 4, "Visit date": dt.date(2026, 11, 1)},
    )
    done = record_file(RecordRequest(first.path, (late, old), DAY))
    assert done.path == tmp_path / "fleet.recorded.2026-11-25.xlsx"
    after = cells(done.path, "History")
    assert after[: len(before)] == before and after[len(before)]["Unit ID"] == "U-002"
    assert "later value" in refused(done)
    assert [row["DLFC (gpm)"] for row in cells(done.path)] == [7, 6]
    assert openpyxl.load_workbook(done.path).sheetnames == ["Units", "History"]


def test_a_sheet_of_that_name_that_is_somebody_elses_is_kept(tmp_path: Path) -> None:
    source = write(tmp_path / "fleet.xlsx", [unit(1)])
    book = openpyxl.load_workbook(source)
    book.create_sheet("History").append(["Our firm was founded"])
    book.save(source)
    back = returns(tmp_path / "back.xlsx", {"Unit ID": "U-001", "Restrictor fitted": 7})
    done = record_file(RecordRequest(source, (back,), DAY))
    assert openpyxl.load_workbook(done.path).sheetnames == ["Units", "History", "History 2"]
    assert openpyxl.load_workbook(done.path)["History"]["A1"].value == "Our firm was founded"
    again = record_file(RecordRequest(done.path, (back,), DAY))
    assert again.lines == [] and again.path is None


def test_other_files_are_said_not_to_be_returns_all_at_once(tmp_path: Path) -> None:
    source = write(tmp_path / "fleet.xlsx", [unit(1)])
    (tmp_path / "no.csv").write_text("a,b\n1,2\n")
    with pytest.raises(InputError) as trouble:
        record_file(RecordRequest(source, (tmp_path / "none.xlsx", tmp_path / "no.csv"), DAY))
    assert (
        "none.xlsx" in trouble.value.message and "no.csv: no sheet has the headings" in trouble.value.message
    )


def test_returns_may_be_a_text_table(tmp_path: Path) -> None:
    source = write(tmp_path / "fleet.xlsx", [unit(1)])
    (tmp_path / "back.csv").write_text(
        "Unit ID,Visit date,By,Restrictor fitted (gpm)\nU-001,2026-11-20,AB,7\n"
    )
    done = record_file(RecordRequest(source, (tmp_path / "back.csv",), DAY))
    assert cells(done.path)[0]["DLFC (gpm)"] == 7


def test_names_of_the_copy() -> None:
    assert record_target(Path("a/fleet.xlsx"), DAY, None) == Path("a/fleet.recorded.xlsx")
    assert record_target(Path("a/fleet.audited.xlsm"), DAY, Path("b")) == Path(
        "b/fleet.audited.recorded.xlsm"
    )
    assert record_target(Path("f.recorded.2026-01-02.xlsx"), DAY, None) == Path("f.recorded.2026-11-25.xlsx")


def test_an_older_copy_is_not_replaced_unasked(tmp_path: Path) -> None:
    line = {"Unit ID": "U-001", "Restrictor fitted": 7}
    record(tmp_path, [unit(1)], line)
    with pytest.raises(OutputError, match="--force"):
        record(tmp_path, [unit(1)], line)
    assert record(tmp_path, [unit(1)], line, dry_run=True).lines


# Command line -----------------------------------------------------------------------------------------------


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        main(list(arguments))
    return int(left.value.code or 0), *capsys.readouterr()


def test_a_dry_run_shows_and_writes_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    write(Path("fleet.xlsx"), [unit(1)])
    returns(Path("back.xlsx"), {"Unit ID": "U-001", "Restrictor fitted (gpm)": 7})
    held = {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in tmp_path.iterdir()}
    code, out, err = run(capsys, "record", "fleet.xlsx", "back.xlsx", "--as-of", "2026-11-25", "--dry-run")
    assert code == 0 and "restrictor: 5 gpm -> 7 gpm" in out and "--dry-run" in out and err == ""
    assert {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in tmp_path.iterdir()} == held


def test_exit_codes(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    write(Path("fleet.xlsx"), [unit(1)])
    returns(Path("good.xlsx"), {"Unit ID": "U-001", "Restrictor fitted": 7})
    returns(Path("bad.xlsx"), {"Unit ID": "U-9", "Restrictor fitted": 7})
    day = ("--as-of", "2026-11-25", "--force")
    assert run(capsys, "record", "fleet.xlsx", "good.xlsx", *day)[0] == 0
    code, out, err = run(capsys, "record", "fleet.xlsx", "good.xlsx", "bad.xlsx", *day)
    assert code == 1 and "bad.xlsx" in err and "fleet.recorded.xlsx" in out
    code, out, err = run(capsys, "record", "fleet.xlsx", "gone.xlsx", *day)
    assert code == 2 and out == "" and "gone.xlsx" in err
    assert run(capsys, "record", "fleet.xlsx")[0] == 2


def test_help_leads_with_examples(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "record", "--help")
    lines = [line for line in out.splitlines() if line.strip()]
    assert code == 0 and lines[1].strip() == "Examples:" and max(map(len, lines)) <= 80


def test_the_form_names_the_units_and_says_what_is_known_and_wanted(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    write(Path("fleet.xlsx"), [unit(1), unit(2, **{"DLFC (gpm)": 1}), unit(3)])
    asked = ("--workbook", "fleet.xlsx", "--as-of", "2026-11-25")
    code, out, _ = run(capsys, "template", "--returns", "all.xlsx", *asked)
    assert code == 0 and "1 line" in out
    line = cells(Path("all.xlsx"), "Returns")[0]
    assert line["Unit ID"] == "U-002" and line["Account"] == "Site 2"
    assert line["Restrictor on record (gpm)"] == 1 and line["Restrictor to fit (gpm)"] > 1
    low, _, high = line["Flow to confirm"].removesuffix(" gpm").partition(" to ")
    assert float(low) <= line["Restrictor to fit (gpm)"] <= float(high)
    assert run(capsys, "template", "--returns", "two.xlsx", "--units", "U-003, U-001", *asked)[0] == 0
    assert [line["Unit ID"] for line in cells(Path("two.xlsx"), "Returns")] == ["U-003", "U-001"]
    code, _, err = run(capsys, "template", "--returns", "no.xlsx", "--units", "U-0O1", *asked)
    assert code == 2 and 'Did you mean "U-001"?' in err and not Path("no.xlsx").exists()
    assert run(capsys, "template", "--returns", "bare.xlsx", "--units", "X1,X2")[0] == 0
    assert [line["Unit ID"] for line in cells(Path("bare.xlsx"), "Returns")] == ["X1", "X2"]
    assert run(capsys, "template")[0] == 2
    assert run(capsys, "template", "--returns", "nothing.xlsx")[0] == 2


def test_a_form_filled_in_is_read_back(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    source = write(tmp_path / "fleet.xlsx", [unit(1, Account="=cmd()"), unit(2, **{"DLFC (gpm)": 1})])
    form = tmp_path / "form.xlsx"
    assert (
        run(capsys, "template", "--returns", str(form), "--units", "U-001,U-002", "--workbook", str(source))[
            0
        ]
        == 0
    )
    book = openpyxl.load_workbook(form)
    page = book["Returns"]
    assert all(cell.data_type != "f" for row in page.iter_rows() for cell in row)
    place = {cell.value.partition(" (")[0]: cell.column for cell in page[1]}
    for heading, value in (("Visit date", VISITED), ("Initials", "AB"), ("Restrictor fitted", 4.5)):
        page.cell(3, place[heading]).value = value
    book.save(form)
    done = record_file(RecordRequest(source, (form,), DAY))
    assert not done.refused and [row["DLFC (gpm)"] for row in cells(done.path)] == [5, 4.5]
    assert done.returns.blank_lines == 1


def test_litres_and_gallons_of_the_table_of_forms_agree_with_the_published_gallon() -> None:
    """NIST Special Publication 811, appendix B.8: one US gallon is 3.785 411 784 litres."""
    assert from_si(to_si(7.0, "gpm"), "L/min") == pytest.approx(7 * 3.785411784, rel=1e-9)


def test_a_topped_up_bed_gets_its_day_and_a_depth_found_goes_where_that_of_a_dissolving_medium_stands(
    tmp_path: Path,
) -> None:
    headings = [*HEADINGS, "Top-up date", "Depth left (in)", "Bed depth (in)"]
    calcite = {"Medium": "calcite", "Mesh": None, "Depth left (in)": 20, "Bed depth (in)": 36}
    rows = [unit(1, **calcite), unit(2, **calcite), unit(3, **{"Bed depth (in)": 30})]
    done = record(
        tmp_path,
        rows,
        {"Unit ID": "U-001", "Bed": "topped up", "Media loaded": "calcite", "Volume loaded": 0.5},
        {"Unit ID": "U-002", "Bed depth now": 14},
        {"Unit ID": "U-003", "Bed depth now": 28},
        headings=headings,
    )
    top, found, other = cells(done.path)
    assert top["Top-up date"] == moment(2026, 11, 20) and top["Depth left (in)"] is None
    assert top["Media date"] == moment(2025, 3, 1) and top["Bed depth (in)"] == 36
    assert (found["Depth left (in)"], found["Bed depth (in)"]) == (14, 36)
    assert other["Bed depth (in)"] == 28


def test_the_same_restrictor_again_names_no_new_crew(tmp_path: Path) -> None:
    done = record(tmp_path, [unit(1)], {"Unit ID": "U-001", "Restrictor fitted": 5, "Crew": "crew B"})
    assert done.lines == [] and done.path is None


def test_a_form_for_one_account_holds_its_units_alone(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    wrong = {"DLFC (gpm)": 1}
    write(Path("fleet.xlsx"), [unit(1, **wrong), unit(2, **wrong), unit(3)])
    asked = ("--workbook", "fleet.xlsx", "--as-of", "2026-11-25")
    assert run(capsys, "template", "--returns", "two.xlsx", *asked, "--account", "site 2")[0] == 0
    assert [line["Unit ID"] for line in cells(Path("two.xlsx"), "Returns")] == ["U-002"]
    code, _, err = run(capsys, "template", "--returns", "no.xlsx", *asked, "--account", "Sit 2")
    assert code == 2 and '"Site 2"' in err and not Path("no.xlsx").exists()
    assert run(capsys, "template", "--returns", "bare.xlsx", "--units", "X1", "--account", "Site 1")[0] == 2
