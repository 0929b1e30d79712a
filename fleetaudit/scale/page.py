"""The page of the totals of a dataset: how it stands, what comes first, what could not be told."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date

from markupsafe import Markup
from msgspec import Struct

from fleetaudit.assets import read_text
from fleetaudit.catalogue.model import Catalogue
from fleetaudit.checks.registry import BY_SLUG
from fleetaudit.crews.naming import codes
from fleetaudit.crews.report import report as crew_report
from fleetaudit.crews.rules import rules_of
from fleetaudit.language import say, several
from fleetaudit.scale.totals import HUNDREDTHS, First, Totals
from fleetaudit.schema.column import Missing
from fleetaudit.schema.remark import Level, Remark
from fleetaudit.schema.results import TIERS, VERDICTS
from fleetaudit.schema.version import VERSION
from fleetaudit.writing import crew_words
from fleetaudit.writing.cautions import CAUTIONS
from fleetaudit.writing.display import Display
from fleetaudit.writing.page import content_hash, environment, lean
from fleetaudit.writing.page_words import KINDS, LEVELS, WORDS, money
from fleetaudit.writing.report import Span

FILES_SHOWN = 40
FIRST_SHOWN = 20


class FleetTotals(Struct, frozen=True):
    """What the page is made of."""

    totals: Totals
    remarks: Sequence[Remark]
    catalogue: Catalogue
    as_of: date
    name: str
    system: str


class Line(Struct, frozen=True):
    """One check: how often it found something, by tier and by confidence, and how often it could not run."""

    title: str
    tiers: tuple[int, ...]
    confidence: tuple[int, ...]
    blind: int


class Said(Struct, frozen=True):
    """What there is to say about many cells at once."""

    level: str
    text: str
    cells: int


CONFIDENCES = ("sure", "likely", "measure-first")


def render_totals(fleet: FleetTotals, salt: str = "") -> str:
    """The page; with a salt, codes stand in place of the names of crews."""
    style = lean(read_text("templates/summary.css"))
    totals = fleet.totals
    most = sorted(totals.files.items(), key=lambda item: (-item[1], item[0]))
    return (
        environment()
        .get_template("totals.html.j2")
        .render(
            style=Markup(style),
            style_hash=content_hash(style),
            name=fleet.name,
            as_of=fleet.as_of,
            version=VERSION,
            units=totals.counts.units,
            files=len(totals.files),
            catalogue=fleet.catalogue.hash[:12],
            verdicts=[
                (KINDS[verdict], say(WORDS.get(verdict, verdict)), totals.counts.by_verdict[verdict])
                for verdict in VERDICTS
            ],
            banner=banner(fleet),
            tiers=TIERS,
            confidences=CONFIDENCES,
            checks=by_check(totals),
            first=_first(totals),
            costs=[(tier, _cost(totals, tier)) for tier in TIERS if _cost(totals, tier)],
            crews=_crews(fleet, salt),
            problems=_problems(totals),
            remarks=[remark for remark in fleet.remarks if remark.level <= Level.INFO],
            most=most[:FILES_SHOWN],
            fewer=len(most) - FILES_SHOWN,
            cautions=[say(text) for text in CAUTIONS],
        )
    )


def banner(fleet: FleetTotals) -> list[str]:
    """What stands in the way of a full audit, and what is done for single workbooks only."""
    totals, lines = fleet.totals, []
    blind = totals.counts.by_verdict["not-checked"]
    if blind:
        lines.append(
            several(
                blind,
                "1 unit was not checked for something that matters; not checked is not the same as sound.",
                "{count:,} units were not checked for something that matters; not checked is not the same as "
                "sound.",
            )
        )
    lines += [
        remark.text
        for remark in fleet.remarks
        if remark.level < Level.WARN or remark.kind == "restrictor-unit"
    ]
    absent = sorted(
        {slug for (slug, reason), count in totals.blind.items() if reason == Missing.NO_COLUMN.name and count}
    )
    if absent:
        names = ", ".join(say(BY_SLUG[slug].title).lower() for slug in absent)
        lines.append(
            say(
                "For want of a column that no file has, these checks did not run everywhere: {names}.",
                names=names,
            )
        )
    if totals.water_assumed:
        lines.append(
            several(
                totals.water_assumed,
                "Water temperature is not known for 1 unit; the range usual for its source was taken, and "
                "findings it decides are measure-first.",
                "Water temperature is not known for {count:,} units; the range usual for their source was "
                "taken, and findings it decides are measure-first.",
            )
        )
    lines.append(
        say(
            "A dataset has no sheets: accepted findings, stock, return sheets and routes belong to workbooks "
            "and were not looked for."
        )
    )
    return lines


def by_check(totals: Totals) -> list[Line]:
    """One line for each check that found something or could not run, in report order."""
    found = []
    for slug, check in BY_SLUG.items():
        mine = {key[1:]: count for key, count in totals.by_finding.items() if key[0] == slug}
        blind = sum(count for (name, _), count in totals.blind.items() if name == slug)
        if mine or blind:
            tiers, sure = Counter[str](), Counter[str]()
            for (tier, confidence), count in mine.items():
                tiers[tier] += count
                sure[confidence] += count
            found.append(
                Line(
                    say(check.title),
                    tuple(tiers[tier] for tier in TIERS),
                    tuple(sure[word] for word in CONFIDENCES),
                    blind,
                )
            )
    return found


def _first(totals: Totals) -> list[tuple[First, str, str, str]]:
    return [
        (one, TIERS[one.tier], say(BY_SLUG[one.check].title), money(_span(-one.less_cost)))
        for one in totals.first[:FIRST_SHOWN]
    ]


def _span(hundredths: int) -> Span:
    value = hundredths / HUNDREDTHS
    return Span(value, value, value)


def _cost(totals: Totals, tier: str) -> str:
    ends = [totals.cost[tier, end] / HUNDREDTHS for end in ("low", "mid", "high")]
    return money(Span(*ends)) if any(ends) else ""


def _crews(fleet: FleetTotals, salt: str) -> list[str]:
    """Sentences about crews, install years and housings that differ from the rest for good reason."""
    rules = rules_of(fleet.catalogue)
    found = crew_report(fleet.totals.set_ups, rules)
    if salt:
        found = found.hidden(codes([group.name for group in found.crews], salt))
    show = Display(fleet.system)
    return [
        crew_words.sentence(group, rules, show, subject)
        for subject, groups in crew_words.subjects(found)
        for group in groups
        if crew_words.speaks(group)
    ]


def _problems(totals: Totals) -> list[Said]:
    """What was said of cells, by kind, the gravest and most frequent first."""
    order = sorted(totals.problems.items(), key=lambda item: (item[0][0], -item[1], item[0][1]))
    return [Said(say(LEVELS[Level(key[0])]), totals.said[key], count) for key, count in order]
