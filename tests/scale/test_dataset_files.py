"""What a dataset is made of: files, folders with values in their names, types of columns; what is none."""

from __future__ import annotations

import datetime as dt
import sys
from decimal import Decimal
from pathlib import Path
from typing import Any

import pyarrow as pa
import pytest
from click.testing import CliRunner
from pyarrow import parquet

from fleetaudit.cli.main import cli
from fleetaudit.errors import FleetAuditError, HeaderError, InputError, OutputError
from fleetaudit.scale import pieces, tables
from fleetaudit.scale.arrow_cells import cells
from fleetaudit.scale.engine import Plain
from fleetaudit.scale.run import Done, Wish, audit_dataset
from tests.scale.one_fleet import AS_OF, as_csv, as_parquet, as_workbook, made, table

SMALL = {
    "unit_id": ["A", "B", "C"],
    "vessel": ["10x54", "13x54", "9x48"],
    "medium": ["filter sand", "calcite", "activated carbon"],
    "restrictor_gpm": [7.0, 8.0, 4.0],
}


#: dates and times of a sheet know no time zone
MOMENT = dt.datetime(2021, 4, 5, 6, 7)  # noqa: DTZ001 - as above


def audited(folder: Path, **wishes: Any) -> Done:
    return audit_dataset(Wish(folder, AS_OF, **wishes), Plain())


def written(path: Path, columns: dict[str, Any]) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    parquet.write_table(pa.table(columns), path)
    return path


# expected values: the Python objects pyarrow documents for each of its types
@pytest.mark.parametrize(
    ("array", "expected"),
    [
        (pa.array([1, None], pa.int16()), [1, None]),
        (pa.array([5.5, float("nan"), None]), [5.5, None, None]),
        (pa.array([1.1, 2.5], pa.float32()), [1.1, 2.5]),
        (pa.array([Decimal("1.10"), None]), [1.1, None]),
        (pa.array(["a", None]), ["a", None]),
        (pa.array(["a", "b", "a"]).dictionary_encode(), ["a", "b", "a"]),
        (pa.array([dt.date(2021, 4, 5)]), [dt.date(2021, 4, 5)]),
        (pa.array([MOMENT], pa.timestamp("ns")), [MOMENT]),
        (pa.array([dt.timedelta(minutes=8)], pa.duration("ns")), [dt.timedelta(minutes=8)]),
        (pa.array([dt.time(0, 8)], pa.time64("ns")), [dt.time(0, 8)]),
        (pa.array([True, None]), [True, None]),
        (pa.array([None, None]), [None, None]),
    ],
    ids=lambda value: str(value.type) if isinstance(value, pa.Array) else "",
)
def test_columns_become_cells(array: pa.Array, expected: list[object]) -> None:
    assert cells(array, "file", "column") == expected


def test_a_time_in_a_zone_keeps_its_own_day() -> None:
    """Half past eleven at night of the 5th in New York is the 6th in UTC; the day meant is the 5th."""
    moment = dt.datetime(2021, 4, 6, 3, 30, tzinfo=dt.UTC)
    (value,) = cells(pa.array([moment], pa.timestamp("us", "America/New_York")), "file", "column")
    assert isinstance(value, dt.datetime)
    assert value.isoformat() == "2021-04-05T23:30:00"


def test_a_type_that_no_cell_holds_is_one_sentence(tmp_path: Path) -> None:
    written(tmp_path / "units" / "a.parquet", SMALL | {"ph": [[7.0], [7.0], [6.0]]})
    with pytest.raises(InputError, match=r'"a.parquet": column "ph" is of the type list'):
        audited(tmp_path / "units")
    done = audited(written(tmp_path / "other" / "b.parquet", SMALL | {"payload": [[1], [2], [3]]}))
    assert done.totals.counts.units == 3  # a column that means nothing here may hold anything


