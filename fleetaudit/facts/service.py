"""The bed in service: what flow it takes, how long water stays in it."""

from __future__ import annotations

import numpy as np

from fleetaudit.facts import site
from fleetaudit.facts.fact import Fact, computed, figure, given
from fleetaudit.facts.view import View, remembered
from fleetaudit.schema import fleet


@remembered
def service_flow(view: View) -> Fact:
    """Peak flow of the row in service [m3/s]."""
    return given(view.frame, fleet.SERVICE_FLOW)


@remembered
def loading_limit(view: View) -> Fact:
    """Most flow the vessels of the row take [m3/s]: by area, or by volume for media rated so."""
    reason = site.medium_missing(view)
    flux = figure(*view.figure("service_flux_m_s"), reason)
    rate = figure(*view.figure("service_per_volume_1_s"), reason)
    by_area = computed(flux.value * site.area(view).value * site.vessels(view), flux, site.area(view))
    bed = site.volume(view)
    by_volume = computed(rate.value * bed.value * site.vessels(view), rate, bed)
    rated_by_volume = np.isnan(flux.value) & ~np.isnan(rate.value)
    return by_area.where(rated_by_volume, by_volume)


@remembered
def contact_time(view: View) -> Fact:
    """Empty-bed contact time of the row's vessels side by side at peak flow [s]."""
    bed, flow = site.volume(view), service_flow(view)
    with np.errstate(divide="ignore", invalid="ignore"):
        time = bed.value * site.vessels(view) / flow.value
    return computed(time, bed, flow)
