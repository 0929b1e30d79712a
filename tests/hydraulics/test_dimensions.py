"""Quantities with units through every public function of the hydraulics: no equation may mix dimensions.

The functions take bare numbers in SI, so a quantity cannot be handed in as it is. Instead pint carries each
argument by the unit its name ends in to another coherent system of units, the function works there, with the
acceleration of gravity, the inch and the properties of water carried over as well, and pint carries the
answer back by the unit it is said to have. An equation of sound dimensions does not notice; one that adds a
length to a velocity, or whose answer is not what its name says, comes out different.
"""

from __future__ import annotations

import importlib
import inspect
import pkgutil
from collections.abc import Callable, Mapping
from types import ModuleType
from typing import Any, NamedTuple

import numpy as np
import pint
import pytest

import fleetaudit.hydraulics as package
from fleetaudit.hydraulics import (
    akgiray_soyer,
    bed,
    drain,
    fixed_bed,
    grading,
    held_at_porosity,
    housing,
    other_laws,
    restrictor,
    service,
    settling,
    vessel,
    water,
    window,
)
from fleetaudit.hydraulics.window import Grain, Practice

UNITS = pint.UnitRegistry()
#: suffix of a name -> unit; the longest that fits counts, a name without one is a plain number
SUFFIXES = {
    "_kg_m3": "kg/m^3",
    "_pa_m": "Pa/m",
    "_pa_s": "Pa*s",
    "_m3_s": "m^3/s",
    "_m_s": "m/s",
    "_m2": "m^2",
    "_m3": "m^3",
    "_pa": "Pa",
    "_m": "m",
    "_s": "s",
    "_k": "K",
}
#: names that end like a unit and are none
PLAIN = {"relative_roughness", "loss_coefficient"}
#: other coherent systems: length, mass, time
SYSTEMS = {"centimetre, gram, minute": ("cm", "g", "min"), "foot, pound, hour": ("ft", "lb", "hour")}

SAND = (0.5e-3, 1.5, 2650.0, 0.78, 0.42)
FLUID = (999.1, 1.138e-3)
GRAIN_FIELDS = ("d10_m", "uniformity", "density_kg_m3", "sphericity", "porosity")
COAL = (1.0e-3, 1.45, 1600.0, 0.60, 0.52)
RATES = (8.15e-3, 12.2e-3, 283.15, 0.2, 0.25, 0.3, 0.76, False)


class Case(NamedTuple):
    """One call in SI, and the unit of its answer ("" for a plain number, one for each of several)."""

    function: Callable[..., Any]
    arguments: tuple[Any, ...]
    answer: tuple[str, ...]


def grain(values: tuple[float, ...], shape: tuple[int, ...] = (1,)) -> Grain:
    return Grain(*(np.full(shape, value) for value in values))


PRACTICE = Practice(*(np.array([value]) for value in RATES))

