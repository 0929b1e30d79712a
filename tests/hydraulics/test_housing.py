"""Housings at, below and above their limits of 7, 25 and 45 gpm (common practice, no source)."""

from __future__ import annotations

import numpy as np
import pytest

from fleetaudit.hydraulics import housing

GPM = 3.785411784e-3 / 60
LIMITS = np.array([7.0, 25.0, 45.0]) * GPM


@pytest.mark.parametrize(
    ("gpm", "place"),
    [(1.0, 0), (7.0, 0), (7.01, 1), (25.0, 1), (25.01, 2), (45.0, 2), (45.01, 3), (np.nan, -1)],
)
def test_the_limit_itself_is_allowed(gpm, place):
    assert housing.smallest_housing(gpm * GPM, LIMITS) == place


def test_a_rating_given_in_another_unit_sits_at_the_limit_all_the_same():
    litres_per_minute = 7.0 * 3.785411784
    assert housing.smallest_housing(litres_per_minute / 60_000, LIMITS) == 0
    assert housing.fits(litres_per_minute / 60_000, 7.0 * GPM)


def test_fits():
    assert housing.fits(np.array([6.9, 7.0, 7.1, np.nan]), 7.0).tolist() == [True, True, False, False]
    assert not housing.fits(5.0, np.nan)
