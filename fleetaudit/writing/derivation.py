"""The way from the cells to the flow window of a unit, line by line, and the sources it leans on."""

from __future__ import annotations

import numpy as np

from fleetaudit.auditing.result import AuditResult
from fleetaudit.checks.check import Check
from fleetaudit.facts import site
from fleetaudit.facts.site import Across
from fleetaudit.facts.window import expansion, flow_window
from fleetaudit.hydraulics.window import Limit
from fleetaudit.language import say
from fleetaudit.schema import quantity as q
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
    """Explains the flow window of the units of one audited frame."""

    def __init__(self, result: AuditResult, display: Display) -> None:
        self.view = result.view
        self.display = display
        self._sources: dict[tuple[int, int, str], str] = {}
        self._sought = result.view.purposes

    def source(self, unit: int, check: Check) -> str:
        """Where the figures behind a check come from, for the medium of the unit and what it is there for."""
        code, sought = int(self.view.medium[unit]), int(self._sought.codes[unit])
        known = self._sources.get((code, sought, check.slug))
        if known is None:
            known = self._sources[code, sought, check.slug] = self._source(code, sought, check)
        return known

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

    def lines(self, unit: int) -> tuple[str, ...]:
        """Area, rate, water, both ends of the window and what sets them, the drain flow and its expansion."""
        window = flow_window(self.view)
        if not window.known[unit]:
            return ()
        show, view = self.display, self.view
        rate = self.rate(unit)
        several = float(site.vessels(view)[unit])
        return (
            say("area {area}", area=self.area(unit)),
            *((say("wash rate {rate}", rate=rate),) if rate else ()),
            say("water {water}", water=self.water(unit)),
            say("least {flow}", flow=self.end("least", unit)),
            say("most {flow}", flow=self.end("most", unit)),
            *(say("freeboard {room}", room=line) for line in self.room(unit)),
            *self._flow(unit),
            *self._layers(unit),
            *(
                (say("{count:.0f} vessels on the row, each with a restrictor of its own", count=several),)
                if several > 1
                else ()
            ),
            *((say("best flow {flow}", flow=show.text(q.FLOW, float(window.target[unit]))),)),
        )

    def area(self, unit: int) -> str:
        """Area of one vessel and the diameter it goes by."""
        view, show = self.view, self.display
        kind = say(ACROSS_WORDS[Across(int(site.across(view)[unit]))])
        across = show.text(q.DIAMETER, float(site.diameter(view).value[unit]))
        return say(
            "{area} from {across} ({kind})",
            area=show.text(q.AREA, float(site.area(view).value[unit])),
            across=across,
            kind=kind,
        )

    def rate(self, unit: int) -> str:
        """Wash rate of the medium with the temperature it is for; "" where the catalogue has none."""
        view, show = self.view, self.display
        low, high, at = (
            view.figure(key)[0][unit] for key in ("rate_low_m_s", "rate_high_m_s", "rate_temperature_k")
        )
        if np.isnan(low):
            return ""
        assumed = "" if not np.isnan(at) else f" ({say('assumed')})"
        at = view.setting("default_rate_temperature") if np.isnan(at) else at
        span = show.text(q.FLUX, float(low)) if low == high else show.range(q.FLUX, float(low), float(high))
        return (
            say("{rate} at {temperature}", rate=span, temperature=show.text(q.TEMPERATURE, float(at)))
            + assumed
        )

    def water(self, unit: int) -> str:
        """Water temperatures, and what was done where they are assumed."""
        water, show = site.season(self.view), self.display
        if water.assumed[unit]:
            span = show.range(q.TEMPERATURE, float(water.cold.low[unit]), float(water.warm.high[unit]))
            return say(
                "{span} assumed; worked out at {middle}",
                span=span,
                middle=show.text(q.TEMPERATURE, float(water.cold.value[unit])),
            )
        cold, warm = float(water.cold.value[unit]), float(water.warm.value[unit])
        return show.text(q.TEMPERATURE, cold) if cold == warm else show.range(q.TEMPERATURE, cold, warm)

    def end(self, name: str, unit: int) -> str:
        """The "least" or the "most" flow and what sets it."""
        show, window = self.display, flow_window(self.view)
        least = name == "least"
        flow = float((window.low if least else window.high).value[unit])
        limit = int((window.low_set_by if least else window.high_set_by)[unit])
        area = float(site.area(self.view).value[unit])
        words = say(LIMIT_WORDS.get(Limit(limit), "not told"))
        return say(
            "{flow} = {flux} in the warmest water × {area}; set by {limit}"
            if least
            else "{flow} = {flux} in the coldest water × {area}; set by {limit}",
            flow=show.text(q.FLOW, flow),
            flux=show.text(q.FLUX, flow / area),
            area=show.text(q.AREA, area),
            limit=words,
        )

    def room(self, unit: int) -> tuple[str, ...]:
        """Freeboard and the flows it sets, where one was measured."""
        window, show = flow_window(self.view), self.display
        if not np.isfinite(window.hard[unit]):
            return ()
        room = show.text(q.LENGTH, float(site.room(self.view).value[unit]))
        hard, caution = (show.text(q.FLOW, float(flow[unit])) for flow in (window.hard, window.caution))
        return (
            say(
                "{room}: above {caution} sharp grains may be lost, above {hard} any grains",
                room=room,
                caution=caution,
                hard=hard,
            ),
        )

    def _flow(self, unit: int) -> tuple[str, ...]:
        flow, show, grown = site.drain_flow(self.view), self.display, expansion(self.view)
        if not flow.known[unit]:
            return ()
        span = show.range(q.FLOW, float(flow.low[unit]), float(flow.high[unit]))
        text = say(
            "to drain {flow} ({span} with its tolerance)",
            flow=show.text(q.FLOW, float(flow.value[unit])),
            span=span,
        )
        cold, warm = float(grown.cold[unit]), float(grown.warm[unit])
        if np.isnan(cold):
            return (text,)
        return (
            text,
            say(
                "expansion about {cold:.0%} in the coldest and {warm:.0%} in the warmest water",
                cold=cold,
                warm=warm,
            ),
        )

    def _layers(self, unit: int) -> tuple[str, ...]:
        layers = self.view.frame.layers.get(unit, ())
        media = self.view.catalogue.media
        names = [say(media[layer.medium].name if layer.medium >= 0 else "unknown") for layer in layers]
        return (say("layers from the top: {names}", names=", ".join(names)),) if names else ()
