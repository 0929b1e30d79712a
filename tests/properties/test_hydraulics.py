"""What must hold for every grain, whatever the numbers."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetaudit.hydraulics import bed, water, window
from fleetaudit.hydraulics.arrays import distinct_rows

D10 = st.floats(0.25e-3, 1.5e-3)
UNIFORMITY = st.floats(1.15, 2.3)
DENSITY = st.floats(1080.0, 4700.0)
SPHERICITY = st.floats(0.5, 1.0)
POROSITY = st.floats(0.36, 0.58)
KELVIN = st.floats(273.5, 308.0)
EXPANSION = st.floats(0.05, 1.0)
MEDIUM = st.tuples(D10, UNIFORMITY, DENSITY, SPHERICITY, POROSITY)

PATIENT = settings(deadline=None, max_examples=60)  # the first call fills the water table


@PATIENT
@given(MEDIUM, KELVIN, EXPANSION)
def test_expansion_of_the_velocity_for_an_expansion_is_that_expansion(medium, kelvin, expansion):
    velocity = bed.velocity_for_expansion(expansion, *medium, kelvin)
    assert bed.bed_expansion(velocity, *medium, kelvin) == pytest.approx(expansion, rel=1e-6)


@PATIENT
@given(MEDIUM, KELVIN, st.floats(0.6, 0.95))
def test_porosity_of_the_velocity_for_a_porosity_is_that_porosity(medium, kelvin, porosity):
    d, _, rho_s, psi, _ = medium
    fluid = water.density_kg_m3(kelvin), water.viscosity_pa_s(kelvin)
    velocity = bed.velocity_for_porosity(porosity, d, rho_s, psi, *fluid)
    assert bed.expanded_porosity(velocity, d, rho_s, psi, *fluid) == pytest.approx(porosity, rel=1e-6)


@PATIENT
@given(MEDIUM, KELVIN, EXPANSION, st.floats(1.01, 1.2))
def test_more_of_what_resists_the_flow_asks_for_more_flow(medium, kelvin, expansion, more):
    d10, uc, rho_s, psi, eps0 = medium
    base = bed.velocity_for_expansion(expansion, *medium, kelvin)
    assert bed.velocity_for_expansion(expansion, d10 * more, uc, rho_s, psi, eps0, kelvin) > base
    assert bed.velocity_for_expansion(expansion, d10, uc, rho_s * more, psi, eps0, kelvin) > base
    assert bed.velocity_for_expansion(expansion * more, *medium, kelvin) > base
    assert bed.velocity_for_expansion(expansion, *medium, kelvin + more) > base
    if psi * more <= 1:
        assert bed.velocity_for_expansion(expansion, d10, uc, rho_s, psi * more, eps0, kelvin) > base


@PATIENT
@given(MEDIUM, KELVIN, EXPANSION)
def test_an_expanded_bed_is_looser_than_settled_and_faster_than_its_start(medium, kelvin, expansion):
    d10, uc, rho_s, psi, eps0 = medium
    fluid = water.density_kg_m3(kelvin), water.viscosity_pa_s(kelvin)
    velocity = bed.velocity_for_expansion(expansion, *medium, kelvin)
    start = bed.velocity_for_porosity(eps0, bed.layer_sizes(d10, uc)[0], rho_s, psi, *fluid)
    assert velocity > start
    finest = bed.expanded_porosity(velocity, bed.layer_sizes(d10, uc)[0], rho_s, psi, *fluid)
    assert eps0 < finest < 1


@PATIENT
@given(st.tuples(D10, st.floats(1.15, 1.5), DENSITY, SPHERICITY, POROSITY), KELVIN, st.floats(0.15, 0.6))
def test_ten_layers_are_within_2_per_cent_of_two_hundred(medium, kelvin, expansion):
    ten = bed.velocity_for_expansion(expansion, *medium, kelvin)
    many = bed.velocity_for_expansion(expansion, *medium, kelvin, layers=200)
    assert 1 <= ten / many < 1.02


def units(seed, count=40):
    draw = np.random.default_rng(seed)
    media = draw.integers(0, 6, count)

    def figure(low, high):
        column = draw.uniform(low, high, 6)[media]
        column[draw.random(count) < 0.05] = np.nan
        return column

    grain = window.Grain(
        figure(3e-4, 1e-3), figure(1.2, 2), figure(1100, 4500), figure(0.5, 1), figure(0.38, 0.55)
    )
    wash = window.Practice(
        figure(2e-3, 8e-3), figure(8e-3, 12e-3), figure(280, 295), figure(0.1, 0.2), figure(0.2, 0.3),
        figure(0.3, 0.5), figure(0.4, 0.9), draw.random(count) < 0.3,
    )  # fmt: skip
    return grain, wash, draw.uniform(274, 284, count), draw.uniform(284, 300, count)


def part(table, rows):
    return type(table)(*(getattr(table, name)[rows] for name in type(table).__struct_fields__))


@PATIENT
@given(st.integers(0, 10_000), st.randoms(use_true_random=False))
def test_neither_order_nor_company_changes_a_unit(seed, shuffler):
    grain, wash, cold, warm = units(seed)
    whole = window.rate_window(grain, wash, cold, warm)
    order = list(range(40))
    shuffler.shuffle(order)
    for rows in (order, order[:13], order[13:14]):
        some = window.rate_window(part(grain, rows), part(wash, rows), cold[rows], warm[rows])
        for column, expected in zip(some, whole, strict=True):
            np.testing.assert_array_equal(column, expected[rows])


@PATIENT
@given(st.integers(0, 10_000), st.floats(0.1, 4.0))
def test_a_narrower_season_widens_the_window(seed, less):
    grain, wash, cold, warm = units(seed)
    wide, narrow = (
        window.rate_window(grain, wash, cold, warm),
        window.rate_window(grain, wash, cold + less, warm - less),
    )
    known = ~np.isnan(wide.low + wide.high)
    assert known.any()
    assert (narrow.low <= wide.low)[known].all()
    assert (narrow.high >= wide.high)[known].all()


@PATIENT
@given(MEDIUM, KELVIN, st.floats(0.2, 1.5), st.floats(-0.1, 1.0), st.floats(0.001, 0.3))
def test_more_freeboard_never_lowers_the_ceiling(medium, kelvin, depth, room, more):
    grain = window.Grain(*(np.full((2, 1), figure) for figure in medium))
    rooms = np.array([room, room + more])
    low, high = window.freeboard_ceiling(
        grain, np.full((2, 1), depth), rooms, np.full(2, kelvin), round_end=True
    )
    assert low <= high


@PATIENT
@given(
    st.lists(
        st.tuples(st.sampled_from([0.0, -0.0, 1.0, np.nan]), st.sampled_from([2.0, 3.0, np.nan])), min_size=1
    )
)
def test_rows_are_of_one_kind_exactly_if_their_numbers_are_the_same(rows):
    columns = [np.array(column) for column in zip(*rows, strict=True)]
    first, kind = distinct_rows(columns)
    for column in columns:
        np.testing.assert_array_equal(column[first][kind], column)
    written = {tuple("nan" if np.isnan(number) else number + 0.0 for number in row) for row in rows}
    assert len(first) == len(written)
