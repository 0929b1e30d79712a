"""The command line: help, exit codes, what goes where, what is refused, and what it costs to start."""

from __future__ import annotations

import hashlib
import html
import json
import os
import re
import subprocess
import sys
from collections.abc import Callable
from datetime import date
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from fleetaudit.cli import main as command_line
from fleetaudit.cli.main import main
from tests.faults.fault import HEADINGS, sheet_of, sound, write

ROOT = Path(__file__).resolve().parent.parent
DAY = "2026-11-01"
COMMANDS = sorted(command_line.COMMANDS)

Run = Callable[..., "Done"]


class Done:
    """What a run gave back."""

    def __init__(self, code: int, out: str, err: str) -> None:
        self.code, self.out, self.err = code, out, err


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Run the command line in an empty folder of its own."""
    monkeypatch.chdir(tmp_path)

    def call(*arguments: str) -> Done:
        with pytest.raises(SystemExit) as left:
            main(list(arguments))
        return Done(int(left.value.code or 0), *capsys.readouterr())

    return call


@pytest.fixture
def fleet(tmp_path: Path) -> Path:
    """Four sound units, invented."""
    return write(tmp_path / "fleet.xlsx", {"Units": sheet_of([sound(number) for number in range(1, 5)])})


def with_columns(path: Path, **columns: Any) -> Path:
    """A fleet with further columns, the same value in every row; "_" in a name stands for a blank."""
    titles = [name.replace("_", " ") for name in columns]
    rows = [[*sound(number), *columns.values()] for number in range(1, 5)]
    return write(path, {"Units": sheet_of(rows, [*HEADINGS, *titles])})


# Help -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("command", [(), *((name,) for name in COMMANDS)])
def test_help_leads_with_examples_and_fits_80_columns(command: tuple[str, ...], run: Run) -> None:
    done = run(*command, "--help")
    lines = [line for line in done.out.splitlines() if line.strip()]
    assert done.code == 0
    assert lines[0].startswith("Usage:")
    assert lines[1].strip() == "Examples:"
    assert lines[2].strip().startswith("fleetaudit ")
    assert max(map(len, lines)) <= 80


def test_every_example_of_the_help_names_a_command_that_is_there(run: Run) -> None:
    examples = re.findall(r"^\s+fleetaudit (\w+)", run("--help").out, re.M)
    assert {"audit", "catalogue", "template"} <= set(examples) <= set(COMMANDS)
    listed = re.findall(r"^  (\w+) {2,}", run("--help").out.partition("Commands:")[2], re.M)
    assert sorted(listed) == COMMANDS


def test_no_arguments_shows_help_and_is_no_success(run: Run) -> None:
    done = run()
    assert done.code == 2 and done.out == "" and "Examples:" in done.err


def test_version(run: Run) -> None:
    done = run("--version")
    assert done.code == 0 and re.fullmatch(r"fleetaudit, version \d+\.\d+\.\d+\n", done.out)
    try:
        assert version("fleetaudit") in done.out
    except PackageNotFoundError:
        assert f'version = "{done.out.split()[-1]}"' in (ROOT / "pyproject.toml").read_text("utf-8")


@pytest.mark.parametrize(
    ("typed", "meant"), [("adit", "audit"), ("catalog", "catalogue"), ("tempalte", "template")]
)
def test_a_mistyped_command_is_answered_with_the_nearest(typed: str, meant: str, run: Run) -> None:
    done = run(typed)
    assert done.code == 2 and f'Did you mean "{meant}"?' in done.err and done.out == ""


def test_a_workbook_without_a_command_is_answered_with_the_command(run: Run, fleet: Path) -> None:
    done = run(fleet.name)
    assert done.code == 2 and 'fleetaudit audit "fleet.xlsx"' in done.err


def test_a_word_like_no_command_is_answered_with_all(run: Run) -> None:
    done = run("zzz")
    assert done.code == 2 and all(word in done.err for word in ("audit", "catalogue", "template"))


# Exit codes -------------------------------------------------------------------------------------------------

WORST = {
    "now": {"Connections": "reversed"},
    "plan": {"Service_flow_(gpm)": 60},
    "note": {"Restrictor_labelled": "no"},
    "clean": {"Restrictor_labelled": "yes"},
}
#: which --fail-on lets a run with this gravest tier leave with code 1
CODES = {
    "now": {"now": 1, "plan": 1, "any": 1, "never": 0},
    "plan": {"now": 0, "plan": 1, "any": 1, "never": 0},
    "note": {"now": 0, "plan": 0, "any": 1, "never": 0},
    "clean": {"now": 0, "plan": 0, "any": 0, "never": 0},
}


@pytest.mark.parametrize("fail_on", ["now", "plan", "any", "never"])
@pytest.mark.parametrize("worst", list(WORST))
def test_fail_on(worst: str, fail_on: str, run: Run, tmp_path: Path) -> None:
    with_columns(tmp_path / "fleet.xlsx", **WORST[worst])
    done = run("audit", "fleet.xlsx", "--as-of", DAY, "--json", "-", "--fail-on", fail_on)
    tiers = {finding["tier"] for finding in json.loads(done.out)["findings"]}
    gravest = next((tier for tier in ("now", "plan", "note") if tier in tiers), "clean")
    assert gravest == worst
    assert done.code == CODES[worst][fail_on]


def test_findings_alone_are_no_failure(run: Run, tmp_path: Path) -> None:
    with_columns(tmp_path / "fleet.xlsx", Connections="reversed")
    assert run("audit", "fleet.xlsx", "--as-of", DAY).code == 0


def test_an_inner_error_is_one_line_with_the_path_of_a_log(
    run: Run, fleet: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("secret of the inside")

    monkeypatch.setenv("TMPDIR", str(tmp_path))
    monkeypatch.setattr("tempfile.tempdir", None)
    monkeypatch.setattr("fleetaudit.audit_file.read_asked", broken)
    done = run("audit", fleet.name)
    assert done.code == 2 and done.out == ""
    (line,) = done.err.splitlines()
    assert "Traceback" not in line and "secret" not in line
    log = re.search(r"Details are in (\S+\.log)\.", line)
    assert log and "secret of the inside" in Path(log[1]).read_text("utf-8")
    assert not list(tmp_path.glob("*.audited.*"))


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (MemoryError(), "memory"),
        (KeyboardInterrupt(), "Stopped"),
        (OSError(28, "No space left on device", "/some/where"), "No space left"),
    ],
)
def test_expected_trouble_is_one_line(
    error: BaseException, words: str, run: Run, fleet: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise error

    monkeypatch.setattr("fleetaudit.audit_file.read_asked", broken)
    done = run("audit", fleet.name)
    assert done.code == 2 and done.out == "" and len(done.err.strip().splitlines()) == 1 and words in done.err


# The JSON document ------------------------------------------------------------------------------------------

DOCUMENT = {"schema_version", "tool", "input", "as_of", "units", "findings", "not_checked", "summary"}
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
GAP = {"unit_id", "sheet", "row", "check", "reason"}
SUMMARY = {"units", "by_verdict", "by_check", "by_tier"}


def test_the_document_has_the_agreed_keys_and_stands_alone_on_stdout(run: Run, tmp_path: Path) -> None:
    path = with_columns(tmp_path / "fleet.xlsx", Connections="reversed", Restrictor_labelled="no")
    done = run("audit", "fleet.xlsx", "--as-of", DAY, "--json", "-")
    document = json.loads(done.out)
    assert done.out.startswith("{") and done.out.endswith("}\n")
    assert set(document) == DOCUMENT
    assert document["schema_version"] == 1
    assert set(document["tool"]) == {"name", "version"} and document["tool"]["name"] == "fleetaudit"
    assert document["input"] == {
        "file": "fleet.xlsx",
        "sheet": "Units",
        "sha256": hashlib.sha256(path.read_bytes()).hexdigest(),
    }
    assert document["as_of"] == DAY
    assert all(set(unit) == UNIT for unit in document["units"]) and len(document["units"]) == 4
    assert all(set(finding) == FINDING for finding in document["findings"]) and len(document["findings"]) >= 8
    assert all(set(gap) == GAP for gap in document["not_checked"]) and document["not_checked"]
    assert set(document["summary"]) == SUMMARY and document["summary"]["units"] == 4
    for unit in document["units"]:
        assert set(unit["needed_gpm"]) == {"low", "target", "high"}
        assert set(unit["expansion_pct"]) == {"cold", "warm"}
        assert unit["housing_recommended"] in ("small", "medium", "large", "external")
    for finding in document["findings"]:
        assert finding["cost_year"] is None or set(finding["cost_year"]) == {"low", "mid", "high"}
        assert re.fullmatch(r"[A-Z]+[0-9]+", finding["cell"].rpartition("!")[2])
    assert "Next:" in done.err and "Written:" in done.err


def test_a_10x54_has_the_area_of_a_circle_of_ten_inches(run: Run, fleet: Path) -> None:
    """Plane geometry: pi / 4 * (10/12 ft)^2 = 0.5454 ft2."""
    (unit, *_) = json.loads(run("audit", fleet.name, "--as-of", DAY, "--json", "-").out)["units"]
    assert unit["vessel_diameter_in"] == pytest.approx(10)
    assert unit["area_ft2"] == pytest.approx(0.5454, abs=1e-4)
    assert unit["restrictor_gpm"] == pytest.approx(5)
    assert unit["water_cold_c"] == pytest.approx((45 - 32) / 1.8, abs=0.01)


def test_units_stay_in_the_document_when_their_cells_cannot_be_read(run: Run, tmp_path: Path) -> None:
    rows = [
        sound(1),
        ["U-002", "Site 2", "big", "nothing known", "x", "ten", "soon", "cold", "hot"],
        sound(3),
    ]
    write(tmp_path / "fleet.xlsx", {"Units": sheet_of(rows)})
    document = json.loads(run("audit", "fleet.xlsx", "--as-of", DAY, "--json", "-").out)
    assert [unit["unit_id"] for unit in document["units"]] == ["U-001", "U-002", "U-003"]
    assert document["units"][1]["verdict"] == "not-checked"
    assert document["units"][1]["needed_gpm"] == {"low": None, "target": None, "high": None}


def test_json_goes_to_a_file_and_the_summary_to_stdout(run: Run, fleet: Path, tmp_path: Path) -> None:
    done = run("audit", fleet.name, "--as-of", DAY, "--json", "results.json")
    assert set(json.loads((tmp_path / "results.json").read_text("utf-8"))) == DOCUMENT
    assert "results.json" in done.out and "Next:" in done.out and done.err.count("Next:") == 0


# What is printed --------------------------------------------------------------------------------------------


def test_the_summary_counts_names_the_files_and_ends_with_what_to_do_next(run: Run, fleet: Path) -> None:
    done = run("audit", fleet.name, "--as-of", DAY)
    assert "4 units as of 2026-11-01" in done.out
    for name in ("fleet.audited.xlsx", "fleet.summary.html"):
        assert name in done.out
    assert done.out.strip().splitlines()[-1].startswith("Next: open fleet.summary.html")


def test_nothing_printed_is_wider_than_80_columns(run: Run, tmp_path: Path) -> None:
    rows = [sound(number) for number in range(1, 9)]
    for row, (where, value) in zip(
        rows, [(2, "a size " * 12), (5, "ten " * 20), (6, "soon"), (3, "grensand")], strict=False
    ):
        row[where] = value
    write(tmp_path / "fleet.xlsx", {"Units": sheet_of(rows)})
    done = run("audit", "fleet.xlsx", "--as-of", DAY)
    assert done.code == 0 and "Not used:" in done.err
    assert max(len(line) for line in (done.out + done.err).splitlines()) <= 80


@pytest.mark.parametrize("name", ["NO_COLOR", "TERM"])
def test_no_colour_is_printed_where_none_is_wanted(
    name: str, run: Run, fleet: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(name, "dumb")
    monkeypatch.setenv("FORCE_COLOR", "1")
    done = run("audit", fleet.name, "--as-of", DAY)
    assert done.code == 0 and "\x1b[" not in done.out + done.err


# Files ------------------------------------------------------------------------------------------------------


def test_results_that_are_there_are_refused_all_at_once_and_replaced_when_told(
    run: Run, fleet: Path, tmp_path: Path
) -> None:
    names = ("fleet.audited.xlsx", "fleet.summary.html", "results.json")
    for name in names:
        (tmp_path / name).write_text("older")
    done = run("audit", fleet.name, "--as-of", DAY, "--json", "results.json")
    assert done.code == 2 and done.out == ""
    for name in names:
        assert re.search(rf"^{re.escape(name)} exists already.*--force", done.err, re.M)
        assert (tmp_path / name).read_text() == "older"
    assert run("audit", fleet.name, "--as-of", DAY, "--json", "results.json", "--force").code == 0
    for name in names:
        assert (tmp_path / name).read_bytes() != b"older"


def test_the_input_is_never_written(run: Run, fleet: Path, tmp_path: Path) -> None:
    before, stamp = fleet.read_bytes(), fleet.stat().st_mtime_ns
    assert run("audit", fleet.name, "--as-of", DAY).code == 0
    assert run("audit", fleet.name, "--json", fleet.name, "--force").code == 2
    (tmp_path / "fleet.summary.html").unlink()
    (tmp_path / "fleet.audited.xlsx").unlink()
    (tmp_path / "fleet.audited.xlsx").symlink_to(fleet)
    assert run("audit", fleet.name, "--as-of", DAY, "--force").code == 2
    assert fleet.read_bytes() == before and fleet.stat().st_mtime_ns == stamp


def test_the_folder_is_made_where_it_is_not_there(run: Run, fleet: Path, tmp_path: Path) -> None:
    assert run("audit", fleet.name, "--as-of", DAY, "-o", "a/b").code == 0
    assert sorted(path.name for path in (tmp_path / "a" / "b").iterdir()) == [
        "fleet.audited.xlsx",
        "fleet.summary.html",
    ]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a", "fleet.xlsx"]


def test_the_same_input_and_day_give_the_same_bytes(run: Run, fleet: Path, tmp_path: Path) -> None:
    for folder in ("one", "two"):
        assert run("audit", fleet.name, "--as-of", DAY, "-o", folder, "--json", f"{folder}.json").code == 0
    for name in ("fleet.audited.xlsx", "fleet.summary.html"):
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes()
    assert (tmp_path / "one.json").read_bytes() == (tmp_path / "two.json").read_bytes()


def test_auditing_the_annotated_copy_keeps_the_findings_and_dates_the_name(run: Run, tmp_path: Path) -> None:
    with_columns(tmp_path / "fleet.xlsx", Connections="reversed")
    first = json.loads(run("audit", "fleet.xlsx", "--as-of", DAY, "--json", "-").out)
    again = json.loads(run("audit", "fleet.audited.xlsx", "--as-of", DAY, "--json", "-").out)
    assert (tmp_path / f"fleet.audited.{DAY}.xlsx").is_file()
    assert again["units"] == first["units"] and again["findings"] == first["findings"]


# Options ----------------------------------------------------------------------------------------------------


def test_map_says_what_a_heading_stands_for(run: Run, tmp_path: Path) -> None:
    headings = [*HEADINGS[:2], "Tnk", *HEADINGS[3:]]
    write(tmp_path / "fleet.xlsx", {"Units": sheet_of([sound(1), sound(2)], headings)})
    assert run("audit", "fleet.xlsx", "--as-of", DAY).code == 2
    done = run("audit", "fleet.xlsx", "--as-of", DAY, "--map", "Tnk=vessel size", "--json", "-")
    assert done.code == 0
    assert [unit["vessel_diameter_in"] for unit in json.loads(done.out)["units"]] == [pytest.approx(10)] * 2


def test_sheet_says_which_of_two_lists(run: Run, tmp_path: Path) -> None:
    write(tmp_path / "fleet.xlsx", {"North": sheet_of([sound(1)]), "South": sheet_of([sound(2), sound(3)])})
    assert run("audit", "fleet.xlsx", "--as-of", DAY).code == 2
    done = run("audit", "fleet.xlsx", "--as-of", DAY, "--sheet", "South", "--json", "-")
    assert [unit["unit_id"] for unit in json.loads(done.out)["units"]] == ["U-002", "U-003"]


def test_settings_and_the_workbooks_own_sheets_are_laid_over_in_order(
    run: Run, fleet: Path, tmp_path: Path
) -> None:
    head = ("Setting", "Value", "Source")
    write(
        tmp_path / "own.xlsx",
        {"Settings": [head, ("restrictor_tolerance", "12 %", "own tests"), ("default_water", "well", "")]},
    )
    done = run("catalogue", "--settings", "own.xlsx", "settings")
    assert done.code == 0 and "own.xlsx" in done.out and "instead of" in done.out
    near = write(
        tmp_path / "near.xlsx",
        {
            "Units": sheet_of([sound(1)]),
            "Settings": [head, ("restrictor_tolerance", "7 %", "nearer")],
        },
    )
    assert run("audit", near.name, "--as-of", DAY, "--settings", "own.xlsx").code == 0
    basis = openpyxl.load_workbook(tmp_path / "near.audited.xlsx")["Audit basis"]
    said = " ".join(str(cell) for row in basis.iter_rows(values_only=True) for cell in row if cell)
    assert "± 7%" in said and "± 12%" not in said


def test_account_and_crew_narrow_the_reports(run: Run, tmp_path: Path) -> None:
    rows = [[*sound(number), f"crew {'AB'[number % 2]}"] for number in range(1, 7)]
    write(tmp_path / "fleet.xlsx", {"Units": sheet_of(rows, [*HEADINGS, "Crew"])})
    one = json.loads(
        run("audit", "fleet.xlsx", "--as-of", DAY, "--account", "site 3", "--json", "-", "--force").out
    )
    assert [unit["unit_id"] for unit in one["units"]] == ["U-003"] and one["summary"]["units"] == 1
    half = json.loads(
        run("audit", "fleet.xlsx", "--as-of", DAY, "--crew", "Crew A", "--json", "-", "--force").out
    )
    assert [unit["unit_id"] for unit in half["units"]] == ["U-002", "U-004", "U-006"]


def test_crew_names_are_hidden_everywhere_on_the_page(run: Run, tmp_path: Path) -> None:
    names = ["Jo Quillfeather", "quillfeather, jo", "Mossbottom", "#N/A"]
    rows = [[*sound(number), name, name] for number, name in enumerate(names, 1)]
    for row in rows:
        row[5] = 25
    rows += [
        [*sound(5), date(2024, 5, 6), 1234567890123456789],
        [*sound(6), " JO  QUILLFEATHER", "Mosbottom"],
    ]
    write(tmp_path / "fleet.xlsx", {"Units": sheet_of(rows, [*HEADINGS, "Crew", "Media crew"])})
    done = run("audit", "fleet.xlsx", "--as-of", DAY, "--hide-crew-names", "--json", "-")
    page = html.unescape((tmp_path / "fleet.summary.html").read_text("utf-8")).casefold()
    assert done.code == 0 and "u-001" in page
    assert "2024-05-06" not in page
    for name in ("quill", "mossbot", "mosbot"):
        assert name not in page and name not in (done.out + done.err).casefold()


def test_metric_units_reach_page_and_workbook_but_never_the_document(
    run: Run, fleet: Path, tmp_path: Path
) -> None:
    us = run("audit", fleet.name, "--as-of", DAY, "--json", "-")
    metric = run("audit", fleet.name, "--as-of", DAY, "--json", "-", "--units", "metric", "--force")
    assert json.loads(us.out)["units"] == json.loads(metric.out)["units"]
    sheet = openpyxl.load_workbook(tmp_path / "fleet.audited.xlsx")["Units"]
    headings = [str(cell.value) for cell in sheet[1]]
    place = next(n for n, text in enumerate(headings) if text.startswith("Audit: fitted restrictor"))
    assert "L/min" in headings[place]
    assert sheet.cell(2, place + 1).value == pytest.approx(
        5 * 3.785412, abs=0.01
    )  # US gallon: 231 in3 exactly


def test_due_within_sets_how_far_ahead_media_are_listed(run: Run, tmp_path: Path) -> None:
    rows = [[*sound(1), 3]]
    rows[0][6] = (
        "2024-06-01"  # three years of life end on 2027-06-01, seven months after the day of the audit
    )
    write(tmp_path / "fleet.xlsx", {"Units": sheet_of(rows, [*HEADINGS, "Media life (years)"])})
    for days, listed in (("90", False), ("365", True)):
        done = run("audit", "fleet.xlsx", "--as-of", DAY, "--due-within", days, "--json", "-", "--force")
        found = {finding["check"] for finding in json.loads(done.out)["findings"]}
        assert ("media-due-soon" in found) is listed


# Template and catalogue -------------------------------------------------------------------------------------


def test_the_blank_workbook_has_no_units_and_a_filled_row_is_audited(run: Run, tmp_path: Path) -> None:
    done = run("template", "blank.xlsx")
    assert done.code == 0 and "blank.xlsx" in done.out and "Next:" in done.out
    done = run("audit", "blank.xlsx", "--as-of", DAY)
    assert done.code == 2 and "headings but no units" in done.err
    book = openpyxl.load_workbook(tmp_path / "blank.xlsx")
    sheet = book["Units"]
    row, headings = next(
        (number, [str(value or "").partition(" (")[0] for value in values])
        for number, values in enumerate(sheet.iter_rows(values_only=True), 1)
        if "Medium" in [str(value or "").partition(" (")[0] for value in values]
    )
    for heading, value in {
        "Unit ID": "U-1",
        "Vessel size": "10x54",
        "Medium": "activated carbon",
        "Restrictor": "5 gpm",
    }.items():
        sheet.cell(row + 1, headings.index(heading) + 1).value = value
    book.save(tmp_path / "filled.xlsx")
    done = run("audit", "filled.xlsx", "--as-of", DAY, "--json", "-")
    assert done.code == 0, done.err
    (unit,) = json.loads(done.out)["units"]
    assert unit["unit_id"] == "U-1" and unit["restrictor_gpm"] == pytest.approx(5)


def test_every_command_that_reads_a_list_can_be_told_what_a_heading_means(run: Run, tmp_path: Path) -> None:
    """Two headings fit the restrictor: each command stops, says how to go on, and goes on when told so."""
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["Unit ID", "Account", "Tank", "Media", "DLFC", "BW restrictor", "Latitude", "Longitude"])
    sheet.append(["U-1", "Mill (invented)", "10x54", "carbon 12x40", "1 gpm", "5 gpm", 45.0, -93.0])
    crews = book.create_sheet("Crews")
    crews.append(["Crew", "Depot latitude", "Depot longitude", "Payload (lb)", "Media room (ft3)"])
    crews.append(["North", 45.0, -93.1, 1000, 40])
    book.save(tmp_path / "two.xlsx")
    told = ("--map", "DLFC=Restrictor")
    for number, command in enumerate(
        [
            ("audit", "two.xlsx", "--as-of", DAY),
            ("explain", "two.xlsx", "U-1", "--as-of", DAY),
            ("route", "two.xlsx", "--as-of", DAY, "--fixes", "plan", "--days", "2", "--greedy"),
            ("template", "--returns", "form.xlsx", "--workbook", "two.xlsx", "--as-of", DAY),
            ("record", "two.xlsx", "form.xlsx", "--dry-run"),
            ("compare", "two.xlsx", "two.xlsx", "--as-of", DAY),
        ]
    ):
        done = run(*command)
        assert done.code == 2 and '--map "DLFC=Restrictor"' in done.err, command
        done = run(*command, *told)
        assert done.code == 0, (command, done.err)
        assert number or "Passes 1 gpm" in done.out


def test_a_blank_template_takes_no_headings(run: Run) -> None:
    done = run("template", "blank.xlsx", "--map", "DLFC=Restrictor")
    assert done.code == 2 and "--map go with --workbook" in done.err


def test_the_template_is_not_written_over(run: Run, tmp_path: Path) -> None:
    (tmp_path / "blank.xlsx").write_text("mine")
    done = run("template", "blank.xlsx")
    assert done.code == 2 and "--force" in done.err and (tmp_path / "blank.xlsx").read_text() == "mine"
    assert run("template", "blank.xlsx", "--force").code == 0


def test_the_catalogue_gives_a_source_under_every_figure(run: Run) -> None:
    lines = run("catalogue", "media").out.splitlines()
    figures = [place for place, line in enumerate(lines) if re.match(r"  \S", line)]
    assert len(figures) > 100
    assert all(re.match(r" {6}\S", lines[place + 1]) for place in figures)


def test_a_medium_of_the_users_own_figures_says_so(run: Run, tmp_path: Path) -> None:
    write(
        tmp_path / "own.xlsx",
        {
            "Media": [
                ("Medium", "Least wash rate (gpm/ft2)", "Source"),
                ("calcite", 9.5, "own bucket tests (invented)"),
            ]
        },
    )
    out = run("catalogue", "calcite", "--settings", "own.xlsx").out
    assert "9.5" in out and "own bucket tests (invented)" in out and "instead of" in out


def test_the_catalogue_of_something_unknown(run: Run) -> None:
    done = run("catalogue", "unobtainium")
    assert done.code == 2 and '"unobtainium"' in done.err and done.out == ""


# Start-up ---------------------------------------------------------------------------------------------------

MODULES = """
import sys
from fleetaudit.cli.main import main
try:
    main({arguments!r})
