"""What only the whole fleet tells: repeated ids, a restrictor column of doubtful unit. Counts add up."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np
from msgspec import Struct, field

from fleetaudit.catalogue.model import Catalogue
from fleetaudit.facts import site
from fleetaudit.facts.frame import Floats, Frame
from fleetaudit.facts.view import Fleetwide, View
from fleetaudit.facts.window import flow_window
from fleetaudit.facts.worked import Worked
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Origin
from fleetaudit.schema.quantity import FLOW_UNITS

DEFAULT_UNIT = fleet.RESTRICTOR.quantity.us
#: units a restrictor column without a unit might be in, instead of the default
OTHER_UNITS = tuple(unit for unit in FLOW_UNITS if unit != DEFAULT_UNIT)


def unit_keys(units: Sequence[str], labels: Sequence[str]) -> list[str]:
    """Keys under which units may stand once only.

    They are folded as one text, which takes a fraction of the time.
    """
    if any(labels):
        text = "\n".join([f"{unit}\x00{label}" for unit, label in zip(units, labels, strict=True)])
    else:
        text = "\x00\n".join(units) + "\x00"
    folded = text.casefold().split("\n")
    if len(folded) == len(units):
        return folded
    return [f"{unit}\x00{label}".casefold() for unit, label in zip(units, labels, strict=True)]


class FleetCounts(Struct):
    """Whole numbers counted in one partition; `+` adds two partitions up."""

    repeats: Counter[str] = field(default_factory=Counter)
    far_off: Counter[str] = field(default_factory=Counter)
    right: Counter[str] = field(default_factory=Counter)
    without_unit: int = 0

    def __add__(self, other: FleetCounts) -> FleetCounts:
        return FleetCounts(
            self.repeats + other.repeats,
            self.far_off + other.far_off,
            self.right + other.right,
            self.without_unit + other.without_unit,
        )


def count(
    frame: Frame,
    catalogue: Catalogue,
    repeats: Counter[str] | None = None,
    worked: Worked | None = None,
) -> FleetCounts:
    """Counts of one partition; `repeats` where they are known already, `worked` as the audit takes it."""
    view = View(frame, catalogue, 0.0, 0.0, worked=worked)
    counts = FleetCounts(Counter(keys(frame, catalogue)) if repeats is None else repeats)
    assumed = frame.origins(fleet.RESTRICTOR) == Origin.DEFAULT
    if not assumed.any():
        return counts
    window, given = flow_window(view), site.rating(view)
    rows = assumed & given.known & window.known & site.judged(view)
    counts.without_unit = int(rows.sum())
    for unit in (DEFAULT_UNIT, *OTHER_UNITS):
        scale = FLOW_UNITS[unit] / FLOW_UNITS[DEFAULT_UNIT]
        flow = given.value[rows] * scale
        low, high = np.minimum(window.low.value, window.high.value)[rows], window.high.value[rows]
        tolerance = view.setting("restrictor_tolerance")
        off = (flow * (1 + tolerance) < low) | (flow * (1 - tolerance) > high)
        counts.far_off[unit] = int(off.sum())
        counts.right[unit] = int(len(flow) - off.sum())
    return counts


def keys(frame: Frame, catalogue: Catalogue) -> list[str]:
    """Key of each unit in service; the row of one that was taken out is its past, not a repeat."""
    counts = site.judged(View(frame, catalogue, 0.0, 0.0)) & (frame.origins(fleet.UNIT_ID) != Origin.FILLED)
    units = frame.text(fleet.UNIT_ID)
    found = unit_keys(units, frame.text(fleet.VESSEL_LABEL))
    if counts.all() and all(units):
        return found
    return [key for key, unit, counted in zip(found, units, counts.tolist(), strict=True) if unit and counted]


def report(counts: FleetCounts) -> Fleetwide:
    """What the whole fleet's counts say; the unit is doubtful if another fits over half and clearly more."""
    repeats = {key: times for key, times in counts.repeats.items() if times > 1}
    right = counts.right
    best = max(OTHER_UNITS, key=lambda unit: (right[unit], unit))
    doubtful = bool(
        counts.without_unit
        and right[best] * 2 > counts.without_unit
        and right[best] > 2 * right[DEFAULT_UNIT]
    )
    return Fleetwide(repeats, doubtful, best if doubtful else "")


def repeated(view: View) -> Floats:
    """In how many rows of the fleet each unit stands; 1 where its id was made up from the row."""
    repeats = view.fleetwide.repeats
    if not repeats:
        return np.ones(view.units)
    found = unit_keys(view.frame.text(fleet.UNIT_ID), view.frame.text(fleet.VESSEL_LABEL))
    times = np.array([repeats.get(key, 1) for key in found], dtype=np.float64)
    return np.where(view.frame.origins(fleet.UNIT_ID) == Origin.FILLED, 1.0, times)
