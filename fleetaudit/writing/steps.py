"""The equations behind one unit, each with its numbers put in, in the reader's units."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from fleetaudit.auditing.result import AuditResult
from fleetaudit.facts import site
from fleetaudit.facts.drain import line_loss, pressure_left
from fleetaudit.facts.fact import given
from fleetaudit.facts.media import grain, practice
from fleetaudit.facts.needed import fit, limits
from fleetaudit.facts.service import contact_time, loading_limit, service_flow
from fleetaudit.facts.strata import Strata, strata
from fleetaudit.facts.window import Clash, expansion_at, flow_window
from fleetaudit.hydraulics import water, window
from fleetaudit.hydraulics.window import Limit
from fleetaudit.language import say
from fleetaudit.schema import fleet
from fleetaudit.schema import quantity as q
from fleetaudit.schema.quantity import Quantity
from fleetaudit.writing.derivation import ACROSS_WORDS, LIMIT_WORDS
from fleetaudit.writing.display import Display

LAW = (
    "Akgiray and Soyer, J. Water Supply: Res. Technol. AQUA 55 (2006) 517-526, coefficients from memory, "
    "unverified; ten layers of a log-normal grading"
)
TERMINAL = "Haider and Levenspiel, Powder Technology 58 (1989) 63-70, from memory, unverified"
WATER = "IAPWS-95, IAPWS R12-08"
OWN = "own choice"
GEOMETRY = "geometry"
DENSITY = Quantity("density", us="lb/ft3", metric="kg/m3", digits=1)
MIDDLE = "√(least × most)"
CLASH_WORDS = {
    Clash.FREEBOARD: "the freeboard is too small",
    Clash.SEASON: "the seasons contradict each other",
    Clash.BUILD: "the bed is built so that no flow serves all of it",
}
#: viscosity shown in mPa s, the unit every table uses
MILLI = 1e-3


class Step(Struct, frozen=True):
    """One equation: what it gives, the equation in symbols, with numbers, and where it is from."""

    title: str
    equation: str
    numbers: str
    source: str


class Steps:
    """Makes the steps of one unit."""

    def __init__(self, result: AuditResult, unit: int, display: Display) -> None:
        self.view, self.unit, self.show = result.view, unit, display

    def all(self) -> list[Step]:
        """Every step that this unit's cells and the catalogue allow, in the order of the working."""
        steps = [self._area(), *self._depth(), self._water(), *self._room()]
        if flow_window(self.view).known[self.unit]:
            steps += [*self._sides(), *self._ceilings(), self._target(), *self._mixing()]
        return [*steps, *self._supply(), *self._drain(), *self._expansion(), *self._service()]

    def fine(self, quantity: Quantity, si: float) -> str:
        """Value with one digit more than a report shows, for working."""
        shown = self.show.value(quantity, si)
        if shown is None or np.isinf(shown):
            return self.show.text(quantity, si)
        digits = 0 if quantity is q.TEMPERATURE else 4
        text = f"{shown:.0f}" if not digits else f"{shown:.{digits}g}"
        unit = self.show.unit(quantity)
        return f"{text}{unit}" if unit == "%" else f"{text} {unit}"

    def _area(self) -> Step:
        view, unit = self.view, self.unit
        across, area = float(site.diameter(view).value[unit]), float(site.area(view).value[unit])
        if np.isnan(area):
            return Step(say("Area"), "A = π/4 × D²", say("not known: no diameter"), say(GEOMETRY))
        kind = site.Across(int(site.across(view)[unit]))
        numbers = f"π/4 × ({self.fine(q.DIAMETER, across)})² = {self.fine(q.AREA, area)}"
        return Step(
            say("Area"),
            "A = π/4 × D²",
            f"{numbers} ({say(ACROSS_WORDS[kind])})",
            say(GEOMETRY)
            if kind is site.Across.NOMINAL
            else say("geometry; rates are practised on the nominal area"),
        )

    def _depth(self) -> list[Step]:
        view, unit = self.view, self.unit
        deep, bed = site.depth(view), site.volume(view)
        if not deep.known[unit]:
            return []
        shown = self.fine(q.LENGTH, float(deep.value[unit]))
        if given(view.frame, fleet.DEPTH).known[unit]:
            return []
        if deep.assumed[unit]:
            return [
                Step(
                    say("Bed depth"),
                    say("usual fill of that vessel / A"),
                    say("{depth}, assumed; it never cuts the window", depth=shown),
                    say("Vessels table of the catalogue"),
                )
            ]
        numbers = f"{self.fine(q.VOLUME, float(bed.value[unit]))} / {self.fine(q.AREA, self._a)} = {shown}"
        return [Step(say("Bed depth"), say("L = V / A, without gravel"), numbers, say(GEOMETRY))]

    @property
    def _a(self) -> float:
        return float(site.area(self.view).value[self.unit])

    def _ends(self) -> tuple[float, float]:
        season = site.season(self.view)
        return float(season.cold.value[self.unit]), float(season.warm.value[self.unit])

    def _water(self) -> Step:
        cold, warm = self._ends()
        parts = []
        for name, kelvin in ((say("coldest"), cold), (say("warmest"), warm)):
            mu = float(water.viscosity_pa_s(kelvin)) / MILLI
            rho = float(water.density_kg_m3(kelvin))
            parts.append(
                f"{name} {self.fine(q.TEMPERATURE, kelvin)}: μ = {mu:.3f} mPa s, ρ = {rho:.1f} kg/m³"
            )
        assumed = site.season(self.view).assumed[self.unit]
        note = (say("both at the middle of an assumed range"),) if assumed else ()
        return Step(say("Water"), "μ(T), ρ(T)", "; ".join((*note, *(dict.fromkeys(parts)))), WATER)

    def _room(self) -> list[Step]:
        view, unit = self.view, self.unit
        space = site.room(view)
        if not space.known[unit] or given(view.frame, fleet.FREEBOARD).known[unit]:
            return []
        tall, across = float(site.height(view).value[unit]), float(view.frame.number(fleet.DIAMETER)[unit])
        deep, below = float(site.depth(view).value[unit]), site.gravel(view)
        gravel = 0.0 if below.assumed[unit] else float(below.value[unit])
        share, distributor = view.setting("dome_allowance"), view.setting("collector_allowance")
        parts = " − ".join(
            [
                self.fine(q.LENGTH, tall),
                f"{share:.0%} × {self.fine(q.LENGTH, across)}",
                *(self.fine(q.LENGTH, part) for part in (distributor, deep, gravel)),
            ]
        )
        return [
            Step(
                say("Freeboard"),
                say("height − domes − distributor − bed − gravel"),
                f"{parts} = {self.fine(q.LENGTH, float(space.value[unit]))}",
                say("own choice (settings {names})", names="dome_allowance, collector_allowance"),
            )
        ]

    # --- the window

    def _strata(self) -> tuple[Strata, list[int]]:
        cut = strata(self.view)
        return cut, [int(place) for place in np.flatnonzero(cut.unit == self.unit)]

    def _sides(self) -> list[Step]:
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
        cold, warm = self._ends()
        rates = window.rate_window(size, wash, [cold], [warm])
        steps = []
        if not np.isnan(wash.rate_low_m_s[0]):
            steps.append(self._factors(size, wash, cold, warm, name))
        steps += [self._side(side, rates, code, wash, (cold, warm), name) for side in ("low", "high")]
        floor = float(rates.floor[0])
        if not np.isnan(floor) and int(rates.low_set_by[0]) != Limit.FLOOR:
            area, flow = self.fine(q.AREA, self._a), self.fine(q.FLOW, floor * self._a)
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
        area, flow = self.fine(q.AREA, self._a), self.fine(q.FLOW, velocity * self._a)
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

    def _ceilings(self) -> list[Step]:
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

    def _target(self) -> Step:
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

    def _mixing(self) -> list[Step]:
        """Whether each layer stays on the one below it, at the best flow in the coldest water."""
        layers = self.view.frame.layers.get(self.unit, ())
        if any(not np.isnan(layer.share) for layer in layers):
            return []
        catalogue, (cold, _) = self.view.catalogue, self._ends()
        velocity = float(flow_window(self.view).target[self.unit]) / self._a
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

    # --- what leaves

    def _supply(self) -> list[Step]:
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

    def _drain(self) -> list[Step]:
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

    def _expansion(self) -> list[Step]:
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

    def _service(self) -> list[Step]:
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
                    self._medium_source("service_flux_m_s", "service_per_volume_1_s"),
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

    def _medium_source(self, *keys: str) -> str:
        code = int(self.view.medium[self.unit])
        if code < 0:
            return ""
        figures = self.view.catalogue.media[code].figures
        return next((self.view.catalogue.cite(figures[key].source) for key in keys if key in figures), "")


def interval_m3_s(result: AuditResult, unit: int) -> tuple[float, float, float] | None:
    """Least, nominal and most flow to drain of a unit, None where not known."""
    flow = site.drain_flow(result.view)
    if not flow.known[unit]:
        return None
    return float(flow.low[unit]), float(flow.value[unit]), float(flow.high[unit])
