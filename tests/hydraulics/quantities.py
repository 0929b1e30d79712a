"""Each published quantity in terms of the functions under test; every argument and result is in SI units."""

from __future__ import annotations

import math

from fleetaudit.hydraulics import bed, fixed_bed, service, settling, vessel, water
from fleetaudit.hydraulics.akgiray_soyer import GRAVITY_M_S2


def density(temperature):
    return water.density_kg_m3(temperature)


def viscosity(temperature):
    return water.viscosity_pa_s(temperature)


def _water(temperature):
    return water.density_kg_m3(temperature), water.viscosity_pa_s(temperature)


def wen_yu_depth(velocity, grain, specific_gravity, settled_porosity, depth, temperature):
    rho, mu = _water(temperature)
    eps = bed.wen_yu_porosity(velocity, grain, specific_gravity * 1000, rho, mu)
    return depth * (1 + bed.expansion_from_porosity(eps, settled_porosity))


def wen_yu_incipient(coarse_sieve, fine_sieve, grain_density, temperature):
    return bed.minimum_fluidisation_velocity(
        math.sqrt(coarse_sieve * fine_sieve), grain_density, *_water(temperature)
    )


def wen_yu_wash_rate(grain, grain_density, temperature):
    return 1.3 * bed.minimum_fluidisation_velocity(grain, grain_density, *_water(temperature))


def amirtharajah_cleasby_incipient(grain, specific_gravity, temperature):
    return fixed_bed.amirtharajah_cleasby_incipient_velocity(
        grain, specific_gravity * 1000, *_water(temperature)
    )


def kozeny_incipient(grain, grain_density, porosity, temperature):
    return fixed_bed.kozeny_incipient_velocity(grain, grain_density, porosity, *_water(temperature))


def kozeny_150_incipient(grain, porosity, viscosity, density_difference, gravity):
    excess = density_difference * gravity / GRAVITY_M_S2
    return fixed_bed.kozeny_incipient_velocity(
        grain, 1000 + excess, porosity, 1000, viscosity, kozeny=150 / 36
    )


def carman_kozeny_head(velocity, grain, porosity, depth, temperature):
    return depth * fixed_bed.carman_kozeny_head_gradient(velocity, grain, porosity, *_water(temperature))


def ergun_incipient(grain, grain_density, porosity, sphericity, fluid_density, viscosity):
    return fixed_bed.ergun_incipient_velocity(
        grain, grain_density, porosity, sphericity, fluid_density, viscosity
    )


def ergun_pressure(velocity, grain, porosity, depth, fluid_density, viscosity):
    return depth * fixed_bed.ergun_pressure_gradient_pa_m(
        velocity, grain, porosity, 1.0, fluid_density, viscosity
    )


def bed_pressure(depth, settled_porosity, grain_density, fluid_density):
    return bed.fluidised_pressure_drop_pa(depth, settled_porosity, grain_density, fluid_density)


def primary_velocity(grain, grain_density, expansion, settled_porosity, sphericity, fluid_density, viscosity):
    eps = bed.porosity_from_expansion(expansion, settled_porosity)
    return bed.velocity_for_porosity(eps, grain, grain_density, sphericity, fluid_density, viscosity)


def porosity_of_expanded_bed(settled_depth, depth, settled_porosity):
    return bed.porosity_from_expansion(depth / settled_depth - 1, settled_porosity)


def bed_depth_ratio(velocity, d10, uniformity, grain_density, sphericity, settled_porosity, temperature):
    return 1 + bed.bed_expansion(
        velocity, d10, uniformity, grain_density, sphericity, settled_porosity, temperature
    )


def davis_porosity(velocity, settling_velocity, settling_reynolds):
    return settling.davis_porosity(velocity, settling_velocity, settling_reynolds)


def terminal(grain, grain_density, sphericity, fluid_density, viscosity):
    return settling.terminal_velocity(grain, grain_density, sphericity, fluid_density, viscosity)


def residence_time(depth, expansion, settled_porosity, velocity):
    return service.residence_time_s(depth, expansion, settled_porosity, velocity)


def flow(velocity, area):
    return vessel.flow_m3_s(velocity, area)


def flux(flow, area):
    return vessel.rise_rate_m_s(flow, area)


def loading(flow, diameter):
    return service.service_flux_m_s(flow, vessel.area_m2(diameter))


def diameter(area):
    return vessel.diameter_m(area)


def depth(volume, diameter):
    return vessel.depth_from_volume_m(volume, vessel.area_m2(diameter))


def wash_volume(flow, duration, troughs):
    return service.wash_volume_m3(flow, duration) + troughs


def volume_per_area(flux, duration):
    return service.wash_volume_m3(flux, duration)
