"""The annotated copy as the manager's own workbook, month after month."""

from __future__ import annotations

from collections import Counter
from datetime import date
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from workbook_samples import (
    FIRST_ROW,
    HEADING_ROW,
    HEADINGS,
    UNITS,
    plain_workbook,
    rich_workbook,
    table_workbook,
)

from fleetaudit.audit_file import Request, Written, audit_file

from . import comparison

MONTHS = (date(2026, 10, 1), date(2026, 11, 1), date(2026, 12, 1), date(2027, 1, 1))

pytestmark = pytest.mark.filterwarnings("ignore:.*extension is not supported:UserWarning")


def edited(path: Path, change: Any) -> Path:
    """The workbook after a person changed and saved it."""
    book = openpyxl.load_workbook(path)
    change(book["Units"])
    book.save(path)
    return path


def titles(path: Path) -> list[str]:
    return [str(cell.value) for cell in openpyxl.load_workbook(path)["Units"][HEADING_ROW] if cell.value]


def column(path: Path, title: str) -> dict[str, object]:
    """Values of a column by unit."""
    sheet = openpyxl.load_workbook(path)["Units"]
    number = titles(path).index(title) + 1
    rows = range(FIRST_ROW, FIRST_ROW + UNITS + 1)
    return {
        str(sheet.cell(row, 1).value): sheet.cell(row, number).value
        for row in rows
        if sheet.cell(row, 1).value
    }


def verdicts(written: Written) -> dict[str, str]:
    return {unit.unit_id: unit.verdict for unit in written.report.units}


def size(path: Path) -> Counter[str]:
    """How many formats, rules, names and sheets there are."""
    content = comparison.parts(path)
    found: Counter[str] = Counter()
    for name, part in content.items():
        if (
            name.endswith("styles.xml")
            or name == comparison.book_part(content)
            or "worksheets/sheet1" in name
        ):
            for element in comparison.Tree.fromstring(part).iter():
                tag = comparison.local(element.tag)
                if tag in ("xf", "font", "fill", "dxf", "numFmt", "cfRule", "definedName", "sheet", "col"):
                    found[tag] += 1
    return found


@pytest.mark.parametrize("make", [plain_workbook, rich_workbook, table_workbook])
def test_month_after_month(make: Any, tmp_path: Path) -> None:
    source = make(tmp_path / "a.xlsx")
    first = audit_file(Request(source, MONTHS[0]))
    path, sizes = first.paths[0], []
    assert path.name == "a.audited.xlsx"
    for month in MONTHS[1:]:
        again = audit_file(Request(path, month))
        assert again.paths[0].name == f"a.audited.{month.isoformat()}.xlsx"
        assert again.summary_path.name == f"a.audited.{month.isoformat()}.summary.html"
        assert path.exists() and titles(again.paths[0]) == titles(path)
        path = again.paths[0]
        sizes.append(size(path))
    assert sizes[0] == sizes[1] == sizes[2]
    assert verdicts(again) == verdicts(audit_file(Request(source, MONTHS[-1], force=True)))


def test_columns_of_the_manager_beside_ours_stay_with_their_units(tmp_path: Path) -> None:
    first = audit_file(Request(plain_workbook(tmp_path / "a.xlsx"), MONTHS[0])).paths[0]
    ours = titles(first)[len(HEADINGS) :]

    def work(sheet: Any) -> None:
        last = sheet.max_column
        sheet.cell(HEADING_ROW, last + 1, "Called on")
        sheet.cell(HEADING_ROW, last + 2, "Price agreed")
        sheet.insert_cols(9)
        sheet.cell(HEADING_ROW, 9, "My own mark")
        for row in range(FIRST_ROW, FIRST_ROW + UNITS):
            unit = sheet.cell(row, 1).value
            sheet.cell(row, 9, f"mark {unit}")
            sheet.cell(row, last + 2, f"called {unit}")
            sheet.cell(row, last + 3, f"=LEN(A{row})*10")
        new = ["U-900", "10x54", "calcite", 5, date(2020, 1, 2), 3]
        for number, value in enumerate(new, 1):
            sheet.cell(FIRST_ROW + UNITS, number, value)

    edited(first, work)
    before = {title: column(first, title) for title in ("My own mark", "Called on", "Price agreed")}
    second = audit_file(Request(first, MONTHS[1]))
    after = second.paths[0]
    assert titles(after) == titles(first) and set(ours) <= set(titles(after))
    for title, values in before.items():
        assert column(after, title) == values, title
    assert column(after, ours[0]) == verdicts(second) and "U-900" in verdicts(second)
    third = audit_file(Request(after, MONTHS[2])).paths[0]
    assert titles(third) == titles(after)
    assert column(third, "Called on") == before["Called on"]


def test_a_deleted_result_column_comes_back_at_the_right_and_the_others_stay(tmp_path: Path) -> None:
    first = audit_file(Request(plain_workbook(tmp_path / "a.xlsx"), MONTHS[0])).paths[0]
    gone = titles(first)[len(HEADINGS) + 1]
    edited(first, lambda sheet: sheet.delete_cols(len(HEADINGS) + 2))
    after = audit_file(Request(first, MONTHS[1])).paths[0]
    assert titles(after) == [*titles(first), gone]
