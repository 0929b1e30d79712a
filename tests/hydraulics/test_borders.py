"""Where one formula gives way to another, and arrays against one number at a time."""

from __future__ import annotations

import inspect

import numpy as np
import pytest
from fluids import friction_factor
from fluids.packed_bed import Ergun

from fleetaudit.hydraulics import drain, fixed_bed, other_laws

from .test_dimensions import CASES, Case, name_of

PLAIN = [case for case in CASES if all(isinstance(value, float) for value in case.arguments)]
#: plain numbers by contract
ONE_NUMBER = {"relative_roughness", "share"}


@pytest.mark.parametrize("case", PLAIN, ids=lambda case: name_of(case.function))
def test_arrays_of_any_shape_hold_what_each_number_gives_alone(case: Case) -> None:
    names = list(inspect.signature(case.function).parameters)[: len(case.arguments)]
    shares = 1 + 0.01 * np.arange(6).reshape(2, 3)
    given = {
        name: value if name in ONE_NUMBER else value * (shares if place % 2 else shares[::-1])
        for place, (name, value) in enumerate(zip(names, case.arguments, strict=True))
    }
    found = case.function(**given)
    for place in np.ndindex(2, 3):
        one = {name: value if name in ONE_NUMBER else value[place] for name, value in given.items()}
        alone = case.function(**one)
        pairs = zip(found, alone, strict=True) if isinstance(found, tuple) else [(found, alone)]
        for several, single in pairs:
            assert np.shape(several)[:2] == (2, 3)
            assert several[place] == pytest.approx(single, rel=1e-12)


def test_friction_at_the_end_of_laminar_flow_against_the_reference_library() -> None:
    """`fluids` takes the turbulent factor from Re 2040 on, which is half as much again as 64 / Re."""
    for reynolds in (2039.999, 2040.0, 2040.001):
        theirs = friction_factor(Re=reynolds, eD=0.0)
        assert drain.darcy_friction_factor(reynolds) == pytest.approx(theirs, rel=1e-4)


@pytest.mark.parametrize("psi", [0.55, 0.75, 1.0])
@pytest.mark.parametrize("grain_m", [0.4e-3, 1.2e-3, 4e-3])
def test_at_incipient_velocity_the_reference_library_finds_the_weight_of_the_bed(
    psi: float, grain_m: float
) -> None:
    """Drop = (1 - eps) (rho_s - rho) g by `fluids.packed_bed.Ergun`, with spheres of psi times their size."""
    eps, rho_s, rho, mu = 0.45, 2650.0, 999.7, 1.306e-3
    velocity = float(fixed_bed.ergun_incipient_velocity(grain_m, rho_s, eps, psi, rho, mu))
    drop = Ergun(dp=psi * grain_m, voidage=eps, vs=velocity, rho=rho, mu=mu, L=1.0)
    assert drop == pytest.approx((1 - eps) * (rho_s - rho) * 9.80665, rel=1e-9)


@pytest.mark.parametrize(
    ("place", "value"),
    [(0, 0.0), (0, -1e-3), (1, 998.2), (1, 900.0), (2, 0.0), (2, -1.0), (3, 0.0), (3, -1e-3)],
)
def test_the_law_of_pounds_and_gallons_has_no_answer_for_impossible_grains(place: int, value: float) -> None:
    arguments = [0.6e-3, 2650.0, 998.2, 1e-3]
    assert fixed_bed.amirtharajah_cleasby_incipient_velocity(*arguments) > 0
    arguments[place] = value
    assert np.isnan(fixed_bed.amirtharajah_cleasby_incipient_velocity(*arguments))


def test_a_thin_fluid_still_has_an_answer_by_the_law_of_pounds_and_gallons() -> None:
    """Every factor of the correlation is a power, so a hundredth of the density is a hundredth to 0.94."""
    thin, thinner = (
        float(fixed_bed.amirtharajah_cleasby_incipient_velocity(0.1e-3, 2650.0, rho, 1e-3))
        for rho in (1.0, 0.01)
    )
    assert thinner / thin == pytest.approx((0.01 * 2649.99 / 2649.0) ** 0.94, rel=1e-9)


def test_the_law_of_dharmarajah_and_cleasby_creeps_below_a_fifth_only() -> None:
    """Reynolds number 0.2 itself belongs to the polynomial (from memory, unverified); it jumps by 28 %."""
    x = np.log10(0.2)
    polynomial = 10 ** (0.56543 + 1.09348 * x + 0.17979 * x**2 - 0.00392 * x**4)
    assert other_laws.dharmarajah_cleasby_group(0.2, 1.0) == pytest.approx(polynomial, rel=1e-12)
    below = float(np.nextafter(0.2, 0.0))
    assert other_laws.dharmarajah_cleasby_group(below, 1.0) == pytest.approx(3.01 * 0.2, rel=1e-12)
    assert polynomial / (3.01 * 0.2) == pytest.approx(1.28, abs=0.01)


def test_ten_restrictors_of_different_lines_settle_as_each_alone() -> None:
    """Some of them starved by pressure, some by the line, some not at all."""
    psi, gpm = 6894.757, 6.30902e-5
    pressure = np.array([[5.0, 10, 14, 16, 60], [45, 30, 20, 15, 8]]) * psi
    bore = np.array([[13.8e-3] * 5, [np.nan, 13.8e-3, 20e-3, 26e-3, 13.8e-3]])
    together = drain.delivered_flow_m3_s(10 * gpm, pressure, 15 * psi, bore, 20.0, 283.15, 2.0)
    assert together.shape == (2, 5)
    for place in np.ndindex(2, 5):
        alone = drain.delivered_flow_m3_s(10 * gpm, pressure[place], 15 * psi, bore[place], 20.0, 283.15, 2.0)
        assert together[place] == pytest.approx(alone, rel=1e-12)
