"""Cells of a sheet: what is held is held once, and nothing that is not the same counts as the same."""

from __future__ import annotations

from pathlib import Path

import pytest

from fleetaudit.errors import WorkbookError
from fleetaudit.workbook.archive import Limits
from fleetaudit.workbook.book import open_workbook
from fleetaudit.workbook.cells import Cells, Special


def test_values_that_are_equal_and_not_the_same_stay_apart() -> None:
    columns = [[1, 1.0, True, None, 1], ["a", None, "a", "1", ""]]
    cells = Cells.of(columns)
    assert [[repr(value) for value in column] for column in cells.values()] == [
        [repr(value) for value in column] for column in columns
    ]
    assert len(cells.held) == 1 + 3 + 3


def test_what_the_value_does_not_tell_is_found_by_its_cell() -> None:
    cells = Cells.of([["a", Special(5, "0%")], [Special(None, error="#N/A"), None]])
    assert cells.special() == {(2, 1): Special(5, "0%"), (1, 2): Special(None, error="#N/A")}
    assert cells.values() == [["a", 5], [None, None]]
    assert cells.at(2, 1) == Special(5, "0%") and cells.at(3, 1) is cells.at(1, 9) is None
    assert list(cells.distinct(1, 2)) == [5]


@pytest.mark.parametrize(
    ("text", "columns"),
    [
        ("a,b,c\n1,2,3\n\n,,\n4,,\n5,6,7,8\n,,,\n\n",
         [["a", "1", None, None, "4", "5"], ["b", "2", None, None, None, "6"],
          ["c", "3", None, None, None, "7"], [None, None, None, None, None, "8"]]),
        ("a,b,\n1,2,\n3,4,\n", [["a", "1", "3"], ["b", "2", "4"]]),
        ("a;b\n 1 ;  \n", [["a", " 1 "], ["b", None]]),
        (",\n,\n", []),
    ],
)  # fmt: skip
def test_tables_of_text_with_rows_of_any_length(text: str, columns: list[object], tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text(text)
    found = open_workbook(path).read("list")
    assert found.columns == columns
    assert (found.n_rows, found.n_columns) == (max(map(len, columns), default=0), len(columns))


@pytest.mark.parametrize("limits", [Limits(rows=2), Limits(cells=7)])
def test_limits_hold_for_tables_of_text(limits: Limits, tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text("a,b\n1,2\n3,4\n5,6\n")
    with pytest.raises(WorkbookError, match=r"list\.csv is longer than"):
        open_workbook(path, limits).read("list")
