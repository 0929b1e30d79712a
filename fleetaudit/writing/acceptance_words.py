"""Accepted findings in words: those that hold as records of the report, all others as remarks."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import date, timedelta

from fleetaudit.accepting import Accepted, Standing
from fleetaudit.auditing.result import AuditResult
from fleetaudit.language import dated, say
from fleetaudit.schema.remark import Level, Remark
from fleetaudit.writing.report import AcceptedRecord
from fleetaudit.writing.wording import Speaker, shorten

KIND = "accepted findings"
EPOCH = date(1970, 1, 1)

ENDED: Mapping[Standing, str] = {
    Standing.EXPIRED: '{cell}: "{title}" of {unit} was accepted until {until}, which is over. '
    "It counts again.",
    Standing.DATA_CHANGED: '{cell}: "{title}" of {unit} was accepted for data that have changed since. '
    "It counts again; empty the data mark to accept it as it is now.",
    Standing.NOTHING_TO_ACCEPT: '{cell}: {unit} has no finding "{title}" now. The line can go.',
    Standing.UNKNOWN_UNIT: '{cell}: the list has no unit "{unit}". Correct the unit ID.',
    Standing.SEVERAL_ROWS: '{cell}: "{unit}" stands in several rows. Give the vessel label.',
}
LEVELS = {
    Standing.NOTHING_TO_ACCEPT: Level.INFO,
    Standing.EXPIRED: Level.WARN,
    Standing.DATA_CHANGED: Level.WARN,
}


def records(result: AuditResult, speaker: Speaker, accepted: Iterable[Accepted]) -> list[AcceptedRecord]:
    """Findings that are accepted now."""
    return [
        AcceptedRecord(
            speaker.finding(one.unit, result.checks[one.check], None), one.acceptance.reason,
            one.acceptance.by, _day(one.acceptance.until), one.acceptance.cell,
        )
        for one in accepted
        if one.standing is Standing.HOLDS
    ]  # fmt: skip


def remarks(accepted: Iterable[Accepted], title_of: Callable[[str], str]) -> list[Remark]:
    """What became of the others."""
    return [
        Remark(
            LEVELS.get(one.standing, Level.SKIP), KIND,
            say(
                ENDED[one.standing],
                cell=one.acceptance.cell, title=title_of(one.acceptance.check),
                unit=shorten(one.acceptance.unit_id), until=dated(_day(one.acceptance.until)),
            ),
            (one.acceptance.cell,), one.acceptance.check, "", say("the finding counts"),
        )
        for one in accepted
        if one.standing is not Standing.HOLDS
    ]  # fmt: skip


def _day(day: float) -> date:
    return EPOCH + timedelta(days=int(day))
