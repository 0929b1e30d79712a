"""The blank workbook: what it offers is what reading understands, and an empty one says that it is empty."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path
from xml.etree.ElementTree import canonicalize

import openpyxl
import pytest

from fleetaudit.catalogue.shipped import load
from fleetaudit.errors import InputError, OutputError
from fleetaudit.language import ENGLISH, LANGUAGES, say, spoken, words_of
from fleetaudit.reading.fleet import read_fleet
from fleetaudit.schema import company, fleet
from fleetaudit.schema.quantity import Kind
from fleetaudit.writing.blank import (
    HOW_TO,
    LONGEST_PROMPT,
    SHEETS,
    heading,
    template_bytes,
    write_template,
)

COMMITTED = Path(__file__).parents[2] / "templates" / "fleet.xlsx"


@pytest.fixture(scope="module")
def catalogue():
    return load()


@pytest.fixture(scope="module")
def made(catalogue) -> bytes:
    return template_bytes(catalogue)


@pytest.fixture
def book(made):
    return openpyxl.load_workbook(io.BytesIO(made))


def content(data: bytes) -> dict[str, str]:
    """Parts as canonical markup: openpyxl spells it differently where lxml is installed."""
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        return {
            name: canonicalize(package.read(name).decode("utf-8"), rewrite_prefixes=True)
            for name in package.namelist()
            if not name.startswith("docProps/")
        }


def listed(book, rule) -> list[str]:
    sheet, _, where = rule.formula1.lstrip("=").partition("!")
    return [row[0].value for row in book[sheet.strip("'")][where.replace("$", "")]]


def test_sheets_stand_in_the_order_people_need_them(book):
    assert book.sheetnames == [
        "Units", "Read me", "Media", "Restrictors", "Housings", "Vessels", "Crews", "Settings", "Sites",
        "Stock", "Accepted", "Lists",
    ]  # fmt: skip


def test_every_column_has_its_heading_and_a_note_that_shows_when_it_is_chosen(book):
    for name, columns in (
        ("Units", fleet.COLUMNS),
        *((s.name, s.columns) for s in (*company.SHEETS, company.SITES)),
    ):
        page = book[name]
        assert [cell.value for cell in page[1]] == [heading(column) for column in columns]
        notes = {str(rule.sqref): rule.prompt for rule in page.data_validations.dataValidation if rule.prompt}
        for number, column in enumerate(columns, start=1):
            assert column.doc[:200] in notes[page.cell(1, number).coordinate]
        assert page.freeze_panes == "A2"


def test_the_read_me_explains_every_column(book):
    said = {str(row[0].value): row[1].value for row in book["Read me"].iter_rows(max_col=2) if row[0].value}
    for column in fleet.COLUMNS:
        assert column.title in said
    assert any("a blank is reported as not checked" in text for text in said)


def test_words_offered_are_words_the_tool_takes(book, catalogue):
    page = book["Units"]
    offered = {
        page.cell(1, next(iter(rule.sqref.ranges)).min_col).value: listed(book, rule)
        for rule in page.data_validations.dataValidation
        if rule.type == "list"
    }
    for column in fleet.COLUMNS:
        if column.choices:
            assert offered[heading(column)] == list(column.choices)
        if column.quantity.kind is Kind.FLAG:
            assert offered[heading(column)] == ["yes", "no"]
    assert len(offered["Medium"]) >= 12
    for name in offered["Medium"]:
        assert catalogue.find_medium(name) is not None, name
    for word in offered["Purpose"]:
        assert catalogue.find_purpose(word) is not None, word
    assert "10x54" in offered["Vessel size (in)"]


def test_a_list_never_refuses_what_is_typed_instead(book):
    rules = [rule for rule in book["Units"].data_validations.dataValidation if rule.type == "list"]
    assert rules and not any(rule.showErrorMessage for rule in rules)


def test_identifiers_are_kept_as_typed_and_dates_are_dates(book):
    page = book["Units"]
    formats = {cell.value: page.column_dimensions[cell.column_letter].number_format for cell in page[1]}
    assert formats["Unit ID"] == formats["Postcode"] == formats["Vessel size (in)"] == "@"
    assert formats["Media date"] == "yyyy-mm-dd"


def test_the_examples_of_all_columns_are_read_from_a_filled_template(tmp_path, book, catalogue):
    page = book["Units"]
    for number, column in enumerate(fleet.COLUMNS, start=1):
        page.cell(2, number, column.example or None)
    path = tmp_path / "filled.xlsx"
    book.save(path)
    found = read_fleet(path, catalogue)
    assert found.frame.units == 1 and not found.unknown_columns
    assert not found.frame.raw, "an example of our own could not be read"
    for column in fleet.COLUMNS:
        if column.example:
            assert column.name in found.frame.columns, column.title
    assert found.frame.number(fleet.DIAMETER)[0] == pytest.approx(0.254), "10 inches of 25.4 mm"
    assert found.frame.number(fleet.RESTRICTOR)[0] == pytest.approx(5 * 231 * 0.0254**3 / 60), (
        "5 gallons of 231 in3"
    )


def test_a_template_without_units_says_so(tmp_path, catalogue):
    path = tmp_path / "fleet.xlsx"
    write_template(path, catalogue)
    with pytest.raises(InputError, match="headings but no units"):
        read_fleet(path, catalogue)


def test_an_older_file_is_not_replaced_unasked(tmp_path, catalogue):
    path = tmp_path / "fleet.xlsx"
    path.write_bytes(b"older")
    with pytest.raises(OutputError, match="--force"):
        write_template(path, catalogue)
    assert path.read_bytes() == b"older"
    write_template(path, catalogue, force=True)
    assert zipfile.is_zipfile(path)


def test_same_columns_same_bytes(made, catalogue):
    assert made == template_bytes(catalogue)


def test_the_template_in_the_repository_is_the_one_the_columns_give(made, update_golden):
    if update_golden:
        COMMITTED.write_bytes(made)
    same = content(COMMITTED.read_bytes()) == content(made)
    assert same, "columns or catalogue changed: run these tests once with --update-golden"


@pytest.mark.parametrize("code", [code for code in LANGUAGES if code != ENGLISH])
def test_notes_are_in_the_readers_language_and_what_is_read_back_is_not(code, catalogue, book):
    with spoken(code):
        other = openpyxl.load_workbook(io.BytesIO(template_bytes(catalogue)))
    assert other.sheetnames == book.sheetnames
    for name in book.sheetnames:
        if name != "Read me":
            assert list(other[name].values) == list(book[name].values)
    words = words_of(code)
    shown = {str(cell) for row in other["Read me"].values for cell in row if cell}
    assert {words[text] for text in HOW_TO} <= shown
    notes = [
        (rule.prompt, column)
        for sheet, columns in [("Units", fleet.COLUMNS), *((sheet.name, sheet.columns) for sheet in SHEETS)]
        for rule, column in zip(
            (rule for rule in other[sheet].data_validations.dataValidation if rule.prompt),
            columns,
            strict=True,
        )
    ]
    for prompt, column in notes:
        assert prompt.startswith(words[column.doc][:LONGEST_PROMPT])
        with spoken(code):
            whole = f"{say(column.doc)} {say('Example: {value}.', value=column.example)}"
        assert not column.example or len(whole) <= LONGEST_PROMPT  # or the spreadsheet program cuts it
