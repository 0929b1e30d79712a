"""A workbook dropped on an icon: results beside it, the summary opened, trouble on a page."""

from __future__ import annotations

from pathlib import Path
from urllib.parse import unquote, urlsplit

import pytest

from fleetaudit.assets import read_bytes
from fleetaudit.cli import open as opening


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
    for _ in range(2):  # dropping it again replaces the results
        assert opening.main([str(workbook)]) == 0
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "list of filters.audited.xlsx",
        "list of filters.owner.html",
        "list of filters.summary.html",
        "list of filters.xlsx",
    ]
    assert workbook.read_bytes() == before
    assert shown_file(opened[-1]) == tmp_path / "list of filters.summary.html"


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
