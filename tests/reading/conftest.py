"""Workbooks of invented units, made for one test each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from fleetaudit.catalogue.model import Catalogue
from fleetaudit.catalogue.shipped import load
from fleetaudit.reading.company import load_catalogue
from fleetaudit.reading.fleet import Fleet, read_fleet
from fleetaudit.workbook.book import open_workbook

#: nothing in here is an example to run, and two files of this name cannot both be collected
collect_ignore = ["conftest.py"]

HEADINGS = ("Unit ID", "Account", "Tank size", "Media type", "DLFC (gpm)")
Make = Callable[..., Path]
Read = Callable[..., Fleet]


@pytest.fixture(scope="session")
def catalogue() -> Catalogue:
    return load()


@pytest.fixture
def make(tmp_path: Path) -> Make:
    """Write sheets of rows; `formats` gives number formats by address, `change` edits the open workbook."""

    def write(
        sheets: dict[str, Sequence[Sequence[Any]]],
        formats: dict[str, str] | None = None,
        change: Callable[[openpyxl.Workbook], None] | None = None,
        name: str = "fleet.xlsx",
    ) -> Path:
        book = openpyxl.Workbook()
        book.remove(book.active)
        for title, rows in sheets.items():
            sheet = book.create_sheet(title)
            for row in rows:
                sheet.append(list(row))
        for address, code in (formats or {}).items():
            book.worksheets[0][address].number_format = code
        if change is not None:
            change(book)
        path = tmp_path / name
        book.save(path)
        return path

    return write


@pytest.fixture
def read(make: Make) -> Read:
    """Read rows below headings on a sheet named Units, the way the audit does."""

    def run(rows: Sequence[Sequence[Any]], **options: Any) -> Fleet:
        sheets = {"Units": rows, **options.pop("sheets", {})}
        picked = {key: options.pop(key) for key in ("formats", "change", "name") if key in options}
        path = make(sheets, **picked)
        book = open_workbook(path)
        laid, _ = load_catalogue(options.get("settings"), book)
        return read_fleet(path, laid, workbook=book, **options)

    return run


@pytest.fixture
def column(read: Read) -> Callable[..., Fleet]:
    """Read cells as one column beside three that make each row a unit."""

    def run(heading: str, cells: Sequence[Any], code: str | None = None, **options: Any) -> Fleet:
        rows = [("Unit ID", "Tank size", "Media type", heading)]
        rows += [(f"U-{number}", "10x54", "sand", cell) for number, cell in enumerate(cells, 1)]
        formats = {f"D{number}": code for number in range(2, len(cells) + 2)} if code else None
        return read(rows, formats=formats, **options)

    return run
