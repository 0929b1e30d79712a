"""An audit of a dataset speaks the language asked for, wherever its files are read."""

from __future__ import annotations

import re
import threading
from pathlib import Path

import pytest
from pyarrow import parquet

from fleetaudit import language
from fleetaudit.cli.main import main
from fleetaudit.scale import job as work
from fleetaudit.scale import pieces
from fleetaudit.scale.job import Answer, Task
from fleetaudit.scale.run import Wish, plan
from fleetaudit.scale.totals import Totals
from tests.make_texts import extracted
from tests.scale.one_fleet import AS_OF, as_parquet, made
from tests.unsaid import CLOSE, OPEN, TYPED, unsaid


@pytest.fixture(scope="module")
def units(tmp_path_factory) -> Path:
    return as_parquet(tmp_path_factory.mktemp("language") / "units", made(120), 3)


def audited(units: Path, out: Path, capsys: pytest.CaptureFixture[str], *more: str) -> tuple[str, str]:
    """The page and what was printed."""
    with pytest.raises(SystemExit) as left:
        main(["audit", str(units), "-o", str(out), "--as-of", AS_OF.isoformat(), *more])
    shown, _ = capsys.readouterr()
    assert left.value.code == 0
    return (out / "units.summary.html").read_text(encoding="utf-8"), shown


def test_nothing_that_people_read_slips_past_the_language(units, tmp_path, capsys):
    words = {text: f"{OPEN}{text}{CLOSE}" for text in extracted()}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(language, "words_of", lambda code: words)
        page, shown = audited(units, tmp_path, capsys, "--language", "es", "--dates", "dotted")
    assert '<html lang="es">' in page and "01.11.2026" in page
    own = {piece.name for piece in pieces.find(units)} | TYPED | {"units"}
    cells = [str(cell) for column in made(120).values() for cell in column]
    found = [text for text in unsaid(page, own) if text not in cells]
    assert not [text for text in found if not re.fullmatch(r"part-\d+\.parquet, \d+", text)]
    assert f"{OPEN}Written:{CLOSE}" in shown and f"as of 01.11.2026{CLOSE}" in shown


def test_programs_find_the_same_words_in_every_language(units, tmp_path, capsys):
    page, shown = audited(units, tmp_path / "es", capsys, "--language", "es")
    assert "Cómo está la flota" in page and "Escrito:" in shown and max(map(len, shown.splitlines())) <= 200
    audited(units, tmp_path / "en", capsys)
    tables = [
        [
            parquet.read_table(tmp_path / code / "units.audited" / name).to_pydict()
            for name in ("units", "findings", "problems")
        ]
        for code in ("es", "en")
    ]
    for spanish, english in zip(*tables, strict=True):
        for key in ("verdict", "check", "tier", "confidence", "level", "kind", "cost_year_mid"):
            assert spanish.get(key) == english.get(key)
    assert tables[0][1]["message"] != tables[1][1]["message"]
    totals = [(tmp_path / code / "units.audited" / "summary.json").read_bytes() for code in ("es", "en")]
    assert totals[0] == totals[1]


def test_a_worker_speaks_the_language_of_the_job(units, tmp_path):
    """A task runs where nobody has said a language: in another thread, or on another machine."""
    files = pieces.find(units)
    job, _ = plan(Wish(units, AS_OF, folder=tmp_path, language="es"), files)
    answers: list[Answer] = []
    for folder in ("units", "findings", "not_checked", "problems", "counts"):
        (Path(job.folder) / folder).mkdir(parents=True)
    worker = threading.Thread(target=lambda: answers.append(work.audit_file(Task(0, files[0]), job)))
    worker.start()
    worker.join()
    assert not answers[0].trouble
    totals = answers[0].value
    assert isinstance(totals, Totals)
    assert any("lecho" in one.message or "limitador" in one.message for one in totals.first)


def test_what_stands_in_the_way_is_said_in_the_language_too(tmp_path, capsys):
    with pytest.raises(SystemExit):
        main(["audit", str(tmp_path / "none.parquet"), "--language", "es"])
    assert "No existe el archivo o la carpeta" in capsys.readouterr().err
