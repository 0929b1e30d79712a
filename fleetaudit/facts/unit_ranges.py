"""What varies about a unit besides its medium, each with the range it may lie in."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from msgspec import Struct

from fleetaudit.catalogue.model import Setting
from fleetaudit.facts import site
from fleetaudit.facts.fact import given
from fleetaudit.facts.frame import Codes, Flags, Floats
from fleetaudit.facts.view import View, remembered
from fleetaudit.schema import fleet

#: what the velocities rest on that expand a bed, and those that fill the room above it
BY_WATER = ("kind", "cold_low", "cold_high", "warm_low", "warm_high")
ROOM = ("depth_low", "depth_high", "room_low", "room_high", "stacked")
BY_ROOM = ("kind", "cold_low", "cold_high", *ROOM)
_LEAST_DEPTH_M = 0.02  # keeps room over depth finite


def setting_end(setting: Setting, side: str) -> float:
    """One end of a setting's range; its value where it has none."""
    end = float(getattr(setting, side))
    return float(setting.value) if np.isnan(end) else end


def _season_ranges(view: View) -> tuple[Floats, Floats, Floats, Floats]:
    """Ends of the coldest and of the warmest water [K]: error of a cell, or range of the default."""
    season = site.season(view)
    error = view.setting("stated_temperature_error")
    swing = view.setting("single_temperature_swing")
    single = ~season.assumed & (season.cold.value == season.warm.value)
    below, above = np.where(single, swing, error), np.where(single, swing, error)
    ranges = [
        season.cold.value - below,
        season.cold.value + np.where(single, 0, error),
        season.warm.value - np.where(single, 0, error),
        season.warm.value + above,
    ]
    names = [*fleet.WATER_SOURCE.choices, "mixed"]
    source = view.frame.code(fleet.WATER_SOURCE.name)
    settings = view.catalogue.settings
    for place, (end, side) in enumerate(
        (("cold", "low"), ("cold", "high"), ("warm", "low"), ("warm", "high"))
    ):
        table = np.array([setting_end(settings[f"water_{name}_{end}"], side) for name in names])
        ranges[place] = np.where(season.assumed, table[source], ranges[place])
    cold_low, cold_high, warm_low, warm_high = ranges
    return cold_low, cold_high, warm_low, warm_high


class Ranges(Struct, frozen=True):
    """What varies about each unit besides its medium; all arrays of one value for each unit, SI.

    `room` is the space above the bed, or where `stacked` is 1 that above the gravel, of which the bed takes
    its depth.
    """

    kind: Codes
    area: Floats
    bore_least: Floats
    cold_low: Floats
    cold_high: Floats
    warm_low: Floats
    warm_high: Floats
    depth_low: Floats
    depth_high: Floats
    room_low: Floats
    room_high: Floats
    stacked: Floats
    share_low: Floats
    share_high: Floats

    def columns(self, names: Iterable[str] = ()) -> list[Floats]:
        """All of them, or those named, as floats, to find rows that repeat."""
        wanted = tuple(names) or tuple(self.__struct_fields__)
        return [np.asarray(getattr(self, name), dtype=np.float64) for name in wanted]

    def take(self, rows: Codes | Flags) -> Ranges:
        """Some of the units."""
        return Ranges(*(getattr(self, name)[rows] for name in self.__struct_fields__))


@remembered
def ranges(view: View) -> Ranges:
    """Ranges of each unit."""
    cold_low, cold_high, warm_low, warm_high = _season_ranges(view)
    depth_low, depth_high, room_low, room_high, stacked = _heights(view)
    share = view.catalogue.settings["restrictor_tolerance"]
    measured = given(view.frame, fleet.MEASURED)
    weak = (
        site.supply(view).known & (site.drain_flow(view).value == site.supply(view).value) & ~measured.known
    )
    bucket = view.catalogue.settings["measured_flow_tolerance"]
    by_bucket = measured.known | weak
    return Ranges(
        kind=np.where(view.medium >= 0, view.medium * 2 + ~site.mesh_stated(view), -1),
        area=site.area(view).value,
        bore_least=_bore_least(view),
        cold_low=cold_low,
        cold_high=cold_high,
        warm_low=warm_low,
        warm_high=warm_high,
        depth_low=np.maximum(depth_low, _LEAST_DEPTH_M),
        depth_high=np.maximum(depth_high, _LEAST_DEPTH_M),
        room_low=room_low,
        room_high=room_high,
        stacked=stacked,
        share_low=np.where(by_bucket, setting_end(bucket, "low"), setting_end(share, "low")),
        share_high=np.where(by_bucket, setting_end(bucket, "high"), setting_end(share, "high")),
    )


def _heights(view: View) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Least and most depth, least and most room [m], and where the room still holds the bed (1) or not (0).

    A bed nobody measured is the usual fill of that vessel, in proportion to its height; the room above it is
    what dome, distributor and gravel leave of a height that was given or is the usual one of that vessel.
    """
    usual = np.array([*(row.default_height_m for row in view.catalogue.vessels), np.nan])[
        site.vessel_row(view)
    ]
    given_height = site.height(view).value
    tall = np.where(np.isnan(given_height), usual, given_height)
    fill, error = site.depth(view), view.setting("depth_tolerance")
    read = site.measured_depth(view).known
    scale = np.where(np.isnan(tall / usual), 1.0, tall / usual)
    depth_low = np.where(read, fill.value - error, fill.low * scale)
    depth_high = np.where(read, fill.value + error, fill.high * scale)
    settings = view.catalogue.settings
    gravel = view.frame.number(fleet.GRAVEL)
    nominal = view.frame.number(fleet.DIAMETER)

    def above_gravel(side: str) -> Floats:
        below = np.where(np.isnan(gravel), setting_end(settings["default_gravel_depth"], side), gravel)
        dome, collector = (
            setting_end(settings[key], side) for key in ("dome_allowance", "collector_allowance")
        )
        return np.asarray(tall - dome * nominal - collector - below)

    cell, derived = given(view.frame, fleet.FREEBOARD), site.derived_room(view)
    least, most = above_gravel("high"), above_gravel("low")
    stacked = ~cell.known & ~np.isnan(least)
    room_low = np.select([cell.known, stacked], [cell.value - error, least], derived.low)
    room_high = np.select([cell.known, stacked], [cell.value + error, most], derived.high)
    return depth_low, depth_high, room_low, room_high, stacked.astype(np.float64)


def _bore_least(view: View) -> Floats:
    """Least real area over the area used; 1 where the inside diameter was measured or switched on."""
    table = [
        (row.inside.low / row.diameter_m) ** 2
        if row.inside is not None
        else view.setting("unmeasured_bore_least") ** 2
        for row in view.catalogue.vessels
    ]
    share = np.array([*table, view.setting("unmeasured_bore_least") ** 2])[site.vessel_row(view)]
    nominal = site.diameter(view).value == view.frame.number(fleet.DIAMETER)
    inside = given(view.frame, fleet.INSIDE).known
    return np.where(nominal & ~inside, share, 1.0)
