"""Frozen types of the catalogue; every number in SI, every figure with its source."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Mapping, Sequence
from functools import cached_property

from msgspec import Struct, field
from msgspec.structs import replace

from fleetaudit.catalogue.spelling import MESH, look_up, normalise

EXTERNAL = "external"


class Source(Struct, frozen=True):
    """Where a figure was found."""

    key: str
    author: str
    title: str
    publisher: str
    year: int
    where: str
    kind: str
    read: str

    @property
    def citation(self) -> str:
        """One line for a list of sources."""
        head = ", ".join(part for part in (self.author, self.title, self.publisher) if part)
        tail = "; ".join(part for part in (str(self.year or ""), self.where, self._mark()) if part)
        return f"{head} ({tail})" if tail else head

    def _mark(self) -> str:
        return "" if self.read == "read" else self.read


class Figure(Struct, frozen=True):
    """A number [SI] with its plausible range, the unit it was given in, and where it comes from."""

    value: float
    low: float
    high: float
    unit: str
    at: str
    source: str
    trust: str
    replaced: Figure | None = None

    def instead_of(self, older: Figure | None) -> Figure:
        """Copy that remembers the figure it takes the place of."""
        return replace(self, replaced=older)


class Spread(Struct, frozen=True):
    """Half-range of a kind of figure by trust: a share of the value, or an amount [SI] if `absolute`."""

    high: float
    medium: float
    low: float
    absolute: bool

    def around(self, value: float, trust: str) -> tuple[float, float]:
        """Low and high end about a value."""
        half: float = getattr(self, trust)
        half = half if self.absolute else abs(value) * half
        return value - half, value + half


class Share(Struct, frozen=True):
    """One layer of a medium that is itself a bed of several, top first."""

    medium: str
    share: float


class Medium(Struct, frozen=True):
    """A medium of one mesh; `figures` holds what is known, keyed with SI suffix."""

    key: str
    name: str
    synonyms: tuple[str, ...]
    mesh: str
    family: str
    usual: bool
    figures: Mapping[str, Figure]
    guard: str = "no"
    loss_sensitive: bool = False
    sets_rate: bool = True
    partial_ok: bool = False
    blend_only: bool = False
    dissolves: bool = False
    support: bool = False
    porous: bool = False
    suits: tuple[str, ...] = ()
    layers: tuple[Share, ...] = ()
    layers_source: str = ""
    life_by_purpose: Mapping[str, Figure] = field(default_factory=dict)
    contact_time_by_purpose: Mapping[str, Figure] = field(default_factory=dict)

    def ruling(self, key: str, purposes: Sequence[str] = ()) -> tuple[Figure | None, str]:
        """The figure in force for what the bed is there for, and the purpose it is special to, "" for none.

        Of several purposes the one with the shortest life or the longest contact time rules.
        """
        special, strictest = {
            "life_s": (self.life_by_purpose, min),
            "contact_time_s": (self.contact_time_by_purpose, max),
        }.get(key, ({}, min))
        general = self.figures.get(key)
        named = [(special[one], one) if one in special else (general, "") for one in purposes]
        known = [(figure, one) for figure, one in named if figure is not None]
        if not known:
            return general, ""
        return strictest(known, key=lambda pair: pair[0].value)

    def figure(self, key: str, purposes: Sequence[str] = ()) -> Figure | None:
        """The figure in force for what the bed is there for, else the medium's general one."""
        return self.ruling(key, purposes)[0]


class Purpose(Struct, frozen=True):
    """What a bed is there for; `guards` where somebody's health hangs on it, `words` is its name."""

    key: str
    synonyms: tuple[str, ...]
    guards: bool
    words: str


class Restrictor(Struct, frozen=True):
    """A rating of the drain restrictors and whether it is in stock."""

    rating: Figure
    stocked: bool

    @property
    def rating_m3_s(self) -> float:
        """Rated flow [m3/s]."""
        return self.rating.value