def test_values_in_the_names_of_folders_are_columns(tmp_path: Path) -> None:
    for town, account in (("San%20Luis", "North"), ("Ames", "South")):
        home = tmp_path / "units" / f"town={town}" / f"account={account}"
        written(home / "a.parquet", {**SMALL, "unit_id": [f"{town}{n}" for n in range(3)]})
    rows = table(audited(tmp_path / "units").folder, "units")
    assert [row["account"] for row in rows] == ["South"] * 3 + ["North"] * 3
    assert {row["file"] for row in rows} == {
        "town=Ames/account=South/a.parquet", "town=San%20Luis/account=North/a.parquet",
    }  # fmt: skip


def test_files_may_have_columns_in_any_order_and_lack_some(tmp_path: Path) -> None:
    written(tmp_path / "units" / "a.parquet", SMALL)
    other = {name: SMALL[name] for name in ("medium", "vessel")} | {"unit_id": ["D", "E", "F"]}
    written(tmp_path / "units" / "b.parquet", other)
    rows = table(audited(tmp_path / "units").folder, "units")
    assert [row["restrictor_gpm"] for row in rows] == [7.0, 8.0, 4.0, None, None, None]
    assert [row["media_key"] for row in rows][:3] == [row["media_key"] for row in rows][3:]


def test_rows_count_as_in_the_file_with_its_heading(tmp_path: Path) -> None:
    folder = as_csv(tmp_path / "units", made(30), 2)
    rows = table(audited(folder, block=4).folder, "units")
    assert [row["row"] for row in rows] == [*range(2, 17), *range(2, 17)]


def test_names_are_mapped_like_headings(tmp_path: Path) -> None:
    odd = {"unit_id": SMALL["unit_id"], "tnk": SMALL["vessel"], "stuff": SMALL["medium"]}
    path = written(tmp_path / "a.parquet", odd)
    with pytest.raises(HeaderError, match=r"no column for the vessel|no row of headings"):
        audited(path)
    done = audited(path, header_map={"tnk": "Vessel size", "stuff": "Medium"})
    assert [row["vessel_diameter_in"] for row in table(done.folder, "units")] == [10.0, 13.0, 9.0]


def test_hidden_files_are_no_part(tmp_path: Path) -> None:
    written(tmp_path / "units" / "a.parquet", SMALL)
    for name in ("_temporary/b.parquet", ".c.parquet"):
        written(tmp_path / "units" / name, SMALL)
    (tmp_path / "units" / "_SUCCESS").touch()
    assert [piece.name for piece in pieces.find(tmp_path / "units")] == ["a.parquet"]


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda home: None, "There is no file or folder"),
        (lambda home: home.mkdir(), "holds no data to audit"),
        (
            lambda home: (written(home / "a.parquet", SMALL), (home / "b.csv").write_text("a,b\n")),
            "holds both CSV and Parquet files",
        ),
        (
            lambda home: (home.mkdir(), (home / "a.parquet").write_bytes(b"PAR1")),
            '"a.parquet" cannot be read',
        ),
        (
            lambda home: written(home / "a.parquet", {name: values[:0] for name, values in SMALL.items()}),
            "columns but no units",
        ),
        (lambda home: (home.mkdir(), (home / "a.csv").write_text("")), "no row of headings"),
    ],
)
def test_what_is_no_dataset_is_one_sentence(tmp_path: Path, make: Any, words: str) -> None:
    make(tmp_path / "units")
    with pytest.raises(FleetAuditError, match=words):
        audited(tmp_path / "units")


def test_results_are_never_audited_nor_replaced_unasked(tmp_path: Path) -> None:
    folder = as_parquet(tmp_path / "units", made(20), 2)
    done = audited(folder)
    with pytest.raises(OutputError, match="--force"):
        audited(folder)
    with pytest.raises(InputError, match="holds results of an audit"):
        audited(done.folder)
    assert audited(folder, force=True).totals == done.totals


