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
from fleetaudit.language import say, several
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
#: what to do next, by what the group is
NEXT = {
    "CREW": "then hold chart and stock on the van against the sizes of this report",
    "YEAR": "then ask which chart and which stock were in use that year",
    "HOUSING": "then ask why this housing was ordered for them",
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

    CREW = ("{name} set up {units} that can be compared", "the other crews")
    YEAR = ("In {name} crews set up {units} that can be compared", "the other years")
    HOUSING = (
        "With housing {name} crews set up {units} that can be compared",
        "the other housings",
    )


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
    opening, others = subject.value[0], say(subject.value[1])
    start = say(opening, name=shorten(group.name), units=_units(group.tally.units))
    if group.standing is Standing.TOO_FEW:
        return f"{start}: {_too_few(group, rules)}"
    found = say(
        "{start}. Jobs like these would bring {about}; {found}",
        start=start,
        about=_about(group.expected),
        found=_found(group.tally.wrong),
    )
    if group.standing is Standing.USUAL:
        low, high = group.usual
        return say(
            "{found}: within normal variation (chance alone brings {between}).",
            found=found,
            between=_between(low, high),
        )
    parts = [f"{found} ({_times(group.ratio)})."]
    if group.standing is Standing.BETTER:
        parts.append(
            say(
                "{chance} Worth asking how it is done, and telling {others}.",
                chance=_chance(group.p_fewer, say("so few")),
                others=others,
            )
        )
        return " ".join(parts)
    parts.append(_chance(group.p_more, say("so many")))
    parts.extend(_one_cause(group, others, display))
    parts.append(_next(group, subject))
    return " ".join(parts)


def _too_few(group: Group, rules: Rules) -> str:
    if group.tally.units >= rules.least_units:
        return say(
            "only {comparable_units} of them are of a kind others set up too; too few to tell.",
            comparable_units=group.comparable_units,
        )
    most = _one_in(group.share_high)
    seen = say("{wrong} wrong of {units}", wrong=group.tally.wrong, units=group.tally.units)
    return say("too few to tell. {seen} could still be {most} in the long run.", seen=seen, most=most)


def _one_cause(group: Group, others: str, display: Display) -> list[str]:
    """The direction most mistakes share, with a hint at one cause."""
    said = []
    if group.direction is not Direction.NONE:
        which = say(
            "{count} of the {wrong} {what}",
            count=group.in_direction,
            wrong=group.tally.wrong,
            what=say(SAID[group.direction]),
        )
        if group.in_direction == group.tally.wrong:
            which = say("All {wrong} {what}", wrong=group.tally.wrong, what=say(SAID[group.direction]))
        said.append(
            say(
                "{which}, which suggests one cause: {hint}.",
                which=which,
                hint=say(HINTS[group.direction]),
            )
        )
        if not math.isnan(group.direction_p):
            said.append(_tilt(group.direction_p))
        if group.others_alike:
            said.append(
                say(
                    "Mistakes of {others} lie the same way, so look first for a cause they share.",
                    others=others,
                )
            )
    else:
        said.append(say("They lie both ways, so no single cause stands out."))
    if group.with_one_rating:
        rating = display.text(q.FLOW, group.one_rating_m3_s)
        said.append(
            say(
                "{count} of the {wrong} carry the same restrictor, {rating}.",
                count=group.with_one_rating,
                wrong=group.tally.wrong,
                rating=rating,
            )
        )
    return said


def _tilt(p_value: float) -> str:
    """How seldom chance alone makes mistakes lie one way as far as these do."""
    if p_value > 1 / 2:
        return say("Chance alone brings so one-sided a count more often than not, so it says little.")
    if p_value * RAREST < 1:
        return say(
            "Were both ways as likely, so one-sided a count would come less than once in {times:,} times.",
            times=RAREST,
        )
    return say(
        "Were both ways as likely, so one-sided a count would come about once in {times:,.0f} times.",
        times=_times_in(p_value),
    )


def _next(group: Group, subject: Subject) -> str:
    look = min(LOOK_AT, group.tally.wrong)
    then = NEXT[subject.name]
    return say("Next: look at {look} of these units on site, {then}.", look=look, then=say(then))


def method(report: CrewReport) -> list[str]:
    """How the comparison was made, within which kinds of job, what it left out, how far to trust it."""
    return [
        say(
            "A set-up counts as wrong where a restrictor too small or too large or a housing "
            "too small was found for sure or likely; {wrong} of {units} are. Each counts "
            "once.",
            wrong=report.fleet.wrong,
            units=_units(report.fleet.units),
        ),
        _strata_used(report.strata, report.rules),
        _gates(report.rules),
        *_left_out(report),
        *_widened(report),
        say(TRIED),
    ]


def _gates(rules: Rules) -> str:
    return say(
        "The chance is exact: what dealing the same jobs out at random would bring, "
        "adjusted for the number of groups. A difference is said only where q is at most "
        "{false_share:.1%} ({false_share_better:.1%} for better than expected) and the "
        "count, over {least_units} units or more, lies {least_excess:g} or more and "
        "{least_ratio:g} times or more away from what the shares of the others give.",
        false_share=rules.false_share,
        false_share_better=rules.false_share_better,
        least_units=rules.least_units,
        least_excess=rules.least_excess,
        least_ratio=rules.least_ratio,
    )


def _left_out(report: CrewReport) -> list[str]:
    lines = [
        say("Left out, neither right nor wrong: {units}, {why}.", units=_units(count), why=say(why))
        for why, count in report.left_out.items()
    ]
    if report.no_crew:
        lines.append(
            say("Not compared between crews: {units} whose row names no crew.", units=_units(report.no_crew))
        )
    lines += [
        say("Counted all the same: {units} whose {why}.", units=_units(count), why=say(why))
        for why, count in report.remarks.items()
    ]
    for names in report.alike:
        together = ", ".join(shorten(name) for name in names)
        lines.append(
            say(
                "Counted apart though spelled alike: {together}. If that is one crew, say so on "
                "the Crews sheet.",
                together=together,
            )
        )
    return lines


def _widened(report: CrewReport) -> list[str]:
    if report.funnel.widened <= 1:
        return []
    return [
        say(
            "Crews differ by more than chance, so the limits of the chart are drawn {times:.1f} times as "
            "wide.",
            times=report.funnel.widened,
        )
    ]


def _strata_used(strata: Sequence[Stratum], rules: Rules) -> str:
    if not strata:
        return say("No unit names a crew, so crews are not compared.")
    by = used(strata)
    if not by:
        return say(
            "Too few units to part them by kind of job: all jobs count as alike, so read this with care."
        )
    return say(
        "Crews are compared within {count} kinds of job by {by}; kinds with fewer than "
        "{least_stratum} units were put together.",
        count=len(strata),
        by=", ".join(by),
        least_stratum=rules.least_stratum,
    )


def used(strata: Sequence[Stratum]) -> tuple[str, ...]:
    """What tells the strata apart, in words: of vessel size, medium, install year."""
    vessels = {part.vessels for part in strata}
    media = {(part.vessels, part.media) for part in strata}
    years = {(part.vessels, part.media, part.years) for part in strata}
    told = (len(vessels) > 1, len(media) > len(vessels), len(years) > len(media))
    return tuple(
        say(word)
        for word, tells in zip(("vessel size", "medium", "install year"), told, strict=True)
        if tells
    )


def stratum_label(stratum: Stratum, rules: Rules, display: Display) -> str:
    """The kinds of job of one stratum in words."""
    vessels = _classes(stratum.vessels, rules.vessel_edges_m, display, q.DIAMETER)
    layered = len(rules.wash_edges_m_s) + 1
    media = _classes(
        [code for code in stratum.media if code != layered], rules.wash_edges_m_s, display, q.FLUX
    )
    beds = (
        [say("media washed at {media}", media=media) if media != ANY else say("any medium")] if media else []
    )
    if layered in stratum.media:
        beds.append(say("beds in layers"))
    size = say("vessels {size}", size=vessels) if vessels != ANY else say("vessels of any size")
    together = f" {say('and')} ".join(beds)
    return f"{size}; {together}; {_years(stratum.years, rules)}"


def _classes(codes: Iterable[int], edges: Sequence[float], display: Display, quantity: q.Quantity) -> str:
    """Classes between edges as ranges, neighbours put together."""
    runs: list[list[int]] = []
    for code in sorted(codes):
        if runs and UNKNOWN < runs[-1][-1] == code - 1:
            runs[-1].append(code)
        else:
            runs.append([code])
    return f" {say('or')} ".join(_run(run[0], run[-1], edges, display, quantity) for run in runs)


def _run(first: int, last: int, edges: Sequence[float], display: Display, quantity: q.Quantity) -> str:
    if first == UNKNOWN:
        return say(UNKNOWN_CLASS[quantity])
    if first == 0 and last == len(edges):
        return ANY
    if first == 0:
        return say("up to {end}", end=display.text(quantity, edges[last]))
    if last == len(edges):
        return say("over {end}", end=display.text(quantity, edges[first - 1]))
    return say(
        "over {low} to {high}",
        low=display.bare(quantity, edges[first - 1]),
        high=display.text(quantity, edges[last]),
    )


def _years(codes: Sequence[int], rules: Rules) -> str:
    known = [code for code in codes if code != UNKNOWN]
    if not known:
        return say("install year not known")
    first, last = known[0] * rules.years_together, (known[-1] + 1) * rules.years_together - 1
    return say("set up {first} to {last}", first=first, last=last) + (
        " " + say("or in an unknown year") if len(known) < len(codes) else ""
    )


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
        say("{low:.0%} to {high:.0%}", low=group.share_low, high=group.share_high),
        f"{group.expected:.1f}",
        _ratio(group.ratio),
        _ratio(group.shrunken),
        f"{group.expected_by_others:.1f}",
        _between(*group.usual),
        *(f"{chance:.2g}" if told else "" for chance in chances),
        str(mine.small),
        str(mine.large),
        str(mine.housing),
        say(group.standing.value),
    )


