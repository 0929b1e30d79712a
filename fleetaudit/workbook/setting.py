"""Set single cells of a copy of a workbook; every other byte of its sheets stays as it was."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from types import MappingProxyType

from fleetaudit.language import say, several
from fleetaudit.workbook.archive import Limits, zip_chunks
from fleetaudit.workbook.atomic import write_atomic
from fleetaudit.workbook.cell_values import Values, cell_markups, write_cells
from fleetaudit.workbook.container import Kind, read_bytes, sniff_bytes
from fleetaudit.workbook.dependents import stale_formulas
from fleetaudit.workbook.job import CannotSplice, Column, Job
from fleetaudit.workbook.list_sheet import annotate_list
from fleetaudit.workbook.markup import NotWellFormed
from fleetaudit.workbook.opened import Opened
from fleetaudit.workbook.place import Range, parse_range
from fleetaudit.workbook.sheetedit import SheetEdit, cell_at
from fleetaudit.workbook.sheets import Sheet
from fleetaudit.workbook.splice import add_sheets, check_target, members, styles_of
from fleetaudit.workbook.structure import is_signed, why_not_spliced

_NO_PREFIX_OF_OURS = "\0"
_STALE_NAMED = 5
_SPANNING = re.compile(rb"<(?:\w+:)?f\s[^>]*\bt=[\"'](?:array|dataTable)[\"'][^>]*>")
_REF = re.compile(rb"\bref=[\"']([^\"']*)[\"']")


def set_values(
    source: Path,
    target: Path,
    sheet: str,
    values: Values,
    *,
    heading_row: int = 0,
    rows: Sequence[int] = (),
    columns: Sequence[Column] = (),
    also: Mapping[str, Values] = MappingProxyType({}),
    sheets: Sequence[Sheet] = (),
    force: bool = False,
    limits: Limits | None = None,
) -> list[str]:
    """Write a copy of a workbook in which cells of a sheet, (row, column) counted from 1, hold new values.

    `columns` are added at the right end of the list under `heading_row`, one value for each of `rows`; `also`
    sets cells of other sheets, `sheets` are added behind all others. The source is never written. Formulas
    are not worked out again: what is given back says which of them show results from before.
    """
    source, target = Path(source), Path(target)
    data = read_bytes(source, limits)
    opened = _opened(source, data, limits)
    package, structure = opened.package, opened.structure
    with package:
        check_target(source, target, sniff_bytes(source, data, limits), force=force)
        entry = structure.sheet(sheet, source.name)
        job = Job(
            opened,
            entry,
            heading_row,
            rows,
            columns,
            (),
            _NO_PREFIX_OF_OURS,
            styles_of(package, structure),
        )
        try:
            if columns:
                edit = SheetEdit(opened.sheet(entry.part)[1])
                job.cells = cell_markups(job, edit, entry, values, heading_row + 1)
                widened = annotate_list(job)
            else:
                write_cells(job, entry, values, heading_row + 1)
                widened = None
            for name, others in also.items():
                write_cells(job, structure.sheet(name, source.name), others)
            added = add_sheets(job, sheets, (), widened)
            stale = stale_formulas(
                package, structure, {sheet: list(values), **{n: list(v) for n, v in also.items()}}
            )
        except (NotWellFormed, UnicodeDecodeError) as error:
            raise package.damaged(f'sheet "{sheet}": {error}') from error
        job.remarks += _stale_said(stale)
        if is_signed(structure):
            job.remarks.append(
                say(
                    "{name} carries a digital signature; the signature of the copy is invalid.",
                    name=source.name,
                )
            )
        write_atomic(target, zip_chunks(members(job, added)), mode_from=source, force=force)
    return job.remarks


def why_not_set(
    source: Path, sheet: str, cells: Iterable[tuple[int, int]], limits: Limits | None = None
) -> dict[tuple[int, int], str]:
    """Reasons for which cells must not be set: they hold a formula, or show what another cell holds."""
    source = Path(source)
    found: dict[tuple[int, int], str] = {}
    opened = _opened(source, read_bytes(source, limits), limits)
    with opened.package as package:
        entry = opened.structure.sheet(sheet, source.name)
        try:
            _, part = opened.sheet(entry.part)
            edit = SheetEdit(part)
        except (NotWellFormed, UnicodeDecodeError) as error:
            raise package.damaged(f'sheet "{sheet}": {error}') from error
        spans, merges = _spans(part.data), _merges(edit)
        for place in cells:
            row, column = place
            there = cell_at(edit.row(row), column)
            if there is not None and there.has_formula:
                found[place] = say("it holds a formula")
            elif any(place in span for span in spans):
                found[place] = say("it is part of the result of a formula")
            else:
                merge = next((merge for merge in merges if place in merge), None)
                if merge is not None and merge.first_row != merge.last_row:
                    found[place] = say("it is merged with others ({cells})", cells=merge)
                elif merge is not None and column != merge.first_column:
                    found[place] = say("it is hidden behind the merged cell {cells}", cells=merge)
    return found


def _opened(source: Path, data: bytes, limits: Limits | None) -> Opened:
    kind = sniff_bytes(source, data, limits)
    if kind not in (Kind.XLSX, Kind.XLSM):
        raise CannotSplice(
            say(
                "{name} is of the kind {kind}, which can be read but not written to. Save it as .xlsx first.",
                name=source.name,
                kind=kind.value,
            )
        )
    opened = Opened.of(data, limits, source.name)
    why_not = why_not_spliced(opened.package)
    if why_not is not None:
        raise CannotSplice(
            say("{name} can be read but not written to: {why}.", name=source.name, why=why_not)
        )
    return opened


def _spans(data: bytes) -> list[Range]:
    """Ranges that one formula fills: array formulas and data tables."""
    refs = [_REF.search(match[0]) for match in _SPANNING.finditer(data)]
    ranges = [parse_range(ref[1].decode("utf-8", "replace")) for ref in refs if ref is not None]
    return [cells for cells in ranges if cells is not None]


def _merges(edit: SheetEdit) -> list[Range]:
    parent = edit.root.find("mergeCells")
    ranges = [parse_range(merge.attributes.get("ref", "")) for merge in parent.children] if parent else []
    return [cells for cells in ranges if cells is not None]


def _stale_said(stale: Sequence[str]) -> list[str]:
    if not stale:
        return []
    cells = ", ".join(stale[:_STALE_NAMED])
    if len(stale) > _STALE_NAMED:
        cells += " " + say("and {count:,} more", count=len(stale) - _STALE_NAMED)
    return [
        several(
            len(stale),
            "1 formula shows a result from before the changes: {cells}. Open the copy in your spreadsheet "
            "program and save it before anything reads it.",
            "{count} formulas show a result from before the changes: {cells}. Open the copy in your "
            "spreadsheet program and save it before anything reads it.",
            cells=cells,
        )
    ]
