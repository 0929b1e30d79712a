"""A workbook dropped on an icon: results beside it, the summary opened, trouble on a page."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from urllib.parse import unquote, urlsplit

import pytest

from fleetaudit.assets import read_bytes
from fleetaudit.cli import open as opening
from fleetaudit.writing.files import plan_outputs


@pytest.fixture
def opened(monkeypatch):
    """Addresses that a browser would have been asked to show."""
    shown: list[str] = []
    monkeypatch.setattr(opening.webbrowser, "open", lambda address: shown.append(address) or True)
    return shown


def shown_file(address) -> Path:
    return Path(unquote(urlsplit(address).path))


def test_results_lie_beside_the_workbook_and_the_summary_opens(tmp_path, opened):
    workbook = tmp_path / "list of filters.xlsx"
    workbook.write_bytes(read_bytes("data/sample_fleet.xlsx"))
    before = workbook.read_bytes()
    assert opening.main([str(workbook)]) == 0
    results = ["list of filters.audited.xlsx", "list of filters.owner.html", "list of filters.summary.html"]
    assert sorted(path.name for path in tmp_path.iterdir()) == [*results, workbook.name]
    assert workbook.read_bytes() == before
    assert shown_file(opened[-1]) == tmp_path / "list of filters.summary.html"


def test_dropping_it_again_loses_nothing_of_the_results_before(tmp_path, opened):
    """Somebody may have written into the annotated copy since."""
    workbook = tmp_path / "list.xlsx"
    workbook.write_bytes(read_bytes("data/sample_fleet.xlsx"))
    assert opening.main([str(workbook)]) == 0
    (tmp_path / "list.audited.xlsx").write_bytes(b"notes of a week")
    (tmp_path / "list.2.owner.html").write_text("somebody's own", encoding="utf-8")
    assert opening.main([str(workbook)]) == 0
    assert (tmp_path / "list.audited.xlsx").read_bytes() == b"notes of a week"
    assert (tmp_path / "list.2.owner.html").read_text(encoding="utf-8") == "somebody's own"
    assert shown_file(opened[-1]) == tmp_path / "list.3.summary.html"
    assert {path.name for path in tmp_path.glob("list.3.*")} == {
        "list.3.audited.xlsx", "list.3.owner.html", "list.3.summary.html",
    }  # fmt: skip


def test_a_numbered_copy_is_audited_again_under_its_own_name(tmp_path):
    copy = plan_outputs(tmp_path / "list.3.audited.xlsx", date(2026, 11, 25))
    assert copy.workbook.name == "list.3.audited.2026-11-25.xlsx"
    again = plan_outputs(tmp_path / "list.3.audited.xlsx", date(2026, 11, 25), number=2)
    assert again.summary.name == "list.3.2.audited.2026-11-25.summary.html"


def test_trouble_is_a_page_with_the_words_of_the_shell(tmp_path, opened):
    notes = tmp_path / "notes <b>.xlsx"
    notes.write_bytes(b"no workbook")
    assert opening.main([str(notes)]) == 2
    page = shown_file(opened[0])
    try:
        text = page.read_text(encoding="utf-8")
    finally:
        page.unlink()
    assert "notes &lt;b&gt;.xlsx could not be audited" in text and "<b>" not in text
    assert "Traceback" not in text and "was not changed" in text
    assert [path.name for path in tmp_path.iterdir()] == [notes.name]


def test_several_are_audited_each_whatever_becomes_of_the_others(tmp_path, opened):
    good = tmp_path / "good.xlsx"
    good.write_bytes(read_bytes("data/sample_fleet.xlsx"))
    assert opening.main([str(tmp_path / "none.xlsx"), str(good)]) == 2
    assert len(opened) == 2 and (tmp_path / "good.summary.html").is_file()
    shown_file(opened[0]).unlink()