CASES = [
    Case(bed.expansion_from_porosity, (0.6, 0.42), ("",)),
    Case(bed.porosity_from_expansion, (0.3, 0.42), ("",)),
    Case(bed.fluidised_pressure_drop_pa, (0.8, 0.42, 2650.0, 999.1), ("Pa",)),
    Case(bed.galileo, (0.7e-3, 2650.0, *FLUID), ("",)),
    Case(bed.minimum_fluidisation_velocity, (0.7e-3, 2650.0, *FLUID), ("m/s",)),
    Case(bed.wen_yu_porosity, (9e-3, 0.7e-3, 2650.0, *FLUID), ("",)),
    Case(bed.expanded_porosity, (9e-3, 0.7e-3, 2650.0, 0.78, *FLUID), ("",)),
    Case(bed.velocity_for_porosity, (0.55, 0.7e-3, 2650.0, 0.78, *FLUID), ("m/s",)),
    Case(bed.incipient_velocity_porous, (*SAND, 288.15), ("m/s",)),
    Case(bed.bed_expansion, (9e-3, *SAND, 288.15), ("",)),
    Case(bed.velocity_for_expansion, (0.25, *SAND, 288.15), ("m/s",)),
    Case(
        bed.velocity_filling_room,
        (np.array([0.3]), np.array([[0.7]]), *(np.array([[value]]) for value in SAND), np.array([288.15])),
        ("m/s",),
    ),
    Case(drain.darcy_friction_factor, (20_000.0, 0.0), ("",)),
    Case(drain.elbow_loss_coefficient, (20_000.0, 0.02), ("",)),
    Case(drain.pipe_pressure_drop, (6e-4, 0.02, 6.0, 283.15, 1.5, 0.0), ("Pa",)),
    Case(drain.line_pressure_drop, (6e-4, 0.02, 6.0, 283.15, 3.0), ("Pa",)),
    Case(drain.delivered_flow_m3_s, (6e-4, 1.2e5, 1e5, 0.015, 20.0, 283.15, 3.0, 1.0), ("m^3/s",)),
    Case(drain.rise_pressure, (2.0, 283.15), ("Pa",)),
    Case(fixed_bed.carman_kozeny_head_gradient, (2e-3, 0.5e-3, 0.4, *FLUID, 5.0), ("",)),
    Case(fixed_bed.ergun_incipient_velocity, (1e-3, 2650.0, 0.45, 0.8, *FLUID), ("m/s",)),
    Case(fixed_bed.ergun_pressure_gradient_pa_m, (2e-3, 0.5e-3, 0.4, 0.8, *FLUID), ("Pa/m",)),
    Case(fixed_bed.kozeny_incipient_velocity, (0.8e-3, 2650.0, 0.4, *FLUID, 5.0), ("m/s",)),
    Case(grading.log_spread, (1.6,), ("",)),
    Case(grading.size_at, (0.6, 0.5e-3, 1.5), ("m",)),
    Case(grading.layer_sizes, (0.5e-3, 1.5), ("m",)),
    Case(held_at_porosity.akgiray_soyer, (np.array([0.55]), np.array([5_000.0]), np.array([0.8])), ("",)),
    Case(held_at_porosity.ergun_form, (0.55, 5_000.0, 112.5, 2.25), ("",)),
    Case(held_at_porosity.wen_yu, (np.array([0.55]), np.array([5_000.0])), ("",)),
    Case(housing.fits, (4e-4, 4.4e-4), ("",)),
    Case(housing.smallest_housing, (4e-4, np.array([4.4e-4, 1.6e-3])), ("",)),
    Case(other_laws.crittenden_porosity, (9e-3, 0.7e-3, 2650.0, *FLUID, 112.5, 2.25), ("",)),
    Case(other_laws.crittenden_velocity_for_porosity, (0.55, 0.7e-3, 2650.0, *FLUID, 112.5, 2.25), ("m/s",)),
    Case(other_laws.dharmarajah_cleasby_group, (3.0, 0.8), ("",)),
    Case(other_laws.dharmarajah_cleasby_porosity, (9e-3, 0.7e-3, 2650.0, 0.78, *FLUID), ("",)),
    Case(
        restrictor.choose,
        (np.array([4e-4, 5e-4, 6e-4]), 4.8e-4, 5.9e-4, 5.3e-4, 8e-4, False, 1.6e-3, True),
        ("m^3/s", ""),
    ),
    Case(restrictor.flow_at_pressure, (6e-4, 5e4, 1e5), ("m^3/s",)),
    Case(restrictor.interval, (6e-4, 0.1), ("m^3/s", "m^3/s")),
    Case(service.empty_bed_contact_time_s, (0.09, 5e-4), ("s",)),
    Case(service.residence_time_s, (1.2, 0.3, 0.4, 11e-3), ("s",)),
    Case(service.service_flux_m_s, (6e-4, 0.08), ("m/s",)),
    Case(service.wash_volume_m3, (6e-4, 600.0), ("m^3",)),
    Case(settling.davis_porosity, (0.01, 0.15, 118.0), ("",)),
    Case(settling.equal_settling_ratio, (2650.0, 1600.0, 999.1), ("",)),
    Case(settling.richardson_zaki_porosity, (0.01, 0.15, 118.0), ("",)),
    Case(settling.terminal_velocity, (0.7e-3, 2650.0, 0.78, *FLUID), ("m/s",)),
    Case(vessel.area_m2, (0.33,), ("m^2",)),
    Case(vessel.bed_volume_m3, (0.0855, 0.76), ("m^3",)),
    Case(vessel.depth_from_volume_m, (0.065, 0.0855), ("m",)),
    Case(vessel.derived_freeboard_m, (1.37, 0.33, 0.76, 0.1, 0.25, 0.076), ("m",)),
    Case(vessel.diameter_m, (0.0855,), ("m",)),
    Case(vessel.fill_fraction, (0.065, 0.33, 1.37), ("",)),
    Case(vessel.flow_m3_s, (7e-3, 0.0855), ("m^3/s",)),
    Case(vessel.rise_rate_m_s, (6e-4, 0.0855), ("m/s",)),
    Case(window.expansion_at, (np.array([9e-3]), grain(SAND), np.array([288.15])), ("",)),
    Case(
        window.freeboard_ceiling,
        (grain(SAND, (1, 1)), np.array([[0.7]]), np.array([0.3]), np.array([288.15]), True),
        ("m/s",),
    ),
    Case(window.layers_stratify, (grain(COAL), grain(SAND), 288.15, np.array([11e-3])), ("",)),
    Case(window.mixing_margin_kg_m3, (grain(COAL), grain(SAND), 288.15, np.array([11e-3])), ("kg/m^3",)),
    Case(
        window.rate_window, (grain(SAND), PRACTICE, [278.15], [291.15]), ("m/s", "m/s", "m/s", "m/s", "", "")
    ),
    Case(window.temperature_factor, (grain(SAND), PRACTICE, [278.15]), ("",)),
]

