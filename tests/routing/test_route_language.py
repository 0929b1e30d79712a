"""A route in the language of the reader: nothing people read is left in English, and forms are read back."""

from __future__ import annotations

import datetime as dt
import json
import re
from pathlib import Path

import gpxpy
import icalendar
import openpyxl
import pytest
from route_workbook import UNITS, run, write_workbook

from fleetaudit import language
from fleetaudit.catalogue.shipped import load
from fleetaudit.reading.last_plan import read_last_plan
from fleetaudit.routing.left_out import NO_PLACE
from fleetaudit.workbook.book import open_workbook
from tests.make_texts import extracted
from tests.unsaid import CLOSE, OPEN, PLAIN, unsaid, words_of_workbook

CREWS = [("Crew A", -45.0, -20.0, 900, 40, 3, "Mon-Fri"), ("Crew B", -45.0, -20.0, 900, 40, 3, "Mon-Fri")]
SITES = [("north dairy", "Mon-Fri 8-12", None, "key under the pot")]
DAY = ["--as-of", "2026-11-28", "--effort", "quick", "--days", "3"]
SPANISH = ["--language", "es", "--dates", "day-first"]


@pytest.fixture(scope="module")
def fleet(tmp_path_factory) -> Path:
    # a bed heavier than any truck, and one restrictor that only rides along
    units = [*UNITS, ("U-7", "heavy mill", -45.0, -20.2, "48x72", "filter sand", 60.0, "2009-05-01", 20)]
    return write_workbook(
        tmp_path_factory.mktemp("fleet") / "fleet.xlsx", units=units, crews=CREWS, sites=SITES
    )


@pytest.fixture(scope="module")
def marked(fleet, tmp_path_factory) -> tuple[Path, str]:
    """Files of a route, and what was printed, in a language that marks every text."""
    folder = tmp_path_factory.mktemp("marked")
    words = {text: f"{OPEN}{text}{CLOSE}" for text in extracted()}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(language, "words_of", lambda code: words)
        printed = run(fleet, "-o", folder, *DAY, "--language", "es", "--dates", "dotted", "--what-if").output
    return folder, printed


