"""What became of one workbook: refused in a sentence, or annotated with nothing lost; all else is a fault."""

from __future__ import annotations

import re
import signal
import tempfile
import zipfile
from collections.abc import Collection, Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from types import FrameType

from fleetaudit.audit_file import Request, audit_file
from fleetaudit.catalogue.shipped import load
from fleetaudit.errors import FleetAuditError
from fleetaudit.reading.fleet import read_fleet
from fleetaudit.workbook.book import open_workbook
from fleetaudit.workbook.place import column_number
from fleetaudit.workbook.splice import CannotSplice, Column, Look, Sheet, annotate

CATALOGUE = load()
DAY = date(2026, 11, 1)
SECONDS = 20
REFUSED, KEPT_APART, ANNOTATED = "refused", "not annotated", "annotated"
LOOKS = [("Audit: verdict", [Look("plan", "F8CBAD", "7F1D1D")])]
_MAY_CHANGE = re.compile(r"Content_Types|workbook\.xml|styles\.xml|worksheets/|tables/")
_ROWS = re.compile(rb"<sheetData>(.*)</sheetData>", re.S)
_LETTERS = re.compile(rb'r="([A-Z]{1,3})[0-9]')
_CELL = re.compile(rb"<c [^<>]*?(?:/>|(?<!/)>.*?</c>)", re.S)


class Hang(Exception):
    """An example took longer than any honest answer would."""


@contextmanager
def limited() -> Iterator[None]:
    """Stop an example that hangs."""

    def ring(_signal: int, _frame: FrameType | None) -> None:
        raise Hang

    old = signal.signal(signal.SIGALRM, ring)
    signal.alarm(SECONDS)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, old)


def outcome(data: bytes, *, whole: bool = False) -> str:
    """Read and annotate a workbook given as bytes; `whole` runs the audit and its reports too."""
    with tempfile.TemporaryDirectory() as name, limited():
        source = Path(name) / "fleet.xlsx"
        source.write_bytes(data)
        try:
            copy = _whole(source) if whole else _annotated(source)
        except CannotSplice as refusal:
            assert refusal.message
            return KEPT_APART
        except FleetAuditError as refusal:
            assert refusal.message.strip() and "Traceback" not in refusal.message
            assert [path.name for path in Path(name).iterdir()] == ["fleet.xlsx"]
            assert source.read_bytes() == data
            return REFUSED
        assert source.read_bytes() == data
        if copy is None:
            return KEPT_APART
        _nothing_lost(source, copy)
    return ANNOTATED


def _annotated(source: Path) -> Path:
    fleet = read_fleet(source, CATALOGUE)
    copy, rows = source.with_name("copy.xlsx"), [int(row) for row in fleet.frame.rows]
    columns = [
        Column("Audit: verdict", ["plan" if row % 2 else "note" for row in rows]),
        Column("Audit: low", [row / 8 for row in rows], "0.0"),
    ]
    annotate(
        source, copy, sheet=fleet.sheet, heading_row=fleet.heading_row, rows=rows, columns=columns,
        looks=LOOKS, own_prefix="Audit: ", own_sheets=["Audit summary"],
        sheets=[Sheet("Audit summary", [["x", 1]])],
    )  # fmt: skip
    return copy


def _whole(source: Path) -> Path | None:
    written = audit_file(Request(source, DAY))
    copy = written.paths[0]
    said = " ".join(remark.text for remark in written.report.remarks)
    return None if "can be read but not annotated" in said or "are not in order" in said else copy


def _nothing_lost(source: Path, copy: Path) -> None:
    """Every part that an annotation has no business with is the same; the list reads the same and in order.

    Columns that bear a heading of ours already are replaced, so they are left out.
    """
    theirs, ours = open_workbook(source), open_workbook(copy)
    own: set[int] = set()
    for sheet in theirs.sheets:
        first, second = theirs.read(sheet.name), ours.read(sheet.name)
        for column, values in enumerate(first.columns):
            if any(isinstance(value, str) and value.startswith("Audit: ") for value in values):
                own.add(column + 1)
                continue
            others = second.columns[column]
            for row, value in enumerate(values):
                assert value is None or repr(value) == repr(others[row]), (sheet.name, row + 1, column + 1)
        if not own:
            assert first.errors.items() <= second.errors.items()
            assert first.unstored <= second.unstored
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(copy) as new:
        names = new.namelist()
        assert len(set(names)) == len(names)
        for info in old.infolist():
            before, after = old.read(info.filename), new.read(info.filename)
            if before == after:
                continue
            assert _MAY_CHANGE.search(info.filename), info.filename
            if "worksheets/sheet" in info.filename:
                _cells_kept(before, after, own)


def _cells_kept(before: bytes, after: bytes, own: Collection[int]) -> None:
    rows = _ROWS.search(before)
    place = 0
    for cell in _CELL.findall(rows[1] if rows else b""):
        letters = _LETTERS.search(cell)
        if own and (letters is None or column_number(letters[1].decode()) in own):
            continue
        found = after.find(cell, place)
        assert found >= 0, cell
        place = found + len(cell)
