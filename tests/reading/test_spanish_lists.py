"""Lists whose headings, media and choices are Spanish."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest

from fleetaudit.catalogue import shipped
from fleetaudit.catalogue.other_languages import bare, spellings
from fleetaudit.language import words_of
from fleetaudit.reading.fleet import read_fleet
from fleetaudit.reading.headers import match
from fleetaudit.schema import fleet

SPANISH = words_of("es")
CATALOGUE = shipped.load()
INCH, GALLON_A_MINUTE = 0.0254, 3.785411784e-3 / 60
#: an invented list, column by column
LIST = (
    ("Equipo", "E-1", "E-2"),
    ("Cliente", "Panadería (inventada)", "Lechería (inventada)"),
    ("Medida del tanque", "10x54", "12x52"),
    ("Medio filtrante", "Carbón activado", "Arena verde"),
    ("Limitador (gpm)", 5, 10),
    ("Fecha de instalación", "2024-03-01", "2023-05-20"),
    ("Agua más fría (°C)", 8, 9),
    ("Estado", "en servicio", "retirado"),
    ("Fuente de agua", "pozo", "superficial"),
    ("Cuadrilla", "Norte", "Sur"),
)


@pytest.mark.parametrize("name", spellings("columns"))
def test_every_spelling_means_its_column_with_accents_and_without(name: str) -> None:
    for spelling in spellings("columns")[name]:
        for heading in (spelling, spelling.upper(), bare(spelling).capitalize()):
            found = match(heading)
            assert found is not None, heading
            assert found.name == name, heading


def test_every_title_in_spanish_is_known() -> None:
    """But for the one word that means both a region and a condition, which is taken for the condition."""
    for column in fleet.COLUMNS:
        title = SPANISH.get(column.title, column.title)
        found = match(title)
        assert found is not None, title
        assert found is column or (title, found) == ("Estado", fleet.STATUS), title


@pytest.mark.parametrize("key", spellings("media"))
def test_every_medium_is_known_by_its_spanish_names(key: str) -> None:
    for spelling in (*spellings("media")[key], SPANISH[CATALOGUE.medium(key).name]):
        assert CATALOGUE.find_medium(spelling) == key, spelling


def test_choices_named_in_spanish_are_choices_there_are() -> None:
    for column in fleet.COLUMNS:
        assert set(spellings("choices", column.name)) <= set(column.choices), column.name


def test_a_spanish_list_is_read_as_an_english_one(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    sheet.append(["Equipos instalados"])
    for rows in zip(*LIST, strict=True):
        sheet.append(list(rows))
    book.save(tmp_path / "lista.xlsx")
    frame = read_fleet(tmp_path / "lista.xlsx", CATALOGUE).frame
    media = [CATALOGUE.media[code].key for code in frame.code(fleet.MEDIUM.name)]
    assert media == ["activated-carbon-12x40", "manganese-greensand"]
    assert frame.number(fleet.DIAMETER) == pytest.approx([10 * INCH, 12 * INCH])
    assert frame.number(fleet.RESTRICTOR) == pytest.approx([5 * GALLON_A_MINUTE, 10 * GALLON_A_MINUTE])
    assert frame.number(fleet.COLD) == pytest.approx([281.15, 282.15])
    for column, words in (
        (fleet.STATUS, ["in service", "removed"]),
        (fleet.WATER_SOURCE, ["well", "surface"]),
    ):
        assert [list(column.choices)[code] for code in frame.code(column.name)] == words