EXEMPT = {
    "fixed_bed.amirtharajah_cleasby_incipient_velocity": "fitted in millimetres, pounds, centipoise "
    "and gallons, so that its coefficient holds in those units alone: see the test below",
    "water.density_kg_m3": "an equation of temperature that others take from it: see the test below",
    "water.viscosity_pa_s": "an equation of temperature that others take from it: see the test below",
    "window.target": "a geometric mean of two of the same, of whatever unit: see the test below",
    **{
        f"akgiray_soyer.{name}": "works on logarithms, which shift with the unit: see the test below"
        for name in (
            *("logs", "log_positive", "log_ratio", "log_velocity", "log_velocity_filling"),
            *("log_void_ratio", "graded_expansion"),
        )
    },
    "arrays.bits_of": "turns numbers into bits, no equation",
    "arrays.distinct": "sorts numbers, no equation",
    "arrays.distinct_bits": "sorts rows, no equation",
    "arrays.fingerprints": "tells rows apart, no equation",
    "arrays.distinct_rows": "sorts rows, no equation",
    "arrays.floats": "shapes arrays, no equation",
    "arrays.once_per_row": "calls a function, no equation",
    "arrays.place_among": "counts numbers, no equation",
    "arrays.only": "picks values, no equation",
    "grading.quantiles": "normal quantiles by number of layers, no quantity",
}


def modules() -> Mapping[str, ModuleType]:
    return {
        found.name: importlib.import_module(f"{package.__name__}.{found.name}")
        for found in pkgutil.iter_modules(package.__path__)
    }


def name_of(function: Callable[..., Any]) -> str:
    plain = inspect.unwrap(function)
    return f"{plain.__module__.rpartition('.')[2]}.{plain.__name__}"


def unit_of(name: str) -> str:
    """Unit that a name ends in."""
    if name in PLAIN:
        return ""
    return next((unit for suffix, unit in SUFFIXES.items() if name.endswith(suffix)), "")


class System:
    """A coherent system of units; numbers go in and out through pint."""

    def __init__(self, length: str, mass: str, time: str) -> None:
        self.base = {"[length]": length, "[mass]": mass, "[time]": time}

    def scale(self, unit: str) -> float:
        """One of the SI unit in this system; temperatures stay in kelvin."""
        if unit in ("", "K"):
            return 1.0
        quantity = UNITS.Quantity(1.0, unit)
        parts = [f"({self.base[name]})**({power})" for name, power in quantity.dimensionality.items()]
        return float(quantity.to(" * ".join(parts)).magnitude)

    def carried(self, name: str, value: Any) -> Any:
        """Value of an argument in this system."""
        if isinstance(value, Grain | Practice):
            fields = {field: getattr(value, field) for field in value.__struct_fields__}
            return type(value)(**{field: self.carried(field, held) for field, held in fields.items()})
        if isinstance(value, bool):
            return value
        return np.asarray(value, dtype=float) * self.scale(unit_of(name)) if unit_of(name) else value