@pytest.fixture(scope="module")
def spanish(fleet, tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("spanish")
    run(fleet, "-o", folder, *DAY, *SPANISH, "--what-if", "--json", folder / "plan.json")
    return folder


def own_words(fleet: Path) -> set[str]:
    """Words of the workbook, and what stands for a day and a crew on the list of orders."""
    return words_of_workbook(fleet) | {crew[0] for crew in CREWS} | {fleet.name}


@pytest.mark.parametrize("ending", ["stops.html", "loads.html", "html"])
def test_nothing_on_the_pages_slips_past_the_language(marked, fleet, ending):
    page = (marked[0] / f"fleet.route.{ending}").read_text(encoding="utf-8")
    assert '<html lang="es">' in page
    own = own_words(fleet)
    # names with letters of crews before them, ids of visits, figures in force and where they stand
    allowed = re.compile(
        r"^(?:[A-Z]{1,2}\d* )?(?:Crew [AB]|[\d-]+, Crew [AB])$|^(?:km|kg|ft3|lb|min)$|Settings: |^V-[0-9A-F]"
        r"|R\. H\. Ballou"
    )
    names = re.compile("|".join(re.escape(word) for word in sorted(own, key=len, reverse=True) if word))
    left = [text for text in unsaid(page, own) if not allowed.search(text)]
    assert not [text for text in left if re.search(r"[A-Za-z]{3,}", names.sub("", text))]


def test_nothing_in_the_sheets_slips_past_the_language(marked, fleet):
    book = openpyxl.load_workbook(marked[0] / "fleet.route.xlsx")
    own = own_words(fleet)
    for name, columns in {
        "Loads": ("What",),
        "Left out": ("Reason",),
        "Assumptions": ("Assumption", "Taken as"),
    }.items():
        rows = list(book[name].iter_rows(values_only=True))
        for column in columns:
            place = rows[0].index(column)  # headings stay what the next run looks for
            texts = {str(row[place]) for row in rows[1:] if row[place]}
            assert texts and all(
                OPEN in text or text in own or not re.search("[A-Za-z]{3}", PLAIN.sub("", text))
                for text in texts
            )


def test_what_is_printed_is_said(marked, fleet):
    lines = [
        line for line in " ".join(marked[1].split("\n\n")).splitlines() if re.search("[A-Za-z]{3}", line)
    ]
    assert OPEN in lines[0] and any("What if" in line and OPEN in line for line in lines)


def test_calendar_and_tracks_are_said(marked):
    folder = marked[0]
    events = icalendar.Calendar.from_ical((folder / "fleet.route.ics").read_bytes()).walk("VEVENT")
    assert events and all(OPEN in str(event["DESCRIPTION"]) for event in events)
    points = [
        p for r in gpxpy.parse((folder / "fleet.route.gpx").read_text("utf-8")).routes for p in r.points
    ]
    assert points and all(OPEN in point.description for point in points)
    features = json.loads((folder / "fleet.route.geojson").read_text("utf-8"))["features"]
    told = [one["properties"].get("note") or one["properties"].get("reason") for one in features]
    assert all(OPEN in text for text in told if text) and any(told)


def test_the_stop_sheet_in_spanish_holds_steps_cautions_and_boxes(spanish):
    page = (spanish / "fleet.route.stops.html").read_text(encoding="utf-8")
    days = page.count('<table class="sheet">')
    assert days
    for words in (
        "Aísle el equipo con la derivación (bypass), corte su corriente y libere la presión",
        "lubricante aprobado para agua potable",
        "flechas del cuerpo",
        "entre dos personas",
        "La hoja del fabricante y la norma local van antes que todo esto",
        "desconecte antes de trabajar",
        "mascarilla",
    ):
        assert page.count(words) == days, words
    assert "Fecha de la visita" in page and "Caudal que confirmar con cubeta y reloj: de " in page
    assert re.search(r"<h1>Crew [AB], (lunes|martes|miércoles) \d\d/\d\d/2026</h1>", page)


def test_days_on_the_pages_are_written_as_the_reader_writes_them(spanish):
    for ending in ("html", "loads.html", "stops.html"):
        page = (spanish / f"fleet.route.{ending}").read_text(encoding="utf-8")
        assert "30/11/2026" in page and not re.search(r"20\d\d-\d\d-\d\d", page), ending


def test_what_programs_read_keeps_its_words(spanish):
    plan = json.loads((spanish / "plan.json").read_text(encoding="utf-8"))
    assert plan["method"] in ("solver plan", "greedy plan") and plan["as_of"] == "2026-11-28"
    left = {item["kind"]: item["reason"] for item in plan["left_out"]}
    assert left[NO_PLACE].startswith("Nadie sabe dónde está: sin latitud ni longitud.")
    head = (spanish / "fleet.route.csv").read_text(encoding="utf-8").splitlines()[0]
    assert head.startswith("date,crew,order,visit_id")
    assert not re.search(r"\d\d/\d\d/\d{4}", (spanish / "fleet.route.csv").read_text(encoding="utf-8"))


def test_the_settings_sheet_chooses_the_language(tmp_path):
    def choose(book):
        sheet = book.create_sheet("Settings")
        for row in (("Setting", "Value"), ("language", "es"), ("dates", "dotted")):
            sheet.append(row)

    source = write_workbook(tmp_path / "fleet.xlsx", extra=choose)
    said = run(source, "-o", tmp_path / "out", *DAY)
    assert "Escrito:" in said.output and "30.11.2026" in said.output
    other = run(source, "-o", tmp_path / "out", *DAY, "--language", "en", "--dates", "iso", "--force")
    assert "Written:" in other.output and "2026-11-30" in other.output


@pytest.mark.parametrize("spoken", ["en", "es"])
@pytest.mark.parametrize(
    ("word", "day_kept", "crew_kept"),
    [
        ("day", True, False), ("día", True, False), ("Dia", True, False), ("fecha", True, False),
        ("crew", False, True), ("cuadrilla", False, True),
        ("both", True, True), ("Ambos", True, True), ("sí", True, True), ("x", True, True),
    ],
)  # fmt: skip
def test_a_lock_is_obeyed_in_either_language(spanish, tmp_path, spoken, word, day_kept, crew_kept):
    path = tmp_path / "next.xlsx"
    book = openpyxl.load_workbook(spanish / "fleet.route.xlsx")
    page = book["Route"]
    page["B2"], page["D2"] = dt.date(2026, 12, 2), word
    book.save(path)
    with language.spoken(spoken):
        lock = read_last_plan(open_workbook(path), load()).locks[page["A2"].value]
    assert (lock.day is not None, bool(lock.crew)) == (day_kept, crew_kept)


def test_a_lock_comes_back_in_the_language_of_the_run(spanish, tmp_path):
    book = openpyxl.load_workbook(spanish / "fleet.route.xlsx")
    page = book["Route"]
    first = page["A2"].value
    page["D2"], page["E2"] = "day", "confirmada por teléfono"
    source = tmp_path / "fleet.route.xlsx"
    book.save(source)
    run(source, "-o", tmp_path / "es", *DAY, *SPANISH)
    made = next((tmp_path / "es").glob("*.route.*.xlsx"))
    rows = list(openpyxl.load_workbook(made)["Route"].iter_rows(min_row=2, values_only=True))
    row = next(row for row in rows if row[0] == first)
    assert row[1] == page["B2"].value and row[3:5] == ("día", "confirmada por teléfono")
    events = icalendar.Calendar.from_ical(next((tmp_path / "es").glob("*.ics")).read_bytes()).walk("VEVENT")
    assert {str(e["UID"]): str(e["STATUS"]) for e in events}[f"{first}@fleetaudit"] == "CONFIRMED"


@pytest.mark.parametrize("text", ["sin confirmar", "not confirmed", "sigue por acordar"])
def test_an_appointment_that_is_not_agreed_is_no_promise(spanish, tmp_path, text):
    path = tmp_path / "next.xlsx"
    book = openpyxl.load_workbook(spanish / "fleet.route.xlsx")
    book["Route"]["E2"] = text
    book.save(path)
    promise = read_last_plan(open_workbook(path), load()).promises[book["Route"]["A2"].value]
    assert not promise.confirmed