class Housing(Struct, frozen=True):
    """A restrictor housing and the largest rating it takes; the limit itself still fits."""

    key: str
    name: str
    synonyms: tuple[str, ...]
    limit: Figure

    @property
    def limit_m3_s(self) -> float:
        """Largest rating [m3/s]."""
        return self.limit.value


class Vessel(Struct, frozen=True):
    """A vessel by nominal diameter; `fill` is the usual volume of media, `inside` a guess of low trust."""

    diameter: Figure
    heights_m: tuple[float, ...]
    usual_height: Figure
    inside: Figure | None
    fill: Figure | None

    @property
    def diameter_m(self) -> float:
        """Nominal diameter [m]."""
        return self.diameter.value

    @property
    def default_height_m(self) -> float:
        """Height [m] taken where none is given."""
        return self.usual_height.value


class DrainSize(Struct, frozen=True):
    """A size of drain line: flow [m3/s] above which it is noted, and above which it should be changed."""

    name: str
    nominal: Figure
    bore: Figure
    note_m3_s: float
    plan_m3_s: float


class Setting(Struct, frozen=True):
    """A limit, default, switch or price; numbers in SI with the range they may have."""

    key: str
    kind: str
    value: float | bool | str
    doc: str
    source: str
    unit: str = ""
    low: float = float("nan")
    high: float = float("nan")
    choices: tuple[str, ...] = ()
    trust: str = "high"
    replaced: Setting | None = None


class Bag(Struct, frozen=True):
    """A bag as it is sold: by volume [m3], or by mass [kg]."""

    by_mass: bool
    size: float

    def count(self, volume_m3: float, mass_kg: float) -> float:
        """Bags for an amount, not yet whole."""
        return (mass_kg if self.by_mass else volume_m3) / self.size


