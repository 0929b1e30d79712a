"""Several workbooks audited at once, stock sheets, and what the added sheets say; every fleet is invented."""

from __future__ import annotations

import re
from pathlib import Path

import openpyxl
import pytest

from fleetaudit.cli.main import main
from tests.faults.fault import HEADINGS, sheet_of, sound, write

DAY = "2026-11-01"


def run(*arguments: str) -> int:
    with pytest.raises(SystemExit) as left:
        main(list(arguments))
    return int(left.value.code or 0)


def branch(folder: Path, name: str, units: int, **columns: object) -> Path:
    rows = [[*sound(number), *columns.values()] for number in range(1, units + 1)]
    return write(
        folder / name, {"Units": sheet_of(rows, [*HEADINGS, *(title.replace("_", " ") for title in columns)])}
    )


def table(path: Path, sheet: str) -> list[dict[str, object]]:
    rows = list(openpyxl.load_workbook(path)[sheet].iter_rows(values_only=True))
    return [dict(zip((str(title) for title in rows[0]), row, strict=True)) for row in rows[1:]]


def test_each_gets_its_results_and_one_page_is_over_all(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    north, south = (
        branch(tmp_path, "fleet north.xlsx", 3),
        branch(tmp_path, "fleet south.xlsx", 2, Connections="reversed"),
    )
    assert run("audit", str(north), str(south), "--as-of", DAY) == 0
    names = {path.name for path in tmp_path.iterdir()}
    assert {
        "fleet north.audited.xlsx", "fleet north.summary.html",
        "fleet south.audited.xlsx", "fleet south.summary.html",
        "fleet.all.summary.html",
    } <= names  # fmt: skip
    page = (tmp_path / "fleet.all.summary.html").read_text(encoding="utf-8")
    assert 'href="fleet%20north.summary.html"' in page
    assert "2 workbooks, 5 units" in page
    first = page[page.index('id="first"') : page.index('id="parts"')]
    assert first.count("fleet south.xlsx") == 2 and "fleet north.xlsx" not in first
    assert "http" not in re.sub(r"http-equiv", "", page)
    assert str(tmp_path / "fleet.all.summary.html") in capsys.readouterr().out


def test_fail_on_looks_at_all_of_them(tmp_path: Path) -> None:
    north, south = (
        branch(tmp_path, "north.xlsx", 2),
        branch(tmp_path, "south.xlsx", 2, Connections="reversed"),
    )
    assert run("audit", str(north), str(south), "--as-of", DAY, "--fail-on", "now") == 1
    assert (tmp_path / "workbooks.all.summary.html").is_file()


def test_one_that_cannot_be_audited_holds_up_no_other(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    north = branch(tmp_path, "north.xlsx", 2)
    assert (
        run("audit", str(north), str(tmp_path / "gone.xlsx"), "-o", str(tmp_path / "out"), "--as-of", DAY)
        == 2
    )
    said = capsys.readouterr().err
    assert "gone.xlsx" in said and "1 of 2 workbooks" in said
    assert (tmp_path / "out" / "north.audited.xlsx").is_file()
    assert "gone.xlsx" in (tmp_path / "out" / "workbooks.all.summary.html").read_text(encoding="utf-8")


def test_results_of_one_name_are_refused_before_anything_is_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for folder in ("a", "b"):
        (tmp_path / folder).mkdir()
    one, other = branch(tmp_path / "a", "fleet.xlsx", 2), branch(tmp_path / "b", "fleet.xlsx", 2)
    assert run("audit", str(one), str(other), "-o", str(tmp_path / "out"), "--as-of", DAY) == 2
    assert "fleet.audited.xlsx would be written for" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()
    assert run("audit", str(one), str(one), "--as-of", DAY) == 2
    assert "named twice" in capsys.readouterr().err


def test_a_document_goes_with_one_workbook(tmp_path: Path) -> None:
    north, south = branch(tmp_path, "north.xlsx", 1), branch(tmp_path, "south.xlsx", 1)
    assert run("audit", str(north), str(south), "--json", "-") == 2


STOCK = [
    ["What", "Size", "Quantity", "Unit"],
    ["restrictor", "5 gpm", 1, None],
    ["moon dust", None, 3, None],
    ["restrictor", "blue", 1, "pieces"],
    ["restrictor", "5 gpm", None, "pieces"],
    ["calcite", None, 1, "pieces"],
]


@pytest.mark.parametrize("own", [True, False], ids=["in the workbook", "in the settings workbook"])
def test_stock_is_read_and_taken_off(tmp_path: Path, own: bool) -> None:
    place = HEADINGS.index("Restrictor (gpm)")
    rows = [[*row[:place], 1.5, *row[place + 1 :]] for row in (sound(number) for number in (1, 2))]
    sheets = {"Units": sheet_of(rows)}
    path = write(tmp_path / "fleet.xlsx", sheets | ({"Stock": STOCK} if own else {}))
    extra = [] if own else ["--settings", str(write(tmp_path / "ours.xlsx", {"Stock": STOCK}))]
    assert run("audit", str(path), "--as-of", DAY, *extra) == 0
    copy = tmp_path / "fleet.audited.xlsx"
    line = next(
        row for row in table(copy, "Audit order") if row["For"] == "total" and row["What"] == "restrictor"
    )
    assert str(line["Size"]).startswith("5 gpm")
    assert (line["Needed"], line["From stock"], line["To order"]) == (2, 1, 1)
    said = " ".join(str(row["What was seen"]) for row in table(copy, "Audit problems"))
    for text in (
        '"moon dust" is no part',
        'not "blue"',
        "has no quantity",
        "in a unit that does not suit it",
    ):
        assert text in said


def test_shared_stock_is_taken_off_once_over_all_workbooks_and_each_ones_own_for_it_alone(
    tmp_path: Path,
) -> None:
    """Needed 2 + 2 + 2 of one restrictor; 3 are shared, the second has one of its own: 2 are left over."""
    place = HEADINGS.index("Restrictor (gpm)")
    rows = [[*row[:place], 1.5, *row[place + 1 :]] for row in (sound(number) for number in (1, 2))]
    head = STOCK[0]
    own = {"south": [head, ["restrictor", "5 gpm", 1, None], ["housing", "large", 9, None]]}
    paths = []
    for name in ("north", "south", "west"):
        more = {"Stock": own[name]} if name in own else {}
        paths.append(str(write(tmp_path / f"fleet {name}.xlsx", {"Units": sheet_of(rows)} | more)))
    ours = write(tmp_path / "ours.xlsx", {"Stock": [head, ["restrictor", "5 gpm", 3, None]]})
    assert run("audit", *paths, "--as-of", DAY, "--settings", str(ours)) == 0
    lines = [
        next(
            row
            for row in table(Path(path).with_suffix(".audited.xlsx"), "Audit order")
            if row["For"] == "total" and row["What"] == "restrictor"
        )
        for path in paths
    ]
    netted = [(line["Needed"], line["From stock"], line["To order"]) for line in lines]
    assert netted == [(2, 2, 0), (2, 2, 0), (2, 0, 2)]
    page = (tmp_path / "fleet.all.summary.html").read_text(encoding="utf-8")
    body = page[page.index('id="parts"') : page.index("</main>")]
    row = next(part for part in body.split("<tr>") if "restrictor" in part).split("</tbody>")[0]
    cells = [" ".join(cell.rpartition(">")[2].split()) for cell in row.split("<td")[1:]]
    assert cells[2:4] == ["6", "pieces"] and cells[-2:] == ["4", "2 pieces"]
    said = [
        row["What was seen"] for row in table(Path(paths[1]).with_suffix(".audited.xlsx"), "Audit problems")
    ]
    assert sum("for things that no finding asks for" in str(text) for text in said) == 1


@pytest.mark.parametrize(("option", "typed", "hint"), [
    ("--account", "site 12", '"Site 2" / "Site 1"'),
    ("--account", "ite 1", '"Site 1"?'),
    ("--crew", "Blu crew", '"Blue crew"?'),
    ("--crew", "nobody at all", ""),
])  # fmt: skip
def test_an_account_or_crew_nobody_has_is_answered_with_the_names_like_it(
    option: str, typed: str, hint: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = branch(tmp_path, "fleet.xlsx", 2, Crew="Blue crew")
    assert run("audit", str(path), "--as-of", DAY, option, typed) == 2
    said = " ".join(capsys.readouterr().err.split())
    assert f'no unit has the {option[2:]} "{typed}".' in said
    assert hint in said and ("Did you mean" in said) == bool(hint)
    assert not list(tmp_path.glob("*.audited.xlsx"))


def test_an_account_and_a_crew_that_never_meet_are_told_apart_from_names_nobody_has(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = [[*sound(1), "Blue crew"], [*sound(2), "Red crew"]]
    path = write(tmp_path / "fleet.xlsx", {"Units": sheet_of(rows, [*HEADINGS, "Crew"])})
    assert run("audit", str(path), "--as-of", DAY, "--account", "Site 1", "--crew", "red crew") == 2
    assert 'no unit of the account "Site 1" was set up by the crew "red crew"' in capsys.readouterr().err


def test_a_workbook_without_the_account_is_told_and_no_trouble_while_another_has_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    north, south = branch(tmp_path, "north.xlsx", 3), branch(tmp_path, "south.xlsx", 1)
    asked = ("audit", str(north), str(south), "--as-of", DAY)
    assert run(*asked, "--account", "Site 3") == 0
    assert 'south.xlsx, sheet "Units": no unit has the account "Site 3"' in capsys.readouterr().err
    page = (tmp_path / "workbooks.all.summary.html").read_text(encoding="utf-8")
    assert "1 workbooks" not in page and "no unit has the account" in page
    assert run(*asked, "--account", "Site 4", "--force") == 2
    said = capsys.readouterr().err
    assert "north.xlsx" in said and "south.xlsx" in said


def test_a_narrowed_report_says_so_first_on_screen_page_and_sheet(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = branch(tmp_path, "fleet.xlsx", 3, Crew="Blue crew")
    said = 'Only the units of the account "Site 2": 1 of the 3 on the list.'
    assert run("audit", str(path), "--as-of", DAY, "--account", "site 2") == 0
    assert said.replace("Site", "site") in " ".join(capsys.readouterr().out.split())
    page = (tmp_path / "fleet.summary.html").read_text(encoding="utf-8")
    assert "1 of the 3 on the list" in page
    summary = openpyxl.load_workbook(tmp_path / "fleet.audited.xlsx")["Audit summary"]
    assert any("1 of the 3 on the list" in str(cell.value) for row in summary.iter_rows() for cell in row)
    assert run("audit", str(path), "--as-of", DAY, "--crew", "blue crew", "--hide-crew-names", "--force") == 0
    out = capsys.readouterr().out
    assert "Only the units of one crew" in " ".join(out.split()) and "blue crew" not in out.lower()
