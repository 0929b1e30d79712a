"""Sorting and filtering in LibreOffice keep each result with its unit.

The program decides by itself what belongs to the list (its table, its filter, or the block
of filled cells).
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path

import openpyxl
import pytest
from workbook_samples import FIRST_ROW, HEADING_ROW, UNITS, plain_workbook, rich_workbook, table_workbook

from fleetaudit.audit_file import Request, audit_file

from .office import Office

DAY = date(2026, 11, 1)
MAKERS = {"filter": rich_workbook, "table with totals": table_workbook, "neither": plain_workbook}

pytestmark = pytest.mark.filterwarnings("ignore:.*extension is not supported:UserWarning")


@pytest.fixture(scope="module")
def office(tmp_path_factory: pytest.TempPathFactory) -> Office:
    return Office(tmp_path_factory.mktemp("office"))


def by_unit(path: Path, *, visible: bool = False) -> dict[str, tuple[object, ...]]:
    """All values of each row of the list by unit, in the order of the sheet."""
    sheet = openpyxl.load_workbook(path, data_only=True)["Units"]
    rows = {}
    for number in range(FIRST_ROW, FIRST_ROW + UNITS):
        values = [cell.value for cell in sheet[number]]
        if not (visible and sheet.row_dimensions[number].hidden):
            rows[str(values[0])] = (*values[1:5], *values[6:])  # column F counts rows and changes by itself
    return rows


def audited(make: Callable[[Path], Path], folder: Path) -> Path:
    source = make(folder / "fleet.xlsx")
    return audit_file(Request(source, DAY)).paths[0]


@pytest.mark.parametrize("kind", MAKERS)
def test_results_move_with_their_rows(kind: str, office: Office, tmp_path: Path) -> None:
    copy = audited(MAKERS[kind], tmp_path)
    before = by_unit(copy)
    after = by_unit(office.sort(copy, "Units", f"D{FIRST_ROW}"))
    assert list(after) == list(reversed(before))  # flows rise from row to row, so the order turns round
    assert after == before
    assert len({row[-1] for row in before.values()}) == UNITS  # the last of ours names the unit again
    assert all(unit == row[-1] for unit, row in after.items())


def test_the_filter_that_the_program_sees_spans_our_columns(office: Office, tmp_path: Path) -> None:
    """A row that the filter hides is hidden with its results, and the arrows stand over our headings too."""
    copy = audited(rich_workbook, tmp_path)
    last = openpyxl.utils.get_column_letter(openpyxl.load_workbook(copy)["Units"].max_column)
    saved = openpyxl.load_workbook(office.convert([copy], "xlsx", "saved")[copy])["Units"]
    assert saved.auto_filter.ref == f"A{HEADING_ROW}:{last}{HEADING_ROW + UNITS}"


def test_results_apart_from_the_list_would_be_torn_off(office: Office, tmp_path: Path) -> None:
    """The same sort with a blank column before ours, which is why there is none: this test can fail."""
    copy = audited(plain_workbook, tmp_path)
    book = openpyxl.load_workbook(copy)
    book["Units"].insert_cols(7)
    apart = tmp_path / "apart.xlsx"
    book.save(apart)
    after = by_unit(office.sort(apart, "Units", f"D{FIRST_ROW}"))
    assert any(unit != row[-1] for unit, row in after.items())
