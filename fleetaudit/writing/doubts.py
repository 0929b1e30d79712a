"""Remarks on entries that clash with each other or with the day of the audit, and on blanks."""

from __future__ import annotations

from collections import defaultdict

import numpy as np

from fleetaudit.auditing.result import AuditResult
from fleetaudit.facts import site
from fleetaudit.facts.due import media_date
from fleetaudit.facts.fact import given
from fleetaudit.facts.frame import Codes
from fleetaudit.facts.repeats import repeated
from fleetaudit.language import say, several
from fleetaudit.schema import fleet
from fleetaudit.schema import quantity as q
from fleetaudit.schema.column import Column, Missing
from fleetaudit.schema.remark import Level, Remark
from fleetaudit.writing.register import compact
from fleetaudit.writing.wording import Speaker

NAMED = 3


def doubts(result: AuditResult, speaker: Speaker) -> list[Remark]:
    """All of them, those that cost a check first."""
    return [
        *_future(result, speaker),
        *_turned(result, speaker),
        *_older(result, speaker),
        *_repeated(result, speaker),
        *_no_restrictor(result, speaker),
    ]


def _cells(speaker: Speaker, units: Codes, column: Column) -> tuple[str, ...]:
    return tuple(speaker.cells(units, column))


def _first(cells: tuple[str, ...]) -> str:
    more = " " + say("and {count:,} more", count=len(cells) - NAMED) if len(cells) > NAMED else ""
    return compact(cells[:NAMED]) + more


def _future(result: AuditResult, speaker: Speaker) -> list[Remark]:
    """A medium that is loaded after the day of the audit has no age."""
    view, loaded = result.view, media_date(result.view)
    typed = given(view.frame, fleet.MEDIA_DATE)
    late = typed.known & (loaded.missing == Missing.IMPLAUSIBLE) & site.judged(view)
    today = speaker.display.text(q.DAY, float(view.as_of_day))
    remarks = []
    for unit in np.flatnonzero(late):
        cells, read = (
            _cells(speaker, np.array([unit]), fleet.MEDIA_DATE),
            speaker.display.text(q.DAY, float(typed.value[unit])),
        )
        remarks.append(
            Remark(
                Level.SKIP,
                "future-date",
                say(
                    "{first} media date {read} lies after the day of the audit, {today}. The age of "
                    "the medium was not judged. Correct the date.",
                    first=_first(cells),
                    read=read,
                    today=today,
                ),
                cells,
                read,
                "",
                say("checks that need the date did not run"),
                say(fleet.MEDIA_DATE.title),
            )
        )
    return remarks


def _turned(result: AuditResult, speaker: Speaker) -> list[Remark]:
    """The coldest water of the year cannot be warmer than the warmest."""
    view = result.view
    water = site.season(view)
    units = np.flatnonzero((water.cold.missing == Missing.CONFLICT) & site.judged(view))
    if not len(units):
        return []
    cells = _cells(speaker, units, fleet.COLD)
    text = say(
        "{first} coldest water is warmer than the warmest water of the same row. Neither "
        "was used. Correct the two cells.",
        first=_first(cells),
    )
    return [
        Remark(
            Level.SKIP,
            "seasons-turned",
            text,
            cells,
            "",
            "",
            say("checks that need the water did not run"),
            say(fleet.COLD.title),
        )
    ]


def _older(result: AuditResult, speaker: Speaker) -> list[Remark]:
    """A medium may be older than the unit where it was moved; more often one of the dates is wrong."""
    view = result.view
    loaded, installed = media_date(view), given(view.frame, fleet.INSTALL_DATE)
    begun = view.frame.date_low.get(fleet.INSTALL_DATE.key, installed.value)
    with np.errstate(invalid="ignore"):
        older = loaded.known & installed.known & (loaded.high < begun) & site.judged(view)
    remarks = []
    for unit in np.flatnonzero(older):
        cells = _cells(speaker, np.array([unit]), fleet.MEDIA_DATE)
        dates = [speaker.display.text(q.DAY, float(fact.value[unit])) for fact in (loaded, installed)]
        remarks.append(
            Remark(
                Level.WARN,
                "older-than-the-unit",
                say(
                    "{first} media date {loaded} lies before the unit was set up, {installed}. The "
                    "media date was used. Correct the wrong one.",
                    first=_first(cells),
                    loaded=dates[0],
                    installed=dates[1],
                ),
                cells,
                dates[0],
                dates[0],
                say("the age of the medium"),
                say(fleet.MEDIA_DATE.title),
            )
        )
    return remarks


def _repeated(result: AuditResult, speaker: Speaker) -> list[Remark]:
    """Rows of one unit, with what they differ in."""
    view = result.view
    frame = view.frame
    groups: dict[tuple[str, str], list[int]] = defaultdict(list)
    ids, labels = frame.text(fleet.UNIT_ID), frame.text(fleet.VESSEL_LABEL)
    for unit in np.flatnonzero((repeated(view) > 1) & site.judged(view)).tolist():
        groups[ids[unit].casefold(), labels[unit].casefold()].append(unit)
    remarks = []
    for units in groups.values():
        rows = [str(int(frame.rows[unit])) for unit in units]
        across = sorted(
            {float(value) for value in frame.number(fleet.DIAMETER)[units] if not np.isnan(value)}
        )
        sizes = ", ".join(speaker.display.bare(q.DIAMETER, value) for value in across)
        differ = (
            " "
            + say(
                "with different diameters ({sizes} {unit})",
                sizes=sizes,
                unit=speaker.display.unit(q.DIAMETER),
            )
            if len(across) > 1
            else ""
        )
        which = say("Both were") if len(units) == 2 else say("All were")
        remarks.append(
            Remark(
                Level.WARN,
                "listed-twice",
                say(
                    "Unit {unit} is in rows {rows} and {last}{differ}. {which} audited; crew counts "
                    "use none of them. Keep the right row, or label the vessels.",
                    unit=ids[units[0]],
                    rows=", ".join(rows[:-1]),
                    last=rows[-1],
                    differ=differ,
                    which=which,
                ),
                _cells(speaker, np.array(units), fleet.UNIT_ID),
                ids[units[0]],
                "",
                say("counts hold the unit more than once"),
                say(fleet.UNIT_ID.title),
            )
        )
    return remarks


def _no_restrictor(result: AuditResult, speaker: Speaker) -> list[Remark]:
    """Blank is not small or right; it is unknown."""
    view = result.view
    units = np.flatnonzero((view.frame.why_missing(fleet.RESTRICTOR) == Missing.BLANK) & site.judged(view))
    if not len(units):
        return []
    cells = _cells(speaker, units, fleet.RESTRICTOR)
    text = several(
        len(units),
        "1 unit has no restrictor flow ({first}): unknown, to be read or measured at the next visit.",
        "{count:,} units have no restrictor flow ({first}): unknown, to be read or measured at the "
        "next visit.",
        first=_first(cells),
    )
    return [
        Remark(
            Level.WARN,
            "blank-restrictor",
            text,
            cells,
            say("blank"),
            "",
            say("their restrictors were not judged"),
            say(fleet.RESTRICTOR.title),
        )
    ]
