"""One unit explained: its cells, every equation with numbers, its limits, and what would change it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from msgspec import Struct

from fleetaudit.auditing.result import AuditResult, State
from fleetaudit.auditing.verdict import Verdict
from fleetaudit.catalogue.model import Figure
from fleetaudit.checks.registry import BY_SLUG
from fleetaudit.facts import site
from fleetaudit.facts.media import GRAIN, PRACTICE
from fleetaudit.facts.needed import needed
from fleetaudit.facts.strata import strata
from fleetaudit.facts.window import flow_window, flows_in_water
from fleetaudit.language import say
from fleetaudit.ranking import yearly_cost
from fleetaudit.schema import fleet
from fleetaudit.schema import quantity as q
from fleetaudit.schema.column import MISSING_WORDS, Column, Missing, Origin
from fleetaudit.schema.quantity import Kind, Quantity
from fleetaudit.schema.remark import Remark
from fleetaudit.what_if import Flip, WhatIf, what_if
from fleetaudit.writing.cautions import CAUTIONS
from fleetaudit.writing.display import Display
from fleetaudit.writing.flow_steps import interval_m3_s
from fleetaudit.writing.report import FindingRecord
from fleetaudit.writing.steps import steps
from fleetaudit.writing.waiting import waiting
from fleetaudit.writing.wording import Speaker
from fleetaudit.writing.working import Step, Working

ORIGIN_WORDS = {
    Origin.TYPED: "typed",
    Origin.HEADER: "unit from the heading",
    Origin.FORMAT: "unit from the cell's format",
    Origin.DEFAULT: "no unit given, the usual one assumed",
    Origin.FILLED: "taken over from another cell",
    Origin.GUESSED: "guessed from a doubtful spelling",
    Origin.CONFLICT: "contradicts another cell",
    Origin.ABSENT: "",
}
#: figures of the medium behind a window
GRAIN_SIZE = Quantity("grain size", Kind.NUMBER, "_m", "m", "mm", "mm", 2)
FIGURE_TITLES = {
    "d10_m": ("effective size d10", GRAIN_SIZE),
    "uniformity": ("uniformity coefficient", q.NUMBER),
    "grain_density_kg_m3": ("density of the wet grain, kg/m³", q.COUNT),
    "sphericity": ("sphericity", q.NUMBER),
    "porosity": ("settled porosity", q.NUMBER),
    "rate_low_m_s": ("least wash rate", q.FLUX),
    "rate_high_m_s": ("most wash rate", q.FLUX),
    "rate_temperature_k": ("temperature of the rate", q.TEMPERATURE),
    "expansion_low": ("least expansion", q.SHARE),
    "expansion_target": ("expansion aimed at", q.SHARE),
    "expansion_high": ("most expansion", q.SHARE),
    "temperature_exponent": ("power of viscosity", q.NUMBER),
}
#: settings that stand in where a unit says nothing
STAND_INS = (
    ("restrictor_tolerance", "tolerance of the restrictor", q.SHARE),
    ("freeboard_margin", "room left above the expanded bed", q.LENGTH),
)


#: limits of a flow that may set an end of the window, and what each says
OTHER_LIMITS = (
    ("floor", "lifts the coarser grains at all"),
    ("freeboard, any grains", "the bed reaches the distributor whatever the grain shape"),
    ("freeboard, sharp grains", "it does for sharp grains"),
    ("carry-over", "the finest grains leave"),
)
PHYSICS = "physics; see the working"
#: single limits marked across the drawing
MARKS = ("freeboard", "carry-over", "floor")
#: what of the unit would have to be different, above and below a value
CHANGES = {
    fleet.RESTRICTOR: ("A restrictor rated above about {value}", "A restrictor rated below about {value}"),
    fleet.TEMPERATURE: ("Water above about {value} all year", "Water below about {value} all year"),
    fleet.COLD: ("Coldest water above about {value}", "Coldest water below about {value}"),
    fleet.WARM: ("Warmest water above about {value}", "Warmest water below about {value}"),
    fleet.FREEBOARD: ("Freeboard above about {value}", "Freeboard below about {value}"),
}


class Input(Struct, frozen=True):
    """One cell that was used: what, where, as read and how; `used` is False where it could not be."""

    title: str
    cell: str
    value: str
    origin: str
    used: bool = True


class Sourced(Struct, frozen=True):
    """One figure or limit with its range and source."""

    title: str
    value: str
    source: str


class Bar(Struct, frozen=True):
    """One range of the drawing [m3/s]; `middle` NaN where it has none, `kind` its look."""

    title: str
    low: float
    high: float
    middle: float
    kind: str
    words: str


class Drawing(Struct, frozen=True):
    """Ranges over one axis of flow [m3/s], and single limits marked across it.

    `unit` is that of the ticks.
    """

    first: float
    last: float
    bars: tuple[Bar, ...]
    marks: tuple[tuple[str, float, str], ...]
    ticks: tuple[tuple[float, str], ...]
    unit: str


class Explanation(Struct, frozen=True):
    """Everything there is to say of one unit."""

    heading: str
    file: str
    verdict: str
    answer: tuple[str, ...]
    inputs: tuple[Input, ...]
    blank: str
    assumed: tuple[Sourced, ...]
    figures: tuple[Sourced, ...]
    steps: tuple[Step, ...]
    limits: tuple[Sourced, ...]
    drawing: Drawing | None
    flips: tuple[str, ...]
    findings: tuple[FindingRecord, ...]
    not_checked: tuple[str, ...]
    remarks: tuple[str, ...]
    cautions: tuple[str, ...]
    #: what leaving each finding costs and its place in the order
    waiting: tuple[str, ...] = ()


def explain(result: AuditResult, unit: int, system: str, remarks: Sequence[Remark] = ()) -> Explanation:
    """Explanation of one unit of an audited sheet."""
    return _Explainer(result, unit, system).explain(remarks)


class _Explainer:
    def __init__(self, result: AuditResult, unit: int, system: str) -> None:
        self.result, self.view, self.unit = result, result.view, unit
        self.show = Display(system)
        self.speaker = Speaker(result, system)
        self.fine = Working(result, unit, self.show).fine

    def explain(self, remarks: Sequence[Remark]) -> Explanation:
        frame, unit = self.view.frame, self.unit
        name = frame.text(fleet.UNIT_ID)[unit]
        account = frame.text(fleet.ACCOUNT)[unit]
        heading = f"{name}{f', {account}' if account else ''}"
        other = what_if(self.result, unit)
        inputs = self._inputs()
        return Explanation(
            heading=heading,
            file=say(
                '{file}, sheet "{sheet}", row {row}',
                file=frame.file,
                sheet=frame.sheet,
                row=int(frame.rows[unit]),
            ),
            verdict=Verdict(int(self.result.verdict[unit])).word,
            answer=self._answer(),
            inputs=inputs,
            blank=self._blank(),
            assumed=self._assumed(),
            figures=self._figures(),
            steps=tuple(steps(self.result, self.unit, self.show)),
            limits=self._limits(),
            drawing=self._drawing(),
            flips=self._flips(other),
            findings=self._findings(),
            not_checked=self._not_checked(),
            remarks=self._remarks(remarks, inputs),
            cautions=tuple(say(text) for text in CAUTIONS),
            waiting=waiting(self.result, unit, self.show),
        )

    def _findings(self) -> tuple[FindingRecord, ...]:
        return tuple(
            self.speaker.finding(self.unit, item, yearly_cost(item, self.view))
            for item in self.result.checks
            if item.state[self.unit] == State.FOUND
        )

    def _not_checked(self) -> tuple[str, ...]:
        return tuple(
            f"{say(item.check.title)}: {self.speaker.reason(item, self.unit)}"
            for item in self.result.checks
            if item.state[self.unit] == State.NOT_CHECKED
        )

    def _answer(self) -> tuple[str, ...]:
        found, need, unit = flow_window(self.view), needed(self.view), self.unit
        if not found.known[unit]:
            missing = MISSING_WORDS[Missing(int(max(found.low.missing[unit], found.high.missing[unit])))]
            return (say("The flow window cannot be told: {reason}.", reason=say(missing)),)
        low, high, target = (float(side[unit]) for side in (found.low.value, found.high.value, found.target))
        best = self.show.text(q.FLOW, target)
        if low <= high:
            window = say(
                "This bed of {medium} takes {window}, best {best}.",
                medium=self.speaker.medium(unit),
                window=self.show.range(q.FLOW, low, high),
                best=best,
            )
        else:
            window = say(
                "No flow is right all year: at least {low} is needed and at most {high} allowed; {best} is "
                "the best there is.",
                low=self.show.text(q.FLOW, low),
                high=self.show.text(q.FLOW, high),
                best=best,
            )
        rating = float(need.rating_m3_s[unit])
        if np.isnan(rating):
            return (window,)
        restrictor = say(
            "Restrictor to have: {rating}."
            if need.stocked[unit]
            else "Restrictor to have: {rating}, the nearest on stock, yet not right.",
            rating=self.show.text(q.FLOW, rating),
        )
        return (window, restrictor)

    # --- what it rests on

    def _inputs(self) -> tuple[Input, ...]:
        frame, unit = self.view.frame, self.unit
        found = []
        for column in fleet.COLUMNS:
            if not frame.has(column):
                continue
            missing = Missing(int(frame.why_missing(column)[unit]))
            cell = self.speaker.local(self.speaker.cell(unit, column))
            if missing is Missing.KNOWN:
                value = self._value(column)
                if value:
                    origin = ORIGIN_WORDS[Origin(int(frame.origins(column)[unit]))]
                    found.append(Input(say(column.title), cell, value, say(origin)))
            elif missing is not Missing.BLANK:
                raw = frame.raw.get((unit, column.name), "")
                found.append(
                    Input(
                        say(column.title),
                        cell,
                        f'"{raw}"' if raw else "–",
                        say(MISSING_WORDS[missing]),
                        False,
                    )
                )
        return tuple(found)

    def _value(self, column: Column) -> str:
        frame, unit, kind = self.view.frame, self.unit, column.quantity.kind
        if column is fleet.MEDIUM:
            text, read = frame.text(column)[unit], self.speaker.medium(unit)
            same = text.casefold() == read.casefold()
            return text if same else say("{text} (read as {medium})", text=text, medium=read)
        if kind is Kind.CHOICE:
            code = int(frame.code(column.name)[unit])
            word = list(column.choices)[code] if code >= 0 else ""
            return word if column is fleet.HOUSING else say(word)  # housings are called as they are typed
        if kind is Kind.FLAG:
            return say({0: "no", 1: "yes"}.get(int(frame.code(column.name)[unit]), ""))
        if kind is Kind.LAYERS:
            return self._layers() or frame.text(column)[unit]
        if not column.numeric:
            return frame.text(column)[unit]
        return self._exactly(column.quantity, float(frame.number(column)[unit]))

    def _exactly(self, quantity: Quantity, value: float) -> str:
        """A number as it was given, not rounded to what a report shows."""
        shown = self.show.value(quantity, value)
        if quantity.kind is not Kind.NUMBER or shown is None:
            return self.show.text(quantity, value)
        unit = self.show.unit(quantity)
        return f"{shown:.6g} {unit}".rstrip()

    def _layers(self) -> str:
        parts = []
        for layer in self.view.frame.layers.get(self.unit, ()):
            name = say(self.view.catalogue.media[layer.medium].name if layer.medium >= 0 else "unknown")
            if not np.isnan(layer.share):
                parts.append(f"{name} {layer.share:.0%}")
            else:
                parts.append(f"{name} {self.show.text(q.LENGTH, layer.depth_m)}")
        return "; ".join(parts)

    def _blank(self) -> str:
        frame, unit = self.view.frame, self.unit
        return ", ".join(
            f"{say(column.title)} ({self.speaker.local(self.speaker.cell(unit, column))})"
            for column in fleet.COLUMNS
            if column.name in frame.columns
            and frame.has(column)
            and frame.why_missing(column)[unit] == Missing.BLANK
        )

    def _assumed(self) -> tuple[Sourced, ...]:
        view, unit, show = self.view, self.unit, self.show
        lines = []
        water = site.season(view)
        if water.assumed[unit]:
            span = show.range(q.TEMPERATURE, float(water.cold.low[unit]), float(water.warm.high[unit]))
            lines.append(
                Sourced(
                    say("water temperature, by its source"),
                    say("{span}; the window is that of the middle", span=span),
                    self._setting_source("water_mixed_cold"),
                )
            )
        if not site.mesh_stated(view)[unit] and view.medium[unit] >= 0:
            lines.append(
                Sourced(
                    say("grain size"),
                    view.catalogue.media[int(view.medium[unit])].mesh or say("the usual one"),
                    say("usual mesh of the catalogue"),
                )
            )
        if site.depth(view).assumed[unit] and site.depth(view).known[unit]:
            lines.append(
                Sourced(
                    say("bed depth"),
                    show.text(q.LENGTH, float(site.depth(view).value[unit])),
                    say("usual fill of that vessel (catalogue); never cuts the window"),
                )
            )
        if not site.room(view).known[unit] and not np.isnan(site.derived_room(view).value[unit]):
            lines.append(
                Sourced(
                    say("freeboard"),
                    show.text(q.LENGTH, float(site.derived_room(view).value[unit])),
                    say("from the vessel's height or the medium's share; never cuts the window"),
                )
            )
        for key, title, quantity in STAND_INS:
            value = show.text(quantity, view.setting(key))
            lines.append(Sourced(say(title), value, self._setting_source(key)))
        return tuple(lines)

    def _setting_source(self, key: str) -> str:
        setting = self.view.catalogue.settings[key]
        source = self.view.catalogue.cite(setting.source)
        return say("{source} (setting {key})", source=source, key=key)

    def _media(self) -> list[int]:
        cut = strata(self.view)
        codes = [int(self.view.medium[self.unit]), *cut.medium[cut.unit == self.unit].tolist()]
        return [code for code in dict.fromkeys(codes) if code >= 0]

    def _figures(self) -> tuple[Sourced, ...]:
        lines = []
        for code in self._media():
            medium = self.view.catalogue.media[code]
            for key in (*PRACTICE, *GRAIN):
                figure = medium.figures.get(key)
                if figure is not None:
                    title, quantity = FIGURE_TITLES[key]
                    lines.append(self._figure(f"{say(medium.name)}: {say(title)}", figure, quantity))
        return tuple(lines)

    def _figure(self, title: str, figure: Figure, quantity: Quantity) -> Sourced:
        value = self._exactly(quantity, figure.value)
        if figure.low < figure.high:
            low, high = (self._exactly(quantity, end) for end in (figure.low, figure.high))
            value += f" ({say('{low} to {high}', low=low, high=high)})"
        source = self.view.catalogue.cite(figure.source)
        if figure.replaced is not None:
            was = self._exactly(quantity, figure.replaced.value)
            source = f"{source}; {say('instead of {value}', value=was)}"
        return Sourced(title, value, f"{source}, {say(f'trust: {figure.trust}')}" if figure.trust else source)

    def _limits(self) -> tuple[Sourced, ...]:
        """What sets each side of the window and what else would."""
        found, unit = flow_window(self.view), self.unit
        if not found.known[unit]:
            return ()
        flow = self.fine
        (least,), (most,) = (
            self.speaker.derivation.ends(name, np.array([unit])) for name in ("least", "most")
        )
        lines = [
            Sourced(say("least"), least, self._source_of("low")),
            Sourced(say("most"), most, self._source_of("high")),
        ]
        others = (found.floor, found.hard, found.caution, found.carry_over)
        for (title, words), values in zip(OTHER_LIMITS, others, strict=True):
            value = float(values[unit])
            if np.isfinite(value):
                lines.append(Sourced(say(title), f"{flow(q.FLOW, value)}: {say(words)}", say(PHYSICS)))
        lines += [
            Sourced(
                say(row.name),
                say("takes up to {flow}", flow=self.show.text(q.FLOW, row.limit_m3_s)),
                self.view.catalogue.cite(row.limit.source),
            )
            for row in self.view.catalogue.housings
        ]
        return tuple(lines)

    def _source_of(self, side: str) -> str:
        key = f"rate_{side}_m_s"
        media = self.view.catalogue.media
        cited = [
            self.view.catalogue.cite(media[code].figures[key].source)
            for code in self._media()
            if key in media[code].figures
        ]
        return "; ".join(dict.fromkeys(cited)) or say(PHYSICS)

    def _remarks(self, remarks: Sequence[Remark], inputs: tuple[Input, ...]) -> tuple[str, ...]:
        """Remarks of reading that name a cell of this row."""
        mine = {one.cell for one in inputs if one.cell}
        return tuple(
            remark.text
            for remark in remarks
            if len(remark.cells) <= MANY_CELLS and mine & {cell.rpartition("!")[2] for cell in remark.cells}
        )

    # --- the drawing

    def _drawing(self) -> Drawing | None:
        found, unit, view = flow_window(self.view), self.unit, self.view
        if not found.known[unit]:
            return None
        low, high, target = (float(side[unit]) for side in (found.low.value, found.high.value, found.target))
        season = site.season(view)
        bars = []
        for name, ends in ((say("Coldest water"), season.cold), (say("Warmest water"), season.warm)):
            least, most = (float(flow[unit]) for flow in flows_in_water(view, ends.value))
            kelvin = self.show.text(q.TEMPERATURE, float(ends.value[unit]))
            bars.append(
                Bar(f"{name}, {kelvin}", least, most, np.nan, "season", self.show.range(q.FLOW, least, most))
            )
        if season.assumed[unit]:
            span = self.show.range(q.TEMPERATURE, float(season.cold.low[unit]), float(season.warm.high[unit]))
            bars = [
                Bar(
                    say("Water assumed, {span}", span=span),
                    float(found.low.low[unit]),
                    float(found.high.high[unit]),
                    np.nan,
                    "season",
                    say("widest the assumed water allows"),
                )
            ]
        words = self.show.range(q.FLOW, low, high) if low <= high else say("none: least lies above most")
        bars.append(
            Bar(
                say("Whole year"),
                min(low, high),
                max(low, high),
                target,
                "window" if low <= high else "clash",
                words,
            )
        )
        drain = interval_m3_s(self.result, unit)
        if drain is not None:
            bars.append(
                Bar(
                    say("To drain"),
                    drain[0],
                    drain[2],
                    drain[1],
                    "drain",
                    self.show.range(q.FLOW, drain[0], drain[2]),
                )
            )
        marks = [
            (say(name), float(values[unit]), self.show.text(q.FLOW, float(values[unit])))
            for name, values in zip(MARKS, (found.hard, found.carry_over, found.floor), strict=True)
        ]
        return self._on_axis(bars, marks)

    def _on_axis(self, bars: list[Bar], marks: list[tuple[str, float, str]]) -> Drawing:
        """Axis from nothing or half the lowest flow to a little over the highest, with round ticks."""
        top = max(bar.high for bar in bars)
        bottom = min(bar.low for bar in bars)
        first = 0.0 if bottom < top / 3 else bottom * 0.75
        last = top * 1.15
        near = [mark for mark in marks if first < mark[1] <= last * 1.6 and np.isfinite(mark[1])]
        last = max([last, *(mark[1] * 1.05 for mark in near)])
        one = self.show.value(q.FLOW, 1.0) or 1.0
        low, high = first * one, last * one
        step = next(step for step in _round_steps() if (high - low) / step <= MOST_TICKS)
        places = np.arange(np.ceil(low / step) * step, high, step)
        ticks = tuple((float(place) / one, f"{float(place):g}") for place in places)
        return Drawing(first, last, tuple(bars), tuple(near), ticks, self.show.unit(q.FLOW))

    # --- what would change it

    def _flips(self, other: WhatIf) -> tuple[str, ...]:
        if not flow_window(self.view).known[self.unit]:
            return ()
        lines = []
        right = [self.show.text(q.FLOW, rating) for rating in other.right]
        if right:
            listed = ", ".join(right)
            lines.append(say("Ratings on stock that raise nothing about the wash: {listed}.", listed=listed))
        else:
            lines.append(say("No rating on stock raises nothing about the wash here."))
        return (*lines, *(self._flip(flip) for flip in other.flips))

    def _flip(self, flip: Flip) -> str:
        quantity = flip.column.quantity
        above, below = CHANGES[flip.column]
        titles = [say(BY_SLUG[slug].title).lower() for slug in flip.outcome.found]
        return say(
            "{change}: {found} (verdict {verdict}).",
            change=say(above if flip.upward else below, value=self.fine(quantity, flip.value)),
            found="; ".join(titles) if titles else say("nothing found about the wash"),
            verdict=say(flip.outcome.verdict),
        )


MOST_TICKS = 8
#: a remark about more cells than this is about a column, not about a row
MANY_CELLS = 20


def _round_steps() -> list[float]:
    return [digit * 10.0**power for power in range(-3, 7) for digit in (1, 2, 5)]
