"""Workbooks protected by a password: named as such, opened with it in memory, results only where allowed."""

from __future__ import annotations

from pathlib import Path

import msoffcrypto
import openpyxl
import pytest
from workbook_samples import FIRST_ROW, HEADING_ROW, plain_workbook

from fleetaudit.cli.main import main

from .office import Office

PASSWORD = "invented and long"
DAY = ["--as-of", "2026-11-01"]


@pytest.fixture(scope="module")
def office(tmp_path_factory: pytest.TempPathFactory) -> Office:
    return Office(tmp_path_factory.mktemp("office"))


@pytest.fixture(scope="module")
def protected(office: Office, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The same list under a password, saved by LibreOffice in each kind that takes one."""
    folder = tmp_path_factory.mktemp("protected")
    plain = plain_workbook(folder / "plain.xlsx")
    return {kind: office.protect(plain, folder / f"fleet.{kind}", PASSWORD) for kind in ("xlsx", "ods")}


def test_the_file_under_test_is_encrypted(protected: dict[str, Path]) -> None:
    with protected["xlsx"].open("rb") as file:
        assert msoffcrypto.OfficeFile(file).is_encrypted()


def copied(source: Path, folder: Path) -> Path:
    target = folder / source.name
    target.write_bytes(source.read_bytes())
    return target


def audit(*arguments: object) -> int:
    with pytest.raises(SystemExit) as left:
        main(["audit", *map(str, arguments), *DAY])
    assert isinstance(left.value.code, int)
    return left.value.code


@pytest.fixture
def password(tmp_path: Path) -> Path:
    path = tmp_path / "password.txt"
    path.write_text(PASSWORD + "\n", "utf-8-sig")
    return path


@pytest.mark.parametrize("kind", ["xlsx", "ods"])
def test_without_its_password_it_is_named_as_protected(
    kind: str, protected: dict[str, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    source = copied(protected[kind], tmp_path)
    assert audit(source) == 2
    assert "protected by a password" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == [source.name]


def test_results_are_written_unprotected_only_where_that_is_allowed(
    protected: dict[str, Path], password: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    source = copied(protected["xlsx"], tmp_path)
    before = source.read_bytes()
    assert audit(source, "--password-file", password) == 2
    said = capsys.readouterr().err
    assert "--allow-unencrypted" in said and {path.name for path in tmp_path.iterdir()} == {
        source.name,
        password.name,
    }
    assert audit(source, "--password-file", password, "--allow-unencrypted") == 0
    sheet = openpyxl.load_workbook(tmp_path / "fleet.audited.xlsx")["Units"]
    assert sheet.cell(HEADING_ROW, 7).value.startswith("Audit: ")
    assert sheet.cell(FIRST_ROW, 1).value == "U-101" and sheet.cell(FIRST_ROW, 7).value
    assert source.read_bytes() == before
    assert PASSWORD not in (tmp_path / "fleet.summary.html").read_text("utf-8")
    assert "None of the results is" in (tmp_path / "fleet.summary.html").read_text("utf-8")


def test_a_wrong_password_a_missing_file_and_an_empty_one(
    protected: dict[str, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    source, wrong = copied(protected["xlsx"], tmp_path), tmp_path / "wrong.txt"
    wrong.write_text("not it\n")
    for file, words in (
        (wrong, "does not open with the password"),
        (tmp_path / "none.txt", "cannot be read"),
    ):
        assert audit(source, "--password-file", file, "--allow-unencrypted") == 2
        said = capsys.readouterr().err
        assert words in said and "Traceback" not in said and "not it" not in said
    wrong.write_bytes(b"\n")
    assert audit(source, "--password-file", wrong) == 2
    assert "nothing in its first line" in capsys.readouterr().err


def test_a_password_for_a_workbook_that_has_none_does_no_harm(password: Path, tmp_path: Path) -> None:
    source = plain_workbook(tmp_path / "fleet.xlsx")
    assert audit(source, "--password-file", password) == 0
