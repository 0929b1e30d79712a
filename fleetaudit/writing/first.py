"""What to do first: in each tier what is certain, then what is to be measured before anybody acts on it."""

from __future__ import annotations

from collections.abc import Iterable

from fleetaudit.language import say
from fleetaudit.schema.results import NOTE, TIERS
from fleetaudit.writing.measuring import CELL, MEASURES
from fleetaudit.writing.register import Line
from fleetaudit.writing.report import FindingRecord

MEASURE_FIRST = "measure-first"


def leading(listed: Iterable[Line]) -> list[Line]:
    """Lines that ask for something, in report order but for this: in a tier what is certain comes first."""
    return sorted(
        (line for line in listed if line.finding.tier != NOTE), key=lambda line: urgency(line.finding)
    )


def urgency(finding: FindingRecord) -> tuple[int, bool]:
    """Place of the tier, and whether the finding has to be measured first."""
    return TIERS.index(finding.tier), finding.confidence == MEASURE_FIRST


def step(finding: FindingRecord) -> str:
    """The first thing to do about a finding: the fix, or what to measure before it where that is open."""
    fix = finding.fix or finding.message
    if finding.confidence != MEASURE_FIRST:
        return fix
    return say("{measure} If it holds: {fix}", measure=to_measure(finding), fix=fix)


def to_measure(finding: FindingRecord) -> str:
    """What settles a finding, as a sentence."""
    what = dict.fromkeys(say(what) for what, _ in MEASURES.get(finding.check, (CELL,)))
    return say("Measure first: {what}.", what="; ".join(what))
