"""The explanation of one unit for a terminal of 80 columns, the drawing in plain characters."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from fleetaudit.language import say
from fleetaudit.writing.explanation import Bar, Drawing, Explanation, Input, Sourced

WIDTH = 80
NAME_WIDTH = 24
BAR_WIDTH = WIDTH - NAME_WIDTH - 1
#: what each kind of range is drawn with: ends, filling, middle
STROKES = {
    "season": ("-", "-", "-", "-"),
    "window": ("=", "=", "+", "="),
    "clash": ("x", "x", "x", "x"),
    "drain": ("[", "-", "o", "]"),
}
LEGEND = "- one season   = all year, + best   x no flow is right all year   [-o-] to drain   ! a limit"


def text(explained: Explanation) -> str:
    """Print the whole explanation; the answer and the cautions last, where the eye falls."""
    verdict = say("Verdict: {verdict}.", verdict=say(explained.verdict))
    parts = [
        [explained.heading, explained.file],
        _section(say("Cells"), [_input(one) for one in explained.inputs]),
        _section(say("Blank"), [explained.blank] if explained.blank else []),
        _section(say("Said when it was read"), explained.remarks),
        _section(say("Taken where nothing was given"), [_sourced(one) for one in explained.assumed]),
        _section(say("Figures of the medium"), [_sourced(one) for one in explained.figures]),
        _section(say("Working"), [line for step in explained.steps for line in _step(step)], hang=False),
        _section(say("Limits"), [_sourced(one) for one in explained.limits]),
        drawing(explained.drawing) if explained.drawing else [],
        _section(say("Could not be checked"), explained.not_checked),
        _section(say("What would change it"), explained.flips),
        _section(say("Found"), [_finding(one) for one in explained.findings] or [say("nothing")]),
        _section(say("What leaving it costs"), explained.waiting),
        _section(say("Before anybody acts on it"), explained.cautions),
        [line for words in (verdict, *explained.answer) for line in _wrapped(words)],
    ]
    return "\n\n".join("\n".join(part) for part in parts if part) + "\n"


def _wrapped(words: str, first: str = "", rest: str = "  ") -> list[str]:
    return textwrap.wrap(
        words,
        WIDTH,
        initial_indent=first,
        subsequent_indent=rest,
        break_long_words=True,
        break_on_hyphens=False,
    )


def _section(title: str, lines: Sequence[str], *, hang: bool = True) -> list[str]:
    if not lines:
        return []
    if not hang:
        return [title, *lines]
    return [title, *(part for line in lines for part in _wrapped(line, "  ", "      "))]


def _input(one: Input) -> str:
    place = f" {one.cell}" if one.cell else ""
    how = f" ({one.origin})" if one.origin else ""
    return (
        f"{one.title}{place}: {one.value}{how}"
        if one.used
        else f"{one.title}{place}: {one.value}, {one.origin}"
    )


def _sourced(one: Sourced) -> str:
    return f"{one.title}: {one.value}" + (f" [{one.source}]" if one.source else "")


def _step(step: object) -> list[str]:
    title, equation, numbers, source = (
        str(getattr(step, name)) for name in ("title", "equation", "numbers", "source")
    )
    lines = _wrapped(f"{title}: {equation}", "  ", "      ") + _wrapped(f"= {numbers}", "    ", "      ")
    return lines + (_wrapped(f"[{source}]", "    ", "      ") if source else [])


def _finding(finding: object) -> str:
    title, tier, confidence, message, why, fix = (
        str(getattr(finding, name)) for name in ("title", "tier", "confidence", "message", "why", "fix")
    )
    chance = getattr(finding, "values", {}).get("probability")
    graded = f"{say(tier)}, {say(confidence)}"
    if isinstance(chance, float):
        graded += f", {say('probability {chance:.3g}', chance=chance)}"
    return f"{title} ({graded}). {message} {why} {fix}"


def drawing(drawn: Drawing) -> list[str]:
    """Ranges over one axis of flow, a line each."""
    lines = [say("Window"), _axis(drawn)]
    for bar in drawn.bars:
        lines += _bar(bar, drawn)
    for name, flow, words in drawn.marks:
        place = _place(flow, drawn)
        title = f"  {say('limit: {name}', name=name)}"
        lines.append(f"{title:<{NAME_WIDTH}}{' ' * place}! {words}"[:WIDTH].rstrip())
    return [*lines, *_wrapped(say(LEGEND), "  ", "  ")]


def _place(flow: float, drawn: Drawing) -> int:
    share = (flow - drawn.first) / (drawn.last - drawn.first)
    return min(max(round(share * (BAR_WIDTH - 1)), 0), BAR_WIDTH - 1)


def _axis(drawn: Drawing) -> str:
    row = [" "] * BAR_WIDTH
    for flow, words in drawn.ticks:
        place = _place(flow, drawn)
        last = place + len(words)
        if last <= BAR_WIDTH and all(row[spot] == " " for spot in range(max(place - 1, 0), last)):
            row[place:last] = words
    title = f"  {say('flow, {unit}', unit=drawn.unit)}"
    return f"{title:<{NAME_WIDTH}}{''.join(row)}".rstrip()


def _bar(bar: Bar, drawn: Drawing) -> list[str]:
    first, fill, middle, last = STROKES[bar.kind]
    row = [" "] * BAR_WIDTH
    start, end = _place(bar.low, drawn), _place(bar.high, drawn)
    row[start : end + 1] = [fill] * (end + 1 - start)
    row[start], row[end] = first, last
    if bar.middle == bar.middle:
        row[_place(bar.middle, drawn)] = middle
    name = f"  {bar.title}"
    drawn_row = "".join(row).rstrip()
    if len(name) < NAME_WIDTH:
        return [f"{name:<{NAME_WIDTH}}{drawn_row}"]
    return [*_wrapped(name, "", "  "), f"{'':<{NAME_WIDTH}}{drawn_row}"]
