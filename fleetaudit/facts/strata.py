"""Every bed cut into its layers, and what the layers of one bed come to together."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from msgspec import Struct

from fleetaudit.catalogue import arrays
from fleetaudit.facts import site
from fleetaudit.facts.frame import Codes, Flags, Floats, Layer
from fleetaudit.facts.view import View, remembered
from fleetaudit.hydraulics.arrays import distinct


class Strata(Struct, frozen=True):
    """The layers of all beds: `unit` the row each layer belongs to (ascending), its medium and depth.

    `sets_rate` marks layers whose rate counts, `expands` those that count for the freeboard; `blend` marks
    the parts of a mixture, which lie through each other and not on each other. Of each unit, `first` is the
    place of its first layer and `count` how many it has; `several` marks the beds that are more than one
    medium, as the row gives them or as the catalogue builds that medium.
    """

    unit: Codes
    medium: Codes
    depth_m: Floats
    sets_rate: Flags
    expands: Flags
    blend: Flags
    first: Codes
    count: Codes
    several: Flags

    def of(self, rows: Codes) -> Strata:
        """The layers of some rows; `unit` is then a place among these."""
        count = self.count[rows]
        first = np.cumsum(count) - count
        layer = np.repeat(self.first[rows] - first, count) + np.arange(count.sum())
        return Strata(
            np.repeat(np.arange(len(rows)), count),
            self.medium[layer],
            self.depth_m[layer],
            self.sets_rate[layer],
            self.expands[layer],
            self.blend[layer],
            first,
            count,
            self.several[rows],
        )


@remembered
def strata(view: View) -> Strata:
    """The layers of every bed; a bed of one medium is one layer."""
    total, given = site.depth(view).value, view.frame.layers
    count = np.ones(view.units, dtype=np.int64)
    several = np.zeros(view.units, dtype=bool)
    built = _built(view)
    for rows, shares in built:
        count[rows], several[rows] = len(shares), True
    for row, layers in given.items():
        count[row], several[row] = len(layers), True
    unit = np.repeat(np.arange(view.units), count)
    first = np.cumsum(count) - count
    medium, depth = view.medium[unit], total[unit]
    leads, blend = np.ones(len(unit), dtype=bool), np.zeros(len(unit), dtype=bool)
    for rows, shares in built:
        places = first[rows][:, None] + np.arange(len(shares))
        medium[places] = [code for code, _ in shares]
        depth[places] = np.array([share for _, share in shares]) * total[rows][:, None]
        leads[places] = False
    for row, layers in given.items():
        _lay(layers, slice(first[row], first[row] + count[row]), medium, depth, leads, blend)
    alone = ~several[unit]
    loose = alone | ~arrays.flag(view.catalogue, medium, "support")
    rate = leads & loose & (alone | arrays.flag(view.catalogue, medium, "sets_rate"))
    return Strata(unit, medium, depth, rate, loose, blend, first, count, several)


def _built(view: View) -> list[tuple[Codes, tuple[tuple[int, float], ...]]]:
    """Rows of every medium that the catalogue builds of others, with the code and the share of each."""
    bare = np.ones(view.units, dtype=bool)
    bare[list(view.frame.layers)] = False
    codes = view.catalogue.codes
    return [
        (
            np.flatnonzero(bare & (view.medium == code)),
            tuple((codes[part.medium], part.share) for part in medium.layers),
        )
        for code, medium in enumerate(view.catalogue.media)
        if medium.layers
    ]


def _lay(
    layers: Sequence[Layer], places: slice, medium: Codes, depth: Floats, leads: Flags, blend: Flags
) -> None:
    """Put the layers that a row gives in their places; of a mixture the largest part sets the rate."""
    shares = np.array([0.0 if np.isnan(layer.share) else layer.share for layer in layers])
    mixed = bool(shares.max() > 0)
    medium[places] = [layer.medium for layer in layers]
    given = np.array([layer.depth_m for layer in layers])
    depth[places] = np.where(np.isnan(given), depth[places], given)
    leads[places] = (np.arange(len(layers)) == shares.argmax()) | (not mixed)
    blend[places] = mixed


class Stacks(Struct, frozen=True):
    """The beds of several media: the `row` of each, the `layer`s of all of them, and where each begins."""

    row: Codes
    layer: Codes
    begin: Codes

    def highest(self, values: Floats, counts: Flags) -> tuple[Floats, Codes]:
        """Largest value of each bed over its counting layers, and the layer it is from (NaN, -1: none)."""
        mine = values[self.layer]
        usable = counts[self.layer] & ~np.isnan(mine)
        mine = np.where(usable, mine, -np.inf)
        best = np.maximum.reduceat(mine, self.begin)
        bed = np.repeat(np.arange(len(self.row)), np.diff(self.begin, append=len(mine)))
        from_layer = np.full(len(self.row), -1)
        at_best = np.flatnonzero(usable & (mine == best[bed]))
        from_layer[bed[at_best]] = self.layer[at_best]
        return np.where(from_layer < 0, np.nan, best), from_layer


def stacks(cut: Strata) -> Stacks:
    """The beds of several media, taken out of all layers."""
    row = np.flatnonzero(cut.several)
    count = cut.count[row]
    return Stacks(row, np.flatnonzero(cut.several[cut.unit]), np.cumsum(count) - count)


def stacks_by_height(view: View, rows: Codes) -> list[tuple[Codes, Codes]]:
    """Some rows in groups with as many layers each: the rows, and the places of their layers beside them."""
    cut = strata(view)
    return [
        (some, cut.first[some][:, None] + np.arange(layers))
        for layers in distinct(cut.count[rows]).tolist()
        for some in (rows[cut.count[rows] == layers],)
    ]
