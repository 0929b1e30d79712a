"""The working of a flow window: its ends, ceilings, best flow, and whether layers stay apart."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from msgspec.structs import replace

from fleetaudit.facts import site
from fleetaudit.facts.media import grain, practice
from fleetaudit.facts.strata import Strata, strata
from fleetaudit.facts.window import Clash, flow_window
from fleetaudit.hydraulics import window
from fleetaudit.hydraulics.window import Limit
from fleetaudit.language import say
from fleetaudit.schema import quantity as q
from fleetaudit.writing.derivation import LIMIT_WORDS
from fleetaudit.writing.working import LAW, MILLI, OWN, TERMINAL, Step, Working

MIDDLE = "√(least × most)"
CLASH_WORDS = {
    Clash.FREEBOARD: "the freeboard is too small",
    Clash.SEASON: "the seasons contradict each other",
    Clash.BUILD: "the bed is built so that no flow serves all of it",
}


class WindowSteps(Working):
    """How much flow a bed needs and takes."""

    def _strata(self) -> tuple[Strata, list[int]]:
        cut = strata(self.view)
        return cut, [int(place) for place in np.flatnonzero(cut.unit == self.unit)]

    def sides(self) -> list[Step]:
        """Both ends by the medium, or by each layer that sets a rate."""
        own = np.isnan(self.view.usual("d10_m")[self.unit]) and not np.isnan(
            self.view.usual("rate_low_m_s")[self.unit]
        )
        cut, places = self._strata()
        if own or len(places) == 1:
            return self._sides_of(int(self.view.medium[self.unit] if own else cut.medium[places[0]]), "")
        steps = []
        for place in places:
            if cut.sets_rate[place]:
                name = say(self.view.catalogue.media[int(cut.medium[place])].name)
                steps += self._sides_of(int(cut.medium[place]), f", {name}")
        found = flow_window(self.view)
        low, high = (float(side[self.unit]) for side in (found.low.value, found.high_without_freeboard))
        steps.append(
            Step(
                say("All layers"),
                say("highest of the least flows, lowest of the most flows"),
                say("{low} to {high}", low=self.fine(q.FLOW, low), high=self.fine(q.FLOW, high)),
                say(OWN),
            )
        )
        return steps

    def _sides_of(self, code: int, name: str) -> list[Step]:
        medium = np.array([code])
        size, wash = grain(self.view.catalogue, medium), practice(self.view.catalogue, medium)
        cold, warm = self.ends()
        rates = window.rate_window(size, wash, [cold], [warm])
        steps = []
        if not np.isnan(wash.rate_low_m_s[0]):
            steps.append(self._factors(size, wash, cold, warm, name))
        steps += [self._side(side, rates, code, wash, (cold, warm), name) for side in ("low", "high")]
        floor = float(rates.floor[0])
        if not np.isnan(floor) and int(rates.low_set_by[0]) != Limit.FLOOR:
            area, flow = self.fine(q.AREA, self.ground), self.fine(q.FLOW, floor * self.ground)
            shown = f"{self.fine(q.FLUX, floor)} × {area} = {flow}"
            why = (
                say("the medium may be washed without it")
                if floor > float(rates.low[0])
                else say("does not bind")
            )
            steps.append(
                Step(
                    say("Floor") + name,
                    say("flow that first lifts the d60 grain in the warmest water"),
                    f"{shown}; {why}",
                    say(LAW),
                )
            )
        return steps

    def _factors(
        self, size: window.Grain, wash: window.Practice, cold: float, warm: float, name: str
    ) -> Step:
        base = float(wash.rate_temperature_k[0])
        factors = {
            kelvin: float(window.temperature_factor(size, wash, [kelvin])[0]) for kelvin in (cold, warm)
        }
        without = replace(wash, temperature_exponent=np.full(1, np.nan))
        by_grain = not np.isnan(window.temperature_factor(size, without, [warm])[0])
        shown = "; ".join(
            f"f({self.fine(q.TEMPERATURE, kelvin)}) = {factor:.3f}" for kelvin, factor in factors.items()
        )
        at = say("rate stated for {temperature}", temperature=self.fine(q.TEMPERATURE, base))
        if by_grain:
            aim = float(wash.expansion_target[0])
            data = (
                f"d10 {float(size.d10_m[0]) / MILLI:.2f} mm, UC {float(size.uniformity[0]):.2f}, ρs "
                f"{float(size.density_kg_m3[0]):.0f} kg/m³, ψ {float(size.sphericity[0]):.2f}, ε0 "
                f"{float(size.porosity[0]):.2f}"
            )
            return Step(
                say("Temperature") + name,
                f"f(T) = v({aim:.0%}, T) / v({aim:.0%}, T0)",
                f"{shown}; {at}; {data}",
                say(LAW),
            )
        power = float(wash.temperature_exponent[0])
        return Step(
            say("Temperature") + name,
            "f(T) = (μ(T0) / μ(T))ⁿ",
            f"{shown}; {at}; n = {power:.2f}",
            say("fit of the same law to like media, computed"),
        )

    def _side(
        self,
        side: str,
        rates: window.Velocities,
        code: int,
        wash: window.Practice,
        ends: tuple[float, float],
        name: str,
    ) -> Step:
        least = side == "low"
        velocity = float((rates.low if least else rates.high)[0])
        limit = Limit(int((rates.low_set_by if least else rates.high_set_by)[0]))
        title = say("Least flow" if least else "Most flow") + name
        area, flow = self.fine(q.AREA, self.ground), self.fine(q.FLOW, velocity * self.ground)
        kelvin = ends[1] if least else ends[0]
        if limit is Limit.RATE:
            rate = float((wash.rate_low_m_s if least else wash.rate_high_m_s)[0])
            size = grain(self.view.catalogue, np.array([code]))
            factor = float(window.temperature_factor(size, wash, [kelvin])[0])
            return Step(
                title,
                say("rate × f(warmest) × A" if least else "rate × f(coldest) × A"),
                f"{self.fine(q.FLUX, rate)} × {factor:.3f} × {area} = {flow}",
                self._cite(code, side),
            )
        if limit is Limit.PHYSICS:
            rise = float((wash.expansion_low if least else wash.expansion_high)[0])
            return Step(
                title,
                say("v({rise:.0%}) × A, no rate known", rise=rise),
                f"{self.fine(q.FLUX, velocity)} × {area} = {flow}",
                say(LAW),
            )
        source = LAW if limit is Limit.FLOOR else TERMINAL
        numbers = f"{self.fine(q.FLUX, velocity)} × {area} = {flow}"
        return Step(title, say(LIMIT_WORDS[limit]), numbers, say(source))

    def _cite(self, code: int, side: str) -> str:
        """Source of the wash rate of a medium, so that layers cite their own."""
        figure = self.view.catalogue.media[code].figures.get(f"rate_{side}_m_s") if code >= 0 else None
        return "" if figure is None else say("rate: {source}", source=self.view.catalogue.cite(figure.source))

    def _expanding(self) -> float:
        """Depth of all layers that expand [m]."""
        cut, places = self._strata()
        return float(np.nansum([cut.depth_m[place] for place in places if cut.expands[place]]))

    def ceilings(self) -> list[Step]:
        """Flows that lose media, where the freeboard or the finest grains set them."""
        view, unit, found = self.view, self.unit, flow_window(self.view)
        steps = []
        margin = view.setting("freeboard_margin")
        if np.isfinite(found.hard[unit]):
            space, deep = float(site.room(view).value[unit]), self._expanding()
            left = max(space - margin, 0.0)
            binds = int(found.high_set_by[unit]) == Limit.FREEBOARD
            hard, caution = (float(flow[unit]) for flow in (found.hard, found.caution))
            share = (
                say("{share:.0%} of {depth}", share=left / deep, depth=self.fine(q.LENGTH, deep))
                if deep > 0
                else ""
            )
            taken = " = ".join(filter(None, (self.fine(q.LENGTH, left), share)))
            steps.append(
                Step(
                    say("Freeboard ceiling"),
                    say("Σ depth × E(v, coldest) = freeboard − margin"),
                    say(
                        "{taken}: {caution} with sharp grains, {hard} with grains half-way to spheres; the "
                        "second cuts the window"
                        if binds
                        else "{taken}: {caution} with sharp grains, {hard} with grains half-way to spheres; "
                        "the second does not bind",
                        taken=f"{self.fine(q.LENGTH, space)} − {self.fine(q.LENGTH, margin)} = {taken}",
                        caution=self.fine(q.FLOW, caution),
                        hard=self.fine(q.FLOW, hard),
                    ),
                    say(LAW),
                )
            )
        elif not site.room(view).known[unit]:
            steps.append(
                Step(
                    say("Freeboard ceiling"),
                    say("Σ depth × E(v, coldest) = freeboard − margin"),
                    say("none: neither freeboard nor depth and height were measured"),
                    say(OWN),
                )
            )
        carry = float(found.carry_over[unit])
        if np.isfinite(carry) and int(found.high_set_by[unit]) != Limit.CARRY_OVER:
            steps.append(
                Step(
                    say("Carry-over"),
                    say("settling velocity of the finest 1 % in the coldest water × A"),
                    f"{self.fine(q.FLOW, carry)}; {say('does not bind')}",
                    say(TERMINAL),
                )
            )
        return steps

    def target(self) -> Step:
        """The best flow between the two ends."""
        found, unit = flow_window(self.view), self.unit
        low, high, target = (float(side[unit]) for side in (found.low.value, found.high.value, found.target))
        shown = self.fine(q.FLOW, target)
        clash = Clash(int(found.clash[unit]))
        if clash is not Clash.NONE:
            return Step(
                say("Best flow"),
                say("most, since lost media do not come back" if target == high else MIDDLE),
                say(
                    "{flow}; least {low} lies above most {high}: {why}",
                    flow=shown,
                    low=self.fine(q.FLOW, low),
                    high=self.fine(q.FLOW, high),
                    why=say(CLASH_WORDS[clash]),
                ),
                say(OWN),
            )
        return Step(
            say("Best flow"),
            say(MIDDLE),
            f"√({self.fine(q.FLOW, low)} × {self.fine(q.FLOW, high)}) = {shown}",
            say(OWN),
        )

    def mixing(self) -> list[Step]:
        """Whether each layer stays on the one below it, at the best flow in the coldest water."""
        layers = self.view.frame.layers.get(self.unit, ())
        if any(not np.isnan(layer.share) for layer in layers):
            return []
        catalogue, (cold, _) = self.view.catalogue, self.ends()
        velocity = float(flow_window(self.view).target[self.unit]) / self.ground
        beds = [
            layer.medium
            for layer in layers
            if layer.medium >= 0 and not catalogue.media[layer.medium].support
        ]
        steps = []
        for upper, lower in pairwise(beds):
            above, below = (grain(catalogue, np.array([code])) for code in (upper, lower))
            margin = float(window.mixing_margin_kg_m3(above, below, [cold], [velocity])[0])
            if np.isnan(margin):
                continue
            upper_name, lower_name = (say(catalogue.media[code].name) for code in (upper, lower))
            steps.append(
                Step(
                    say("Mixing, {upper} over {lower}", upper=upper_name, lower=lower_name),
                    say("bulk density of the fine top below − of the coarse bottom above, at the best flow"),
                    f"{margin:+.0f} kg/m³: "
                    + say("the layers stay apart" if margin > 0 else "the layers mix"),
                    say("general texts on filter design, from memory, unverified"),
                )
            )
        return steps
