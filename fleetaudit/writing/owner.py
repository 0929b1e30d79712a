"""The owner's page: the state of the fleet, the money, and at most three decisions, on one sheet of paper."""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup
from msgspec import Struct

from fleetaudit.assets import read_text
from fleetaudit.crews.naming import Standing
from fleetaudit.language import say, several
from fleetaudit.schema.results import NOT_CHECKED, NOTE, NOW, PLAN, VERDICTS
from fleetaudit.writing.cost_chart import total
from fleetaudit.writing.orders import PIECES
from fleetaudit.writing.page import content_hash, environment, lean, plain
from fleetaudit.writing.page_words import KINDS, WORDS, money
from fleetaudit.writing.register import part_totals
from fleetaudit.writing.report import FindingRecord, Report
from fleetaudit.writing.wording import shorten

DECISIONS = 3
NAMED, NAME_SHOWN = 4, 28
PARTS_NAMED = 4
BAR = 600.0
UNSETTLED = "measure-first"


class Decision(Struct, frozen=True):
    """One thing to decide: what is asked, why, and what a year without it costs ("" where nobody knows)."""

    ask: str
    why: str
    cost: str


class Part(Struct, frozen=True):
    """One piece of the bar of verdicts."""

    kind: str
    word: str
    count: int
    start: float
    width: float


def render_owner(report: Report) -> str:
    """The page as a file of its own."""
    style = lean(read_text("templates/paper.css"))
    spans = [(tier, money(report.cost_by_tier.get(tier))) for tier in (NOW, PLAN, NOTE)]
    whole = total(list(report.cost_by_tier.values()))
    return (
        environment()
        .get_template("owner.html.j2")
        .render(
            report=report,
            style=Markup(style),
            style_hash=content_hash(style),
            bar=_bar(report),
            units=len(report.units),
            accounts=len({unit.account for unit in report.units if unit.account}),
            costs=[(KINDS[tier], say(tier), text) for tier, text in spans if text and text != "0"],
            whole=money(whole) if whole.high else "",
            decisions=decisions(report)[:DECISIONS],
        )
    )


def _bar(report: Report) -> list[Part]:
    everything = sum(report.by_verdict.values())
    parts, start = [], 0.0
    for verdict in VERDICTS:
        count = report.by_verdict.get(verdict, 0)
        if count:
            width = BAR * count / everything
            parts.append(Part(KINDS[verdict], say(WORDS.get(verdict, verdict)), count, start, width))
            start += width
    return parts


def decisions(report: Report) -> list[Decision]:
    """What the figures leave to decide, the most pressing first."""
    candidates = (_visits(report), _parts(report), _cause(report), _gaps(report), _measuring(report))
    return [decision for decision in candidates if decision is not None]


def _visits(report: Report) -> Decision | None:
    found = _sound(report, NOW)
    if not found:
        return None
    units, accounts = _counts(found)
    return Decision(
        say(
            "Send somebody now to {units} at {accounts}: {names}.",
            units=units,
            accounts=accounts,
            names=_names(found),
        ),
        say("Health, harm, or media being lost is at stake there; these visits should not wait for a route."),
        money(total([finding.cost_year for finding in found])),
    )


def _parts(report: Report) -> Decision | None:
    found = _sound(report, PLAN)
    if not found:
        return None
    units, accounts = _counts(found)
    wanted = _wanted(report)
    parts = [
        f"{quantity:g} {'×' if unit == say(PIECES) else plain(unit)} {plain(what)}"
        for (what, unit), quantity in wanted[:PARTS_NAMED]
    ]
    more = len(wanted) - PARTS_NAMED
    rest = f" {say('and {count} other kinds', count=more)}" if more > 0 else ""
    buy = (
        f" {say('Parts to order for the whole list: {parts}.', parts='; '.join(parts) + rest)}"
        if parts
        else ""
    )
    return Decision(
        say(
            "Set a month for {units} at {accounts} that cost money or do their work badly.",
            units=units,
            accounts=accounts,
        )
        + buy,
        say("They can wait for the next visit nearby, but not for good."),
        money(total([finding.cost_year for finding in found])),
    )


def _wanted(report: Report) -> list[tuple[tuple[str, str], float]]:
    """Parts of each kind whatever their size, most of them first, and media after them."""
    sums: dict[tuple[str, str], float] = {}
    for what, _, quantity, unit in part_totals(report.parts):
        sums[what, unit] = round(sums.get((what, unit), 0.0) + quantity, 2)
    return sorted(sums.items(), key=lambda item: (item[0][1] != say(PIECES), -item[1], item[0]))


def _cause(report: Report) -> Decision | None:
    """A cause that many set-ups share; the person is the last to ask."""
    crews = report.crews.crews if report.crews else ()
    differing = [group for group in crews if group.standing is Standing.DIFFERENT]
    if not differing:
        return None
    names = ", ".join(shorten(plain(group.name), NAME_SHOWN) for group in differing[:NAMED])
    wrong = sum(group.tally.wrong for group in differing)
    return Decision(
        say("Have the chart and the stock on the van checked for {names}.", names=names),
        say(
            "{wrong} set-ups there differ from what jobs like them bring elsewhere. Look at "
            "the data, the jobs and the parts first; the list names whoever stands in the "
            "column.",
            wrong=wrong,
        ),
        "",
    )


def _gaps(report: Report) -> Decision | None:
    blind = report.by_verdict.get(NOT_CHECKED, 0)
    if not blind:
        return None
    units = several(blind, "1 unit", "{count:,} units")
    return Decision(
        say("Have the list completed for {units} that could not be checked.", units=units),
        say("Not checked is not the same as sound: something the main checks need is not in the list."),
        "",
    )


def _measuring(report: Report) -> Decision | None:
    doubtful = {
        finding.unit
        for finding in report.findings
        if finding.confidence == UNSETTLED and finding.tier != NOTE
    }
    if not doubtful:
        return None
    units = several(len(doubtful), "1 unit", "{count:,} units")
    return Decision(
        say("Have {units} measured before parts are bought for them.", units=units),
        say("What was found there rests on an assumed or a contradicted value."),
        "",
    )


def _sound(report: Report, tier: str) -> list[FindingRecord]:
    return [
        finding for finding in report.findings if finding.tier == tier and finding.confidence != UNSETTLED
    ]


def _counts(found: Sequence[FindingRecord]) -> tuple[str, str]:
    units, accounts = len({one.unit for one in found}), len({one.account for one in found})
    return (
        several(units, "1 unit", "{count:,} units"),
        several(accounts, "1 account", "{count:,} accounts"),
    )


def _names(found: Sequence[FindingRecord]) -> str:
    names = list(dict.fromkeys(shorten(plain(one.account or one.unit_id), NAME_SHOWN) for one in found))
    more = len(names) - NAMED
    return "; ".join(names[:NAMED]) + (f" {say('and {count:,} more', count=more)}" if more > 0 else "")