def test_fewer_files_leave_nothing_of_an_older_run(tmp_path: Path) -> None:
    folder = as_parquet(tmp_path / "units", made(40), 4)
    audited(folder)
    (folder / "part-003.parquet").unlink()
    done = audited(folder, force=True)
    assert len(table(done.folder, "units")) == 30
    assert not list(done.folder.rglob("*.part"))


def test_text_tables_in_other_marks_and_letters(tmp_path: Path) -> None:
    home = tmp_path / "units"
    home.mkdir()
    lines = "unit_id;vessel;medium;account\nA;10x54;filter sand;Müller\n"
    (home / "a.csv").write_bytes(lines.encode("utf-8-sig"))
    (home / "b.csv").write_bytes(lines.encode("cp1252"))
    (home / "c.csv").write_bytes(lines.encode("utf-16"))
    rows = table(audited(home).folder, "units")
    assert [row["account"] for row in rows] == ["Müller"] * 3


def test_blocks_hold_no_more_than_wanted(tmp_path: Path) -> None:
    folder = as_parquet(tmp_path / "units", made(100), 1)
    (piece,) = pieces.find(folder)
    sizes = [(block.count, block.above) for block in tables.blocks(piece, ["unit_id"], 30)]
    assert sizes == [(30, 0), (30, 30), (30, 60), (10, 90)]


def run(*words: object) -> Any:
    return CliRunner().invoke(cli, ["audit", *map(str, words)])


def test_a_folder_is_audited_without_further_words(tmp_path: Path) -> None:
    folder = as_parquet(tmp_path / "units", made(30), 2)
    done = run(folder, "--as-of", AS_OF, "--fail-on", "never")
    assert done.exception is None, done.output
    assert "30 units in 2 files as of 2026-11-01" in done.output
    assert (tmp_path / "units.summary.html").is_file()
    assert "accepted findings, stock, return sheets and routes belong to workbooks" in " ".join(
        done.output.split()
    )
    again = ["audit", str(folder), "--as-of", "2026-11-01", "--force", "--fail-on", "any"]
    assert cli.main(again, standalone_mode=False) == 1


def test_a_single_text_table_is_a_dataset_where_an_engine_is_named(tmp_path: Path) -> None:
    path = as_csv(tmp_path / "units", made(30), 1) / "part-000.csv"
    done = run(path, "--engine", "plain", "--as-of", AS_OF, "-o", tmp_path / "out")
    assert done.exception is None, done.output
    assert len(table(tmp_path / "out" / "part-000.audited", "units")) == 30


def test_without_the_engine_one_sentence_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delitem(sys.modules, "fleetaudit.scale.dask_engine", raising=False)
    monkeypatch.setitem(sys.modules, "distributed", None)
    done = run(as_parquet(tmp_path / "units", made(10), 1), "--engine", "dask")
    assert isinstance(done.exception, InputError)
    assert done.exception.message.startswith("--engine dask needs distributed, which is not installed.")
    assert "fleetaudit[scale]" in done.exception.message
    assert "\n" not in done.exception.message


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--engine", "plain", "book.xlsx"), "go with one dataset"),
        (("units", "other"), "go with one dataset"),
        (("units", "--json", "-"), "--json goes with workbooks"),
        (("units", "--sheet", "x", "--letters"), "--sheet, --letters go with workbooks"),
        (("units", "--workers", "2"), "go with --engine dask"),
        (("units", "--engine", "dask", "--workers", "2", "--scheduler", "tcp://x:1"), "not both"),
    ],
)
def test_options_that_do_not_go_together(tmp_path: Path, words: tuple[str, ...], said: str) -> None:
    as_workbook(tmp_path / "book.xlsx", made(5))
    for name in ("units", "other"):
        as_parquet(tmp_path / name, made(5), 1)
    places = {name: str(tmp_path / name) for name in ("units", "other", "book.xlsx")}
    done = run(*(places.get(word, word) for word in words))
    assert done.exit_code == 2
    assert said in " ".join(done.output.split())
