"""The results as one JSON document for other programs; its keys are a contract."""

from __future__ import annotations

import json
import math
from typing import Any

from fleetaudit.schema.results import JSON_VERSION, TOOL
from fleetaudit.writing.report import (
    AcceptedRecord,
    FindingRecord,
    NotCheckedRecord,
    Report,
    Span,
    UnitRecord,
)


def document(report: Report) -> dict[str, Any]:
    """Report as plain values, in the order of the table."""
    return {
        "schema_version": JSON_VERSION,
        "tool": {"name": TOOL, "version": report.version},
        "input": {"file": _clean(report.file), "sheet": _clean(report.sheet), "sha256": report.sha256},
        "as_of": report.as_of.isoformat(),
        "units": [_unit(unit) for unit in report.units],
        "findings": [_finding(finding) for finding in report.findings],
        **({"accepted": [_accepted(one) for one in report.accepted]} if report.accepted else {}),
        "not_checked": [_gap(record) for record in report.not_checked],
        "summary": {
            "units": len(report.units),
            "by_verdict": dict(sorted(report.by_verdict.items())),
            "by_check": dict(sorted(report.by_check.items())),
            "by_tier": dict(sorted(report.by_tier.items())),
        },
    }


def text(report: Report) -> str:
    """Document as text, one line at the end; a figure that is not known is null."""
    return json.dumps(document(report), ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def _unit(unit: UnitRecord) -> dict[str, Any]:
    return {
        "unit_id": _clean(unit.unit_id),
        "account": _clean(unit.account),
        "sheet": _clean(unit.sheet),
        "row": unit.row,
        "verdict": unit.verdict,
        "media": _clean(unit.media) or None,
        "vessel_diameter_in": _clean(unit.vessel_diameter_in),
        "area_ft2": _clean(unit.area_ft2),
        "water_cold_c": _clean(unit.water_cold_c),
        "water_warm_c": _clean(unit.water_warm_c),
        "needed_gpm": _span(unit.needed_gpm, "target"),
        "restrictor_gpm": _clean(unit.restrictor_gpm),
        "restrictor_recommended_gpm": _clean(unit.restrictor_recommended_gpm),
        "housing_recommended": _clean(unit.housing_recommended),
        "expansion_pct": {"cold": _clean(unit.expansion_cold_pct), "warm": _clean(unit.expansion_warm_pct)},
        "media_due": None if unit.media_due is None else unit.media_due.isoformat(),
        "findings": list(unit.findings),
    }


def _finding(finding: FindingRecord) -> dict[str, Any]:
    return {
        "unit_id": _clean(finding.unit_id),
        "sheet": _clean(finding.sheet),
        "row": finding.row,
        "cell": _clean(finding.cell),
        "check": finding.check,
        "tier": finding.tier,
        "confidence": finding.confidence,
        "message": _clean(finding.message),
        "why": _clean(finding.why),
        "fix": _clean(finding.fix),
        "cost_year": None if finding.cost_year is None else _span(finding.cost_year, "mid"),
        "numbers": {_clean(key): _clean(value) for key, value in finding.values.items()},
        "source": _clean(finding.source),
    }


def _accepted(one: AcceptedRecord) -> dict[str, Any]:
    said = {"reason": _clean(one.reason), "by": _clean(one.by), "until": one.until.isoformat()}
    return {**_finding(one.finding), "accepted": said}


def _gap(record: NotCheckedRecord) -> dict[str, Any]:
    return {
        "unit_id": _clean(record.unit_id),
        "sheet": _clean(record.sheet),
        "row": record.row,
        "check": record.check,
        "reason": _clean(record.reason),
    }


def _span(span: Span, middle: str) -> dict[str, Any]:
    return {"low": _clean(span.low), middle: _clean(span.target), "high": _clean(span.high)}


def _clean(value: Any) -> Any:
    """Value as JSON can hold it: no NaN or infinity, numpy numbers as plain ones, no half characters."""
    item = getattr(value, "item", None)
    if item is not None and not isinstance(value, str | int | float):
        value = item()
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, str):
        return value.encode("utf-8", "replace").decode("utf-8")
    return value
