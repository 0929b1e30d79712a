"""Every workbook of the corpus is audited; nothing of it is lost, and what is known of it is read."""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import openpyxl
import pytest

from fleetaudit.audit_file import Request, audit_file
from fleetaudit.catalogue.shipped import load
from fleetaudit.reading.fleet import read_fleet
from fleetaudit.schema.column import Missing

from . import by_hand, by_libreoffice, by_openpyxl, by_xlsxwriter, comparison
from .case import ITEMS, MAKERS, Case
from .office import Office

DAY = dt.date(2026, 11, 1)
CORPUS: tuple[Case, ...] = (*by_openpyxl.CASES, *by_xlsxwriter.CASES, *by_hand.CASES, *by_libreoffice.CASES)
LEAST = 60

pytestmark = [
    pytest.mark.filterwarnings("ignore:.*extension is not supported:UserWarning"),
    pytest.mark.filterwarnings("ignore:.*no default style:UserWarning"),
]


@dataclass
class Done:
    """A workbook of the corpus with its results."""

    source: Path
    copy: Path
    said: tuple[str, ...]
    before: bytes


@pytest.fixture(scope="session")
def office(tmp_path_factory: pytest.TempPathFactory) -> Office:
    return Office(tmp_path_factory.mktemp("office"))


@pytest.fixture(scope="session")
def audit_of(office: Office, tmp_path_factory: pytest.TempPathFactory) -> Callable[[Case], Done]:
    """Build and audit a case; what was done once is kept."""

    @cache
    def audit(case_number: int) -> Done:
        case = CORPUS[case_number]
        stem = re.sub(r"[^a-z0-9]+", "-", case.name.lower())
        source = case.build(tmp_path_factory.mktemp("case") / f"{stem}{case.suffix}", office)
        before = source.read_bytes()
        written = audit_file(Request(source, DAY))
        return Done(source, written.paths[0], tuple(remark.text for remark in written.report.remarks), before)

    return lambda case: audit(CORPUS.index(case))


@pytest.fixture
def done(case: Case, audit_of: Callable[[Case], Done]) -> Done:
    return audit_of(case)


every = pytest.mark.parametrize("case", CORPUS, ids=lambda case: case.name)
#: what takes long is done for one case in so many, and for all of them in the slow run
ONE_IN = 7


def sampled(cases: Sequence[Case]) -> pytest.MarkDecorator:
    """Some of the cases in every run, the others in the slow one."""
    slow = [
        pytest.param(case, marks=pytest.mark.slow if number % ONE_IN else (), id=case.name)
        for number, case in enumerate(cases)
    ]
    return pytest.mark.parametrize("case", slow)


SPLICED = tuple(case for case in CORPUS if case.spliced)
spliced = pytest.mark.parametrize("case", SPLICED, ids=lambda case: case.name)


def test_the_corpus_is_large_and_leaves_nothing_out() -> None:
    assert len(CORPUS) >= LEAST
    assert len({case.name for case in CORPUS}) == len(CORPUS)
    assert {item for case in CORPUS for item in case.shows} == set(ITEMS)
    made = Counter(case.maker for case in CORPUS)
    assert all(made[maker] >= 10 for maker in MAKERS), made


@every
def test_what_is_known_of_it_is_read(case: Case, done: Done) -> None:
    fleet = read_fleet(done.source, load(), sheet=case.sheet or None)
    frame = fleet.frame
    assert frame.units == case.units
    unit_of = {int(row): unit for unit, row in enumerate(frame.rows)}
    for (row, key), value in case.reads.items():
        unit = unit_of[row]
        if value is None:
            column = next(name for name in frame.missing if key.startswith(name))
            assert frame.missing[column][unit] not in (Missing.KNOWN, Missing.BLANK), (row, key)
        elif isinstance(value, str):
            assert frame.texts[key][unit] == value, (row, key)
        else:
            assert frame.numbers[key][unit] == pytest.approx(value, rel=1e-9), (row, key)
    assert done.source.read_bytes() == done.before
    for words in case.told:
        assert any(words in text for text in done.said), done.said


@spliced
def test_parts_are_the_same_bytes_or_hold_all_they_held(case: Case, done: Done) -> None:
    assert comparison.lost_parts(done.source, done.copy, case.sheet) == []
    assert comparison.lost_elements(done.source, done.copy, case.sheet) == []


@spliced
def test_values_read_the_same(case: Case, done: Done) -> None:
    assert comparison.lost_values(done.source, done.copy) == []


@sampled(SPLICED)
def test_three_runs_give_one_result(case: Case, done: Done, tmp_path: Path) -> None:
    """The copy is the next month's master: same findings, same bytes, and a name with the day."""
    again = tmp_path / done.copy.name
    again.write_bytes(done.copy.read_bytes())
    first = audit_file(Request(again, DAY))
    dated = first.paths[0]
    assert dated.name == f"{done.source.stem}.audited.{DAY.isoformat()}{done.copy.suffix}"
    (tmp_path / "third").mkdir()
    second = audit_file(Request(dated, DAY, folder=tmp_path / "third"))
    before, after = (one.report.findings for one in (first, second))
    assert before == after and [unit.verdict for unit in first.report.units]
    old, new, third = (comparison.parts(path) for path in (again, dated, second.paths[0]))
    book, audited = comparison.book_part(old), comparison.sheet_part(old, case.sheet)
    ours = {
        comparison.sheet_part(new, name) for name in comparison.sheet_names(new) if name.startswith("Audit ")
    }
    assert {name for name in old if old[name] != new[name]} <= ours | {book}  # hidden names of our sheets
    assert {name for name in new if new[name] != third[name]} <= ours  # which say what file was read
    assert new.keys() == old.keys() == third.keys() and audited not in ours


@pytest.fixture(scope="session")
def opened(
    request: pytest.FixtureRequest,
    audit_of: Callable[[Case], Done],
    office: Office,
    tmp_path_factory: pytest.TempPathFactory,
) -> dict[str, Path]:
    """The copies that this run wants opened, read and saved by LibreOffice in one start."""
    folder = tmp_path_factory.mktemp("copies")
    wanted = [
        item.callspec.params["case"]
        for item in request.session.items
        if isinstance(item, pytest.Function) and item.originalname == "test_libreoffice_opens_the_result"
    ]
    named = {}
    for number, case in enumerate(wanted):
        copy = audit_of(case).copy
        named[case.name] = folder / f"{number}{copy.suffix}"
        named[case.name].write_bytes(copy.read_bytes())
    saved = office.convert(list(named.values()), "xlsx", "opened")
    return {name: saved[path] for name, path in named.items()}


@sampled(CORPUS)
def test_libreoffice_opens_the_result(case: Case, done: Done, opened: dict[str, Path]) -> None:
    theirs = openpyxl.load_workbook(opened[case.name], data_only=True)
    assert theirs.sheetnames == comparison.sheet_names(comparison.parts(done.copy))
    if not case.spliced:
        assert theirs.worksheets[0].max_row > 3
        return
    page, meant = theirs[case.sheet], comparison.filled(done.copy, case.sheet)
    headings = [cell.column for cell in page[case.heading_row] if str(cell.value).startswith("Audit: ")]
    assert len(headings) >= 12
    for row in range(case.heading_row, case.heading_row + case.units + 1):
        for column in (1, *headings):
            seen, ours = page.cell(row, column).value, meant.get((row, column))
            assert seen == (pytest.approx(ours) if isinstance(ours, float) else ours), (row, column)
