"""The user's workbook with our columns and sheets, or a report workbook of its own where that cannot be."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path

from fleetaudit.schema import results
from fleetaudit.schema.quantity import FLOW
from fleetaudit.schema.results import NOT_CHECKED, ResultColumn
from fleetaudit.units import from_si, to_si
from fleetaudit.workbook.book import Workbook
from fleetaudit.workbook.splice import CannotSplice, Column, annotate
from fleetaudit.writing.added_sheets import LOOKS, added_sheets
from fleetaudit.writing.report import Report, UnitRecord

FORMATS = {results.EXPANSION_COLD: "0", results.EXPANSION_WARM: "0", results.MEDIA_DUE: "yyyy-mm-dd"}


def annotate_copy(
    report: Report,
    workbook_path: Path,
    target: Path,
    heading_row: int,
    force: bool = False,
    book: Workbook | None = None,
) -> tuple[Path, list[str]]:
    """Write the annotated copy; returns where it is and what the user should know of it, a sentence each."""
    units = [unit for unit in report.units if unit.sheet == report.sheet]
    try:
        said = annotate(
            workbook_path,
            target,
            sheet=report.sheet,
            heading_row=heading_row,
            rows=[unit.row for unit in units],
            columns=own_columns(report, units),
            looks=[(results.VERDICT.own_heading(report.system), LOOKS)],
            own_prefix=results.OWN_PREFIX,
            own_sheets=results.OWN_SHEETS,
            sheets=added_sheets(report),
            also=report.marks,
            force=force,
            book=book,
        )
    except CannotSplice as reason:
        # openpyxl takes longer to load than the whole audit, so it is loaded for such files only
        from fleetaudit.writing.report_workbook import write_stand_alone  # noqa: PLC0415 - slow to load, and seldom wanted

        plain = target.with_suffix(".xlsx")  # a report holds no macros, and says so by its name
        return plain, write_stand_alone(report, plain, why=reason.message, force=force)
    return target, said


def own_columns(report: Report, units: Sequence[UnitRecord]) -> list[Column]:
    """Our columns with a value for each unit."""
    return [
        Column(
            heading=column.own_heading(report.system),
            values=values,
            number_format=FORMATS.get(column, "0.0" if column.numeric else None),
            width=column.width,
        )
        for column, values in unit_values(report, units)
    ]


def unit_values(report: Report, units: Sequence[UnitRecord]) -> list[tuple[ResultColumn, Sequence[object]]]:
    """Each of our columns with its values, in the reader's units."""
    flow_unit = FLOW.unit(report.system)
    missing: dict[int, list[str]] = {}
    for record in report.not_checked:
        reasons = missing.setdefault(record.unit, [])
        if record.core and record.reason not in reasons:
            reasons.append(record.reason)

    accepted: dict[int, list[str]] = {}
    for one in report.accepted:
        slug = one.finding.check.replace("-", " ")
        accepted.setdefault(one.finding.unit, []).append(f"accepted until {one.until.isoformat()}: {slug}")

    @lru_cache(maxsize=4_096)
    def flow(gpm: float | None) -> float | None:
        return None if gpm is None else round(from_si(to_si(gpm, FLOW.us), flow_unit), 3)

    def percent(value: float | None) -> float | None:
        return None if value is None else round(value, 1)

    @lru_cache(maxsize=4_096)
    def said_of(scope: str, findings: tuple[str, ...]) -> str:
        said = [slug.replace("-", " ") for slug in findings]
        return "; ".join([scope, *said] if scope else said)

    def words(unit: UnitRecord) -> str:
        said = said_of(unit.scope, unit.findings)
        more = accepted.get(unit.index, [])
        if unit.verdict == NOT_CHECKED:
            more = [*more, *(f"not checked: {reason}" for reason in missing.get(unit.index, ()))]
        return "; ".join([said, *more] if said else more) if more else said

    return [
        (results.VERDICT, [unit.verdict for unit in units]),
        (results.NEEDED_LOW, [flow(unit.needed_gpm.low) for unit in units]),
        (results.NEEDED_TARGET, [flow(unit.needed_gpm.target) for unit in units]),
        (results.NEEDED_HIGH, [flow(unit.needed_gpm.high) for unit in units]),
        (results.FITTED, [flow(unit.restrictor_gpm) for unit in units]),
        (results.RECOMMENDED, [flow(unit.restrictor_recommended_gpm) for unit in units]),
        (results.HOUSING, [unit.housing_recommended for unit in units]),
        (results.EXPANSION_COLD, [percent(unit.expansion_cold_pct) for unit in units]),
        (results.EXPANSION_WARM, [percent(unit.expansion_warm_pct) for unit in units]),
        (results.MEDIA_DUE, [unit.media_due for unit in units]),
        (results.FINDINGS, [words(unit) for unit in units]),
        (results.UNIT, [unit.unit_id for unit in units]),
    ]
