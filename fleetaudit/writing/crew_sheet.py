"""The added sheet that compares crews, install years and housings: what is said first, then every number."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from fleetaudit.crews.naming import Group
from fleetaudit.crews.report import CrewReport
from fleetaudit.language import say
from fleetaudit.schema import results
from fleetaudit.workbook.sheets import Sheet, Styled
from fleetaudit.writing import crew_words
from fleetaudit.writing.crew_words import Subject
from fleetaudit.writing.display import Display

Row = list[object]
TITLES = {Subject.CREW: "By crew", Subject.YEAR: "By install year", Subject.HOUSING: "By housing"}
IN_WORDS = "In words"
STRATUM_HEADINGS = ("Kind of job", "Units", "Wrong")


def crew_sheet(report: CrewReport, system: str) -> Sheet:
    """All there is to say of the groups, in the order of their names."""
    show = Display(system)
    rows: list[Row] = [
        [Styled(say("Set-ups compared"), "title")],
        [None, Styled(say(crew_words.PURPOSE), "wrapped note")],
        [],
    ]
    for subject, groups in crew_words.subjects(report):
        rows += [[Styled(say(TITLES[subject]), "subtitle")], *_groups(groups, subject, report, show), []]
    rows += [[Styled(say("Before anybody is asked"), "subtitle")], *_texts(crew_words.QUESTIONS), []]
    rows += [[Styled(say("How this was compared"), "subtitle")], *_texts(crew_words.method(report)), []]
    rows.append([None, *(Styled(text, "heading") for text in STRATUM_HEADINGS)])
    rows += [
        [None, crew_words.stratum_label(part, report.rules, show), part.units, part.wrong]
        for part in report.strata
    ]
    widths = [column.width for column in results.CREW_COLUMNS]
    return Sheet(results.SHEET_CREWS, rows, widths, landscape=True)


def _texts(texts: Iterable[str]) -> list[Row]:
    return [[None, Styled(say(text), "wrap")] for text in texts]


def _groups(groups: Sequence[Group], subject: Subject, report: CrewReport, show: Display) -> list[Row]:
    if not groups:
        return [[None, say("Nothing to compare.")]]
    first, *others = crew_words.HEADINGS
    heading: Row = [Styled(text, "heading") for text in (first, IN_WORDS, *others)]
    return [
        heading,
        *(_cells(group, crew_words.sentence(group, report.rules, show, subject)) for group in groups),
    ]


def _cells(group: Group, sentence: str) -> Row:
    """Name and sentence as text, numbers as numbers."""
    name, *rest = crew_words.row(group)
    cells = (Styled(_number(text), "top") for text in rest)
    return [Styled(name, "wrap"), Styled(sentence, "wrap"), *cells]


def _number(text: str) -> float | int | str | None:
    try:
        return float(text) if "." in text or "e" in text else int(text)
    except ValueError:
        return text or None