class Catalogue(Struct, frozen=True, dict=True):
    """All figures in force; a medium's code is its place in `media`."""

    media: tuple[Medium, ...]
    restrictors: tuple[Restrictor, ...]
    housings: tuple[Housing, ...]
    vessels: tuple[Vessel, ...]
    settings: Mapping[str, Setting]
    sources: Mapping[str, Source]
    purposes: tuple[Purpose, ...]
    drain_bores: tuple[tuple[str, Figure, Figure], ...]
    spreads: Mapping[str, Spread]
    bounds: Mapping[str, Figure]
    synonyms: Mapping[str, str]
    purpose_synonyms: Mapping[str, str]
    housing_synonyms: Mapping[str, str]
    non_beds: Mapping[str, str]

    @cached_property
    def codes(self) -> Mapping[str, int]:
        """Code of each medium by its key."""
        return {medium.key: code for code, medium in enumerate(self.media)}

    @cached_property
    def bulk_densities(self) -> tuple[float, ...]:
        """Mass of a volume of dry bed of each medium [kg/m3], NaN where there is no figure."""
        figures = (medium.figures.get("bulk_density_kg_m3") for medium in self.media)
        return tuple(math.nan if figure is None else figure.value for figure in figures)

    @cached_property
    def bags(self) -> tuple[Bag, ...]:
        """Bag of each medium, then of one not known: by volume, unless too heavy, or as Settings say."""
        volume, mass, rule = self.number("bag_volume"), self.number("bag_mass"), self.text("bags_sold_by")
        most = self.number("bag_heavy")
        weighed = (
            rule == "mass" or (rule == "lighter" and each * volume > most)
            for each in (*self.bulk_densities, math.nan)
        )
        return tuple(Bag(True, mass) if by_mass else Bag(False, volume) for by_mass in weighed)

    def medium(self, which: int | str) -> Medium:
        """Medium by code or key."""
        return self.media[self.codes[which] if isinstance(which, str) else which]

    def find_medium(self, spelling: str) -> str | None:
        """Key of the medium a cell names, or None; a mesh in the cell picks that mesh of the family."""
        plain = normalise(spelling)
        key = look_up(self.synonyms, plain)
        sieves = MESH.search(plain)
        if key is not None or sieves is None:
            return key
        family = look_up(self.synonyms, MESH.sub(" ", plain))
        if family is None:
            return None
        return next((m.key for m in self.same_family(family) if m.mesh == sieves[0]), None)

    def find_purpose(self, spelling: str) -> str | None:
        """Key of the purpose a cell names, or None."""
        return look_up(self.purpose_synonyms, spelling)

    def find_housing(self, spelling: str) -> str | None:
        """Key of the housing a cell names ("external" above the largest), or None."""
        return look_up(self.housing_synonyms, spelling)

    def find_non_bed(self, spelling: str) -> str | None:
        """Group of equipment a cell names that is no backwashing bed, or None."""
        return look_up(self.non_beds, spelling)

    @cached_property
    def purpose_codes(self) -> Mapping[str, int]:
        """Code of each purpose by its key."""
        return {purpose.key: code for code, purpose in enumerate(self.purposes)}

    def setting(self, key: str) -> float | bool | str:
        """Value of a setting, numbers in SI."""
        return self.settings[key].value

    def number(self, key: str) -> float:
        """Value of a setting that is a number [SI]."""
        return float(self.settings[key].value)

    def switch(self, key: str) -> bool:
        """Value of a setting that is on or off."""
        return self.settings[key].value is True

    def text(self, key: str) -> str:
        """Value of a setting that is a word."""
        return str(self.settings[key].value)

    @cached_property
    def bag_rule(self) -> tuple[float, str]:
        """Rest of a bag that opens no further one, and how bags are made whole."""
        return self.number("bag_slack"), self.text("bag_rounding")

    @cached_property
    def bags_whole_for_each(self) -> bool:
        """True where bags are made whole for each unit, not for all of them together."""
        return self.text("bags_whole_for") == "each unit"

    @cached_property
    def stocked_m3_s(self) -> tuple[float, ...]:
        """Ratings in stock [m3/s], smallest first."""
        return tuple(sorted(item.rating_m3_s for item in self.restrictors if item.stocked))

    @cached_property
    def drains(self) -> tuple[DrainSize, ...]:
        """Drain sizes, smallest first, with the flows the settings allow them."""
        return tuple(
            DrainSize(
                name, nominal, bore, self.number(f"drain_note_{name}"), self.number(f"drain_plan_{name}")
            )
            for name, nominal, bore in self.drain_bores
        )

    def same_family(self, key: str) -> tuple[Medium, ...]:
        """All meshes of the family of a medium, itself included."""
        family = self.medium(key).family
        return tuple(medium for medium in self.media if medium.family == family)

    def vessel_of(self, diameter_m: float, tolerance: float = 0.005) -> Vessel | None:
        """Vessel of the nominal diameter [m], within a relative tolerance."""
        nearest = min(self.vessels, key=lambda vessel: abs(vessel.diameter_m - diameter_m), default=None)
        if nearest is None or abs(nearest.diameter_m - diameter_m) > tolerance * diameter_m:
            return None
        return nearest

    def cite(self, source: str) -> str:
        """Full text of a source id; a user's own source is its own text."""
        known = self.sources.get(source)
        return known.citation if known else source

    @cached_property
    def hash(self) -> str:
        """SHA-256 of everything in force."""
        digest = hashlib.sha256()
        for medium in self.media:
            digest.update(repr((medium.key, medium)).encode())
        rest = (self.restrictors, self.housings, self.vessels, self.drain_bores)
        named = (sorted(self.settings.items()), sorted(self.sources.items()), sorted(self.synonyms.items()))
        words = (self.purposes, sorted(self.non_beds.items()), sorted(self.housing_synonyms.items()))
        digest.update(
            repr((rest, named, words, sorted(self.spreads.items()), sorted(self.bounds.items()))).encode()
        )
        return digest.hexdigest()
