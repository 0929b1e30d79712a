"""Two workbooks compared from the command line: days, outputs, text that stays text, exit codes."""

from __future__ import annotations

import datetime as dt
import html
import json
import re
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from fleetaudit import language
from fleetaudit.audit_file import Request, audit_file
from fleetaudit.cli.main import main
from fleetaudit.compare_file import CompareRequest, compare_files, stated_day
from fleetaudit.comparing import Became
from fleetaudit.workbook.book import open_workbook
from tests.make_texts import extracted
from tests.record.fleets import DAY, unit, write
from tests.unsaid import CLOSE, OPEN, unsaid, words_of_workbook

HOSTILE = "<script>alert(1)</script> | =cmd() [x](http://a.b) `c` *d*"
WRONG = {"DLFC (gpm)": 1}


@pytest.fixture
def lists(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[Path, Path]:
    monkeypatch.chdir(tmp_path)
    old = write(tmp_path / "june.xlsx", [unit(1, **WRONG, Account=HOSTILE), unit(2, **WRONG), unit(3)])
    new = write(
        tmp_path / "july.xlsx", [unit(2), unit(3, **WRONG), unit(1, **WRONG, Account=HOSTILE), unit(4)]
    )
    return old, new


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        main(["compare", *arguments])
    return int(left.value.code or 0), *capsys.readouterr()


def document(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, Any]:
    code, out, _ = run(capsys, *arguments, "--json", "-")
    assert code == 0
    return json.loads(out)


DAYS = ("--as-of", "2026-11-25", "--old-as-of", "2026-06-01")


def test_the_document_says_what_became_of_each(lists, capsys: pytest.CaptureFixture[str]) -> None:
    found = document(capsys, "june.xlsx", "july.xlsx", *DAYS)
    became = {entry["unit_id"]: entry["became"] for entry in found["findings"]}
    assert became == {"U-001": "still_open", "U-002": "fixed", "U-003": "new"}
    assert found["units"] == {"matched": 3, "renamed": [], "added": ["U-004"], "gone": []}
    assert found["old"]["as_of"] == "2026-06-01" and found["new"]["as_of"] == "2026-11-25"
    assert found["counts"]["fixed"] == 1 and sum(found["counts"].values()) == 3
    open_ = next(entry for entry in found["findings"] if entry["became"] == "still_open")
    # 1 June to 25 November: 29 + 31 + 31 + 30 + 31 + 25 days
    assert open_["open_days"] == {"least": 177, "most": None, "basis": "the older list"}


def test_the_text_is_a_table_that_holds_whatever_stands_in_a_cell(
    lists, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, err = run(capsys, "june.xlsx", "july.xlsx", *DAYS)
    assert code == 0 and err == "" and out.startswith("# june.xlsx and july.xlsx compared")
    rows = [line for line in out.splitlines() if line.startswith("| U-")]
    assert len(rows) == 3 and all(len(re.findall(r"(?<!\\)\|", row)) == 7 for row in rows)
    assert "<script>" not in out and "\\<script\\>" in out
    assert out.index("## New") < out.index("## Fixed") < out.index("## Still open"), (
        "what changed comes first"
    )


def test_page_and_workbook_hold_every_line_and_no_live_text(
    lists, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, _, err = run(capsys, "june.xlsx", "july.xlsx", *DAYS, "--html", "c.html", "--workbook", "c.xlsx")
    assert code == 0 and "Written: c.html" in err and "Written: c.xlsx" in err
    page = Path("c.html").read_text(encoding="utf-8")
    assert "<script" not in page and html.escape("<script>alert(1)</script>") in page
    assert not re.search(r'(?:src|href)="(?!#)', page) and "default-src 'none'" in page
    book = openpyxl.load_workbook("c.xlsx")
    assert book.sheetnames == ["Comparison", "Findings"]
    lines = list(book["Findings"].iter_rows(min_row=2, values_only=True))
    assert sorted(line[1] for line in lines) == ["U-001", "U-002", "U-003"]
    assert all(cell.data_type != "f" for row in book["Findings"].iter_rows() for cell in row)


def test_annotated_copies_say_their_own_day(
    lists, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for name, day in (("june", dt.date(2026, 6, 1)), ("july", dt.date(2026, 7, 1))):
        audit_file(Request(tmp_path / f"{name}.xlsx", day))
        assert stated_day(open_workbook(tmp_path / f"{name}.audited.xlsx")) == day
    assert stated_day(open_workbook(tmp_path / "june.xlsx")) is None
    found = document(capsys, "june.audited.xlsx", "july.audited.xlsx")
    assert (found["old"]["as_of"], found["new"]["as_of"]) == ("2026-06-01", "2026-07-01")
    assert {entry["unit_id"]: entry["became"] for entry in found["findings"]} == {
        "U-001": "still_open", "U-002": "fixed", "U-003": "new",
    }  # fmt: skip


def test_an_unknown_day_is_said_and_gives_no_age(lists, capsys: pytest.CaptureFixture[str]) -> None:
    found = document(capsys, "june.xlsx", "july.xlsx", "--as-of", "2026-11-25")
    assert any("--old-as-of" in remark for remark in found["remarks"])
    assert all(entry["open_days"] is None for entry in found["findings"])


def test_the_same_file_twice_has_nothing_new_and_says_so(lists, capsys: pytest.CaptureFixture[str]) -> None:
    found = document(capsys, "june.xlsx", "june.xlsx", *DAYS)
    assert {entry["became"] for entry in found["findings"]} == {"still_open"}
    assert any("same contents" in remark for remark in found["remarks"])


def test_own_figures_that_differ_are_said(lists, tmp_path: Path) -> None:
    book = openpyxl.load_workbook(tmp_path / "july.xlsx")
    page = book.create_sheet("Settings")
    page.append(["Setting", "Value", "Unit", "Source"])
    page.append(["restrictor_tolerance", 20, "%", "ours"])
    book.save(tmp_path / "july.xlsx")
    report = compare_files(CompareRequest(tmp_path / "june.xlsx", tmp_path / "july.xlsx", DAY)).report
    assert any("different figures" in remark for remark in report.remarks)
    report = compare_files(CompareRequest(tmp_path / "july.xlsx", tmp_path / "july.xlsx", DAY)).report
    assert not any("different figures" in remark for remark in report.remarks)
    assert {entry.became for entry in report.entries} <= {Became.STILL_OPEN}


def test_exit_codes(lists, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(capsys, "june.xlsx", "july.xlsx", *DAYS)[0] == 0
    assert run(capsys, "june.xlsx", "july.xlsx", *DAYS, "--fail-on", "plan")[0] == 1
    assert run(capsys, "june.xlsx", "july.xlsx", *DAYS, "--fail-on", "now")[0] == 0
    assert run(capsys, "june.xlsx", "june.xlsx", *DAYS, "--fail-on", "any")[0] == 0
    code, out, err = run(capsys, "june.xlsx", "gone.xlsx")
    assert code == 2 and out == "" and "gone.xlsx" in err
    code, _, err = run(capsys, "june.xlsx", "july.xlsx", "--html", "july.xlsx")
    assert code == 2 and "never written over" in err
    Path("c.html").write_text("mine")
    code, _, err = run(capsys, "june.xlsx", "july.xlsx", "--html", "c.html")
    assert code == 2 and "--force" in err and Path("c.html").read_text() == "mine"


def test_the_same_input_gives_the_same_bytes(lists, capsys: pytest.CaptureFixture[str]) -> None:
    for name in ("a", "b"):
        run(capsys, "june.xlsx", "july.xlsx", *DAYS, "--html", f"{name}.html", "--workbook", f"{name}.xlsx")
    assert Path("a.html").read_bytes() == Path("b.html").read_bytes()
    assert Path("a.xlsx").read_bytes() == Path("b.xlsx").read_bytes()


def test_help_leads_with_examples(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "--help")
    lines = [line for line in out.splitlines() if line.strip()]
    assert code == 0 and lines[1].strip() == "Examples:" and max(map(len, lines)) <= 80


def test_account_and_crew_narrow_what_is_told(lists, capsys: pytest.CaptureFixture[str]) -> None:
    """U-002 of Site 2 was fixed; what either list says of an account counts, and a near name is offered."""
    asked = ("june.xlsx", "july.xlsx", *DAYS)
    found = document(capsys, *asked, "--account", "site 2")
    assert [(entry["unit_id"], entry["became"]) for entry in found["findings"]] == [("U-002", "fixed")]
    assert found["units"] == {"matched": 1, "renamed": [], "added": [], "gone": []}
    assert any('the account "site 2"' in remark for remark in found["remarks"])
    assert document(capsys, *asked, "--account", "Site 4")["units"]["added"] == ["U-004"]
    code, out, err = run(capsys, *asked, "--account", "Sit 2")
    assert code == 2 and not out and 'no unit has the account "Sit 2"' in err and '"Site 2"' in err
    assert run(capsys, *asked, "--crew", "Blue crew")[0] == 2


def test_a_comparison_in_another_language_leaves_nothing_in_english(lists, tmp_path, capsys):
    words = {text: f"{OPEN}{text}{CLOSE}" for text in extracted()}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(language, "words_of", lambda code: words)
        code, out, err = run(
            capsys, "june.xlsx", "july.xlsx", *DAYS, "--language", "es", "--dates", "dotted",
            "--html", "page.html", "--workbook", "book.xlsx",
        )  # fmt: skip
    assert code == 0 and OPEN in err
    own = words_of_workbook(lists[0]) | words_of_workbook(lists[1]) | {path.name for path in lists}
    own.add(HOSTILE.replace("`", "'"))  # as names are read
    page = (tmp_path / "page.html").read_text(encoding="utf-8")
    assert '<html lang="es">' in page and "01.06.2026" in page and "2026-06-01" not in page
    assert not unsaid(page, own)
    lines = [line for line in out.splitlines() if re.search("[A-Za-z]{3}", line)]
    assert lines and all(OPEN in line for line in lines)
    for sheet in openpyxl.load_workbook(tmp_path / "book.xlsx"):
        for row in sheet.iter_rows(values_only=True):
            texts = [str(cell) for cell in row if cell is not None and re.search("[A-Za-z]{3}", str(cell))]
            assert all(OPEN in text or text in own or "!" in text for text in texts), texts


def test_a_comparison_in_spanish_keeps_the_words_of_programs(lists, capsys):
    code, out, _ = run(capsys, "june.xlsx", "july.xlsx", *DAYS, "--language", "es", "--dates", "day-first")
    assert code == 0 and out.startswith("# Comparación de june.xlsx y july.xlsx") and "01/06/2026" in out
    assert "| Arreglado | 1 | hallado antes; la comprobación se hizo otra vez y no halló nada |" in out
    assert "primero van las normas locales, la hoja del fabricante" in out
    found = document(capsys, "june.xlsx", "july.xlsx", *DAYS, "--language", "es", "--dates", "day-first")
    became = {entry["unit_id"]: entry["became"] for entry in found["findings"]}
    assert became == {"U-001": "still_open", "U-002": "fixed", "U-003": "new"}
    assert found["old"]["as_of"] == "2026-06-01"