@pytest.fixture(params=SYSTEMS.values(), ids=SYSTEMS)
def system(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> System:
    """Another system of units, with what the equations hold of the physical world carried over to it."""
    other = System(*request.param)
    constants = {"GRAVITY_M_S2": other.scale("m/s^2"), "_INCH_M": other.scale("m")}
    for module in modules().values():
        for name, scale in constants.items():
            if hasattr(module, name):
                monkeypatch.setattr(module, name, getattr(module, name) * scale)
    for name in ("density_kg_m3", "viscosity_pa_s"):
        in_si, scale = getattr(water, name), other.scale(unit_of(name))
        monkeypatch.setattr(water, name, lambda t, si=in_si, by=scale: si(t) * by)
    return other


def answers(found: Any) -> list[Any]:
    return list(found) if isinstance(found, tuple) else [found]


def called(case: Case, other: System | None) -> list[Any]:
    names = list(inspect.signature(case.function).parameters)
    given = dict(zip(names, case.arguments, strict=False))
    if case.function is restrictor.choose:
        given["tolerance"] = 0.1
    if other is not None:
        given = {name: other.carried(name, value) for name, value in given.items()}
    return answers(case.function(**given))


@pytest.fixture
def in_si(case: Case) -> list[Any]:
    """The answer before anything is carried over."""
    return called(case, None)


@pytest.mark.parametrize("case", CASES, ids=lambda case: name_of(case.function))
def test_answer_does_not_depend_on_the_system_of_units(case: Case, in_si: list[Any], system: System) -> None:
    here = called(case, system)
    assert len(here) == len(case.answer)
    for unit, mine, si in zip(case.answer, here, in_si, strict=True):
        assert np.isfinite(np.asarray(si, dtype=float)).all()
        assert np.asarray(mine, dtype=float) == pytest.approx(
            np.asarray(si, dtype=float) * system.scale(unit), rel=1e-6
        )


def test_every_public_function_is_here_or_exempt_with_a_reason() -> None:
    public = {
        f"{module}.{name}"
        for module, held in modules().items()
        for name, function in vars(held).items()
        if callable(function)
        and not isinstance(function, type)
        and getattr(inspect.unwrap(function), "__module__", "") == held.__name__
        and not name.startswith("_")
    }
    tried = {name_of(case.function) for case in CASES}
    assert public == tried | set(EXEMPT)
    assert not tried & set(EXEMPT)
    assert all(len(reason.split()) > 2 for reason in EXEMPT.values())


@pytest.mark.parametrize("case", CASES, ids=lambda case: name_of(case.function))
def test_answer_has_the_unit_its_function_is_named_after(case: Case) -> None:
    name = name_of(case.function)
    unit = unit_of(name)
    if unit and not name.endswith("_m3_s") and len(case.answer) == 1:
        assert UNITS.Unit(unit).dimensionality == UNITS.Unit(case.answer[0]).dimensionality
    for end, known in {"velocity": "m/s", "pressure_drop": "Pa", "rise_pressure": "Pa"}.items():
        if name.endswith(end):
            assert case.answer == (known,)


def test_target_keeps_the_unit_of_its_ends() -> None:
    assert window.target(4.0 * 60, 9.0 * 60) == pytest.approx(window.target(4.0, 9.0) * 60)


def logarithms(scale: Callable[[str], float]) -> dict[str, tuple[float, str]]:
    """Answer of every function that works on logarithms, with the unit of the number it is the logarithm of.

    "" where the answer is a plain number, or the logarithm of one.
    """
    log_g, log_k = akgiray_soyer.logs(
        np.array(0.7e-3 * scale("m")),
        np.array(2650 * scale("kg/m^3")),
        np.array(0.78),
        999.1 * scale("kg/m^3"),
        1.138e-3 * scale("Pa*s"),
    )
    settled, log_v = akgiray_soyer.log_ratio(np.array(0.42)), np.log(9e-3 * scale("m/s"))
    one = akgiray_soyer.Graded(log_g, log_k, grading.log_spread(np.array(1.5)), settled)
    row = akgiray_soyer.Graded(*(np.reshape(part, (1, 1)) for part in (log_g, log_k, one.sigma, settled)))
    places = grading.quantiles(10)
    depth, room = np.array([[0.7 * scale("m")]]), np.array([0.3 * scale("m")])
    found = {
        "log_positive": (akgiray_soyer.log_positive(0.7e-3 * scale("m")), "m"),
        "log_ratio": (settled, ""),
        "logs": (log_k, "s/m"),
        "logs, of the group": (log_g, ""),
        "log_void_ratio": (akgiray_soyer.log_void_ratio(log_g, log_k + log_v), ""),
        "log_velocity": (akgiray_soyer.log_velocity(np.array(0.2), log_g, log_k), "m/s"),
        "graded_expansion": (akgiray_soyer.graded_expansion(log_v, one, places), ""),
        "log_velocity_filling": (akgiray_soyer.log_velocity_filling(room, depth, row, places)[0], "m/s"),
    }
    return {name: (float(value), unit) for name, (value, unit) in found.items()}


@pytest.fixture
def logarithms_in_si() -> dict[str, tuple[float, str]]:
    return logarithms(lambda unit: 1.0)


def test_logarithms_shift_by_the_logarithm_of_the_unit(
    logarithms_in_si: dict[str, tuple[float, str]], system: System
) -> None:
    for name, (here, unit) in logarithms(system.scale).items():
        assert here == pytest.approx(logarithms_in_si[name][0] + np.log(system.scale(unit)), abs=1e-8), name
    tried = {name.partition(",")[0] for name in logarithms_in_si}
    assert tried == {name.partition(".")[2] for name in EXEMPT if name.startswith("akgiray_soyer.")}


def test_the_law_in_pounds_and_gallons_holds_in_its_own_units() -> None:
    """v [gpm/ft2] = 0.00381 d60^1.82 (w (m - w))^0.94 / mu^0.88 in mm, lb/ft3 and cP (Hendricks (2011), p.
    365), carried over by pint.
    """
    grain_m, grains, fluid, viscosity = (
        UNITS.Quantity(*pair) for pair in ((0.6e-3, "m"), (2650, "kg/m^3"), (998.2, "kg/m^3"), (1e-3, "Pa*s"))
    )
    d = grain_m.to("mm").magnitude
    m, w = grains.to("lb/ft^3").magnitude, fluid.to("lb/ft^3").magnitude
    printed = 0.00381 * d**1.82 * (w * (m - w)) ** 0.94 / viscosity.to("cP").magnitude ** 0.88
    found = fixed_bed.amirtharajah_cleasby_incipient_velocity(0.6e-3, 2650.0, 998.2, 1e-3)
    reynolds = float((fluid * UNITS.Quantity(found, "m/s") * grain_m / viscosity).to(""))
    assert reynolds < 10, "below the range of its correction"
    assert UNITS.Quantity(found, "m/s").to("gallon/minute/ft^2").magnitude == pytest.approx(printed, rel=1e-5)


@pytest.mark.parametrize(
    ("function", "printed", "unit", "tolerance"),
    [(water.density_kg_m3, 62.41, "lb/ft^3", 1e-4), (water.viscosity_pa_s, 2.735e-5, "lbf*s/ft^2", 5e-3)],
    ids=["density", "viscosity"],
)
def test_water_has_the_units_it_is_said_to_have(
    function: Callable[[float], Any], printed: float, unit: str, tolerance: float
) -> None:
    """Water of 50 F in the US customary tables of texts on fluid mechanics (from memory, unverified)."""
    warm = UNITS.Quantity(50.0, "degF").to("kelvin").magnitude
    found = UNITS.Quantity(float(function(warm)), unit_of(function.__name__))
    assert found.to(unit).magnitude == pytest.approx(printed, rel=tolerance)


def _mixed(grain_m: float, velocity_m_s: float) -> float:
    return grain_m + velocity_m_s


def _misnamed(volume_m3: float, area_m2: float) -> float:
    return volume_m3 * area_m2


def _with_a_hidden_constant(velocity_m_s: float) -> float:
    return velocity_m_s**2 / (2 * 9.80665)


@pytest.mark.parametrize(
    "case",
    [
        Case(_mixed, (0.7e-3, 9e-3), ("m/s",)),
        Case(_misnamed, (0.065, 0.0855), ("m",)),
        Case(_with_a_hidden_constant, (2.0,), ("m",)),
    ],
    ids=["mixed", "misnamed", "hidden constant"],
)
def test_the_trial_notices_what_is_wrong(case: Case, system: System) -> None:
    (si,), (here,) = called(case, None), called(case, system)
    assert float(here) != pytest.approx(float(si) * system.scale(case.answer[0]), rel=1e-3)
