"""Letters to customers: who gets one, what it says and in which words, the same in each language."""

from __future__ import annotations

import re
from datetime import date

import pytest
from msgspec.structs import replace
from pagetree import tree
from tests_report import HOSTILE, make_report

from fleetaudit.checks.registry import BY_SLUG
from fleetaudit.language import LANGUAGES, spoken
from fleetaudit.writing.letters import dated, texts, write_letters
from fleetaudit.writing.letters import letters as written_letters

#: words of the trade and words that blame, which have no place in a letter to a customer
JARGON = re.compile(
    r"\b(restrictor|dlfc|gpm|freeboard|expansion|housing|fault\w*|wrongly|mistake\w*|fail\w*|blame\w*|negligen\w*|"
    r"error\w*|invalid|culpa\w*|fallo\w*|caudal[ií]metro)\b",
    re.IGNORECASE,
)


def texts_in(language):
    with spoken(language):
        return texts()


def letters(report, language):
    with spoken(language):
        return list(written_letters(report))


def words(node) -> str:
    return re.sub(r"\s+", " ", node.text)


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_check_is_either_told_or_kept_to_ourselves(language):
    texts = texts_in(language)
    assert {*texts["found"]} | {*texts["internal"]} == {*BY_SLUG}
    assert not {*texts["found"]} & {*texts["internal"]}


def test_languages_hold_the_same_texts_with_the_same_holes():
    def holes(value):
        if isinstance(value, dict):
            return {key: holes(text) for key, text in value.items()}
        if isinstance(value, list):
            return len(value)
        return sorted(re.findall(r"{\w+}", value))

    first, *others = (holes(texts_in(language)) for language in LANGUAGES)
    assert all(other == first for other in others)
    spanish, english = texts_in("es")["found"], texts_in("en")["found"]
    assert not [key for key in english if spanish[key] == english[key]], "nothing is left untranslated"


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_jargon_and_no_blame(language):
    texts = texts_in(language)
    said = [*texts["found"].values(), *texts["cautions"], texts["intro"], texts["closing"], texts["next"]]
    assert not [text for text in said if JARGON.search(text)]


@pytest.mark.parametrize(
    ("language", "written"), [("en", "25 November 2026"), ("es", "25 de noviembre de 2026")]
)
def test_dates_are_written_as_the_language_does(language, written):
    assert dated(date(2026, 11, 25), texts_in(language)) == written


def test_a_letter_for_each_account_with_something_to_tell(report):
    told = {letter.name: words(tree(letter.page)) for letter in letters(report, "en")}
    # accounts of three units each: the sixth of nine units and those after it give no reason
    assert set(told) == {f"invented-account-{n:03d}.html" for n in (0, 3, 6)}
    first = told["invented-account-000.html"]
    assert all(f"Filter U-000{n}" in first for n in (0, 1, 2)) and "soon for this one" in first
    assert "U-0003" not in first and "0 Made-up Lane" in first and "under pressure" in first
    assert report.findings[0].message not in first and "gpm" not in first


def test_units_without_a_finding_are_counted_and_notes_are_not_told(report):
    report.units = [replace(unit, account="Invented Account") for unit in report.units[:9]]
    (letter,) = letters(report, "es")
    text = words(tree(letter.page))
    # three are told of, one was not checked, one not judged: of those two nothing may be said
    assert "Los demás filtros que atendemos para usted (4)" in text and "Filtro U-0000" in text
    assert tree(letter.page).get("lang") == "es"


def test_what_must_be_measured_first_is_said_to_be_open(report):
    report.findings = [replace(finding, confidence="measure-first") for finding in report.findings]
    page = words(tree(letters(report, "en")[0].page))
    assert "confirm this at the site" in page and "soon for this one" not in page


def test_names_alike_get_files_of_their_own(report):
    report.units = [
        replace(unit, account=("Caf\u00e9 A", "Cafe, A!", "\u6771\u4eac")[unit.index % 3])
        for unit in report.units
    ]
    assert sorted(letter.name for letter in letters(report, "en")) == [
        "account.html",
        "cafe-a-2.html",
        "cafe-a.html",
    ]


def test_writing_again_removes_only_our_own_old_letters(report, tmp_path):
    folder = tmp_path / "fleet.letters"
    assert write_letters(report, folder, force=False) == 3
    (folder / "mine.html").write_text("a page of the user", encoding="utf-8")
    report.findings = report.findings[:1]
    assert write_letters(report, folder, force=True) == 1
    assert sorted(path.name for path in folder.iterdir()) == ["invented-account-000.html", "mine.html"]


def test_hostile_text_stays_text(hostile):
    hostile.findings = [replace(finding, check="media-overdue") for finding in hostile.findings]
    (letter,) = letters(hostile, "en")
    root = tree(letter.page)
    assert not {"script", "img"} & {node.tag for node in root.walk()}
    assert "\u202e" not in letter.page and HOSTILE[:20] in root.text
    assert make_report(9).units[0].account not in root.text
