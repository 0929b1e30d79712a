"""Records of the checks that could not run."""

from __future__ import annotations

import numpy as np

from fleetaudit.auditing.result import AuditResult, State
from fleetaudit.facts.frame import Flags
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Missing
from fleetaudit.writing.report import NotCheckedRecord
from fleetaudit.writing.wording import Speaker


def not_checked(
    result: AuditResult, speaker: Speaker, chosen: Flags, *, without_column: bool
) -> list[NotCheckedRecord]:
    """Checks that could not run for chosen units, in the order of the rows.

    Those that a missing column silences everywhere are told where `without_column` asks for them.
    """
    frame = result.view.frame
    unit_id, account = frame.text(fleet.UNIT_ID), frame.text(fleet.ACCOUNT)
    records: list[NotCheckedRecord] = []
    for item in result.checks:
        blind = chosen & (item.state == State.NOT_CHECKED)
        if not without_column:
            blind &= item.reason != Missing.NO_COLUMN
        places = np.flatnonzero(blind)
        slug, core = item.check.slug, item.check.core
        records += [
            NotCheckedRecord(unit, unit_id[unit], account[unit], frame.sheet, row, slug, reason, core)
            for unit, row, reason in zip(
                *speaker.positions(places), speaker.reasons(item, places), strict=True
            )
        ]
    return sorted(records, key=lambda record: record.row)