except SystemExit as left:
    code = left.code
print("\\n" + " ".join(sorted(sys.modules)) + f" code={{code}}")
"""


def _loaded(folder: Path, *arguments: str) -> set[str]:
    done = subprocess.run(
        [sys.executable, "-c", MODULES.format(arguments=list(arguments))],
        capture_output=True,
        text=True,
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        check=True,
    )
    words = set(done.stdout.splitlines()[-1].split())
    assert "code=0" in words, done.stderr
    return words


@pytest.mark.parametrize("arguments", [("--help",), ("audit", "--help"), ("--version",)])
def test_help_loads_nothing_heavy(arguments: tuple[str, ...], tmp_path: Path) -> None:
    heavy = {"pandas", "openpyxl", "pint", "scipy", "matplotlib"}
    if arguments[0].startswith("-"):
        heavy |= {"numpy", "jinja2"}
    loaded = _loaded(tmp_path, *arguments)
    assert "click" in loaded and not loaded & heavy


def test_an_audit_loads_only_what_it_works_with(fleet: Path) -> None:
    loaded = _loaded(fleet.parent, "audit", fleet.name, "--as-of", DAY)
    assert "numpy" in loaded
    assert not loaded & {"pandas", "pint", "openpyxl", "scipy", "matplotlib", "polars", "xlsxwriter"}
    seldom = {"catalogue.overrides", "writing.owner", "writing.letters", "writing.results_json", "route_file"}
    assert "fleetaudit.audit_file" in loaded
    assert not loaded & {f"fleetaudit.{name}" for name in (*seldom, "routing", "scale", "web")}


def test_commands_are_listed_as_they_are_loaded() -> None:
    for name in command_line.COMMANDS:
        command = command_line.cli.get_command(None, name)
        assert command is not None and command.name == name


def _process(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *arguments],
        capture_output=True,
        text=True,
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        check=False,
    )


def test_a_process_leaves_with_its_code_and_all_that_was_printed(tmp_path: Path) -> None:
    with_columns(tmp_path / "fleet.xlsx", **WORST["now"])
    asked = ("audit", "fleet.xlsx", "--as-of", DAY, "--json", "-")
    done = _process(tmp_path, "-m", "fleetaudit", *asked, "--fail-on", "now")
    assert done.returncode == 1 and len(json.loads(done.stdout)["findings"]) >= 4
    assert _process(tmp_path, "-m", "fleetaudit", *asked, "--force").returncode == 0
    assert _process(tmp_path, "-m", "fleetaudit", "audit", "none.xlsx").returncode == 2


def test_a_process_that_is_measured_ends_in_the_usual_way(fleet: Path) -> None:
    done = _process(fleet.parent, "-m", "cProfile", "-m", "fleetaudit", "audit", fleet.name, "--as-of", DAY)
    assert "Written:" in done.stdout and "function calls" in done.stdout
