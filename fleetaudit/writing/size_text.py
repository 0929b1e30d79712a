"""The answer for one vessel in words, for a terminal."""

from __future__ import annotations

import textwrap

import numpy as np

from fleetaudit.facts import site
from fleetaudit.facts.window import expansion_at, flow_window
from fleetaudit.schema import quantity as q
from fleetaudit.sizing import Answer
from fleetaudit.writing.derivation import Derivation
from fleetaudit.writing.display import Display
from fleetaudit.writing.wording import Speaker

WIDTH = 80
#: what nobody should forget who reads a flow off this page
CAUTIONS = (
    "Flows are good to about a quarter for crushed media, 15% for resin; a restrictor holds its rating to "
    "its tolerance only. Confirm with bucket and watch, and look for media in the drain at the first wash.",
    "The maker's sheet of your own medium goes before the catalogue: give its rate with --rate.",
)


def assumed(answer: Answer, system: str) -> str:
    """What was assumed about the water, "" where it was given."""
    view = answer.result.view
    water = Derivation(answer.result, Display(system)).water(0)
    return f"Water not given: {water}. Give --cold and --warm." if site.season(view).assumed[0] else ""


def text(answer: Answer, system: str) -> str:
    """All lines of the answer."""
    return "\n".join([*_lines(answer, system), ""])


def _lines(answer: Answer, system: str) -> list[str]:
    show, view = Display(system), answer.result.view
    speaker = Speaker(answer.result, system)
    derivation = Derivation(answer.result, show)
    lines = [f"{speaker.medium(0)[:1].upper()}{speaker.medium(0)[1:]}", ""]
    rows = [
        ("Area", derivation.area(0)),
        ("Wash rate", derivation.rate(0) or "none in the catalogue; the window comes from physics alone"),
        ("Flow at that rate", _flow_at_rate(answer, show)),
        ("Water", derivation.water(0)),
    ]
    window = flow_window(view)
    if window.known[0]:
        rows += [
            ("Least flow", derivation.end("least", 0)),
            ("Most flow", derivation.end("most", 0)),
            ("Best flow", show.text(q.FLOW, answer.target_m3_s)),
            *(("Freeboard", line) for line in derivation.room(0)),
        ]
    else:
        rows.append(("Window", "not known: the catalogue has neither a wash rate nor grain data"))
    rows += _expansions(answer, show)
    rows.append(("Restrictor", _restrictor(answer, show)))
    rows.append(("Housing", _housing(answer)))
    for title, words in rows:
        lines += _wrapped(f"{title + ':':<19}{words}", " " * 19)
    for place in answer.findings:
        found = speaker.finding(0, answer.result.checks[place], None)
        graded = f"{found.title} ({found.tier}, {found.confidence})"
        lines += ["", *_wrapped(f"! {graded}. {found.message} {found.fix}", "  ")]
    lines += ["", *(line for caution in CAUTIONS for line in _wrapped(f"- {caution}", "  "))]
    return [
        *lines,
        "",
        "Sources:",
        *(line for source in answer.sources for line in _wrapped(f"- {source}", "  ")),
    ]


def _wrapped(words: str, rest: str) -> list[str]:
    return textwrap.wrap(words, WIDTH, subsequent_indent=rest, break_long_words=False, break_on_hyphens=False)


def _flow_at_rate(answer: Answer, show: Display) -> str:
    if np.isnan(answer.rate_m_s):
        return "not known"
    low, high = (rate * answer.area_m2 for rate in (answer.rate_low_m_s, answer.rate_high_m_s))
    if low == high:
        return show.text(q.FLOW, low)
    return f"{show.range(q.FLOW, low, high)}, middle {show.text(q.FLOW, answer.flow_at_rate_m3_s)}"


def _expansions(answer: Answer, show: Display) -> list[tuple[str, str]]:
    view = answer.result.view
    flows = {"at the wash rate": answer.flow_at_rate_m3_s}
    fitted = site.drain_flow(view)
    if fitted.known[0]:
        flows = {"at the restrictor fitted": float(fitted.value[0])}
    if not np.isnan(answer.restrictor_m3_s) and answer.restrictor_m3_s not in flows.values():
        flows["at the restrictor to fit"] = answer.restrictor_m3_s
    rows = []
    for words, flow in flows.items():
        ends = [expansion_at(view, np.array([flow]), round_end=end) for end in (True, False)]
        if np.isnan(ends[0].cold[0]):
            continue
        cold, warm = (
            f"{float(low[0]):.0%} to {float(high[0]):.0%}"
            for low, high in ((ends[0].cold, ends[1].cold), (ends[0].warm, ends[1].warm))
        )
        seasons = f"{cold}" if cold == warm else f"{cold} in the coldest, {warm} in the warmest water"
        rows.append(("Expansion", f"{seasons}, {words} ({show.text(q.FLOW, flow)})"))
    return rows


def _restrictor(answer: Answer, show: Display) -> str:
    if np.isnan(answer.restrictor_m3_s):
        return "cannot be told"
    tolerance = answer.result.view.setting("restrictor_tolerance")
    spread = show.range(
        q.FLOW, answer.restrictor_m3_s * (1 - tolerance), answer.restrictor_m3_s * (1 + tolerance)
    )
    size = f"{show.text(q.FLOW, answer.restrictor_m3_s)} ({spread} at ± {tolerance:.0%})"
    given = answer.question.restrictor_m3_s
    if given == answer.restrictor_m3_s:
        return f"keep {size}"
    return f"fit {size}" if answer.restrictor_stocked else f"none on stock is right; the nearest is {size}"


def _housing(answer: Answer) -> str:
    if not answer.housing:
        return "cannot be told"
    return "a flow control outside the valve" if answer.housing == "external" else answer.housing
