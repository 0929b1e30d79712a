"""The working of flows: what the supply gives, what leaves through the drain, what service asks."""

from __future__ import annotations

import numpy as np

from fleetaudit.auditing.result import AuditResult
from fleetaudit.facts import site
from fleetaudit.facts.drain import line_loss, pressure_left
from fleetaudit.facts.fact import given
from fleetaudit.facts.needed import fit, limits
from fleetaudit.facts.service import contact_time, loading_limit, service_flow
from fleetaudit.facts.window import expansion_at, flow_window
from fleetaudit.language import say
from fleetaudit.schema import fleet
from fleetaudit.schema import quantity as q
from fleetaudit.writing.working import GEOMETRY, LAW, OWN, Step, Working


class FlowSteps(Working):
    """What flows through a unit, held against what its bed takes."""

    def supply(self) -> list[Step]:
        """What the supply leaves for a wash."""
        view, unit = self.view, self.unit
        pressure, left = given(view.frame, fleet.SUPPLY_PRESSURE), pressure_left(view)
        if not pressure.known[unit] or not left.known[unit]:
            return []
        rise, taken = given(view.frame, fleet.DRAIN_RISE), float(line_loss(view)[unit])
        height = 0.0 if np.isnan(rise.value[unit]) else float(rise.value[unit])
        valve = view.setting("valve_loss")
        lifted = float(pressure.value[unit]) - valve - float(site.head(view).value[unit])
        parts = [
            self.fine(q.PRESSURE, float(pressure.value[unit])),
            say("{pressure} (valve)", pressure=self.fine(q.PRESSURE, valve)),
            say(
                "{pressure} (rise of {height})",
                pressure=self.fine(q.PRESSURE, lifted),
                height=self.fine(q.DISTANCE, height),
            ),
        ]
        if taken:
            bends = site.elbows(view)
            parts.append(
                say(
                    "{pressure} (line, {count:.0f} elbows assumed)"
                    if bends.assumed[unit]
                    else "{pressure} (line, {count:.0f} elbows given)",
                    pressure=self.fine(q.PRESSURE, taken),
                    count=float(bends.value[unit]),
                )
            )
        steps = [
            Step(
                say("Pressure left for the washer"),
                say("supply − valve − ρ g rise − line"),
                f"{' − '.join(parts)} = {self.fine(q.PRESSURE, float(left.value[unit]))}",
                say(
                    "Darcy and Weisbach; Colebrook's friction factor; Hooper (1981) for elbows; valve and "
                    "limits from memory, unverified (Settings)"
                ),
            )
        ]
        pressed, rated = site.pressed_flow(view), site.rating(view)
        if pressed.known[unit] and float(pressed.value[unit]) < float(rated.value[unit]):
            steps.append(
                Step(
                    say("Flow under that pressure"),
                    say("q = rating × √(Δp / p full), solved with the line"),
                    say(
                        "{flow} of {rated}",
                        flow=self.fine(q.FLOW, float(pressed.value[unit])),
                        rated=self.fine(q.FLOW, float(rated.value[unit])),
                    ),
                    say("orifice equation; pressures from memory, unverified (Settings)"),
                )
            )
        return steps

    def drain(self) -> list[Step]:
        """Flow to drain, and how it compares with the window."""
        view, unit = self.view, self.unit
        flow = site.drain_flow(view)
        if not flow.known[unit]:
            return []
        value, low, high = (float(part[unit]) for part in (flow.value, flow.low, flow.high))
        measured = given(view.frame, fleet.MEASURED).known[unit]
        share = view.setting("measured_flow_tolerance" if measured else "restrictor_tolerance")
        if measured:
            equation = say("measured × (1 ∓ {share:.0%})", share=share)
        elif value < float(site.rating(view).value[unit]):
            equation = say("flow that results, with its range")
        else:
            equation = say("rating × (1 ∓ {share:.0%})", share=share)
        steps = [
            Step(
                say("Flow to drain"),
                equation,
                say(
                    "{flow}: {low} to {high}",
                    flow=self.fine(q.FLOW, value),
                    low=self.fine(q.FLOW, low),
                    high=self.fine(q.FLOW, high),
                ),
                view.catalogue.cite(view.catalogue.settings["restrictor_tolerance"].source),
            )
        ]
        if flow_window(view).known[unit]:
            compared = self._compared(low, value, high)
            steps.append(Step(say("Compared"), say("interval against window"), compared, say(OWN)))
        return steps

    def _compared(self, low: float, value: float, high: float) -> str:
        span, lies, unit = limits(self.view), fit(self.view), self.unit
        least, most = (self.fine(q.FLOW, float(end[unit])) for end in (span.low, span.high))
        if lies.large[unit]:
            return say(
                "{low} > {most}: all of it lies above, too large", low=self.fine(q.FLOW, low), most=most
            )
        if lies.small[unit]:
            return say(
                "{high} < {least}: all of it lies below, too small", high=self.fine(q.FLOW, high), least=least
            )
        if lies.straddles[unit]:
            text = say(
                "{flow} is outside {least} to {most}; its range reaches in",
                flow=self.fine(q.FLOW, value),
                least=least,
                most=most,
            )
        elif lies.other_mesh[unit]:
            text = say(
                "{flow} is outside {least} to {most}, but right for another grain size",
                flow=self.fine(q.FLOW, value),
                least=least,
                most=most,
            )
        else:
            text = f"{least} ≤ {self.fine(q.FLOW, value)} ≤ {most}: {say('nothing found')}"
        return text

    def expansion(self) -> list[Step]:
        """How far the bed expands at that flow."""
        view, unit = self.view, self.unit
        flow = site.drain_flow(view)
        if not flow.known[unit]:
            return []
        sharp, smooth = (expansion_at(view, flow.value, round_end=end) for end in (False, True))
        cold, warm = (
            (float(smooth.cold[unit]), float(sharp.cold[unit])),
            (float(smooth.warm[unit]), float(sharp.warm[unit])),
        )
        if np.isnan(cold[1]):
            return []
        least, aim, most = (view.usual(f"expansion_{end}")[unit] for end in ("low", "target", "high"))
        grown = say(
            "{cold_low:.0%} to {cold_high:.0%} in the coldest, {warm_low:.0%} to {warm_high:.0%} in the "
            "warmest water",
            cold_low=cold[0],
            cold_high=cold[1],
            warm_low=warm[0],
            warm_high=warm[1],
        )
        if not np.isnan(aim):
            wanted = say(
                "aimed at {aim:.0%} ({least:.0%} to {most:.0%})",
                aim=float(aim),
                least=float(least),
                most=float(most),
            )
            grown = f"{grown}; {wanted}"
        return [
            Step(
                say("Expansion at that flow"),
                say("E(v, T) with ψ and with (1 + ψ)/2"),
                grown,
                f"{say(LAW)}; {say('for comparison only, good to about a quarter of the flow')}",
            )
        ]

    def service(self) -> list[Step]:
        """Flow in service against what the medium takes."""
        view, unit = self.view, self.unit
        flow, steps = service_flow(view), []
        if not flow.known[unit]:
            return []
        peak = self.fine(q.FLOW, float(flow.value[unit]))
        most, time = loading_limit(view), contact_time(view)
        if most.known[unit]:
            steps.append(
                Step(
                    say("Service loading"),
                    say("peak flow against the medium's limit × A (or × V)"),
                    say(
                        "{flow} against {limit}",
                        flow=peak,
                        limit=self.fine(q.FLOW, float(most.value[unit])),
                    ),
                    self.medium_source("service_flux_m_s", "service_per_volume_1_s"),
                )
            )
        if time.known[unit]:
            bed = float(site.volume(view).value[unit] * site.vessels(view)[unit])
            steps.append(
                Step(
                    say("Contact time"),
                    say("V / peak flow"),
                    f"{self.fine(q.VOLUME, bed)} / {peak} = {self.fine(q.CONTACT, float(time.value[unit]))}",
                    say(GEOMETRY),
                )
            )
        return steps


def interval_m3_s(result: AuditResult, unit: int) -> tuple[float, float, float] | None:
    """Least, nominal and most flow to drain of a unit, None where not known."""
    flow = site.drain_flow(result.view)
    if not flow.known[unit]:
        return None
    return float(flow.low[unit]), float(flow.value[unit]), float(flow.high[unit])
