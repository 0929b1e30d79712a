"""What an audit rests on: figures in use with their sources, and what was assumed."""

from __future__ import annotations

from fleetaudit.auditing.confidence import RULE
from fleetaudit.auditing.result import AuditResult
from fleetaudit.language import say
from fleetaudit.schema import fleet
from fleetaudit.schema import quantity as q
from fleetaudit.units import from_si
from fleetaudit.writing.display import Display
from fleetaudit.writing.report import (
    SourceLine,
)

#: figures of a medium whose sources the basis lists, with what they are
BASIS_FIGURES = (
    ("rate_low_m_s", "least wash rate", q.FLUX),
    ("rate_high_m_s", "most wash rate", q.FLUX),
    ("rate_temperature_k", "temperature of the wash rate", q.TEMPERATURE),
    ("d10_m", "effective size d10", q.BORE),
    ("uniformity", "uniformity coefficient", q.NUMBER),
    ("grain_density_kg_m3", "density of the wet grain, kg/m³", q.COUNT),
    ("sphericity", "sphericity", q.NUMBER),
    ("porosity", "settled porosity", q.NUMBER),
    ("life_s", "life", q.YEARS),
    ("contact_time_s", "contact time", q.CONTACT),
    ("least_depth_m", "least bed depth", q.LENGTH),
)


def sources(result: AuditResult, system: str) -> list[SourceLine]:
    """Figures of every medium in the fleet, and settings the user changed."""
    show, catalogue = Display(system), result.view.catalogue
    sought = result.view.purposes
    words_for = {purpose.key: purpose.words for purpose in catalogue.purposes}
    pairs = set(zip(result.view.medium.tolist(), sought.codes.tolist(), strict=True))
    used = sorted({(code, sought.keys(catalogue, named)) for code, named in pairs if code >= 0})
    lines, told = [], set()
    for code, purposes in used:
        medium = catalogue.media[code]
        for key, words, quantity in BASIS_FIGURES:
            figure, purpose = medium.ruling(key, purposes)
            if figure is None or (code, key, figure) in told:
                continue
            told.add((code, key, figure))
            meant = say(words_for[purpose]) if purpose else ""
            status = (
                say("yours")
                if figure.source.startswith("user")
                else figure.trust and say(f"trust: {figure.trust}")
            )
            if figure.replaced is not None:
                status = say("yours, instead of {value}", value=show.text(quantity, figure.replaced.value))
            lines.append(
                SourceLine(
                    f"{say(medium.name)}: {say(words)}{f' ({meant})' if meant else ''}",
                    show.text(quantity, figure.value),
                    catalogue.cite(figure.source),
                    status or "",
                )
            )
    for key, setting in catalogue.settings.items():
        status = say("as shipped") if setting.replaced is None else say("yours")
        value = setting.value
        shown = (
            f"{_from_si(float(value), setting.unit):g} {setting.unit}"
            if setting.kind == "number"
            else str(value)
        )
        lines.append(
            SourceLine(
                say("setting {key}: {meaning}", key=key, meaning=say(setting.doc)),
                shown,
                catalogue.cite(setting.source),
                status,
            )
        )
    return lines


def _from_si(value: float, unit: str) -> float:
    """Value of a setting in its own unit; prices are per volume in SI."""
    if not unit.startswith("money"):
        return float(from_si(value, unit)) if unit else value
    per = unit.partition("/")[2]
    if not per:
        return value
    digits = per[: len(per) - len(per.lstrip("0123456789"))]
    volume = per[len(digits) :]
    scale = 1 / float(from_si(1.0, volume))
    return value * scale * float(digits or 1)


def assumptions(result: AuditResult, system: str) -> list[tuple[str, str, str]]:
    """The rules everything rests on, in words."""
    view, show = result.view, Display(system)
    tolerance = view.setting("restrictor_tolerance")
    return [
        (
            say("Tolerance of a restrictor"),
            say("± {tolerance:.0%} of its rating", tolerance=tolerance),
            say("whether it is outside the window or at its edge"),
        ),
        (
            say("Area of a vessel"),
            say("from the nominal diameter, unless an inside diameter is given or switched on"),
            say("every flow; wash rates are practised on the nominal area"),
        ),
        (
            say("Flow window"),
            say("wash rate of the medium at its temperature, carried to the site's water by physics"),
            say("needed flow; least in the warmest, most in the coldest water"),
        ),
        (
            say("Water temperature not given"),
            ", ".join(
                f"{say(name)} {show.range(q.TEMPERATURE, cold, warm)}"
                for name in fleet.WATER_SOURCE.choices
                for cold, warm in [(view.setting(f"water_{name}_cold"), view.setting(f"water_{name}_warm"))]
            ),
            say("worked out at the middle; never tier or verdict"),
        ),
        (
            say("Freeboard"),
            say("limits the flow only where it, or the bed depth, was measured"),
            say("too-large findings, ceilings"),
        ),
        (
            say("Expansion"),
            say(
                "Akgiray and Soyer's law for a graded bed, whole per cent; good to about a "
                "quarter of the flow"
            ),
            say("the expansion columns, never a verdict on its own"),
        ),
        (say("Confidence"), say(RULE), say("the word beside each finding")),
        (
            say("Order of findings"),
            say("tier, then yearly cost of leaving it, then account"),
            say("the lists; confidence never enters"),
        ),
        (
            say("Prices and chances"),
            say("your guesses until you change the Settings sheet"),
            say("the cost columns and the order"),
        ),
        (say("As of"), show.text(q.DAY, result.stamp.as_of_day), say("media age and due dates")),
    ]
