"""What the numbers say of crews, install years and housings, and what they cannot say.

Order is by name, never by result. A difference is a reason to look; the sentences say what to look at first.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from enum import Enum

from fleetaudit.crews.counts import UNKNOWN
from fleetaudit.crews.naming import Direction, Group, Standing
from fleetaudit.crews.report import CrewReport
from fleetaudit.crews.rules import Rules
from fleetaudit.crews.strata import Stratum
from fleetaudit.schema import quantity as q
from fleetaudit.writing.display import Display
from fleetaudit.writing.wording import shorten

#: a chance smaller than once in this many is not worth more digits
RAREST = 100_000
#: how many units to look at before anything else is done
LOOK_AT = 3

ANY = "any"
UNKNOWN_CLASS = {q.DIAMETER: "of unknown size", q.FLUX: "an unknown rate"}
HINTS = {
    Direction.SMALL: "an old chart, one small size on the van, or ratings read in another unit",
    Direction.LARGE: "one large size on the van, a chart for heavier media, or a medium changed later",
    Direction.HOUSING: "housings picked before the restrictor was worked out",
}
SAID = {
    Direction.SMALL: "have a restrictor that is too small",
    Direction.LARGE: "have a restrictor that is too large",
    Direction.HOUSING: "have a housing that is too small",
}
#: what the counts leave open, in the order to ask
QUESTIONS = (
    "Are the data right? Look at three of the units first; a wrong cell looks like a wrong set-up.",
    "Were the jobs alike? Only vessel size, medium and install year are allowed for; water, access, haste "
    "and customers' wishes are not.",
    "What was on the van, on the chart and in the order? One part out of stock can spoil a year of set-ups.",
    "What was the rule then? A unit set up rightly by an older chart counts as wrong here.",
    "Only then: who? The name in the list need not be whoever did the work, and a change nobody wrote down "
    "counts for the name that stands there.",
)
PURPOSE = (
    "Wrong set-ups compared with what jobs of the same kind bring elsewhere in this fleet. Listed by name. A "
    "difference is a reason to look at the data, the jobs, the stock and the chart, in that order."
)
HEADINGS = (
    "Name",
    "Units",
    "Wrong",
    "Share wrong",
    "95 % interval",
    "Expected",
    "Times expected",
    "Drawn together",
    "Expected by the others",
    "Usual by chance",
    "Chance of as many",
    "Adjusted (q)",
    "Chance of as few",
    "Adjusted (q) of few",
    "Too small",
    "Too large",
    "Housing too small",
    "What it says",
)
#: how far the naming can be trusted; the figures are those of tests/crews
TRIED = (
    "Tried on invented fleets of 6, 15 and 40 crews: where crews are alike within the kinds of job "
    "compared, one is said to differ in about 2 of 100 fleets; of crews with four times the odds of a "
    "wrong set-up, 9 in 10 are found if they have 60 units or more, about half with 20 to 59, few with "
    "less. Where jobs differ in hidden ways that no column tells, an innocent crew is named in 8, 15 "
    "and 24 of 100 fleets if that shifts the odds by a third, in 28, 54 and 81 of 100 if it nearly "
    "doubles them. So a difference is a reason to look, never a proof."
)


class Subject(Enum):
    """What a group is: how it stands in a sentence, and what is compared with it."""

    CREW = ("{name} set up", "the other crews")
    YEAR = ("In {name} crews set up", "the other years")
    HOUSING = ("With housing {name} crews set up", "the other housings")


def speaks(group: Group) -> bool:
    """Whether there is more to say of a group than that it is usual, or too small to tell."""
    return group.standing in (Standing.DIFFERENT, Standing.BETTER)


def subjects(report: CrewReport) -> list[tuple[Subject, tuple[Group, ...]]]:
    """What is compared, each with its groups."""
    return [
        (Subject.CREW, report.crews),
        (Subject.YEAR, report.years),
        (Subject.HOUSING, report.housings),
    ]


def sentence(group: Group, rules: Rules, display: Display, subject: Subject = Subject.CREW) -> str:
    """All there is to say of one group, in plain words."""
    opening, others = subject.value
    start = f"{opening.format(name=shorten(group.name))} {_units(group.tally.units)} that can be compared"
    if group.standing is Standing.TOO_FEW:
        return f"{start}: {_too_few(group, rules)}"
    found = f"{start}. Jobs like these would bring {_about(group.expected)}; {_found(group.tally.wrong)}"
    if group.standing is Standing.USUAL:
        low, high = group.usual
        return f"{found}: within normal variation (chance alone brings {_between(low, high)})."
    parts = [f"{found} ({_times(group.ratio)})."]
    if group.standing is Standing.BETTER:
        parts.append(f"{_chance(group.p_fewer, 'so few')} Worth asking how it is done, and telling {others}.")
        return " ".join(parts)
    parts.append(_chance(group.p_more, "so many"))
    parts.extend(_one_cause(group, others, display))
    parts.append(_next(group, subject))
    return " ".join(parts)


def _too_few(group: Group, rules: Rules) -> str:
    if group.tally.units >= rules.least_units:
        return f"only {group.comparable_units} of them are of a kind others set up too; too few to tell."
    most = _one_in(group.share_high)
    seen = f"{group.tally.wrong} wrong of {group.tally.units}"
    return f"too few to tell. {seen} could still be {most} in the long run."


def _one_cause(group: Group, others: str, display: Display) -> list[str]:
    """The direction most mistakes share, with a hint at one cause."""
    said = []
    if group.direction is not Direction.NONE:
        several = f"{group.in_direction} of the {group.tally.wrong} {SAID[group.direction]}"
        if group.in_direction == group.tally.wrong:
            several = f"All {group.tally.wrong} {SAID[group.direction]}"
        said.append(f"{several}, which suggests one cause: {HINTS[group.direction]}.")
        if group.others_alike:
            said.append(f"Mistakes of {others} lie the same way, so look first for a cause they share.")
    else:
        said.append("They lie both ways, so no single cause stands out.")
    if group.with_one_rating:
        rating = display.text(q.FLOW, group.one_rating_m3_s)
        said.append(
            f"{group.with_one_rating} of the {group.tally.wrong} carry the same restrictor, {rating}."
        )
    return said


def _next(group: Group, subject: Subject) -> str:
    look = min(LOOK_AT, group.tally.wrong)
    then = {
        Subject.CREW: "then hold chart and stock on the van against the sizes of this report",
        Subject.YEAR: "then ask which chart and which stock were in use that year",
        Subject.HOUSING: "then ask why this housing was ordered for them",
    }[subject]
    return f"Next: look at {look} of these units on site, {then}."


def method(report: CrewReport) -> list[str]:
    """How the comparison was made, within which kinds of job, what it left out, how far to trust it."""
    return [
        "A set-up counts as wrong where a restrictor too small or too large or a housing too small was found "
        f"for sure or likely; {report.fleet.wrong} of {_units(report.fleet.units)} are. Each counts once.",
        _strata_used(report.strata, report.rules),
        _gates(report.rules),
        *_left_out(report),
        *_widened(report),
        TRIED,
    ]


def _gates(rules: Rules) -> str:
    return (
        "The chance is exact: what dealing the same jobs out at random would bring, adjusted for the number "
        f"of groups. A difference is said only where q is at most {rules.false_share:.1%} "
        f"({rules.false_share_better:.1%} for better than expected) and the count, over {rules.least_units} "
        f"units or more, lies {rules.least_excess:g} "
        f"or more and {rules.least_ratio:g} times or more away from what the shares of the others give."
    )


def _left_out(report: CrewReport) -> list[str]:
    lines = [
        f"Left out, neither right nor wrong: {_units(count)}, {why}."
        for why, count in report.left_out.items()
    ]
    if report.no_crew:
        lines.append(f"Not compared between crews: {_units(report.no_crew)} whose row names no crew.")
    lines += [f"Counted all the same: {_units(count)} whose {why}." for why, count in report.remarks.items()]
    for names in report.alike:
        together = ", ".join(shorten(name) for name in names)
        lines.append(
            f"Counted apart though spelled alike: {together}. If that is one crew, say so on the Crews sheet."
        )
    return lines


def _widened(report: CrewReport) -> list[str]:
    if report.funnel.widened <= 1:
        return []
    times = f"{report.funnel.widened:.1f} times as wide"
    return [f"Crews differ by more than chance, so the limits of the chart are drawn {times}."]


def _strata_used(strata: Sequence[Stratum], rules: Rules) -> str:
    if not strata:
        return "No unit names a crew, so crews are not compared."
    by = used(strata)
    if not by:
        return "Too few units to part them by kind of job: all jobs count as alike, so read this with care."
    return (
        f"Crews are compared within {len(strata)} kinds of job by {', '.join(by)}; kinds with fewer than "
        f"{rules.least_stratum} units were put together."
    )


def used(strata: Sequence[Stratum]) -> tuple[str, ...]:
    """What tells the strata apart, in words: of vessel size, medium, install year."""
    vessels = {part.vessels for part in strata}
    media = {(part.vessels, part.media) for part in strata}
    years = {(part.vessels, part.media, part.years) for part in strata}
    told = (len(vessels) > 1, len(media) > len(vessels), len(years) > len(media))
    return tuple(
        word for word, tells in zip(("vessel size", "medium", "install year"), told, strict=True) if tells
    )


def stratum_label(stratum: Stratum, rules: Rules, display: Display) -> str:
    """The kinds of job of one stratum in words."""
    vessels = _classes(stratum.vessels, rules.vessel_edges_m, display, q.DIAMETER)
    layered = len(rules.wash_edges_m_s) + 1
    media = _classes(
        [code for code in stratum.media if code != layered], rules.wash_edges_m_s, display, q.FLUX
    )
    beds = [f"media washed at {media}" if media != ANY else "any medium"] if media else []
    if layered in stratum.media:
        beds.append("beds in layers")
    size = f"vessels {vessels}" if vessels != ANY else "vessels of any size"
    return f"{size}; {' and '.join(beds)}; {_years(stratum.years, rules)}"


def _classes(codes: Iterable[int], edges: Sequence[float], display: Display, quantity: q.Quantity) -> str:
    """Classes between edges as ranges, neighbours put together."""
    runs: list[list[int]] = []
    for code in sorted(codes):
        if runs and UNKNOWN < runs[-1][-1] == code - 1:
            runs[-1].append(code)
        else:
            runs.append([code])
    return " or ".join(_run(run[0], run[-1], edges, display, quantity) for run in runs)


def _run(first: int, last: int, edges: Sequence[float], display: Display, quantity: q.Quantity) -> str:
    if first == UNKNOWN:
        return UNKNOWN_CLASS[quantity]
    if first == 0 and last == len(edges):
        return ANY
    if first == 0:
        return f"up to {display.text(quantity, edges[last])}"
    if last == len(edges):
        return f"over {display.text(quantity, edges[first - 1])}"
    return f"over {display.bare(quantity, edges[first - 1])} to {display.text(quantity, edges[last])}"


def _years(codes: Sequence[int], rules: Rules) -> str:
    known = [code for code in codes if code != UNKNOWN]
    if not known:
        return "install year not known"
    first, last = known[0] * rules.years_together, (known[-1] + 1) * rules.years_together - 1
    return f"set up {first} to {last}" + (" or in an unknown year" if len(known) < len(codes) else "")


def row(group: Group) -> tuple[str, ...]:
    """The group as cells under `HEADINGS`; what was too few to tell has no chance and no q."""
    told = group.standing is not Standing.TOO_FEW
    chances = (group.p_more, group.q_more, group.p_fewer, group.q_fewer)
    mine = group.tally
    return (
        group.name,
        str(mine.units),
        str(mine.wrong),
        f"{group.share:.0%}" if mine.units else "",
        f"{group.share_low:.0%} to {group.share_high:.0%}",
        f"{group.expected:.1f}",
        _ratio(group.ratio),
        _ratio(group.shrunken),
        f"{group.expected_by_others:.1f}",
        _between(*group.usual),
        *(f"{chance:.2g}" if told else "" for chance in chances),
        str(mine.small),
        str(mine.large),
        str(mine.housing),
        group.standing.value,
    )


def _ratio(ratio: float) -> str:
    if math.isnan(ratio):
        return ""
    return "none expected" if math.isinf(ratio) else f"{ratio:.2f}"


def _units(count: int) -> str:
    return "1 unit" if count == 1 else f"{count} units"


def _about(expected: float) -> str:
    """Expected count of wrong set-ups as a person would say it."""
    if expected <= 0:
        return "no wrong set-up"
    if expected < 1:
        return "less than 1 wrong set-up"
    return "about 1 wrong set-up" if round(expected) == 1 else f"about {expected:.0f} wrong set-ups"


def _found(wrong: int) -> str:
    if wrong <= 1:
        return "1 was found" if wrong else "none was found"
    return f"{wrong} were found"


def _between(low: int, high: int) -> str:
    return f"{low} to {high}" if low < high else str(low)


def _times(ratio: float) -> str:
    if math.isinf(ratio):
        return "none were expected"
    return f"{ratio:.1f} times as many" if ratio >= 1 else f"{ratio:.0%} of that"


def _chance(p_value: float, what: str) -> str:
    """How seldom the deal of the jobs alone does it."""
    if p_value * RAREST < 1:
        return f"Chance alone would bring {what} less than once in {RAREST:,} times."
    times = 1 / p_value
    digits = 1 - math.floor(math.log10(times))
    return f"Chance alone would rarely bring {what} (about once in {round(times, digits):,.0f} times)."


def _one_in(share: float) -> str:
    """A share as `1 in n`, or in words where it is more than half."""
    if share > 1 / 2:
        return "more than half"
    return f"as many as 1 in {1 / share:.0f}"
