"""size(): the wash flow, restrictor and housing of one vessel, through the same facts and checks as an audit.

A vessel asked about becomes a frame of one row, so that this answer and an audit of that row can never
differ.
"""

from __future__ import annotations

from datetime import date

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from fleetaudit.auditing.result import AuditResult, State
from fleetaudit.auditing.run import audit
from fleetaudit.auditing.subjects import ABOUT_THE_WASH
from fleetaudit.catalogue.model import Catalogue, Figure, Setting
from fleetaudit.errors import InputError
from fleetaudit.facts import site
from fleetaudit.facts.frame import Frame, Layer
from fleetaudit.facts.media import PRACTICE
from fleetaudit.facts.needed import needed
from fleetaudit.facts.strata import strata
from fleetaudit.facts.window import Expansion, expansion_at, flow_window
from fleetaudit.language import say
from fleetaudit.schema import fleet
from fleetaudit.schema.column import Column, Missing, Origin
from fleetaudit.units import from_si

ASKED = "given with the question"
EXTERNAL = "external"
#: a day is needed by the audit and touches none of the answers
ANY_DAY = date(2000, 1, 1)
NOTHING = float("nan")


class Bed(Struct, frozen=True):
    """The medium asked about: its code, whether its mesh was said, and its parts where it has several."""

    code: int
    mesh_stated: bool = True
    layers: tuple[Layer, ...] = ()


class Question(Struct, frozen=True):
    """One vessel [SI], NaN where not given; `rate` overrides both wash rates of the medium [m/s]."""

    bed: Bed
    diameter_m: float = NOTHING
    height_m: float = NOTHING
    inside_m: float = NOTHING
    rate: tuple[float, float] | None = None
    depth_m: float = NOTHING
    freeboard_m: float = NOTHING
    cold_k: float = NOTHING
    warm_k: float = NOTHING
    restrictor_m3_s: float = NOTHING
    tolerance: float = NOTHING


class Answer(Struct, frozen=True):
    """What was worked out [SI]; NaN where the catalogue holds no figure for it.

    `expansion` is that at `expansion_flow_m3_s`: what the fitted restrictor passes, else the flow at the wash
    rate.
    """

    question: Question
    result: AuditResult
    area_m2: float
    rate_low_m_s: float
    rate_m_s: float
    rate_high_m_s: float
    flow_at_rate_m3_s: float
    low_m3_s: float
    target_m3_s: float
    high_m3_s: float
    expansion_flow_m3_s: float
    expansion_cold: float
    expansion_warm: float
    restrictor_m3_s: float
    restrictor_stocked: bool
    housing: str
    sources: tuple[str, ...]

    @property
    def findings(self) -> tuple[int, ...]:
        """Positions of the checks that found something about the wash."""
        return tuple(
            place
            for place, item in enumerate(self.result.checks)
            if item.check.slug in ABOUT_THE_WASH and item.state[0] == State.FOUND
        )


def size(question: Question, catalogue: Catalogue) -> Answer:
    """Answer for one vessel; InputError where it cannot be told."""
    if np.isnan(question.diameter_m) and np.isnan(question.inside_m):
        raise InputError(
            say("The vessel is not given. Give its size (13x54) or its inside diameter (12.8 in).")
        )
    catalogue = _as_asked(question, catalogue, question.bed.code)
    return _answer(question, audit(_frame(question), catalogue, ANY_DAY))


def _as_asked(question: Question, catalogue: Catalogue, code: int) -> Catalogue:
    """The catalogue with the rate and the tolerance of the question laid over."""
    if question.rate is not None:
        low, high = question.rate
        medium = catalogue.media[code]
        rates = {
            key: Figure(value, value, value, "gpm/ft2", "", ASKED, "high", medium.figures.get(key))
            for key, value in zip(PRACTICE[:2], (low, high), strict=True)
        }
        media = list(catalogue.media)
        media[code] = replace(medium, figures={**medium.figures, **rates})
        catalogue = replace(catalogue, media=tuple(media))
    if not np.isnan(question.tolerance):
        old = catalogue.settings["restrictor_tolerance"]
        given: Setting = replace(
            old,
            value=question.tolerance,
            low=question.tolerance,
            high=question.tolerance,
            source=ASKED,
            replaced=old,
        )
        catalogue = replace(catalogue, settings={**catalogue.settings, "restrictor_tolerance": given})
    return catalogue


def _frame(question: Question) -> Frame:
    """The question as the one row of a fleet."""
    made = Frame("", "", np.array([1]))
    numbers: dict[Column, float] = {
        fleet.DIAMETER: question.diameter_m,
        fleet.HEIGHT: question.height_m,
        fleet.INSIDE: question.inside_m,
        fleet.DEPTH: question.depth_m,
        fleet.FREEBOARD: question.freeboard_m,
        fleet.COLD: question.cold_k,
        fleet.WARM: question.warm_k,
        fleet.RESTRICTOR: question.restrictor_m3_s,
    }
    for column, value in numbers.items():
        if not np.isnan(value):
            made.numbers[column.key] = np.array([value])
            _known(made, column)
    bed = question.bed
    made.codes[fleet.MEDIUM.name] = np.array([bed.code])
    made.codes["mesh_stated"] = np.array([int(bed.mesh_stated)])
    _known(made, fleet.MEDIUM)
    if bed.layers:
        made.layers[0] = bed.layers
    return made


