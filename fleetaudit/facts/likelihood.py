"""How likely it is that a flow really lies outside what its bed needs, over all that nobody measured.

What "really" means. A finding is raised by practice: the rate the catalogue states, carried to the water of
the site. It is true when the bed itself says so: when in the warmest water the real flow expands the real bed
by less than the least expansion of the medium (too small), or when in the coldest it expands it by more than
the most, or beyond the real freeboard (too large). Where the two ends cross, a flow between them is neither.
So a finding counts as sure only where practice and physics both stand behind it; where they disagree about a
medium (calcite, the coarse carbon), the finding stands and its probability says that it has to be measured
first. Practice enters by raising the finding, not by moving the truth: were its rates mixed in, no
probability would come true on beds that expand by the laws.

A medium that practice washes without lifting it as a whole, and one without grain data, has no expansion to
be held to; there the finding is true when the real flow lies outside the real rate of practice, and the
rate's own range, the temperature it is stated for and the exponent of viscosity take the place of the grain.
A bed of several media is held to its window of practice too, as far off as laws of expansion differ
(`law_spread`), and is never called sure.

What varies, each evenly over its range: grain size, uniformity, density, sphericity, settled porosity, the
restrictor's tolerance or the error of a measured flow, both water temperatures, depth, freeboard and bore,
and the mesh where none is stated. The law of expansion is one more thing that varies: three laws share the
draws (settings `law_share_*`), each with an error of its own (`law_error`). Two of them are held by their
sources against measured beds of filter media and have all but 5 % of the weight. The law of the window has
the rest, with a sphericity anywhere from that of a resting bed half-way to a sphere: with the former it
expands sand up to 13 % deeper than the printed table it can be held against, and one draw in twenty is enough
to keep a finding from being sure where that law speaks against it.

The draws are fixed (`draws`), the flow is summed up exactly, and every number of a unit depends on its row
alone.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from fleetaudit.facts import site
from fleetaudit.facts.drawn_flows import (
    DRAWN_AT_ONCE,
    DrawnFlows,
    of_one_medium,
    of_several_media,
    several_rest_on,
)
from fleetaudit.facts.drawn_limits import limits_of, room_may_bind
from fleetaudit.facts.frame import Codes, Flags, Floats
from fleetaudit.facts.needed import fit, inputs_are_doubtful, limits
from fleetaudit.facts.unit_ranges import ROOM, Ranges, ranges, setting_end
from fleetaudit.facts.view import View, remembered
from fleetaudit.facts.window import Clash, flow_window
from fleetaudit.hydraulics.arrays import distinct

_MORE = 1 + 1e-9  # by more than arithmetic loses
_ODDS = 131_072  # kept at most, of some 150 bytes each

Lots = Callable[[View, Codes, Ranges], Iterator[DrawnFlows]]


class Odds(Struct, frozen=True):
    """Probability that the real flow is below, or above, what the bed takes; NaN where not asked for."""

    small: Floats
    large: Floats


@remembered
def many_media(view: View) -> Flags:
    """True for beds of several media: laws were compared on single ones, so none of these is sure."""
    layered = np.array([*(bool(medium.layers) for medium in view.catalogue.media), False])
    return np.asarray(site.layered(view) | layered[view.medium])


@remembered
def contradicted(view: View) -> Flags:
    """True where no probability can be believed: inputs contradict each other, or the bed is mis-built.

    A window that is empty over the year, or for want of freeboard, is none of that: the flow is held against
    the interval between its ends, in every draw, and the probability says how clear the case is.
    """
    return np.asarray(inputs_are_doubtful(view) | (flow_window(view).clash == Clash.BUILD))


@remembered
def _counting(view: View) -> Ranges:
    """Ranges of each unit; no depth and room where these bind in no draw, and for beds of several media."""
    unit = ranges(view)
    binds = room_may_bind(view, unit) & ~many_media(view)
    return replace(unit, **{name: np.where(binds, getattr(unit, name), np.nan) for name in ROOM})


def _odds(view: View, flow: Floats, asked: Flags, unit: Ranges) -> Odds:
    """Odds of the rows asked for at the flows given [m3/s]; rows that are the same are worked out once.

    `unit` are the ranges as `_counting` gives them.
    """
    odds = np.full((view.units, 2), np.nan)
    several = many_media(view)
    alone = np.flatnonzero(asked & ~several & (view.medium >= 0))
    mixed = np.flatnonzero(asked & several)
    for rows, lots, more in ((alone, of_one_medium, ()), (mixed, of_several_media, several_rest_on(view))):
        columns = [*unit.take(rows).columns(), *(column[rows] for column in (flow, *more))]

        def worked_out(places: Codes, rows: Codes = rows, lots: Lots = lots) -> Floats:
            for lot in lots(view, rows[places], unit):
                odds[lot.rows] = _outside(lot, flow[lot.rows])
            return odds[rows[places]]

        kept = view.worked.kept(lots.__name__, _ODDS, len(columns), 2)
        odds[rows] = kept.of(columns, worked_out)
    return Odds(odds[:, 0], odds[:, 1])


def _outside(lot: DrawnFlows, flow: Floats) -> Floats:
    """Mean over the draws of the share of the real flow that lies below and above the bounds, side by side.

    Where all draws agree whatever else varies, none of them is looked at.
    """
    below, above = _agreed(lot, flow)
    open_below, open_above = np.isnan(below), np.isnan(above)
    asked = np.flatnonzero(open_below | open_above)
    if not len(asked):
        return np.stack([below, above], axis=1)
    lot.prepare(asked)
    for sides in ((True, True), (True, False), (False, True)):
        asked = np.flatnonzero((open_below == sides[0]) & (open_above == sides[1]))
        for start in range(0, len(asked), DRAWN_AT_ONCE):
            part = asked[start : start + DRAWN_AT_ONCE]
            limits = iter(lot.drawn(part, sides))
            if sides[0]:
                below[part] = lot.share_below(next(limits), flow[part], part)
            if sides[1]:
                above[part] = 1 - lot.share_below(next(limits), flow[part], part)
    return np.stack([below, above], axis=1)


def _agreed(lot: DrawnFlows, flow: Floats) -> tuple[Floats, Floats]:
    """Shares below and above where every draw says 0, or every draw 1; NaN where they differ."""
    (low_least, low_most), (high_least, high_most) = lot.ends()
    surely_less, surely_more = flow * (1 - lot.unit.share_high), flow * (1 + lot.unit.share_high)

    def share(least: Floats, most: Floats) -> Floats:
        with np.errstate(invalid="ignore"):
            every = np.where(least >= surely_more * _MORE, 1.0, np.nan)
            every[most * _MORE <= surely_less] = 0.0
        return every

    below = share(np.minimum(low_least, high_least), np.minimum(low_most, high_most))
    above = 1 - share(np.maximum(low_least, high_least), np.maximum(low_most, high_most))
    return below, above


@remembered
def fit_odds(view: View) -> Odds:
    """Odds of the units whose flow lies outside the window of practice."""
    lies = fit(view)
    asked = lies.small | lies.large | lies.straddles | lies.other_mesh
    return _odds(view, site.drain_flow(view).value, asked, _counting(view))


def too_small(view: View) -> Floats:
    """Probability that the real flow is too small for the bed."""
    return fit_odds(view).small


def too_large(view: View) -> Floats:
    """Probability that the real flow is too large for the bed."""
    return fit_odds(view).large


def outside(view: View) -> Floats:
    """Probability that the real flow is off on the side on which practice has it."""
    with np.errstate(invalid="ignore"):
        over = site.drain_flow(view).value > limits(view).high
    return np.where(over, fit_odds(view).large, fit_odds(view).small)


def limit_too_small(view: View, limit_m3_s: Floats, asked: Flags) -> Floats:
    """Probability that a restrictor of the largest rating a housing takes is too small for the bed."""
    usable = asked & np.isfinite(limit_m3_s) & flow_window(view).known
    settings = view.catalogue.settings["restrictor_tolerance"]
    unit = replace(
        _counting(view),
        share_low=np.full(view.units, setting_end(settings, "low")),
        share_high=np.full(view.units, setting_end(settings, "high")),
    )
    return _odds(view, limit_m3_s, usable, unit).small


@remembered
def freeboard_too_small(view: View) -> Floats:
    """Probability that the least flow for the bed in warm water already fills the freeboard in cold."""
    answer = np.full(view.units, np.nan)
    rows = np.flatnonzero((flow_window(view).clash == Clash.FREEBOARD) & (view.medium >= 0))
    several = many_media(view)[rows]
    answer[rows[several]] = 0.0
    rows = rows[~several]
    kind_of = ranges(view).kind
    present = distinct(kind_of[rows]).tolist()
    for kind, bed in zip(present, limits_of(view, present), strict=True):
        mine = rows[kind_of[rows] == kind]
        for start in range(0, len(mine), DRAWN_AT_ONCE):
            part = mine[start : start + DRAWN_AT_ONCE]
            lot = ranges(view).take(part)
            answer[part] = (bed.by_room(lot, bed.cold(lot)) < bed.least(bed.warm(lot))).mean(axis=1)
    return answer
