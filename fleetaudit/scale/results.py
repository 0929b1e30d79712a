"""The results of one file as Parquet: a file for each table, which appears whole or not at all."""

from __future__ import annotations

import json
import os
import platform
import uuid
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import numpy as np
import pyarrow as pa
from pyarrow import parquet

from fleetaudit.auditing.result import AuditResult, CheckResult, State
from fleetaudit.errors import OutputError
from fleetaudit.facts.frame import Codes, Frame
from fleetaudit.language import say
from fleetaudit.ranking import yearly_cost
from fleetaudit.scale.totals import Totals, lines
from fleetaudit.schema import dataset, fleet
from fleetaudit.schema.column import Missing
from fleetaudit.schema.remark import Level, Remark
from fleetaudit.writing.report import Span
from fleetaudit.writing.unit_records import unit_columns
from fleetaudit.writing.wording import CONFIDENCES, LEFT_OUT, TIERS, Said, Speaker, Value

UNFINISHED = ".part"
TYPES = {
    dataset.TEXT: pa.string(),
    dataset.WORD: pa.dictionary(pa.int32(), pa.string()),
    dataset.WORDS: pa.list_(pa.string()),
    dataset.NUMBER: pa.float64(),
    dataset.WHOLE: pa.int64(),
    dataset.FLAG: pa.bool_(),
    dataset.DAY: pa.date32(),
}
SCHEMAS = {
    table: pa.schema([(name, TYPES[kind]) for name, kind in columns])
    for table, columns in dataset.TABLES.items()
}
LEVELS = {Level.STOP: "stopped", Level.SKIP: "not used", Level.WARN: "assumed", Level.INFO: "noted"}

Rows = list[dict[str, Any]]
Columns = Mapping[str, Sequence[Any]]


class Writer:
    """Writes the tables of one file of the dataset; renamed into place at the end, so never half there."""

    def __init__(self, folder: Path, number: int, file: str, system: str) -> None:
        self.folder, self.file, self.system = folder, file, system
        self.name = f"{number:06d}.parquet"
        self._open: dict[str, tuple[Any, Path]] = {}

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        for table, (writer, path) in self._open.items():
            writer.close()
            if kind is None:
                os.replace(path, self.folder / table / self.name)  # noqa: PTH105 - the same call as for workbooks
            else:
                path.unlink(missing_ok=True)

    def add(self, result: AuditResult, remarks: Sequence[Remark]) -> Columns:
        """Write the rows of one audited block; gives the columns of its findings."""
        speaker = Speaker(result, self.system, worked_out=False)
        place = _places(result.view.frame, self.file)
        findings = self._findings(result, speaker, place)
        self._write(dataset.UNITS, self._units(result, place, findings))
        self._write(dataset.FINDINGS, findings)
        self._write(dataset.NOT_CHECKED, self._blind(result, speaker, place))
        self._write(dataset.PROBLEMS, [_problem(remark, self.file) for remark in remarks])
        return findings

    def count(self, totals: Totals) -> None:
        """Write the counts of the file."""
        rows = [
            {dataset.FILE: self.file, "about": about, "name": name, "count": number}
            for about, name, number in lines(totals)
        ]
        self._write(dataset.COUNTS, rows)

    def _write(self, table: str, rows: Rows | Columns) -> None:
        schema = SCHEMAS[table]
        made = (
            pa.table({name: pa.array(rows[name], schema.field(name).type) for name in schema.names})
            if isinstance(rows, Mapping)
            else pa.Table.from_pylist(rows, schema=schema)
        )
        if not made.num_rows:
            return
        try:
            if table not in self._open:
                path = self.folder / table / f".{self.name}.{uuid.uuid4().hex}{UNFINISHED}"
                self._open[table] = parquet.ParquetWriter(path, schema), path
            self._open[table][0].write_table(made)
        except OSError as trouble:
            raise OutputError(
                say(
                    'Cannot write into "{folder}" on the machine {machine}: {reason}. All workers of a '
                    "cluster need that folder under the same path.",
                    folder=self.folder / table,
                    machine=platform.node(),
                    reason=trouble.strerror or trouble,
                )
            ) from trouble

    def _units(self, result: AuditResult, place: Columns, findings: Columns) -> Columns:
        columns = dict(unit_columns(result))
        slugs: dict[int, list[str]] = {}
        for row, slug in zip(findings[dataset.ROW], findings["check"], strict=True):
            slugs.setdefault(row, []).append(slug)
        window: Sequence[Span] = columns["needed_gpm"]
        for name, end in zip(dataset.WINDOW, ("low", "target", "high"), strict=True):
            columns[name] = [getattr(span, end) for span in window]
        columns["media"] = [name or None for name in columns["media"]]
        columns["findings"] = [slugs.get(row, []) for row in place[dataset.ROW]]
        columns |= place
        return {name: columns.get(name, []) for name in SCHEMAS[dataset.UNITS].names}

    def _findings(self, result: AuditResult, speaker: Speaker, place: Columns) -> Columns:
        """Columns of all findings, by unit and then in report order of the checks."""
        names = [name for name in SCHEMAS[dataset.FINDINGS].names if name not in place]
        columns: dict[str, list[Any]] = {name: [] for name in names}
        found = [np.flatnonzero(item.state == State.FOUND) for item in result.checks]
        for item, units in zip(result.checks, found, strict=True):
            if len(units):
                for name, values in _said(result, speaker, item, units).items():
                    columns[name] += values
        return _in_order(found, columns, place)

    def _blind(self, result: AuditResult, speaker: Speaker, place: Columns) -> Columns:
        """Checks that could not run, but for those a column silences that nobody has: these are said once."""
        columns: dict[str, list[Any]] = {"check": [], "core": [], "reason": []}
        blind = [
            np.flatnonzero((item.state == State.NOT_CHECKED) & (item.reason != Missing.NO_COLUMN))
            for item in result.checks
        ]
        for item, units in zip(result.checks, blind, strict=True):
            columns["check"] += [item.check.slug] * len(units)
            columns["core"] += [item.check.core] * len(units)
            columns["reason"] += speaker.reasons(item, units)
        return _in_order(blind, columns, place)


