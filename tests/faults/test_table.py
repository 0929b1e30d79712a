"""Every bad input of the table, through the command line: exit code, level, words, nothing lost or hidden."""

from __future__ import annotations

import html
import json
import re
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from fleetaudit.cli.main import main

from . import cells, files, meanings, options, sheets
from .fault import HEADINGS, SKIP, STOP, WARN, Build, Fault, cell, column, fleet

TABLE: tuple[Fault, ...] = (*files.FAULTS, *sheets.FAULTS, *cells.FAULTS, *meanings.FAULTS, *options.FAULTS)
DAY = "2026-11-01"


@pytest.mark.parametrize("fault", TABLE, ids=lambda fault: fault.name)
def test_answer(
    fault: Fault, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    workbook = fault.build(tmp_path)
    before = {path: path.read_bytes() for path in tmp_path.iterdir() if path.is_file()}
    arguments = ["audit", str(workbook), "--json", "-", *fault.options]
    if "--as-of" not in fault.options:
        arguments += ["--as-of", DAY]
    with pytest.raises(SystemExit) as left:
        main(arguments)
    out, err = capsys.readouterr()
    assert "Traceback" not in out + err and "Something unexpected" not in err, err
    assert left.value.code == fault.code, err
    assert all(word not in err for word in fault.never)
    assert {path: path.read_bytes() for path in before} == before
    if fault.level == STOP:
        _stopped(fault, out, err, before, tmp_path)
    else:
        _told(fault, out, err, tmp_path)


def _stopped(fault: Fault, out: str, err: str, before: dict[Path, bytes], folder: Path) -> None:
    assert out == ""
    assert set(folder.iterdir()) - set(before) <= {path for path in folder.iterdir() if path.is_dir()}
    lines = [line for line in err.splitlines() if line]
    assert [line for line in lines if _holds(line, fault.words)], err
    assert len(lines) <= 6


def _told(fault: Fault, out: str, err: str, folder: Path) -> None:
    results = json.loads(out)
    copy = next(
        path for path in folder.iterdir() if ".audited" in path.name and path.suffix in (".xlsx", ".xlsm")
    )
    told = _problems(copy)
    sentences = [text for level, text in told if level == fault.level]
    banner = [line for line in _summary(copy) if _holds(line, fault.words)]
    assert banner or [text for text in sentences if _holds(text, fault.words)], told
    page = _page(next(path for path in folder.iterdir() if path.name.endswith(".summary.html")))
    assert _holds(page, fault.words)
    if fault.level in (SKIP, WARN):
        assert _holds(" ".join(err.split()), fault.words), err
    if fault.check:
        blind = {(record["row"], record["check"]) for record in results["not_checked"]}
        assert (fault.row, fault.check) in blind
        found = {(finding["row"], finding["check"]) for finding in results["findings"]}
        assert (fault.row, fault.check) not in found
    assert len(results["units"]) == results["summary"]["units"] > 0


def _holds(text: str, words: tuple[str, ...]) -> bool:
    return all(word in text for word in words)


def _problems(copy: Path) -> list[tuple[str, str]]:
    """Level and sentence of each row of the problems sheet, read by a general library."""
    rows = _rows(copy, "Audit problems")
    kind, said = rows[0].index("Kind"), rows[0].index("What was seen")
    return [(row[kind - 0], row[said]) for row in rows[1:]]


def _summary(copy: Path) -> list[str]:
    return [row[0] for row in _rows(copy, "Audit summary") if row]


def _rows(copy: Path, sheet: str) -> list[list[str]]:
    book = openpyxl.load_workbook(copy)
    return [
        ["" if value is None else str(value) for value in row]
        for row in book[sheet].iter_rows(values_only=True)
    ]


def _page(path: Path) -> str:
    text = re.sub(r"<(style|script).*?</\1>|<[^>]+>", "", path.read_text("utf-8"), flags=re.S)
    return " ".join(html.unescape(text).split())


def _findings(build: Build, folder: Path, capsys: pytest.CaptureFixture[str]) -> tuple[dict[str, Any], str]:
    workbook = build(folder)
    with pytest.raises(SystemExit):
        main(["audit", str(workbook), "--as-of", DAY, "--json", "-"])
    out, err = capsys.readouterr()
    return json.loads(out), err


def test_flows_in_an_unnamed_unit_are_never_urgent(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The trap of 19 L/min under a bare heading: read as gpm it would be four times too much for each bed."""
    build = column("Restrictor (gpm)", meanings.METRIC_FLOWS, "Restrictor")
    document, _ = _findings(build, tmp_path, capsys)
    found = [finding for finding in document["findings"] if finding["check"].startswith("restrictor-too")]
    assert found
    assert {finding["confidence"] for finding in found} == {"measure-first"}
    assert all(finding["tier"] != "now" for finding in document["findings"])
    assert all(unit["verdict"] != "now" for unit in document["units"])


def test_many_unusable_rows_lead_every_report(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    fault = next(one for one in meanings.FAULTS if one.name.startswith("more than a fifth"))
    _, err = _findings(fault.build, tmp_path, capsys)
    banner = [line for line in err.splitlines() if line.startswith("! ")]
    assert _holds(banner[0], ("4 of 12 rows",))
    rows = [text for text in _summary(tmp_path / "fleet.audited.xlsx") if text]
    assert _holds(next(text for text in rows if "rows" in text), fault.words)
    page = _page(tmp_path / "fleet.summary.html")
    first = page.index("4 of 12 rows")
    assert all(first < page.index(word) for word in ("See to first", "U-001") if word in page)


@pytest.mark.parametrize(
    "heading", [heading for heading in HEADINGS if heading not in ("Unit ID", "Account")]
)
def test_a_blank_is_never_a_pass(heading: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Each field blanked in one row: no more checks pass there than did with the field filled."""
    whole, _ = _findings(fleet(name="whole.xlsx"), tmp_path, capsys)
    part, _ = _findings(cell(heading, None), tmp_path, capsys)
    blind = [{gap["check"] for gap in one["not_checked"] if gap["row"] == 4} for one in (whole, part)]
    assert blind[0] <= blind[1]
    unit = next(unit for unit in part["units"] if unit["row"] == 4)
    if heading in ("Vessel size", "Medium", "Restrictor (gpm)"):
        assert unit["verdict"] == "not-checked" and "restrictor-too-small" in blind[1] - blind[0]
    if heading == "Media date":
        said = {finding["check"] for finding in part["findings"] if finding["row"] == 4}
        assert "media-date-unknown" in said