def _ratio(ratio: float) -> str:
    if math.isnan(ratio):
        return ""
    return say("none expected") if math.isinf(ratio) else f"{ratio:.2f}"


def _units(count: int) -> str:
    return several(count, "1 unit", "{count:,} units")


def _about(expected: float) -> str:
    """Expected count of wrong set-ups as a person would say it."""
    if expected <= 0:
        return say("no wrong set-up")
    if expected < 1:
        return say("less than 1 wrong set-up")
    return several(round(expected), "about 1 wrong set-up", "about {count} wrong set-ups")


def _found(wrong: int) -> str:
    if wrong <= 1:
        return say("1 was found") if wrong else say("none was found")
    return say("{count} were found", count=wrong)


def _between(low: int, high: int) -> str:
    return say("{low} to {high}", low=low, high=high) if low < high else str(low)


def _times(ratio: float) -> str:
    if math.isinf(ratio):
        return say("none were expected")
    return (
        say("{ratio:.1f} times as many", ratio=ratio)
        if ratio >= 1
        else say("{ratio:.0%} of that", ratio=ratio)
    )


def _chance(p_value: float, what: str) -> str:
    """How seldom the deal of the jobs alone does it."""
    if p_value * RAREST < 1:
        return say(
            "Chance alone would bring {what} less than once in {times:,} times.", what=what, times=RAREST
        )
    return say(
        "Chance alone would rarely bring {what} (about once in {times:,.0f} times).",
        what=what,
        times=_times_in(p_value),
    )


def _times_in(p_value: float) -> float:
    """How many times it takes for a chance to come once, two digits of it."""
    times = 1 / p_value
    return round(times, 1 - math.floor(math.log10(times)))


def _one_in(share: float) -> str:
    """A share as `1 in n`, or in words where it is more than half."""
    if share > 1 / 2:
        return say("more than half")
    return say("as many as 1 in {number:.0f}", number=1 / share)
