"""Solvers of the primary law against the same law solved the slow way, and how far laws agree."""

from __future__ import annotations

import numpy as np
import pytest
from fluids.packed_bed import Ergun

from fleetaudit.hydraulics import bed, fixed_bed, other_laws, water

from . import plain

# d10 [m], uniformity, density [kg/m3], sphericity, settled porosity of typical media
MEDIA = {
    "sand": (0.50e-3, 1.50, 2650.0, 0.78, 0.42),
    "coal": (1.00e-3, 1.45, 1600.0, 0.60, 0.52),
    "carbon": (0.65e-3, 1.60, 1430.0, 0.75, 0.48),
    "garnet": (0.30e-3, 1.50, 4100.0, 0.62, 0.46),
    "ore": (0.95e-3, 1.50, 3900.0, 0.70, 0.48),
    "resin": (0.50e-3, 1.60, 1280.0, 1.00, 0.38),
}


@pytest.fixture(params=MEDIA.values(), ids=MEDIA.keys())
def medium(request):
    return request.param


@pytest.mark.parametrize("celsius", [5.0, 25.0])
@pytest.mark.parametrize("velocity", [1e-4, 2e-3, 8e-3, 30e-3])
def test_porosity_and_expansion_solve_the_printed_equation(medium, velocity, celsius):
    d10, _, rho_s, psi, _ = medium
    kelvin = celsius + 273.15
    rho, mu = float(water.density_kg_m3(kelvin)), float(water.viscosity_pa_s(kelvin))
    one = bed.expanded_porosity(velocity, d10, rho_s, psi, rho, mu)
    assert one == pytest.approx(plain.porosity(velocity, d10, rho_s, psi, rho, mu), rel=1e-9)
    whole = bed.bed_expansion(velocity, *medium, kelvin)
    assert whole == pytest.approx(plain.expansion(velocity, *medium, rho, mu), rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("expansion", [0.05, 0.3, 1.0])
def test_the_velocity_for_an_expansion_solves_the_printed_equation(medium, expansion):
    rho, mu = float(water.density_kg_m3(283.15)), float(water.viscosity_pa_s(283.15))
    slow = plain.root(lambda v: plain.expansion(v, *medium, rho, mu) - expansion, 1e-4, 0.2)
    assert bed.velocity_for_expansion(expansion, *medium, 283.15) == pytest.approx(slow, rel=1e-8)


def test_no_expansion_asks_for_the_velocity_that_moves_the_finest_layer(medium):
    d10, uc, rho_s, psi, eps0 = medium
    finest = bed.layer_sizes(d10, uc)[0]
    rho, mu = water.density_kg_m3(283.15), water.viscosity_pa_s(283.15)
    moving = bed.velocity_for_porosity(eps0, finest, rho_s, psi, rho, mu)
    assert bed.velocity_for_expansion(0.0, *medium, 283.15) == pytest.approx(moving, rel=1e-9)
    assert bed.bed_expansion(moving * 0.999, *medium, 283.15) == 0.0


def test_media_in_one_vessel_fill_its_room_together():
    columns = [np.array([pair]) for pair in zip(MEDIA["coal"], MEDIA["sand"], strict=True)]
    depth, room = np.array([[0.45, 0.30]]), np.array([0.40])
    velocity = bed.velocity_filling_room(room, depth, *columns, [278.15])
    rises = [bed.bed_expansion(velocity, *MEDIA[name], 278.15) for name in ("coal", "sand")]
    assert depth[0, 0] * rises[0] + depth[0, 1] * rises[1] == pytest.approx(room, rel=1e-9)


def test_a_medium_with_anything_unknown_is_left_out_and_none_leaves_no_ceiling():
    columns = [np.array([pair]) for pair in zip(MEDIA["coal"], (np.nan,) * 5, strict=True)]
    alone = bed.velocity_filling_room([0.3], [[0.6]], *(column[:, :1] for column in columns), [278.15])
    assert bed.velocity_filling_room([0.3], [[0.6, 0.3]], *columns, [278.15]) == pytest.approx(alone)
    depth = np.full((3, 2), np.nan)
    several = [np.repeat(column, 3, axis=0) for column in columns]
    nothing = bed.velocity_filling_room([0.3, -0.1, np.nan], depth, *several, [278.15] * 3)
    assert nothing[0] == np.inf
    assert nothing[1] == 0.0
    assert np.isnan(nothing[2])


def test_a_medium_of_no_depth_is_none():
    columns = [np.array([pair]) for pair in zip(MEDIA["coal"], MEDIA["sand"], strict=True)]
    alone = bed.velocity_filling_room([0.3], [[0.6]], *(column[:, :1] for column in columns), [278.15])
    assert bed.velocity_filling_room([0.3], [[0.6, 0.0]], *columns, [278.15]) == pytest.approx(alone)
    assert bed.velocity_filling_room([0.3], [[0.0, 0.0]], *columns, [278.15]) == np.inf


def test_even_a_nearly_empty_vessel_is_solved():
    """A thin layer of fine grains beside coarse ones: most of it floats far apart before the room is full."""
    columns = [
        np.array([[2.33e-3, 2.2e-3, 0.216e-3]]),
        np.array([[1.37, 1.60, 2.77]]),
        np.array([[1443.0, 2415.0, 2897.0]]),
        np.array([[0.91, 0.52, 0.88]]),
        np.array([[0.54, 0.46, 0.36]]),
    ]
    depth = np.array([[0.314, 0.0799, 0.0708]])
    velocity = bed.velocity_filling_room([2.318], depth, *columns, [280.0])
    rises = [bed.bed_expansion(velocity, *(column[:, i] for column in columns), 280.0) for i in range(3)]
    assert sum(depth[0, i] * rises[i] for i in range(3)) == pytest.approx(2.318, rel=1e-9)


@pytest.mark.parametrize("place", range(7))
def test_one_unknown_makes_the_answer_unknown(place):
    arguments = [8e-3, *MEDIA["sand"], 283.15]
    arguments[place] = np.nan
    assert np.isnan(bed.bed_expansion(*arguments))
    arguments[0] = 0.3 if place else np.nan
    assert np.isnan(bed.velocity_for_expansion(*arguments))
    if place:
        assert np.isnan(bed.bed_expansion(0.0, *arguments[1:])), "still water too lifts nothing unknown"


@pytest.mark.parametrize(
    ("place", "value"), [(1, 0.0), (1, -1e-3), (2, 0.9), (3, 990.0), (4, 0.0), (4, 1.01), (5, 0.0), (5, 1.0)]
)
def test_an_impossible_grain_has_no_answer(place, value):
    arguments = [8e-3, *MEDIA["sand"], 283.15]
    arguments[place] = value
    assert np.isnan(bed.bed_expansion(*arguments))
    arguments[0] = 0.3
    assert np.isnan(bed.velocity_for_expansion(*arguments))


def test_still_water_lifts_nothing_and_a_torrent_stops_at_the_cap():
    grain = (0.5e-3, 2650.0, 0.78, 999.7, 1.306e-3)
    assert bed.expanded_porosity(0.0, *grain) == 0.0
    assert bed.expanded_porosity(10.0, *grain) == pytest.approx(0.9999)
    assert bed.wen_yu_porosity(10.0, 0.5e-3, 2650.0, 999.7, 1.306e-3) == 0.9999
    assert bed.bed_expansion(0.0, *MEDIA["sand"], 283.15) == 0.0
    assert np.isnan(bed.expanded_porosity(-1e-3, *grain))
    assert np.isnan(bed.bed_expansion(-1e-3, *MEDIA["sand"], 283.15))
    assert np.isnan(bed.velocity_for_expansion(-0.1, *MEDIA["sand"], 283.15))


def test_large_inputs_are_solved_in_pieces_that_join_up():
    velocity = np.linspace(1e-3, 2e-2, 5001)
    whole = bed.bed_expansion(velocity, *MEDIA["sand"], 283.15)
    assert whole[[0, 2047, 2048, 5000]] == pytest.approx(
        [bed.bed_expansion(v, *MEDIA["sand"], 283.15) for v in velocity[[0, 2047, 2048, 5000]]], rel=1e-12
    )


@pytest.mark.parametrize("re1", [1.0, 10.0, 100.0])
def test_two_published_drag_laws_agree_at_the_reynolds_numbers_of_washing(re1):
    """Akgiray and Soyer (2006) against Dharmarajah and Cleasby (1986), both for spheres: within 4 %."""
    ours = 3.137 * re1 + 0.673 * re1**1.766
    assert other_laws.dharmarajah_cleasby_group(re1, 1.0) == pytest.approx(ours, rel=0.04)


def test_three_laws_agree_on_round_grains_to_within_the_stated_error():
    """Resin beads: the spread between laws is what `bed_expansion` calls its known bias, 15 % of velocity."""
    rho, mu = 999.7, 1.306e-3
    grain = (0.8e-3, 1280.0)
    primary = bed.velocity_for_porosity(0.55, *grain, 1.0, rho, mu)
    velocity = np.geomspace(0.5 * primary, 2 * primary, 4001)
    second = np.interp(0.55, bed.wen_yu_porosity(velocity, *grain, rho, mu), velocity)
    third = np.interp(0.55, other_laws.dharmarajah_cleasby_porosity(velocity, *grain, 1.0, rho, mu), velocity)
    assert second == pytest.approx(primary, rel=0.15)
    assert third == pytest.approx(primary, rel=0.15)


@pytest.mark.parametrize("name", ["sand", "coal", "carbon", "resin"])
def test_the_share_of_temperature_hardly_depends_on_the_law(name):
    """v(5 C) / v(15 C) by the primary law and that of Wen and Yu: the 0.07 `temperature_factor` states."""
    d10, uc, rho_s, _, eps0 = MEDIA[name]
    eps = bed.porosity_from_expansion(0.3, eps0)
    ratios = []
    for celsius in (5.0, 15.0):
        rho, mu = water.density_kg_m3(celsius + 273.15), water.viscosity_pa_s(celsius + 273.15)
        velocity = np.geomspace(1e-3, 5e-2, 8001)
        second = np.interp(eps, bed.wen_yu_porosity(velocity, d10 * uc, rho_s, rho, mu), velocity)
        ratios.append((bed.velocity_for_expansion(0.3, *MEDIA[name], celsius + 273.15), second))
    (cold, cold_2), (mild, mild_2) = ratios
    assert cold / mild == pytest.approx(cold_2 / mild_2, abs=0.07)


def test_the_cubic_is_the_inverse_of_its_rate():
    constants = (0.75e-3, 2650.0, 999.1, 1.138e-3, 112.0, 2.25)
    porosity = np.array([0.42, 0.5, 0.6, 0.8])
    velocity = other_laws.crittenden_velocity_for_porosity(porosity, *constants)
    assert other_laws.crittenden_porosity(velocity, *constants) == pytest.approx(porosity, rel=1e-9)
    assert other_laws.crittenden_porosity(0.0, *constants) == 0.0


def test_dharmarajah_and_cleasby_balance_their_own_group_on_both_sides_of_the_jump():
    """Halving ends where weight equals drag: the porosity is put back into the printed group."""
    for velocity, creeping in ((2e-5, True), (8e-3, False)):
        d, rho_s, psi, rho, mu = 0.5e-3, 2650.0, 0.78, 999.1, 1.138e-3
        eps = float(other_laws.dharmarajah_cleasby_porosity(velocity, d, rho_s, psi, rho, mu))
        re1 = psi * d * rho * velocity / (6 * mu * (1 - eps))
        group = eps**3 / (1 - eps) ** 2 * (psi * d) ** 3 * rho * (rho_s - rho) * 9.80665 / (216 * mu**2)
        assert (re1 < 0.2) is creeping
        x = np.log10(re1)
        printed = 0.56543 + 1.09348 * x + 0.17979 * x**2 - 0.00392 * x**4 - 1.5 * np.log10(psi) ** 2
        assert group == pytest.approx(3.01 * re1 if creeping else 10**printed, rel=1e-6)


def test_the_correction_of_amirtharajah_and_cleasby_starts_at_reynolds_10():
    """The factor 1.775 Re^-0.272 is 0.949 at Re 10, so there it lies below the plain formula."""
    sizes = np.array([0.5e-3, 2.0e-3])
    velocity = fixed_bed.amirtharajah_cleasby_incipient_velocity(sizes, 2650.0, 998.2, 1.002e-3)
    plain_rate = velocity[0] * (sizes[1] / sizes[0]) ** 1.82
    re = 998.2 * plain_rate * sizes[1] / 1.002e-3
    assert 998.2 * velocity[0] * sizes[0] / 1.002e-3 < 10 < re
    assert velocity[1] == pytest.approx(plain_rate * 1.775 * re**-0.272, rel=1e-9)


@pytest.mark.parametrize(("uniformity", "share"), [(1.5, 0.02), (1.7, 0.033), (2.2, 0.09)])
def test_what_ten_layers_cost_is_what_the_docstring_says(uniformity, share):
    """Two hundred layers stand for the continuous grading; light, loose grains are the worst case."""
    for rho_s in (1080.0, 1430.0, 2650.0, 4600.0):
        medium = (0.65e-3, uniformity, rho_s, 0.9, 0.45)
        ten = bed.velocity_for_expansion(0.4, *medium, 283.15)
        many = bed.velocity_for_expansion(0.4, *medium, 283.15, layers=200)
        assert 1.0 < ten / many < 1 + share


def test_the_correction_of_amirtharajah_and_cleasby_on_both_sides_of_reynolds_10():
    """The correlation worked in its own units (mm, lb/ft3, cP); 1.775 Re^-0.272 above Re 10 only."""
    rho, rho_s, mu = 998.2, 2650.0, 1.002e-3
    pound = 16.018463  # kg/m3 in a lb/ft3
    for d in np.arange(0.70e-3, 1.3e-3, 0.02e-3):
        weights = rho / pound * (rho_s - rho) / pound
        plain_gpm = 0.00381 * (d * 1e3) ** 1.82 * weights**0.94 / (mu * 1e3) ** 0.88
        velocity = plain_gpm * 0.679097e-3
        re = rho * velocity * d / mu
        wanted = velocity * (1.775 * re**-0.272 if re > 10 else 1.0)
        found = fixed_bed.amirtharajah_cleasby_incipient_velocity(d, rho_s, rho, mu)
        assert found == pytest.approx(wanted, rel=1e-5)


@pytest.mark.parametrize("psi", [0.6, 0.8, 1.0])
def test_ergun_for_grains_that_are_no_spheres_against_the_reference_library(psi):
    """`fluids.packed_bed.Ergun` knows spheres; sharp grains resist as spheres of psi times their size."""
    theirs = Ergun(dp=psi * 0.8e-3, voidage=0.42, vs=8e-3, rho=999.7, mu=1.306e-3, L=1.0)
    ours = fixed_bed.ergun_pressure_gradient_pa_m(8e-3, 0.8e-3, 0.42, psi, 999.7, 1.306e-3)
    assert ours == pytest.approx(theirs, rel=1e-9)
