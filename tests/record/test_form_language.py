"""Forms in either language come back the same, whatever language the run speaks."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import openpyxl
import pytest

from fleetaudit.assets import read_text
from fleetaudit.language import in_every_language, read_entries
from fleetaudit.record_file import RecordRequest, record_file
from fleetaudit.returns_file import ReturnsRequest, write_returns_file
from fleetaudit.schema import visits
from fleetaudit.writing.blank import LONGEST_PROMPT_TITLE
from tests.record.fleets import DAY, VISITED, unit, write

#: what a crew writes on each form
ENGLISH = {
    "Visit date": VISITED, "Initials": "AB", "What was found": "worn", "Restrictor fitted": 7,
    "Label written": "yes", "Measured drain flow": 6.8, "Bed": "new bed", "Media loaded": "Calcite 16x40",
    "Note": "key returned",
}  # fmt: skip
SPANISH = {
    "Fecha de la visita": VISITED, "Iniciales": "AB", "Qué se halló": "worn", "Limitador puesto": 7,
    "Etiqueta escrita": "sí", "Caudal de drenaje medido": 6.8, "Lecho": "lecho nuevo",
    "Medio cargado": "calcita 16x40", "Nota": "key returned",
}  # fmt: skip


def filled(path: Path, source: Path, language: str, words: dict[str, object]) -> Path:
    write_returns_file(ReturnsRequest(path, ("U-001",), DAY, source, language=language))
    book = openpyxl.load_workbook(path)
    page = book.worksheets[0]
    places = {str(cell.value).partition(" (")[0]: cell.column for cell in page[1]}
    for heading, value in words.items():
        page.cell(2, places[heading]).value = value
    book.save(path)
    return path


@pytest.fixture
def source(tmp_path: Path) -> Path:
    return write(tmp_path / "fleet.xlsx", [unit(1, **{"DLFC (gpm)": 2}), unit(2)])


def told(source: Path, form: Path, language: str, folder: Path) -> set[tuple[str, str, str]]:
    done = record_file(
        RecordRequest(source, (form,), DAY, folder=folder, language=language, add_columns=True)
    )
    assert not done.refused and done.path is not None
    return {(line.what, line.old, line.new) for line in (*done.lines, *done.history_only)}


@pytest.mark.parametrize("spoken", ["en", "es"])
def test_a_form_in_either_language_changes_the_same_cells(source, tmp_path, spoken):
    english = filled(tmp_path / "english.xlsx", source, "en", ENGLISH)
    spanish = filled(tmp_path / "spanish.xlsx", source, "es", SPANISH)
    changes = told(source, english, spoken, tmp_path / "a")
    other = told(source, spanish, spoken, tmp_path / "b")
    assert {change[0] for change in changes} >= {
        "Restrictor",
        "Restrictor labelled",
        "Measured drain flow",
        "Medium",
    }
    # what was typed is kept as the catalogue calls it, so that the list is read again
    assert {change[2].casefold() for change in other} == {change[2].casefold() for change in changes}
    assert {change[:2] for change in other} == {change[:2] for change in changes}


def test_the_medium_a_form_names_may_be_copied_to_what_was_loaded(source, tmp_path):
    form = filled(tmp_path / "form.xlsx", source, "es", {})
    page = openpyxl.load_workbook(form).worksheets[0]
    named = next(row[1].value for row in page.iter_cols() if row[0].value == "Medio")
    assert named == "Carbón activado 12x40"
    words = {**SPANISH, "Medio cargado": named}
    form.unlink()
    done = record_file(RecordRequest(source, (filled(form, source, "es", words),), DAY, dry_run=True))
    assert not done.refused


def test_the_spanish_form_offers_its_own_words_and_says_the_cautions(source, tmp_path):
    form = filled(tmp_path / "form.xlsx", source, "es", {})
    book = openpyxl.load_workbook(form)
    assert book.sheetnames == ["Parte de trabajo", "Cómo llenarlo"]
    lists = {
        rule.formula1 for rule in book.worksheets[0].data_validations.dataValidation if rule.type == "list"
    }
    assert {'"sí,no"', '"lecho nuevo,rellenado"'} <= lists
    help_ = " ".join(str(row[0]) for row in book.worksheets[1].iter_rows(values_only=True))
    assert "Aísle, libere la presión y desconecte antes de abrir nada" in help_
    assert "la hoja del fabricante y las reglas locales" in help_


def test_headings_of_a_form_tell_their_columns_apart_in_every_language():
    for code in ("es",):
        words = read_entries(read_text(f"data/texts.{code}.po"))
        titles = [words[column.title] for column in visits.RETURN_COLUMNS]
        assert len(set(titles)) == len(titles)
        assert all(len(title) <= LONGEST_PROMPT_TITLE for title in titles)
    assert "Fecha de la visita" in in_every_language("Visit date")


def test_what_is_left_alone_is_said_in_the_language_of_the_run(source, tmp_path):
    form = filled(
        tmp_path / "form.xlsx", source, "es", {**SPANISH, "Fecha de la visita": dt.date(2027, 1, 5)}
    )
    done = record_file(RecordRequest(source, (form,), DAY, dry_run=True, language="es"))
    assert "lies in the future" not in done.refused[0] and "está en el futuro. Corríjala." in done.refused[0]
