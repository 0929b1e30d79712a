"""The way from the cells to the flow window of a unit, line by line, and the sources it leans on."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite, isnan
from typing import Any

import numpy as np

from fleetaudit.auditing.result import AuditResult
from fleetaudit.checks.check import Check
from fleetaudit.facts import site
from fleetaudit.facts.frame import Codes
from fleetaudit.facts.site import Across
from fleetaudit.facts.window import expansion, flow_window
from fleetaudit.hydraulics.window import Limit
from fleetaudit.language import say
from fleetaudit.schema import quantity as q
from fleetaudit.writing.alike import said_once, shared
from fleetaudit.writing.display import Display

FIGURE_WORDS = {
    "rate_low_m_s": "wash rate",
    "rate_high_m_s": "wash rate",
    "d10_m": "grain size",
    "life_s": "media life",
    "top_up_s": "time to the next top-up",
    "life_bed_volumes": "media life",
    "least_depth_m": "least depth",
    "ph_low": "pH limit",
    "ph_high": "pH limit",
    "temperature_max_k": "temperature limit",
    "service_flux_m_s": "service flow",
    "service_per_volume_1_s": "service flow",
    "contact_time_s": "contact time",
    "wash_minutes_low_s": "wash time",
    "wash_interval_high_s": "wash interval",
}
LIMIT_WORDS = {
    Limit.RATE: "wash rate of the medium",
    Limit.FLOOR: "flow that first lifts the coarser grains",
    Limit.FREEBOARD: "freeboard",
    Limit.CARRY_OVER: "flow that carries the finest grains out",
    Limit.PHYSICS: "physics alone, no wash rate known",
}

ACROSS_WORDS = {
    Across.NOMINAL: "nominal diameter",
    Across.MEASURED: "measured inside diameter",
    Across.TABLE: "inside diameter by the Vessels table",
}


class Derivation:
    """Explains the flow window of the units of one audited frame, each line for all units asked about."""

    def __init__(self, result: AuditResult, display: Display) -> None:
        self.view = result.view
        self.display = display
        self._sought = result.view.purposes

    def sources(self, units: Codes, check: Check) -> list[str]:
        """Where the figures of a check come from, for the medium of each unit and what it is there for."""

        def cited(code: int, sought: int) -> str:
            return self._source(code, sought, check)

        return said_once(cited, self.view.medium[units].tolist(), self._sought.codes[units].tolist())

    def _source(self, code: int, sought: int, check: Check) -> str:
        found: list[str] = []
        catalogue = self.view.catalogue
        if code >= 0:
            purposes = self._sought.keys(catalogue, sought)
            found += [
                f"{say(FIGURE_WORDS[key])}: {catalogue.cite(figure.source)}"
                for key in check.figures
                if (figure := catalogue.media[code].figure(key, purposes)) is not None
            ]
        if check.source:
            found.append(say(check.source))
        return "; ".join(dict.fromkeys(found))

    def lines(self, units: Codes) -> list[tuple[str, ...]]:
        """Of each unit area, rate, water, ends of the window and what sets them, drain flow and expansion."""
        known = flow_window(self.view).known[units]
        told = units[known]
        columns = (
            self._led(say("area {area}"), "area", self.areas(told)),
            self._led(say("wash rate {rate}"), "rate", self.rates(told)),
            self._led(say("water {water}"), "water", self.waters(told)),
            self._led(say("least {flow}"), "flow", self.ends("least", told)),
            self._led(say("most {flow}"), "flow", self.ends("most", told)),
            self._led(say("freeboard {room}"), "room", self.rooms(told)),
            self._flows(told),
            self._expansions(told),
            self._layers(told),
            self._vessels(told),
            self._best(told),
        )
        made = iter(shared(tuple(filter(None, row)) for row in zip(*columns, strict=True)))
        return [next(made) if there else () for there in known.tolist()]

    def _led(self, template: str, name: str, words: Sequence[str]) -> list[str]:
        """Words put into a template; "" where there are none."""
        return said_once(lambda text: text and template.format_map({name: text}), words)

    def _listed(self, units: Codes, *arrays: np.ndarray[Any, Any]) -> list[list[Any]]:
        """Values of the units alone."""
        return [values[units].tolist() for values in arrays]

    def areas(self, units: Codes) -> list[str]:
        """Area of one vessel and the diameter it goes by."""
        view, show = self.view, self.display

        def said(kind: int, across: float, area: float) -> str:
            return say(
                "{area} from {across} ({kind})",
                area=show.text(q.AREA, area),
                across=show.text(q.DIAMETER, across),
                kind=say(ACROSS_WORDS[Across(kind)]),
            )

        columns = site.across(view), site.diameter(view).value, site.area(view).value
        return said_once(said, *self._listed(units, *columns))

    def rates(self, units: Codes) -> list[str]:
        """Wash rate of the medium with the temperature it is for; "" where the catalogue has none."""
        view, show = self.view, self.display

        def said(low: float, high: float, at: float) -> str:
            if isnan(low):
                return ""
            assumed = "" if not isnan(at) else f" ({say('assumed')})"
            at = view.setting("default_rate_temperature") if isnan(at) else at
            span = show.text(q.FLUX, low) if low == high else show.range(q.FLUX, low, high)
            temperature = show.text(q.TEMPERATURE, at)
            return say("{rate} at {temperature}", rate=span, temperature=temperature) + assumed

        figures = (view.usual(key) for key in ("rate_low_m_s", "rate_high_m_s", "rate_temperature_k"))
        return said_once(said, *self._listed(units, *figures))

    def waters(self, units: Codes) -> list[str]:
        """Water temperatures, and what was done where they are assumed."""
        water, show = site.season(self.view), self.display

        def said(assumed: bool, low: float, cold: float, warm: float, high: float) -> str:
            if assumed:
                return say(
                    "{span} assumed; worked out at {middle}",
                    span=show.range(q.TEMPERATURE, low, high),
                    middle=show.text(q.TEMPERATURE, cold),
                )
            return show.text(q.TEMPERATURE, cold) if cold == warm else show.range(q.TEMPERATURE, cold, warm)

        ends = water.cold.low, water.cold.value, water.warm.value, water.warm.high
        return said_once(said, *self._listed(units, water.assumed, *ends))

    def ends(self, name: str, units: Codes) -> list[str]:
        """The "least" or the "most" flow and what sets it."""
        show, window, least = self.display, flow_window(self.view), name == "least"

        def said(flow: float, limit: int, area: float) -> str:
            return say(
                "{flow} = {flux} in the warmest water × {area}; set by {limit}"
                if least
                else "{flow} = {flux} in the coldest water × {area}; set by {limit}",
                flow=show.text(q.FLOW, flow),
                flux=show.text(q.FLUX, flow / area),
                area=show.text(q.AREA, area),
                limit=say(LIMIT_WORDS.get(Limit(limit), "not told")),
            )

        end, set_by = (window.low, window.low_set_by) if least else (window.high, window.high_set_by)
        return said_once(said, *self._listed(units, end.value, set_by, site.area(self.view).value))

    def rooms(self, units: Codes) -> list[str]:
        """Freeboard and the flows it sets; "" where none was measured."""
        window, show = flow_window(self.view), self.display

        def said(hard: float, caution: float, room: float) -> str:
            if not isfinite(hard):
                return ""
            return say(
                "{room}: above {caution} sharp grains may be lost, above {hard} any grains",
                room=show.text(q.LENGTH, room),
                caution=show.text(q.FLOW, caution),
                hard=show.text(q.FLOW, hard),
            )

        columns = window.hard, window.caution, site.room(self.view).value
        return said_once(said, *self._listed(units, *columns))

    def _flows(self, units: Codes) -> list[str]:
        flow, show = site.drain_flow(self.view), self.display

        def said(known: bool, low: float, middle: float, high: float) -> str:
            if not known:
                return ""
            return say(
                "to drain {flow} ({span} with its tolerance)",
                flow=show.text(q.FLOW, middle),
                span=show.range(q.FLOW, low, high),
            )

        return said_once(said, *self._listed(units, flow.known, flow.low, flow.value, flow.high))

    def _expansions(self, units: Codes) -> list[str]:
        grown, known = expansion(self.view), site.drain_flow(self.view).known

        def said(known: bool, cold: float, warm: float) -> str:
            if not known or isnan(cold):
                return ""
            return say(
                "expansion about {cold:.0%} in the coldest and {warm:.0%} in the warmest water",
                cold=cold,
                warm=warm,
            )

        return said_once(said, *self._listed(units, known, grown.cold, grown.warm))

    def _layers(self, units: Codes) -> list[str]:
        layers, media = self.view.frame.layers, self.view.catalogue.media
        named = [
            ", ".join(
                say(media[layer.medium].name if layer.medium >= 0 else "unknown")
                for layer in layers.get(unit, ())
            )
            for unit in (units.tolist() if layers else ())
        ]
        return self._led(say("layers from the top: {names}"), "names", named or [""] * len(units))

    def _vessels(self, units: Codes) -> list[str]:
        def said(several: float) -> str:
            if several <= 1:
                return ""
            return say("{count:.0f} vessels on the row, each with a restrictor of its own", count=several)

        return said_once(said, *self._listed(units, site.vessels(self.view)))

    def _best(self, units: Codes) -> list[str]:
        def said(flow: float) -> str:
            return say("best flow {flow}", flow=self.display.text(q.FLOW, flow))

        return said_once(said, *self._listed(units, flow_window(self.view).target))
