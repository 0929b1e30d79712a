"""Parts and media that the findings ask for, unit by unit, in SI."""

from __future__ import annotations

import math
from enum import StrEnum

import numpy as np
from msgspec import Struct

from fleetaudit.auditing.result import AuditResult, State
from fleetaudit.checks.check import Confidence
from fleetaudit.checks.registry import BY_SLUG, CHECKS
from fleetaudit.facts import site
from fleetaudit.facts.due import only_topped_up
from fleetaudit.facts.fact import Fact, given
from fleetaudit.facts.frame import Codes, Flags
from fleetaudit.facts.needed import housing_limits, needed
from fleetaudit.facts.view import View, remembered
from fleetaudit.language import later
from fleetaudit.schema import fleet

#: medium of the catalogue that lies under a bed
GRAVEL = "gravel"
#: why a part is taken along
NO_EXTERNAL = later("no external flow control recorded")
NO_HOUSING = later("no housing takes that much")
CHANGE = later("restrictor to change")
CHANGE_MEASURED = later("restrictor to change, measure first")
NOT_RECORDED = later("restrictor not recorded, measure first")
SMALL_HOUSING = later("housing too small")
DUE = later("medium due")
DUE_VOLUME_ASSUMED = later("medium due; volume assumed from the usual fill of the vessel, measure first")
DUE_LAYERS_ASSUMED = later("medium due; layers of the usual build of this bed, measure first")
GRAVEL_ASSUMED = later("new bed; gravel depth assumed, measure first")
NEW_BED = later("new bed")
TOP_UP = later("top-up due")
TOP_UP_ASSUMED = later("top-up due; amount assumed, measure the depth left first")


class PartKind(StrEnum):
    """What is taken along."""

    RESTRICTOR = "restrictor"
    HOUSING = "housing"
    EXTERNAL = "external flow control"
    MEDIUM = "medium"
    GRAVEL = "gravel"


class Part(Struct, frozen=True, gc=False):
    """One line: unit position, what, size [m3/s for flows, m3 for media; NaN not known], how many, and why.

    `to_bring` marks what is taken along to a unit that is to be measured first. `housing` is the position of
    the housing a restrictor sits in, -1 not known. `contents` are the media of one vessel: code and volume
    [m3].
    """

    unit: int
    kind: PartKind
    size: float
    count: float
    because: str
    to_bring: bool
    housing: int = -1
    contents: tuple[tuple[int, float], ...] = ()


def _found(result: AuditResult, *slugs: str) -> Flags:
    places = [CHECKS.index(BY_SLUG[slug]) for slug in slugs]
    return np.asarray(np.any([result.checks[place].state == State.FOUND for place in places], axis=0))


def _firm(result: AuditResult, *slugs: str) -> Flags:
    """True where one of the findings is made and need not be measured first."""
    items = [result.checks[CHECKS.index(BY_SLUG[slug])] for slug in slugs]
    return np.asarray(np.any([
        (item.state == State.FOUND) & (item.confidence != Confidence.MEASURE_FIRST) for item in items
    ], axis=0))  # fmt: skip


def parts(result: AuditResult) -> list[Part]:
    """Parts and media for findings that name one; those for units yet to be measured are marked to bring."""
    view = result.view
    need, wrong = needed(view), ("restrictor-too-small", "restrictor-too-large")
    change, unknown, house, outside, renew = (
        _found(result, *slugs)
        for slugs in (
            wrong, ("restrictor-missing",), ("housing-too-small",), ("needs-external-flow-control",),
            ("media-overdue", "media-due-soon"),
        )
    )  # fmt: skip
    firm, known_housings = _firm(result, *wrong, "housing-too-small"), len(housing_limits(view))
    asks = np.flatnonzero(change | unknown | house | outside | renew)
    lines: list[Part] = []
    new = Beds(view)
    for row, *told in zip(
        asks.tolist(),
        *(values[asks].tolist() for values in (
            need.rating_m3_s, need.housing, view.frame.code(fleet.HOUSING.name), site.vessels(view),
            change, unknown, house, outside, firm, renew,
        )),
        strict=True,
    ):  # fmt: skip
        rating, wanted, there, count, changes, missing, small, external, sure, due = told
        if not math.isnan(rating):
            seat = there if 0 <= there < known_housings and there >= wanted else wanted
            if external or (small and wanted >= known_housings):
                because = NO_EXTERNAL if external else NO_HOUSING
                lines.append(Part(row, PartKind.EXTERNAL, rating, count, because, False))
            elif changes or small:
                because = CHANGE if sure else CHANGE_MEASURED
                lines.append(Part(row, PartKind.RESTRICTOR, rating, count, because, not sure, seat))
            elif missing:
                because = NOT_RECORDED
                lines.append(Part(row, PartKind.RESTRICTOR, rating, count, because, True, seat))
            if small and not external and wanted < known_housings:
                because = SMALL_HOUSING
                lines.append(Part(row, PartKind.HOUSING, float(wanted), count, because, False, wanted))
        if due:
            lines += new.of(row, count)
    return lines