def _known(made: Frame, column: Column) -> None:
    made.missing[column.name] = np.array([int(Missing.KNOWN)])
    made.origin[column.name] = np.array([int(Origin.TYPED)])


def _answer(question: Question, result: AuditResult) -> Answer:
    view = result.view
    found, need = flow_window(view), needed(view)
    low_rate, high_rate = (float(view.usual(key)[0]) for key in PRACTICE[:2])
    rate = float(np.sqrt(low_rate * high_rate))
    area = float(site.area(view).value[0])
    drain = site.drain_flow(view)
    flow = float(drain.value[0]) if drain.known[0] else rate * area
    grown: Expansion = expansion_at(view, np.array([flow]))
    place = int(need.housing[0])
    names = [*(row.key for row in view.catalogue.housings), EXTERNAL]
    return Answer(
        question,
        result,
        area,
        low_rate,
        rate,
        high_rate,
        rate * area,
        float(found.low.value[0]),
        float(found.target[0]),
        float(found.high.value[0]),
        flow,
        float(grown.cold[0]),
        float(grown.warm[0]),
        float(need.rating_m3_s[0]),
        bool(need.stocked[0]),
        names[place] if place >= 0 else "",
        _sources(result),
    )


#: figures of a medium behind a wash flow, and what they are
FIGURES = {
    "rate_low_m_s": "wash rate",
    "rate_high_m_s": "wash rate",
    "rate_temperature_k": "temperature of the wash rate",
    "d10_m": "grain size",
    "uniformity": "uniformity",
    "grain_density_kg_m3": "grain density",
    "sphericity": "grain shape",
    "porosity": "settled porosity",
    "expansion_target": "expansion aimed at",
}
SETTINGS = {
    "restrictor_tolerance": "tolerance of restrictors",
    "freeboard_margin": "room left above the expanded bed",
}
LAW = (
    "expansion: Akgiray and Soyer, J. Water Supply: Res. Technol. AQUA 55 (2006) 517-526 "
    "(coefficients from memory, unverified)"
)


def _sources(result: AuditResult) -> tuple[str, ...]:
    """What was used and where it comes from, one line for each source of each medium, as it is said."""
    view = result.view
    catalogue = view.catalogue
    lines: dict[tuple[str, str], dict[str, None]] = {}
    codes = dict.fromkeys([int(view.medium[0]), *strata(view).medium.tolist()])
    for code in codes:
        medium = catalogue.media[code]
        for key, words in FIGURES.items():
            if key in medium.figures:
                source = say(medium.name), catalogue.cite(medium.figures[key].source)
                lines.setdefault(source, {})[say(words)] = None
    listed = [f"{name}: {', '.join(words)}: {source}" for (name, source), words in lines.items()]
    housings = dict.fromkeys(catalogue.cite(row.limit.source) for row in catalogue.housings)
    ratings = dict.fromkeys(catalogue.cite(row.rating.source) for row in catalogue.restrictors if row.stocked)
    return (
        *listed,
        say(LAW),
        *(
            f"{say(words)}: {catalogue.cite(catalogue.settings[key].source)}"
            for key, words in SETTINGS.items()
        ),
        *(say("ratings on stock: {source}", source=source) for source in ratings),
        *(say("housings: {source}", source=source) for source in housings),
    )


def document(answer: Answer) -> dict[str, object]:
    """The answer in US units, as the JSON document says it; null where it cannot be told."""
    needed_gpm = {
        end: _rounded(value, "gpm", 4)
        for end, value in (
            ("low", answer.low_m3_s),
            ("target", answer.target_m3_s),
            ("high", answer.high_m3_s),
        )
    }
    return {
        "area_ft2": _rounded(answer.area_m2, "ft2", 6),
        "rate_gpm_ft2": _rounded(answer.rate_m_s, "gpm/ft2", 6),
        "flow_at_rate_gpm": _rounded(answer.flow_at_rate_m3_s, "gpm", 6),
        "needed_gpm": needed_gpm,
        "expansion_pct": {
            "cold": _per_cent(answer.expansion_cold),
            "warm": _per_cent(answer.expansion_warm),
        },
        "restrictor_recommended_gpm": _rounded(answer.restrictor_m3_s, "gpm", 6),
        "housing_recommended": answer.housing or None,
        "sources": list(answer.sources),
    }


def _rounded(value: float, unit: str, digits: int) -> float | None:
    return None if np.isnan(value) else round(float(from_si(value, unit)), digits)


def _per_cent(share: float) -> float | None:
    """Whole per cent; the equations are worth no more."""
    return None if np.isnan(share) else float(round(share * 100))
