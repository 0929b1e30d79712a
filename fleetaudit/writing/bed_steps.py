"""The working of a bed: its area and depth, the water it stands in, the room above it."""

from __future__ import annotations

import numpy as np

from fleetaudit.facts import site
from fleetaudit.facts.fact import given
from fleetaudit.hydraulics import water
from fleetaudit.language import say
from fleetaudit.schema import fleet
from fleetaudit.schema import quantity as q
from fleetaudit.writing.derivation import ACROSS_WORDS
from fleetaudit.writing.working import GEOMETRY, MILLI, Step, Working

WATER = "IAPWS-95, IAPWS R12-08"


class BedSteps(Working):
    """What the flow window rests on."""

    def area(self) -> Step:
        """Area of one vessel."""
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

    def depth(self) -> list[Step]:
        """Depth of the bed where it was worked out from something else."""
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
        volume, ground = self.fine(q.VOLUME, float(bed.value[unit])), self.fine(q.AREA, self.ground)
        numbers = f"{volume} / {ground} = {shown}"
        return [Step(say("Bed depth"), say("L = V / A, without gravel"), numbers, say(GEOMETRY))]

    def water(self) -> Step:
        """Viscosity and density of the water at both ends of the year."""
        cold, warm = self.ends()
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

    def room(self) -> list[Step]:
        """Freeboard where it was worked out from the height of the vessel."""
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