class Beds:
    """New beds, and what fills dissolving ones up again; what these rest on is looked up for all units."""

    def __init__(self, view: View) -> None:
        self._catalogue, self._layers, self._medium = view.catalogue, view.frame.layers, view.medium.tolist()
        self._least_depth = view.usual("least_depth_m")
        self._ground: list[float] = site.area(view).value.tolist()
        self._usual_depth: list[float] = site.usual_depth(view).value.tolist()
        self._topped_up: list[bool] = only_topped_up(view).tolist()
        self._volume, gravel = _listed(site.volume(view)), site.gravel(view)
        self._gravel: list[float] = gravel.value.tolist()
        self._gravel_assumed: list[bool] = gravel.assumed.tolist()
        self._gravel_code = view.catalogue.codes.get(GRAVEL, -1)
        self._renews_gravel = view.catalogue.switch("renew_gravel")
        self._depth, self._left = (_listed(given(view.frame, c)) for c in (fleet.DEPTH, fleet.DEPTH_LEFT))

    def of(self, row: int, count: float) -> list[Part]:
        """Media for a new bed and the gravel under it, or what fills a dissolving bed up again."""
        if self._topped_up[row]:
            return [self._top_up(row, count)]
        ground, known = self._ground[row], self._volume.known[row]
        volume = self._volume.value[row] if known else self._usual_depth[row] * ground
        because = DUE if known else DUE_VOLUME_ASSUMED
        contents, usual = self._contents(row, volume)
        if usual:
            because = DUE_LAYERS_ASSUMED
        lines = [Part(row, PartKind.MEDIUM, volume, count, because, usual or not known, contents=contents)]
        gravel, code = self._gravel[row] * ground, self._gravel_code
        if self._renews_gravel and gravel > 0 and code >= 0:
            guess = self._gravel_assumed[row]
            because = GRAVEL_ASSUMED if guess else NEW_BED
            lines.append(
                Part(row, PartKind.GRAVEL, gravel, count, because, guess, contents=((code, gravel),))
            )
        return lines

    def _top_up(self, row: int, count: float) -> Part:
        depth, left = self._depth, self._left
        sure = depth.known[row] and left.known[row]
        full = depth.value[row] if depth.known[row] else self._usual_depth[row]
        least = float(self._least_depth[row])
        volume = max(full - (left.value[row] if left.known[row] else least), 0.0) * self._ground[row]
        because = TOP_UP if sure else TOP_UP_ASSUMED
        contents, _ = self._contents(row, volume)
        return Part(row, PartKind.MEDIUM, volume, count, because, not sure, contents=contents)

    def _contents(self, row: int, volume: float) -> tuple[tuple[tuple[int, float], ...], bool]:
        """Media of one vessel: layers by depth or share, gravel left out; its one medium without layers.

        A medium that is itself a bed of several counts as the catalogue builds it where the row tells no
        layers; the second value says so.
        """
        media, code = self._catalogue.media, self._medium[row]
        layers = [
            layer
            for layer in self._layers.get(row, ())
            if layer.medium < 0 or not media[layer.medium].support
        ]
        weights = [layer.depth_m if math.isnan(layer.share) else layer.share for layer in layers]
        if layers and not any(math.isnan(weight) for weight in weights) and sum(weights) > 0:
            return tuple(
                (layer.medium, volume * weight / sum(weights))
                for layer, weight in zip(layers, weights, strict=True)
            ), False
        usual = media[code].layers if code >= 0 else ()
        if usual:
            return tuple((self._catalogue.codes[one.medium], volume * one.share) for one in usual), True
        return ((code, volume),), False


@remembered
def beds(view: View) -> Beds:
    """Beds of all units."""
    return Beds(view)


class _Listed(Struct, frozen=True):
    """Values of a fact, and which of them may be used, as plain lists."""

    value: list[float]
    known: list[bool]


def _listed(fact: Fact) -> _Listed:
    return _Listed(fact.value.tolist(), fact.known.tolist())


def media_names(result: AuditResult, units: Codes) -> list[str]:
    """Name of the medium of each unit, or what its cell says where the catalogue does not know it."""
    media, texts = result.view.catalogue.media, result.view.frame.text(fleet.MEDIUM)
    return [
        media[code].name if code >= 0 else texts[unit]
        for unit, code in zip(units.tolist(), result.view.medium[units].tolist(), strict=True)
    ]
