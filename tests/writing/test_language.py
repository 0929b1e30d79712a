"""Every text is there in every language, with the same holes, and nothing people read slips past it."""

from __future__ import annotations

import html
import io
import re
from datetime import date
from pathlib import Path
from string import Formatter

import pytest
import python_calamine
import xlsxwriter

from fleetaudit import assets, language
from fleetaudit.assets import read_bytes, read_text
from fleetaudit.audit_file import Request, audit_file, audit_files
from fleetaudit.checks.registry import CHECKS
from fleetaudit.cli.main import main
from fleetaudit.language import LANGUAGES, dated, later, read_entries, say, several, spoken, told, words_of
from fleetaudit.writing.wording import NUMBER_WORDS
from tests.make_texts import extracted
from tests.unsaid import CLOSE, OPEN, TYPED, unsaid, words_of_workbook

OTHERS = tuple(code for code in LANGUAGES if code != language.ENGLISH)
AS_OF = date(2026, 11, 1)


@pytest.fixture(scope="module")
def english() -> dict[str, list[str]]:
    return extracted()


def holes(text: str) -> list[str]:
    return sorted({f"{name}:{spec}" for _, name, spec, _ in Formatter().parse(text) if name is not None})


@pytest.mark.parametrize("code", OTHERS)
def test_every_text_is_said_with_the_same_holes_and_no_other_is_kept(english, code):
    words = words_of(code)
    assert not [text for text in english if text not in words], "run python -m tests.make_texts and translate"
    assert not [text for text in words if text not in english], "run python -m tests.make_texts"
    assert not [text for text, other in words.items() if holes(text) != holes(other)]
    assert not [text for text, other in words.items() if text.strip() == text and other.strip() != other]


@pytest.mark.parametrize("code", OTHERS)
def test_the_file_is_what_translators_tools_take_it_for(code):
    """Read by Babel, a general library for such files."""
    from babel.messages.pofile import read_po  # noqa: PLC0415 - a development package

    text = read_text(f"data/texts.{code}.po")
    catalog = read_po(io.BytesIO(text.encode()), locale=code)
    assert {entry.id: entry.string for entry in catalog if entry.id and entry.string} == read_entries(text)


def test_every_number_a_check_quotes_has_words():
    assert not [(check.slug, name) for check in CHECKS for name in check.numbers if name not in NUMBER_WORDS]


def test_english_reads_no_file(monkeypatch):
    monkeypatch.setattr(assets, "prepared", None)
    with spoken("en"):
        assert several(2, "1 unit", "{count:,} units") == "2 units"


def test_a_text_of_the_user_is_never_taken_for_a_pattern():
    with told({"{cell} holds {raw}": "{cell} trae {raw}"}, "es"):
        assert say("{cell} holds {raw}", cell="A1", raw="{cell} 100 %") == "A1 trae {cell} 100 %"
        assert say("50 {percent") == "50 {percent"


def test_what_code_looks_at_stays_english_until_it_is_said():
    problem = later("could be {one} or {other}", one="1.5", other="15")
    assert problem == "could be 1.5 or 15"
    with told({"could be {one} or {other}": "podría ser {one} o {other}"}, "es"):
        assert problem.startswith("could be") and say(problem) == "podría ser 1.5 o 15"
    assert say(problem) == "could be 1.5 or 15"


@pytest.mark.parametrize(
    ("style", "written"),
    [
        ("iso", "2026-11-05"),
        ("month-first", "11/05/2026"),
        ("day-first", "05/11/2026"),
        ("dotted", "05.11.2026"),
    ],
)
def test_days_are_written_in_the_style_of_the_reader(style, written):
    with spoken("en", style):
        assert dated(date(2026, 11, 5)) == written
    assert dated(date(2026, 11, 5)) == "2026-11-05"


@pytest.fixture(scope="module")
def marked(tmp_path_factory, english) -> Path:
    """Results of the sample in a language that marks every text."""
    folder = tmp_path_factory.mktemp("marked")
    fleet = folder / "fleet.xlsx"
    fleet.write_bytes(read_bytes("data/sample_fleet.xlsx"))
    words = {text: f"{OPEN}{text}{CLOSE}" for text in english}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(language, "words_of", lambda code: words)
        audit_file(Request(fleet, AS_OF, owner_page=True, letters=True, language="es", dates="dotted"))
    return folder


def test_the_page_over_several_workbooks_is_said_too(tmp_path, english):
    words = {text: f"{OPEN}{text}{CLOSE}" for text in english}
    fleets = [tmp_path / "isle north.xlsx", tmp_path / "isle south.xlsx"]
    for fleet in fleets:
        fleet.write_bytes(read_bytes("data/sample_fleet.xlsx"))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(language, "words_of", lambda code: words)
        done = audit_files([Request(fleet, AS_OF, language="es", dates="dotted") for fleet in fleets])
    assert not done.troubles
    page = done.page.read_text(encoding="utf-8")
    assert '<html lang="es">' in page and "01.11.2026" in page
    assert not unsaid(page, words_of_workbook(fleets[0]) | {fleet.name for fleet in fleets})


def test_nothing_that_people_read_on_the_pages_slips_past_the_language(marked):
    own = words_of_workbook(marked / "fleet.xlsx") | {"fleet.xlsx"}
    pages = [marked / "fleet.owner.html", *sorted((marked / "fleet.letters").glob("*.html"))]
    for page in pages:
        assert not unsaid(page.read_text(encoding="utf-8"), own), page.name
    summary = (marked / "fleet.summary.html").read_text(encoding="utf-8")
    # figures in force stand in the words they are typed in, and sources in their own
    before = summary[: summary.index('id="basis"')]
    assert not [text for text in unsaid(before, own) if not re.search(r'^"[^"]*"(, "[^"]*")*$', text)]


