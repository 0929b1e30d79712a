"""Workbooks that LibreOffice saved: its own spelling of the same things, and the kinds it writes besides."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from workbook_samples import HEADING_ROW, plain_workbook, rich_workbook, table_workbook
from workbook_samples import UNITS as SAMPLE_UNITS

from . import by_openpyxl, by_xlsxwriter
from .case import GPM_M3_S, INCH_M, OFFICE, Build, Case, usual
from .office import Office

SAMPLE: dict[tuple[int, str], object] = {
    (HEADING_ROW + 1, "unit_id"): "U-101",
    (HEADING_ROW + 1, "vessel_diameter_m"): 10 * INCH_M,
    (HEADING_ROW + 2, "restrictor_m3_s"): 5.5 * GPM_M3_S,
}


SEEDS: list[tuple[Any, str, bool]] = []


def saved(source: Build | Callable[[Path], Path], kind: str = "xlsx", *, sample: bool = False) -> Build:
    """Let LibreOffice read and save a workbook; all of one kind are made with the first one."""
    number = len(SEEDS)
    SEEDS.append((source, kind, sample))

    def build(path: Path, office: Office) -> Path:
        folder = office.folder / f"saved as {kind}"
        if not folder.exists():
            _save_all(office, kind, folder.name)
        path.write_bytes((folder / f"seed{number}.{kind}").read_bytes())
        return path

    return build


def _save_all(office: Office, kind: str, name: str) -> None:
    seeds = office.folder / f"seeds of {kind}"
    seeds.mkdir()
    paths = []
    for number, (source, wanted, sample) in enumerate(SEEDS):
        if wanted == kind:
            paths.append(seeds / f"seed{number}.xlsx")
            made: Any = source
            made(paths[-1]) if sample else made(paths[-1], office)
    office.convert(paths, kind, name)


def _build_of(cases: Sequence[Case], name: str) -> Build:
    return next(case.build for case in cases if case.name == name)


def resaved(name: str, cases: Sequence[Case], shows: Sequence[str], **more: Any) -> Case:
    """Case of another maker, saved by LibreOffice."""
    return Case(
        f"{name}, saved by LibreOffice",
        OFFICE,
        tuple(shows),
        saved(_build_of(cases, name)),
        **{"reads": usual(), **more},
    )


def kind(suffix: str, shows: Sequence[str], source: Build, **more: Any) -> Case:
    """A list in a kind that is read but not annotated."""
    return Case(
        f"list saved as {suffix}",
        OFFICE,
        tuple(shows),
        saved(source, suffix),
        suffix=f".{suffix}",
        spliced=False,
        **{"reads": usual(), **more},
    )


WRITTEN = by_openpyxl.book_of(by_openpyxl.fleet())

CASES = (
    Case(
        "plain list with a title, saved by LibreOffice",
        OFFICE,
        ("workbook",),
        saved(plain_workbook, sample=True),
        units=SAMPLE_UNITS,
        reads=SAMPLE,
        heading_row=HEADING_ROW,
    ),
    Case(
        "everything at once, saved by LibreOffice",
        OFFICE,
        ("stored results", "picture", "autofilter"),
        saved(rich_workbook, sample=True),
        units=SAMPLE_UNITS + 1,
        reads=SAMPLE,
        heading_row=HEADING_ROW,
    ),
    Case(
        "table with a title, saved by LibreOffice",
        OFFICE,
        ("table with totals",),
        saved(table_workbook, sample=True),
        units=SAMPLE_UNITS,
        reads=SAMPLE,
        heading_row=HEADING_ROW,
    ),
    resaved("rows hidden by a filter, with its sort state", by_openpyxl.CASES, ["autofilter", "hidden rows"]),
    resaved(
        "medium merged over three rows",
        by_openpyxl.CASES,
        ["merged cells in the list"],
        reads={(3, "restrictor_m3_s"): 12 * GPM_M3_S},
        told=("is merged",),
    ),
    resaved("protected sheet with a password", by_openpyxl.CASES, ["protected sheet"]),
    resaved("error cells", by_openpyxl.CASES, ["error cells"], reads={(2, "restrictor_m3_s"): None}),
    resaved("stored results of formulas", by_xlsxwriter.CASES, ["stored results"]),
    resaved("text box and button", by_xlsxwriter.CASES, ["text box"]),
    resaved("dates from 1904", by_xlsxwriter.CASES, ["1904 dates"]),
    kind("xls", ["xls"], WRITTEN),
    kind("ods", ["ods"], WRITTEN),
    kind("csv", ["csv"], WRITTEN, sheet=""),
)
