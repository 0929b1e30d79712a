"""What no vessel, grain or pipe can be gives no answer; what is just possible gives one.

The domains are those of the quantities themselves: a diameter above zero, a porosity between zero and one,
grains that sink, a sphericity of at most one. Each argument of each function is moved alone to the edge of
its domain and beyond, all others left sound.
"""

from __future__ import annotations

import inspect
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import pytest

from fleetaudit.hydraulics import restrictor

from .test_dimensions import CASES, Case, name_of


class Domain(NamedTuple):
    """Values that are just possible, and values that are not."""

    possible: tuple[float, ...]
    impossible: tuple[float, ...]


POSITIVE = Domain((1e-9,), (0.0, -1.0))
FROM_ZERO = Domain((0.0,), (-1e-9, -1.0))
BETWEEN = Domain((1e-6, 1 - 1e-6), (0.0, 1.0, -0.1, 1.1))
UP_TO_ONE = Domain((1e-2, 1.0), (0.0, -0.1, 1.0001))
BELOW_ONE = Domain((0.0, 0.999), (-1e-9, 1.0))
FROM_ONE = Domain((1.0, 3.0), (0.999, 0.0, -1.0))
ANY = Domain((), ())
DOMAINS = {
    **dict.fromkeys(("grain_m", "d10_m", "bore_m", "diameter_m", "height_m", "area_m2"), POSITIVE),
    **dict.fromkeys(("viscosity_pa_s", "rating_m3_s", "full_control_pa", "lines_worth"), POSITIVE),
    **dict.fromkeys(("kozeny", "viscous", "inertial"), POSITIVE),
    **dict.fromkeys(("terminal_velocity_m_s", "settling_velocity_m_s"), POSITIVE),
    **dict.fromkeys(
        ("velocity_m_s", "flow_m3_s", "depth_m", "length_m", "duration_s", "gravel_m"), FROM_ZERO
    ),
    **dict.fromkeys(("volume_m3", "distributor_m", "loss_coefficient", "elbows", "reynolds"), FROM_ZERO),
    **dict.fromkeys(("settling_reynolds", "expansion"), FROM_ZERO),
    **dict.fromkeys(("porosity", "settled_porosity"), BETWEEN),
    "sphericity": UP_TO_ONE,
    **dict.fromkeys(("dome_share", "tolerance"), BELOW_ONE),
    "uniformity": FROM_ONE,
    # grains and water by their numbers in the trials: they sink only above the density of the water
    **dict.fromkeys(
        ("grain_density_kg_m3", "other_density_kg_m3"), Domain((999.2,), (999.1, 998.0, 0.0, -1.0))
    ),
    "fluid_density_kg_m3": Domain((1e-3, 1500.0), (2650.0, 3000.0, 0.0, -1.0)),
}
OWN = {
    # a sand that floats in nothing: coal of 1600 kg/m3 is the lighter of the two in this trial
    ("settling.equal_settling_ratio", "fluid_density_kg_m3"): Domain((0.0, 1599.0), (1600.0, 2650.0)),
    ("bed.fluidised_pressure_drop_pa", "fluid_density_kg_m3"): Domain((0.0, 1500.0), (2650.0, 3000.0)),
    # yes or no, never unknown: see the tests of housings
    ("housing.fits", "rating_m3_s"): ANY,
    ("housing.smallest_housing", "rating_m3_s"): ANY,
    # a hair's breadth takes the pipe beyond the Reynolds numbers that the friction factor is known for
    ("drain.pipe_pressure_drop", "bore_m"): Domain((1e-3,), (0.0, -1.0)),
    ("drain.line_pressure_drop", "bore_m"): Domain((1e-3,), (0.0, -1.0)),
    # not used where nothing is lifted
    ("fixed_bed.ergun_pressure_gradient_pa_m", "fluid_density_kg_m3"): POSITIVE,
    ("fixed_bed.carman_kozeny_head_gradient", "fluid_density_kg_m3"): POSITIVE,
    ("bed.porosity_from_expansion", "expansion"): Domain((0.0, -0.5), (-1.0, -2.0)),
    ("service.empty_bed_contact_time_s", "volume_m3"): POSITIVE,
    ("service.residence_time_s", "depth_m"): POSITIVE,
    ("service.residence_time_s", "velocity_m_s"): POSITIVE,
    # where bore, length or elbows are not known the line counts for nothing, and no negative one is asked for
    ("drain.delivered_flow_m3_s", "bore_m"): ANY,
    ("drain.delivered_flow_m3_s", "length_m"): ANY,
    ("drain.delivered_flow_m3_s", "elbows"): ANY,
    # the laws of expansion by Reynolds numbers of a grain are held to other trials
    ("other_laws.crittenden_velocity_for_porosity", "porosity"): BETWEEN,
    ("bed.velocity_for_porosity", "porosity"): Domain((0.05, 0.999), (0.0, 1.0, -0.1, 1.1)),
    ("bed.incipient_velocity_porous", "settled_porosity"): Domain((0.05, 0.99), (0.0, 1.0, -0.1, 1.1)),
    # the shape term of this law goes with the square of a logarithm: an unlikely shape is not asked for
    ("other_laws.dharmarajah_cleasby_porosity", "sphericity"): Domain((0.5, 1.0), (0.0, -0.1, 1.0001)),
    # a bed law takes a bed that is there
    ("bed.bed_expansion", "velocity_m_s"): Domain((1e-9,), (-1.0,)),
    ("bed.expanded_porosity", "velocity_m_s"): Domain((0.0,), (-1.0,)),
    ("other_laws.dharmarajah_cleasby_porosity", "velocity_m_s"): Domain((1e-6,), (-1.0,)),
    ("bed.velocity_for_expansion", "expansion"): Domain((1e-4,), (-1e-3, -1.0)),
}
SKIPPED = {"held_at_porosity.akgiray_soyer", "held_at_porosity.wen_yu", "held_at_porosity.ergun_form"}


def domain(case: Case, name: str) -> Domain:
    return OWN.get((name_of(case.function), name)) or DOMAINS.get(name, ANY)


def trials() -> Iterator[tuple[Case, str]]:
    for case in CASES:
        if name_of(case.function) in SKIPPED or case.function is restrictor.choose:
            continue
        names = list(inspect.signature(case.function).parameters)
        for name, value in zip(names, case.arguments, strict=False):
            if isinstance(value, float) and domain(case, name) is not ANY:
                yield case, name


TRIALS = list(trials())


def answer(case: Case, **changed: float) -> list[float]:
    names = list(inspect.signature(case.function).parameters)
    given = dict(zip(names, case.arguments, strict=False)) | changed
    found = case.function(**given)
    parts = found if isinstance(found, tuple) else (found,)
    return [float(value) for part in parts for value in np.ravel(np.asarray(part, dtype=float))]


@pytest.mark.parametrize(
    ("case", "name"), TRIALS, ids=[f"{name_of(case.function)}: {name}" for case, name in TRIALS]
)
def test_edge_of_the_domain(case: Case, name: str) -> None:
    assert not np.isnan(answer(case)).any()
    held = domain(case, name)
    for value in held.possible:
        assert not np.isnan(answer(case, **{name: value})).any(), f"{name} = {value} is possible"
    for value in (*held.impossible, float("nan")):
        assert np.isnan(answer(case, **{name: value})).all(), f"{name} = {value} is not possible"


def test_most_arguments_are_tried() -> None:
    assert len(TRIALS) >= 120
