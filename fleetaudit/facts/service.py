"""The bed in service: what flow it takes, how long water stays in it."""

from __future__ import annotations

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from fleetaudit.catalogue import arrays
from fleetaudit.facts import site
from fleetaudit.facts.fact import Fact, computed, figure, given
from fleetaudit.facts.frame import Codes, Flags, Floats
from fleetaudit.facts.view import View, remembered
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Missing


@remembered
def service_flow(view: View) -> Fact:
    """Peak flow of the row in service [m3/s]."""
    return given(view.frame, fleet.SERVICE_FLOW)


@remembered
def loading_limit(view: View) -> Fact:
    """Most flow the vessels of the row take [m3/s]: by volume for media rated so, else by area."""
    named = site.medium(view)
    flux = figure(*view.figure("service_flux_m_s"), named)
    rate = figure(*view.figure("service_per_volume_1_s"), named)
    ground, bed = site.area(view), site.volume(view)
    by_area = _times(flux, ground, ground.value * site.vessels(view))
    by_volume = _times(rate, bed, bed.value * site.vessels(view))
    return by_area.where(~np.isnan(rate.value), by_volume)


def _times(rate: Fact, size: Fact, amount: Floats) -> Fact:
    """A rate of the catalogue, with its range, times the area or the volume it is meant for."""
    return computed(rate.value * amount, rate, size, low=rate.low * amount, high=rate.high * amount)


@remembered
def purpose(view: View) -> Fact:
    """What each unit is there to take out, as a fact: the code of the frame, or why it is not known."""
    code = view.frame.code(fleet.PURPOSE.name).astype(np.float64)
    why = view.frame.why_missing(fleet.PURPOSE)
    why = np.where((code < 0) & (why == Missing.KNOWN), int(Missing.NOT_IN_CATALOGUE), why)
    return Fact(code, code, code, why, view.frame.origins(fleet.PURPOSE), (fleet.PURPOSE,))


class Unfit(Struct, frozen=True):
    """Where a medium is not for a purpose of its unit: `wrong`, and `harmful` where health hangs on one.

    `serves` marks media that are for another purpose of the same unit. A code of `which` is a place in
    `left`, which holds the purposes that are not served, as places in the catalogue.
    """

    wrong: Flags
    harmful: Flags
    serves: Flags
    which: Codes
    left: tuple[tuple[int, ...], ...]


@remembered
def unfit(view: View) -> Unfit:
    """Find units whose medium the catalogue does not list for all that the unit is there to take out.

    A medium without a list is not held to one.
    """
    catalogue, sought = view.catalogue, view.purposes
    suits = [{catalogue.purpose_codes[word] for word in medium.suits} for medium in catalogue.media]
    pairs = [(listed, together) for listed in suits for together in sought.together]
    left = [tuple(one for one in together if listed and one not in listed) for listed, together in pairs]
    guards = [any(catalogue.purposes[one].guards for one in lacking) for lacking in left]
    serves = [len(lacking) < len(together) for lacking, (_, together) in zip(left, pairs, strict=True)]
    known = purpose(view).known & (view.medium >= 0)
    which = np.where(known, view.medium * len(sought.together) + sought.codes, len(pairs))
    wrong = np.array([*map(bool, left), False])[which]
    harmful, served = np.array([*guards, False])[which], np.array([*serves, False])[which]
    return Unfit(wrong, wrong & harmful, served, which, (*left, ()))


@remembered
def least_contact_time(view: View) -> Fact:
    """Least contact time the medium needs for its purpose [s].

    Where that hangs on a purpose nobody gave, the purpose is what is missing.
    """
    value, low, high = arrays.spread_for_purpose(view.catalogue, view.medium, view.purposes, "contact_time_s")
    least = figure(value, low, high, site.medium(view))
    hangs = np.array([*(bool(medium.contact_time_by_purpose) for medium in view.catalogue.media), False])[
        view.medium
    ]
    why = purpose(view).missing
    open_question = (least.missing == Missing.NO_FIGURE) & hangs
    return replace(least, missing=np.where(open_question & (why > 0), why, least.missing))


@remembered
def contact_time(view: View) -> Fact:
    """Empty-bed contact time of the row's vessels side by side at peak flow [s]."""
    bed, flow = site.volume(view), service_flow(view)
    with np.errstate(divide="ignore", invalid="ignore"):
        time = bed.value * site.vessels(view) / flow.value
    told = computed(time, bed, flow)
    return replace(told, columns=(*told.columns, fleet.VESSELS))
