"""The answer for one vessel in words, for a terminal."""

from __future__ import annotations

import textwrap

import numpy as np

from fleetaudit.facts import site
from fleetaudit.facts.window import expansion_at, flow_window
from fleetaudit.language import say
from fleetaudit.schema import quantity as q
from fleetaudit.sizing import EXTERNAL, Answer
from fleetaudit.writing.derivation import Derivation
from fleetaudit.writing.display import Display
from fleetaudit.writing.wording import Speaker

WIDTH = 80
#: the one unit there is
ONLY = np.array([0])
#: columns that the names of the lines take, or more where a language needs them
LEFT = 19
#: what nobody should forget who reads a flow off this page
CAUTIONS = (
    "Flows are good to about a quarter for crushed media, 15% for resin; a restrictor holds its rating to "
    "its tolerance only. Confirm with bucket and watch, and look for media in the drain at the first wash.",
    "The maker's sheet of your own medium goes before the catalogue: give its rate with --rate.",
)


def assumed(answer: Answer, system: str) -> str:
    """What was assumed about the water, "" where it was given."""
    view = answer.result.view
    (water,) = Derivation(answer.result, Display(system)).waters(ONLY)
    if not site.season(view).assumed[0]:
        return ""
    return say("Water not given: {water}. Give --cold and --warm.", water=water)


def text(answer: Answer, system: str) -> str:
    """All lines of the answer."""
    return "\n".join([*_lines(answer, system), ""])


def _lines(answer: Answer, system: str) -> list[str]:
    show, view = Display(system), answer.result.view
    speaker = Speaker(answer.result, system)
    derivation = Derivation(answer.result, show)
    (area,), (rate,), (water,) = derivation.areas(ONLY), derivation.rates(ONLY), derivation.waters(ONLY)
    lines = [f"{speaker.medium(0)[:1].upper()}{speaker.medium(0)[1:]}", ""]
    rows = [
        (say("Area"), area),
        (say("Wash rate"), rate or say("none in the catalogue; the window comes from physics alone")),
        (say("Flow at that rate"), _flow_at_rate(answer, show)),
        (say("Water"), water),
    ]
    window = flow_window(view)
    if window.known[0]:
        (least,), (most,) = (derivation.ends(name, ONLY) for name in ("least", "most"))
        rows += [
            (say("Least flow"), least),
            (say("Most flow"), most),
            (say("Best flow"), show.text(q.FLOW, answer.target_m3_s)),
            *((say("Freeboard"), line) for line in derivation.rooms(ONLY) if line),
        ]
    else:
        why = say("not known: the catalogue has neither a wash rate nor grain data")
        rows.append((say("Window"), why))
    rows += _expansions(answer, show)
    rows.append((say("Restrictor"), _restrictor(answer, show)))
    rows.append((say("Housing"), _housing(answer)))
    left = max(LEFT, *(len(title) + 2 for title, _ in rows))
    for title, words in rows:
        lines += _wrapped(f"{title + ':':<{left}}{words}", " " * left)
    for place in answer.findings:
        found = speaker.finding(0, answer.result.checks[place], None)
        graded = f"{found.title} ({say(found.tier)}, {say(found.confidence)})"
        lines += ["", *_wrapped(f"! {graded}. {found.message} {found.fix}", "  ")]
    lines += ["", *(line for caution in CAUTIONS for line in _wrapped(f"- {say(caution)}", "  "))]
    return [
        *lines,
        "",
        say("Sources:"),
        *(line for source in answer.sources for line in _wrapped(f"- {source}", "  ")),
    ]


def _wrapped(words: str, rest: str) -> list[str]:
    return textwrap.wrap(words, WIDTH, subsequent_indent=rest, break_long_words=False, break_on_hyphens=False)


def _flow_at_rate(answer: Answer, show: Display) -> str:
    if np.isnan(answer.rate_m_s):
        return say("not known")
    low, high = (rate * answer.area_m2 for rate in (answer.rate_low_m_s, answer.rate_high_m_s))
    if low == high:
        return show.text(q.FLOW, low)
    return say(
        "{span}, middle {flow}",
        span=show.range(q.FLOW, low, high),
        flow=show.text(q.FLOW, answer.flow_at_rate_m3_s),
    )


def _expansions(answer: Answer, show: Display) -> list[tuple[str, str]]:
    view = answer.result.view
    flows = {say("at the wash rate"): answer.flow_at_rate_m3_s}
    fitted = site.drain_flow(view)
    if fitted.known[0]:
        flows = {say("at the restrictor fitted"): float(fitted.value[0])}
    if not np.isnan(answer.restrictor_m3_s) and answer.restrictor_m3_s not in flows.values():
        flows[say("at the restrictor to fit")] = answer.restrictor_m3_s
    rows = []
    for words, flow in flows.items():
        ends = [expansion_at(view, np.array([flow]), round_end=end) for end in (True, False)]
        if np.isnan(ends[0].cold[0]):
            continue
        cold, warm = (
            say("{low:.0%} to {high:.0%}", low=float(low[0]), high=float(high[0]))
            for low, high in ((ends[0].cold, ends[1].cold), (ends[0].warm, ends[1].warm))
        )
        seasons = (
            cold
            if cold == warm
            else say("{cold} in the coldest, {warm} in the warmest water", cold=cold, warm=warm)
        )
        rows.append((say("Expansion"), f"{seasons}, {words} ({show.text(q.FLOW, flow)})"))
    return rows


def _restrictor(answer: Answer, show: Display) -> str:
    if np.isnan(answer.restrictor_m3_s):
        return say("cannot be told")
    tolerance = answer.result.view.setting("restrictor_tolerance")
    spread = show.range(
        q.FLOW, answer.restrictor_m3_s * (1 - tolerance), answer.restrictor_m3_s * (1 + tolerance)
    )
    size = say(
        "{flow} ({spread} at ± {tolerance:.0%})",
        flow=show.text(q.FLOW, answer.restrictor_m3_s),
        spread=spread,
        tolerance=tolerance,
    )
    given = answer.question.restrictor_m3_s
    if given == answer.restrictor_m3_s:
        return say("keep {size}", size=size)
    if answer.restrictor_stocked:
        return say("fit {size}", size=size)
    return say("none on stock is right; the nearest is {size}", size=size)


def _housing(answer: Answer) -> str:
    if not answer.housing:
        return say("cannot be told")
    return say("a flow control outside the valve") if answer.housing == EXTERNAL else answer.housing
