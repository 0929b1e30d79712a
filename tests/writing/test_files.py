"""Names of the results, and what stands in their way."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from fleetaudit.errors import OutputError
from fleetaudit.writing.files import Outputs, check_free, plan_outputs, write_text

DAY = date(2026, 11, 25)


@pytest.mark.parametrize(("source", "workbook", "summary"), [
    ("fleet.xlsx", "fleet.audited.xlsx", "fleet.summary.html"),
    ("fleet.XLSM", "fleet.audited.xlsm", "fleet.summary.html"),
    ("fleet.csv", "fleet.audited.xlsx", "fleet.summary.html"),
    ("old list.xls", "old list.audited.xlsx", "old list.summary.html"),
    ("v1.2.xlsx", "v1.2.audited.xlsx", "v1.2.summary.html"),
    ("fleet.audited.xlsx", "fleet.audited.2026-11-25.xlsx", "fleet.audited.2026-11-25.summary.html"),
    ("a.audited.2026-10-25.xlsx", "a.audited.2026-11-25.xlsx", "a.audited.2026-11-25.summary.html"),
])  # fmt: skip
def test_names(source, workbook, summary):
    found = plan_outputs(Path("lists") / source, DAY)
    assert (found.workbook, found.summary, found.json) == (
        Path("lists") / workbook,
        Path("lists") / summary,
        None,
    )


def test_names_in_another_folder(tmp_path):
    found = plan_outputs(Path("lists/fleet.xlsx"), DAY, folder=tmp_path, json=tmp_path / "x.json")
    assert found.every == (
        tmp_path / "fleet.audited.xlsx",
        tmp_path / "fleet.summary.html",
        tmp_path / "x.json",
    )


def test_all_that_is_in_the_way_is_said_at_once(tmp_path):
    source = tmp_path / "fleet.xlsx"
    found = plan_outputs(source, DAY, json=tmp_path / "fleet.json")
    for path in (source, found.workbook, found.json):
        path.write_text("mine")
    with pytest.raises(OutputError) as raised:
        check_free(found, source, force=False)
    assert "fleet.audited.xlsx" in raised.value.message and "fleet.json" in raised.value.message
    assert "fleet.summary.html" not in raised.value.message and "--force" in raised.value.message
    check_free(found, source, force=True)


@pytest.mark.parametrize("force", [False, True])
def test_the_input_is_never_a_result(tmp_path, force):
    source = tmp_path / "fleet.audited.2026-11-25.xlsx"
    source.write_text("mine")
    with pytest.raises(OutputError, match="never written over"):
        check_free(plan_outputs(source, DAY), source, force=force)
    link = tmp_path / "link.json"
    link.symlink_to(source)
    with pytest.raises(OutputError, match="never written over"):
        check_free(Outputs(tmp_path / "a.xlsx", tmp_path / "a.html", link), source, force=True)
    hard = tmp_path / "hard.json"
    hard.hardlink_to(source)
    with pytest.raises(OutputError, match="never written over"):
        check_free(Outputs(tmp_path / "a.xlsx", tmp_path / "a.html", hard), source, force=True)


def test_one_name_for_two_results_and_a_folder_that_is_not_there(tmp_path):
    source = tmp_path / "fleet.xlsx"
    with pytest.raises(OutputError, match="written twice"):
        check_free(plan_outputs(source, DAY, json=tmp_path / "fleet.summary.html"), source, force=True)
    with pytest.raises(OutputError, match="There is no folder"):
        check_free(plan_outputs(source, DAY, folder=tmp_path / "nowhere"), source, force=True)


def test_text_is_written_whole_in_utf8_and_never_over_an_older_file(tmp_path):
    path = tmp_path / "page.html"
    write_text(path, "Größe ×\n", force=False)
    assert path.read_bytes() == "Größe ×\n".encode()
    with pytest.raises(OutputError, match="--force"):
        write_text(path, "new", force=False)
    assert path.read_bytes() == "Größe ×\n".encode()
    write_text(path, "new", force=True)
    assert path.read_text() == "new" and [p.name for p in tmp_path.iterdir()] == ["page.html"]
