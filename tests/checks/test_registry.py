"""What every check owes: a slug that is its file's name, sentences whose holes are filled, a reason, a fix, a
source."""

from __future__ import annotations

import ast
import math
import re
from functools import cache
from pathlib import Path

import pytest

from fleetaudit.auditing.run import audit
from fleetaudit.catalogue.kinds import BY_KEY
from fleetaudit.catalogue.shipped import load
from fleetaudit.checks.check import Check, Outcome
from fleetaudit.checks.registry import BY_SLUG, CHECKS
from fleetaudit.facts.fact import Fact
from fleetaudit.schema import fleet
from tests.checks.test_cases import AS_OF, CASES, FILES, audited
from tests.frames import frame_of

FOLDER = Path(__file__).resolve().parents[2] / "fleetaudit" / "checks"
NO_CHECKS = {"__init__", "check", "registry"}
FILES_OF_CHECKS = {path.stem for path in FOLDER.glob("*.py")} - NO_CHECKS
HOLE = re.compile(r"\{(\w+)\}")
#: holes that are filled for every finding: the name of the medium, and the cell a finding about a cell points
#: at
ALWAYS = {"medium"}
OF_A_CELL = {"column", "raw"}


@cache
def outcomes() -> dict[str, Outcome]:
    """Outcome of every check on a row; its words do not depend on what stands in the row."""
    result = audit(frame_of([{"unit_id": "U-1", "vessel_diameter": "10 in"}], load()), load(), AS_OF)
    return {item.check.slug: item.outcome for item in result.checks}


def test_every_file_is_registered_once_and_nothing_else_is() -> None:
    assert [check.slug.replace("-", "_") for check in CHECKS] == [
        check.run.__module__.rsplit(".", 1)[-1] for check in CHECKS
    ]
    assert {check.slug.replace("-", "_") for check in CHECKS} == FILES_OF_CHECKS
    assert len(BY_SLUG) == len(CHECKS)


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.slug)
def test_slug_is_lower_case_words_with_hyphens(check: Check) -> None:
    assert re.fullmatch(r"[a-z]+(-[a-z]+)+", check.slug)


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.slug)
def test_every_hole_is_filled(check: Check) -> None:
    outcome = outcomes()[check.slug]
    filled = set(check.numbers) | set(outcome.words) | ALWAYS
    if outcome.cell is not None:
        filled |= OF_A_CELL
    sentences = [check.message, check.why, check.fix, check.caution]
    sentences += [one for words in outcome.words.values() for phrase in words.phrases for one in phrase]
    holes = {hole for sentence in sentences for hole in HOLE.findall(sentence)}
    assert holes <= filled, f"nothing fills {holes - filled}"


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.slug)
def test_numbers_declared_are_the_numbers_given(check: Check) -> None:
    assert set(outcomes()[check.slug].numbers) == set(check.numbers)


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.slug)
def test_sentences_are_sentences(check: Check) -> None:
    assert check.title[:1].isupper() and not check.title.endswith(".")
    for sentence in (check.message, check.why):
        assert len(sentence.split()) >= 2 or HOLE.search(sentence)
        assert sentence.endswith(".")
    assert check.fix.strip()
    assert check.fix.endswith((".", "}")), "a sentence, or a hole that holds one"
    for words in outcomes()[check.slug].words.values():
        assert len(words.phrases) >= 2 or not any(words.phrases), "one phrase would not need choosing"


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.slug)
def test_needs_are_columns_of_the_schema(check: Check) -> None:
    assert all(column in fleet.COLUMNS for column in check.needs)
    assert check.needs or outcomes()[check.slug].cell is not None, "a finding has a cell to point at"


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.slug)
def test_every_check_names_where_its_limit_comes_from(check: Check) -> None:
    assert check.source.strip() or check.figures
    assert set(check.figures) <= set(BY_KEY), "figures of the catalogue, each with its source"


@pytest.mark.parametrize("name", sorted(FILES_OF_CHECKS))
def test_a_check_imports_no_other_check(name: str) -> None:
    tree = ast.parse((FOLDER / f"{name}.py").read_text(encoding="utf-8"))
    imported = {
        module
        for node in ast.walk(tree)
        for module in (
            [alias.name for alias in node.names]
            if isinstance(node, ast.Import)
            else [node.module or ""]
            if isinstance(node, ast.ImportFrom)
            else []
        )
    }
    assert not {module for module in imported if module.startswith("fleetaudit.checks.")} - {
        "fleetaudit.checks.check"
    }
    assert not any(isinstance(node, ast.ImportFrom) and node.level for node in ast.walk(tree)), (
        "no relative import"
    )


def test_core_checks_are_the_ones_that_decide_whether_a_unit_was_checked() -> None:
    core = {check.slug for check in CHECKS if check.core}
    assert core == {"restrictor-too-small", "restrictor-too-large", "housing-too-small", "media-overdue"}


@pytest.mark.parametrize(
    ("slug", "case"),
    [(slug, case) for slug, case in CASES if case["expect"] == "found"],
    ids=[f"{slug}: {case['name']}" for slug, case in CASES if case["expect"] == "found"],
)
def test_the_phrase_chosen_quotes_numbers_that_are_known(slug: str, case: dict[str, str]) -> None:
    item = next(item for item in audited(FILES[slug], case).checks if item.check.slug == slug)
    chosen = {name: words.of(0) for name, words in item.outcome.words.items()}
    for sentence in (item.check.message, item.check.why, item.check.fix):
        text = sentence
        for _ in range(2):
            text = HOLE.sub(lambda hole: chosen.get(hole[1], hole[0]), text)
        for name in HOLE.findall(text):
            if name in item.outcome.numbers:
                held = item.outcome.numbers[name]
                value = float((held.value if isinstance(held, Fact) else held)[0])
                assert not math.isnan(value), f"{name} is not known, yet the sentence quotes it: {text}"
