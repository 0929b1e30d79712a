"""The way from the cells to the flow window of a unit, line by line, and the sources it leans on."""

from __future__ import annotations

import numpy as np

from fleetaudit.auditing.result import AuditResult
from fleetaudit.checks.check import Check
from fleetaudit.facts import site
from fleetaudit.facts.window import expansion, flow_window
from fleetaudit.hydraulics.window import Limit
from fleetaudit.schema import fleet
from fleetaudit.schema import quantity as q
from fleetaudit.writing.display import Display

FIGURE_WORDS = {
    "rate_low_m_s": "wash rate", "rate_high_m_s": "wash rate", "d10_m": "grain size", "life_s": "media life",
    "life_bed_volumes": "media life", "least_depth_m": "least depth", "ph_low": "pH limit", "ph_high": "pH limit",
    "temperature_max_k": "temperature limit", "service_flux_m_s": "service flow", "service_per_volume_1_s": "service flow",
    "contact_time_s": "contact time", "wash_minutes_low_s": "wash time", "wash_interval_high_s": "wash interval",
}
LIMIT_WORDS = {
    Limit.RATE: "wash rate of the medium", Limit.FLOOR: "flow that first lifts the coarser grains",
    Limit.FREEBOARD: "freeboard", Limit.CARRY_OVER: "flow that carries the finest grains out",
    Limit.PHYSICS: "physics alone, no wash rate known",
}


class Derivation:
    """Explains the flow window of the units of one audited frame."""

    def __init__(self, result: AuditResult, display: Display) -> None:
        self.view = result.view
        self.display = display

    def source(self, unit: int, check: Check) -> str:
        """Where the figures behind a check come from, for the medium of the unit."""
        code = int(self.view.medium[unit])
        found: list[str] = []
        if code >= 0:
            figures = self.view.catalogue.media[code].figures
            for key in check.figures:
                if key in figures:
                    found.append(f"{FIGURE_WORDS[key]}: {self.view.catalogue.cite(figures[key].source)}")
        if check.source:
            found.append(check.source)
        return "; ".join(dict.fromkeys(found))

    def lines(self, unit: int) -> tuple[str, ...]:
        """Area, rate, water, both ends of the window and what sets them, the drain flow and its expansion."""
        window = flow_window(self.view)
        if not window.known[unit]:
            return ()
        show, view = self.display, self.view
        return (
            self._area(unit),
            *self._rate(unit),
            self._water(unit),
            self._end("least", unit, float(window.low.value[unit]), int(window.low_set_by[unit])),
            self._end("most", unit, float(window.high.value[unit]), int(window.high_set_by[unit])),
            *self._room(unit),
            *self._flow(unit),
            *self._layers(unit),
            *((f"{int(site.vessels(view)[unit])} vessels on the row, each with a restrictor of its own",)
              if site.vessels(view)[unit] > 1 else ()),
            *((f"best flow {show.text(q.FLOW, float(window.target[unit]))}",)),
        )

    def _area(self, unit: int) -> str:
        view, show = self.view, self.display
        inside = site.diameter(view).columns and fleet.INSIDE in site.diameter(view).columns
        measured = bool(inside) and bool(~np.isnan(view.frame.number(fleet.INSIDE)[unit]))
        kind = "measured inside" if measured else "nominal"
        across = show.text(q.DIAMETER, float(site.diameter(view).value[unit]))
        return f"area {show.text(q.AREA, float(site.area(view).value[unit]))} from {across} ({kind} diameter)"

    def _rate(self, unit: int) -> tuple[str, ...]:
        view, show = self.view, self.display
        low, high, at = (view.figure(key)[0][unit] for key in ("rate_low_m_s", "rate_high_m_s", "rate_temperature_k"))
        if np.isnan(low):
            return ()
        at_text = show.text(q.TEMPERATURE, float(at)) if not np.isnan(at) else "10 °C (assumed)"
        return (f"wash rate {show.range(q.FLUX, float(low), float(high))} at {at_text}",)

    def _water(self, unit: int) -> str:
        water, show = site.season(self.view), self.display
        if water.assumed[unit]:
            span = show.range(q.TEMPERATURE, float(water.cold.low[unit]), float(water.warm.high[unit]))
            return f"water {span} assumed; worked out at {show.text(q.TEMPERATURE, float(water.cold.value[unit]))}"
        return f"water {show.range(q.TEMPERATURE, float(water.cold.value[unit]), float(water.warm.value[unit]))}"

    def _end(self, name: str, unit: int, flow: float, limit: int) -> str:
        show = self.display
        area = float(site.area(self.view).value[unit])
        words = LIMIT_WORDS.get(Limit(limit), "not told")
        season = "warmest" if name == "least" else "coldest"
        return (
            f"{name} {show.text(q.FLOW, flow)} = {show.text(q.FLUX, flow / area)} in the {season} water"
            f" × {show.text(q.AREA, area)}; set by {words}"
        )

    def _room(self, unit: int) -> tuple[str, ...]:
        window, show = flow_window(self.view), self.display
        if not np.isfinite(window.hard[unit]):
            return ()
        room = show.text(q.LENGTH, float(site.room(self.view).value[unit]))
        hard, caution = (show.text(q.FLOW, float(flow[unit])) for flow in (window.hard, window.caution))
        return (f"freeboard {room}: above {caution} sharp grains may be lost, above {hard} any grains",)

    def _flow(self, unit: int) -> tuple[str, ...]:
        flow, show, grown = site.drain_flow(self.view), self.display, expansion(self.view)
        if not flow.known[unit]:
            return ()
        span = show.range(q.FLOW, float(flow.low[unit]), float(flow.high[unit]))
        text = f"to drain {show.text(q.FLOW, float(flow.value[unit]))} ({span} with its tolerance)"
        cold, warm = float(grown.cold[unit]), float(grown.warm[unit])
        if np.isnan(cold):
            return (text,)
        return (text, f"expansion about {cold:.0%} in the coldest and {warm:.0%} in the warmest water")

    def _layers(self, unit: int) -> tuple[str, ...]:
        layers = self.view.frame.layers.get(unit, ())
        media = self.view.catalogue.media
        names = [media[layer.medium].name if layer.medium >= 0 else "unknown" for layer in layers]
        return (f"layers from the top: {', '.join(names)}",) if names else ()
