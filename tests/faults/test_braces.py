"""Names of the user's own media and housings may hold braces, as the templates of sentences do."""

from __future__ import annotations

import json
from pathlib import Path

import openpyxl
import pytest

from fleetaudit.cli.main import main

DAY = "2026-11-01"


@pytest.fixture
def fleet(tmp_path: Path) -> Path:
    book = openpyxl.Workbook()
    sheets = {
        "Units": [
            ["Unit ID", "Vessel size", "Medium", "Restrictor (gpm)", "Media date", "Housing"],
            ["U{0}", "10x54", "sand {fine}", 25, "2012-01-01", "{box}"],
            ["U{1}", "10x54", "sand {low}", 2, "2012-01-01", "{box}"],
        ],
        "Media": [
            ["Medium", "rate_low (gpm/ft2)", "rate_high (gpm/ft2)", "life (year)"],
            ["sand {fine}", 12, 18, 5],
            ["sand {low}", 12, 18, 5],
        ],
        "Housings": [["Housing", "Largest rating (gpm)"], ["{box}", 3]],
    }
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    book.remove(book.worksheets[0])
    book.save(tmp_path / "fleet.xlsx")
    return tmp_path / "fleet.xlsx"


@pytest.mark.parametrize("language", ["en", "es"])
def test_braces_in_names_are_said_as_they_stand(fleet: Path, language: str) -> None:
    told = fleet.with_suffix(".json")
    with pytest.raises(SystemExit) as left:
        main(["audit", str(fleet), "--as-of", DAY, "--json", str(told), "--letters", "--language", language])
    assert left.value.code == 0
    messages = [one["message"] for one in json.loads(told.read_text("utf-8"))["findings"]]
    assert any("sand {fine}" in text for text in messages)
    assert any("sand {low}" in text for text in messages)
