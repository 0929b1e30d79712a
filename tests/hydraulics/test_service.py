"""The service side in the units of practice, worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from fleetaudit.hydraulics import service

GALLON = 3.785411784e-3
FT3 = 0.3048**3


def test_contact_time():
    """1.5 ft3 at 5 gpm: 1.5 x 7.4805 / 5 = 2.244 min."""
    assert service.empty_bed_contact_time_s(1.5 * FT3, 5 * GALLON / 60) / 60 == pytest.approx(2.244, rel=1e-3)
    assert service.empty_bed_contact_time_s(1.0, 0.0) == np.inf


def test_loading():
    """5 gpm on 1 ft2 is 12.22 m/h."""
    assert service.service_flux_m_s(5 * GALLON / 60, 0.3048**2) * 3600 == pytest.approx(12.22, rel=1e-3)


@pytest.mark.parametrize(
    ("function", "arguments"),
    [
        (service.service_flux_m_s, (1.0, 1.0)),
        (service.empty_bed_contact_time_s, (1.0, 1.0)),
        (service.residence_time_s, (1.0, 0.3, 0.4, 0.01)),
        (service.wash_volume_m3, (1.0, 1.0)),
    ],
)
def test_unknown_or_negative_gives_no_answer(function, arguments):
    assert np.isfinite(function(*arguments))
    for place in range(len(arguments)):
        for bad in (np.nan, -1.0):
            assert np.isnan(function(*arguments[:place], bad, *arguments[place + 1 :]))