def _in_order(found: Sequence[Codes], columns: Columns, place: Columns) -> Columns:
    """Columns that stand check by check, `found` being the units of each, in the order of the units."""
    unit = np.concatenate(found)
    order = np.argsort(unit, kind="stable")
    rows, units = order.tolist(), unit[order].tolist()
    named = {name: [values[one] for one in units] for name, values in place.items()}
    return named | {name: [values[row] for row in rows] for name, values in columns.items()}


def _said(result: AuditResult, speaker: Speaker, item: CheckResult, units: Codes) -> Columns:
    """What the findings of one check say, by column."""
    said, cost, count = speaker.said(units, item), yearly_cost(item, result.view), len(units)
    return {
        "check": [item.check.slug] * count,
        "tier": [TIERS[tier] for tier in item.tier[units].tolist()],
        "confidence": [CONFIDENCES[code] for code in item.confidence[units].tolist()],
        "message": _clean(said.message),
        "why": _clean(said.why),
        "fix": _clean(said.fix),
        **{
            f"cost_year_{end}": [None] * count if cost is None else getattr(cost, end)[units].tolist()
            for end in ("low", "mid", "high")
        },
        "numbers": _clean(_figures(said, count)),
        "source": _clean(said.source),
    }


def _figures(said: Said, count: int) -> list[str]:
    """The raw figures of each finding as a JSON object."""
    memory: dict[Value, str] = {}
    columns = []
    for key, values in said.values:
        name = json.dumps(key)
        for value in set(values) - memory.keys():
            plain = value + 0.0 if isinstance(value, float) else value  # one nought, not two
            memory[value] = json.dumps(plain, ensure_ascii=False)
        columns.append(["" if value == LEFT_OUT else f"{name}: {memory[value]}" for value in values])
    if not columns:
        return ["{}"] * count
    return ["{" + ", ".join(filter(None, row)) + "}" for row in zip(*columns, strict=True)]


def _places(frame: Frame, file: str) -> Columns:
    """What names each unit: file, row of it, id, vessel, account."""
    return {
        dataset.FILE: [file] * frame.units,
        dataset.ROW: frame.rows.tolist(),
        dataset.UNIT_ID: _clean(frame.text(fleet.UNIT_ID)),
        dataset.VESSEL_LABEL: _clean(frame.text(fleet.VESSEL_LABEL)),
        dataset.ACCOUNT: _clean(frame.text(fleet.ACCOUNT)),
    }


def _problem(remark: Remark, file: str) -> dict[str, Any]:
    return {
        dataset.FILE: file,
        "level": LEVELS[remark.level],
        "kind": remark.kind,
        "column": remark.column,
        "text": _whole(remark.text),
        "read": _whole(remark.read),
        "assumed": _whole(remark.assumed),
        "effect": remark.effect,
        "cells": len(remark.cells),
        "first_cell": _whole(remark.cells[0]) if remark.cells else "",
    }


def _clean(texts: Sequence[str]) -> list[str]:
    """Texts without half characters, which a file of UTF-8 cannot hold."""
    try:
        "".join(texts).encode("utf-8")
    except UnicodeEncodeError:
        return [_whole(text) for text in texts]
    return list(texts)


def _whole(text: str) -> str:
    return text.encode("utf-8", "replace").decode("utf-8")


def prepare(folder: Path, *, force: bool) -> None:
    """Make the folders of the results; those of an older run are emptied only where that is allowed."""
    for table in dataset.FOLDERS:
        home = folder / table
        older = [path for path in _files(home) if not path.name.endswith(UNFINISHED)]
        if older and not force:
            raise OutputError(
                say(
                    '"{folder}" holds results already, and they were not replaced. Say --force to replace '
                    "them, or choose another folder with -o.",
                    folder=home,
                )
            )
    for table in dataset.FOLDERS:
        home = folder / table
        try:
            home.mkdir(parents=True, exist_ok=True)
            for path in _files(home):
                path.unlink()
        except OSError as trouble:
            raise OutputError(
                say(
                    'Cannot write into "{folder}": {reason}. Choose another folder with -o.',
                    folder=home,
                    reason=trouble.strerror or trouble,
                )
            ) from trouble


def tidy(folder: Path) -> None:
    """Remove what machines that were lost left unfinished."""
    for table in dataset.FOLDERS:
        for path in _files(folder / table):
            if path.name.endswith(UNFINISHED):
                with suppress(OSError):
                    path.unlink()


def complete(folder: Path, files: int) -> None:
    """Raise where results of some files are not in the folder, having been written on another machine."""
    there = len([path for path in _files(folder / dataset.COUNTS) if not path.name.endswith(UNFINISHED)])
    if there != files:
        raise OutputError(
            f'"{folder}" holds the results of {there:,} of {files:,} files: the workers do not share that '
            "folder "
            "with this machine. Choose one that all of them have, with -o."
        )


def _files(home: Path) -> Iterable[Path]:
    """Files of ours in a folder of results."""
    return [*home.glob("*.parquet"), *home.glob(f".*{UNFINISHED}")] if home.is_dir() else []