UNITS_EXPLAINED = ("row 8", "row 9", "row 10", "row 14", "row 23", "row 31")


@pytest.mark.parametrize("unit", UNITS_EXPLAINED)
def test_nothing_slips_past_the_language_where_a_unit_is_explained(unit, tmp_path, english, capsys):
    fleet, page = tmp_path / "fleet.xlsx", tmp_path / "unit.html"
    fleet.write_bytes(read_bytes("data/sample_fleet.xlsx"))
    words = {text: f"{OPEN}{text}{CLOSE}" for text in english}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(language, "words_of", lambda code: words)
        asked = ["--language", "es", "--dates", "dotted", "--as-of", "2026-11-01", "--html", str(page)]
        with pytest.raises(SystemExit) as left:
            main(["explain", str(fleet), unit, *asked])
    out, _ = capsys.readouterr()
    assert left.value.code == 0
    text = page.read_text(encoding="utf-8")
    headings = {html.unescape(heading) for heading in re.findall("<h1>(.*?)</h1>", text)}
    own = words_of_workbook(fleet) | headings | {"fleet.xlsx"}
    assert '<html lang="es">' in text
    # sources are cited in their own words
    assert not unsaid(re.sub(r"<small>.*?</small>", "", text), own)
    for title in ("Cells", "Working", "Limits", "What would change it", "Before anybody acts on it"):
        assert f"{OPEN}{title}{CLOSE}" in out
    assert f"{OPEN}Verdict: " in out


def test_nothing_slips_past_the_language_where_one_vessel_is_sized(english, capsys):
    words = {text: f"{OPEN}{text}{CLOSE}" for text in english}
    vessel = ["--vessel", "13x54", "--restrictor", "5gpm", "--freeboard", "10in", "--language", "es"]
    for medium in ("filter sand", "activated carbon", "multi-media"):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(language, "words_of", lambda code: words)
            with pytest.raises(SystemExit):
                main(["size", "--media", medium, *vessel])
        out, err = capsys.readouterr()
        answer, _, sources = out.partition(f"{OPEN}Sources:{CLOSE}")
        assert sources and not err
        left = re.sub(rf"\b({'|'.join(TYPED)})\b", "", " ".join(answer.split()))
        assert not unsaid(f"<p>{html.escape(left)}</p>", set())


def test_the_page_names_its_language_and_days(tmp_path):
    fleet = tmp_path / "fleet.xlsx"
    fleet.write_bytes(read_bytes("data/sample_fleet.xlsx"))
    written = audit_file(Request(fleet, AS_OF, language="es", dates="day-first", json_wanted=True))
    page = written.summary_path.read_text(encoding="utf-8")
    assert '<html lang="es">' in page and "01/11/2026" in page and "2026-11-01" not in page
    # what programs read keeps its keys, words of choice and days
    assert '"verdict": "now"' in written.json_text and '"as_of": "2026-11-01"' in written.json_text
    assert not re.search(r'"\d\d/\d\d/\d{4}"', written.json_text)


def test_the_settings_sheet_chooses_language_and_days(tmp_path):
    fleet = tmp_path / "fleet.xlsx"
    with xlsxwriter.Workbook(str(fleet)) as book:
        units, settings = book.add_worksheet("Units"), book.add_worksheet("Settings")
        units.write_row(0, 0, ["Unit", "Account", "Tank size", "Media", "DLFC (gpm)"])
        units.write_row(1, 0, ["U-1", "Invented Account", "10x54", "filter sand", 99999])
        for row, line in enumerate([("Setting", "Value"), ("language", "es"), ("dates", "dotted")]):
            settings.write_row(row, 0, line)
    written = audit_file(Request(fleet, AS_OF))
    page = written.summary_path.read_text(encoding="utf-8")
    assert '<html lang="es">' in page and "01.11.2026" in page
    assert (written.language, written.dates) == ("es", "dotted")
    # an option goes before the sheet
    other = audit_file(Request(fleet, AS_OF, language="en", dates="iso", force=True))
    page = other.summary_path.read_text(encoding="utf-8")
    assert '<html lang="en">' in page and "2026-11-01" in page


def test_a_copy_in_another_language_is_audited_and_compared_again(tmp_path, capsys):
    """What later runs look for in a copy is the same in every language: headings, sheets, the day."""
    fleet = tmp_path / "fleet.xlsx"
    fleet.write_bytes(read_bytes("data/sample_fleet.xlsx"))
    first = audit_file(Request(fleet, AS_OF, language="es", dates="dotted"))
    again = audit_file(Request(first.paths[0], date(2026, 11, 2), language="es", dates="dotted"))
    sheets = [
        python_calamine.CalamineWorkbook.from_path(str(path)) for path in (first.paths[0], again.paths[0])
    ]
    assert sheets[0].sheet_names == sheets[1].sheet_names
    headings = [book.get_sheet_by_name("Water rooms").to_python()[5] for book in sheets]
    assert headings[0] == headings[1] and sum(str(text).startswith("Audit: ") for text in headings[0]) > 5
    assert first.report.by_verdict == again.report.by_verdict
    with pytest.raises(SystemExit) as left:
        main(["compare", str(first.paths[0]), str(again.paths[0])])
    out, err = capsys.readouterr()
    assert left.value.code == 0 and "2026-11-01" in out and "2026-11-02" in out and not err
