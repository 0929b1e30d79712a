"""A report built by hand. All accounts, crews, units and figures in it are invented."""

from __future__ import annotations

from datetime import date, timedelta

from msgspec.structs import replace

from fleetaudit.schema.remark import Level, Remark
from fleetaudit.writing.report import (
    FindingRecord,
    MeasureLine,
    MediaLine,
    NotCheckedRecord,
    OrderGroup,
    OrderLine,
    PartLine,
    QuoteLine,
    Report,
    SourceLine,
    Span,
    UnitRecord,
)

AS_OF = date(2026, 11, 25)
CHECKS = ("restrictor-too-small", "restrictor-too-large", "media-overdue", "media-date-unknown")
MEDIA = (
    ("Activated carbon", 5),
    ("Calcite", 2),
    ("Filter sand", 15),
    ("Softening resin", 12),
    ("Manganese greensand", 9),
)


def make_unit(number: int, verdict: str, checks: tuple[str, ...]) -> UnitRecord:
    media, life = MEDIA[number % len(MEDIA)]
    low, high = 4.4 + number % 3, 6.1 + number % 3
    fitted = {"restrictor-too-small": low * 0.6, "restrictor-too-large": high * 1.6}
    flow = next((fitted[check] for check in checks if check in fitted), low + (number % 7) / 6 * (high - low))
    age = (number * 97 % 100) / 100 * life * (1.4 if "media-overdue" in checks else 0.9)
    placed = AS_OF - timedelta(days=365.25 * age)
    dated = "media-date-unknown" not in checks
    return UnitRecord(
        index=number,
        unit_id=f"U-{number:04d}",
        account=f"Invented Account {number // 3:03d}",
        address=f"{number} Made-up Lane",
        crew=f"Crew {'ABCDEF'[number % 6]}",
        sheet="Filter list",
        row=number + 5,
        verdict=verdict,
        scope="spare" if verdict == "not-judged" else "",
        media=media,
        media_key="activated-carbon",
        vessel="10x54",
        vessel_diameter_in=10.0,
        area_ft2=0.5454,
        water_cold_c=7.0,
        water_warm_c=18.0,
        temperature_assumed=True,
        needed_gpm=Span(low, (low + high) / 2, high) if verdict != "not-checked" else Span(None, None, None),
        restrictor_gpm=flow if verdict != "not-checked" else None,
        restrictor_recommended_gpm=5.0,
        housing="small",
        housing_recommended="small",
        expansion_cold_pct=44.1,
        expansion_warm_pct=31.5,
        media_date=placed if dated else None,
        media_due=placed + timedelta(days=round(365.25 * life)) if dated else None,
        checks_run=20,
        checks_applied=24,
        findings=checks,
        latitude=None,
        longitude=None,
    )


def make_finding(unit: UnitRecord, check: str, tier: str) -> FindingRecord:
    once = "account" if check == "media-date-unknown" else ""
    cost = (
        None
        if tier == "note"
        else Span(40.0 + unit.index % 50, 120.0 + unit.index % 90, 310.0 + unit.index % 150)
    )
    return FindingRecord(
        unit=unit.index,
        unit_id=unit.unit_id,
        account=unit.account,
        crew=unit.crew,
        sheet=unit.sheet,
        row=unit.row,
        columns=("F", "H"),
        check=check,
        title=check[:1].upper() + check[1:].replace("-", " "),
        tier=tier,
        confidence="likely",
        once=once,
        message=(
            f"Passes {unit.restrictor_gpm or 0:.1f} gpm; this bed of {unit.media.lower()} "
            "needs 4.4 to 6.1 gpm."
        ),
        why="A bed that is not lifted keeps its dirt, packs and channels, and the water goes round it.",
        fix="Fit the restrictor rated 5 gpm.",
        cost_year=cost,
        numbers=(("needed", "4.4 to 6.1 gpm"), ("rated", f"{unit.restrictor_gpm or 0:.1f} gpm")),
        figure_names=("needed_low_gpm", "needed_high_gpm", "rated_gpm"),
        figures=(4.4, 6.1, unit.restrictor_gpm),
        source="an invented handbook, table 3",
        derivation=("area 0.545 ft2 x 9.0 gpm/ft2 x 0.93 = 4.6 gpm",),
        cost_lines=("fouled media: 15% of 1.5 ft3 x 90 = 80", "call-backs: 25% chance x 160 = 40")
        if cost
        else (),
    )


def with_figures(finding: FindingRecord, **figures: float | str | None) -> FindingRecord:
    """The finding with some of its raw figures as given."""
    known = finding.values | figures
    return replace(finding, figure_names=tuple(known), figures=tuple(known.values()))


PATTERN: tuple[tuple[str, tuple[tuple[str, str], ...]], ...] = (
    ("now", (("restrictor-too-large", "now"),)),
    ("plan", (("restrictor-too-small", "plan"), ("media-overdue", "plan"))),
    ("plan", (("media-overdue", "plan"),)),
    ("note", (("media-date-unknown", "note"),)),
    ("not-checked", ()),
    ("clean", ()),
    ("clean", ()),
    ("clean", ()),
    ("not-judged", ()),
)


def make_report(units: int = 27, every_unit_found: bool = False) -> Report:
    """Report over `units` invented units; with `every_unit_found` each has just one finding."""
    report = Report(
        version="0.0.test",
        file="invented fleet.xlsx",
        path="invented fleet.xlsx",
        sheet="Filter list",
        sheets=("Filter list",),
        sha256="ab" * 32,
        as_of=AS_OF,
        system="us",
        due_within_days=90,
    )
    by_tier: dict[str, list[FindingRecord]] = {"now": [], "plan": [], "note": []}
    for number in range(units):
        verdict, found = PATTERN[number % len(PATTERN)]
        if every_unit_found:
            verdict, found = "plan", (("restrictor-too-small", "plan"),)
        unit = make_unit(number, verdict, tuple(check for check, _ in found))
        report.units.append(unit)
        for check, tier in found:
            by_tier[tier].append(make_finding(unit, check, tier))
        if verdict == "not-checked":
            report.not_checked.append(
                NotCheckedRecord(
                    number,
                    unit.unit_id,
                    unit.account,
                    unit.sheet,
                    unit.row,
                    "restrictor-too-small",
                    "the restrictor is blank (column H)",
                    True,
                )
            )
        report.by_verdict[verdict] = report.by_verdict.get(verdict, 0) + 1
    report.findings = [finding for tier in by_tier.values() for finding in tier]
    for finding in report.findings:
        report.by_check[finding.check] = report.by_check.get(finding.check, 0) + 1
    report.by_tier = {tier: len(found) for tier, found in by_tier.items()}
    report.cost_by_tier = {"now": Span(200.0, 900.0, 2300.0), "plan": Span(1100.0, 3200.0, 7400.0)}
    report.remarks = [
        Remark(
            Level.WARN,
            "default-unit",
            "The restrictor column names no unit.",
            ("'Filter list'!H6", "'Filter list'!H7"),
            "5",
            "5 gpm",
            "needed for every restrictor check",
            "Restrictor",
        ),
        Remark(
            Level.SKIP,
            "unreadable",
            "A size could not be read.",
            ("'Filter list'!E9",),
            "10 by tall",
            "",
            "unit not checked",
        ),
    ]
    report.banner = ["3 of 27 units could not be checked in full."]
    parts = [
        PartLine("Invented Account 000", "U-0001", 6, "Restrictor", "5 gpm", 1, "piece", ""),
        PartLine("Invented Account 003", "U-0010", 15, "Restrictor", "5 gpm", 1, "piece", ""),
        PartLine("Invented Account 003", "U-0010", 15, "Activated carbon", "12x40", 1.5, "ft3", "weigh it"),
    ]
    report.list_parts = lambda: parts
    bed = OrderLine("Activated carbon", "12x40", 1.5, "ft3", 46.5, "lb", 2, "1 ft3", 0.5, 2, "bags", 1.5, 1)
    report.orders = [
        OrderLine(
            "restrictor", "5 gpm, small housing", 2, "pieces", None, "", None, "", 1, 1, "pieces", 0, 2
        ),
        bed,
    ]
    report.order_groups = [
        OrderGroup("account", "Invented Account 003", (bed,)),
        OrderGroup("crew", "Crew B", (bed,)),
    ]
    quotes = [
        QuoteLine(
            "Invented Account 003",
            1,
            "1.5 ft3 Activated carbon",
            Span(0, 0, 0),
            Span(45, 135, 375),
            Span(1, 1.5, 3),
            Span(40, 70, 150),
            Span(85, 205, 525),
            True,
            "Invented Account 003: 1 unit. Total 205 (85 to 525).",
        ),
    ]
    report.list_quotes = lambda: quotes
    report.measuring = [
        MeasureLine(
            1,
            "U-0001",
            "Invented Account 000",
            "Crew B",
            6,
            "Restrictor too small",
            "the drain flow",
            "bucket",
        ),
    ]
    report.media = [
        MediaLine(
            "U-0001",
            "Invented Account 000",
            6,
            "Calcite",
            date(2024, 1, 2),
            date(2026, 1, 2),
            date(2025, 7, 2),
            date(2026, 9, 2),
            327,
            "overdue",
            "top-up",
            "top-up",
            False,
        ),
        MediaLine(
            "U-0003",
            "Invented Account 001",
            8,
            "Softening resin",
            None,
            None,
            None,
            None,
            None,
            "not known",
            "",
            "new bed",
            True,
        ),
    ]
    report.sensitivity = (
        "How far the order hangs on the prices: of the first 20 places, 3 hold another finding."
    )
    report.sources = [
        SourceLine("Backwash rate of activated carbon", "8 to 10 gpm/ft2", "an invented handbook", "shipped")
    ]
    report.assumptions = [("Water temperature", "7 to 18 C", "27 units without a temperature of their own")]
    report.cautions = ("Close the bypass and release the pressure before opening a valve.",)
    return report


HOSTILE = (
    '</td></script><script>window.pwned=1</script><img src=x onerror="window.pwned=1">{{ 7*7 }}\'"&'
    "\u202egnp.\x07=1+1"
)


def hostile_report() -> Report:
    """Report in which every text of the user's workbook is an attack."""
    report = make_report(9)
    report.file = report.path = report.sheet = HOSTILE
    report.sheets = (HOSTILE,)
    report.units = [
        replace(
            u,
            unit_id=HOSTILE,
            account=HOSTILE,
            address=HOSTILE,
            crew=HOSTILE,
            sheet=HOSTILE,
            media=HOSTILE,
            media_key=HOSTILE,
            vessel=HOSTILE,
            housing=HOSTILE,
            scope=HOSTILE,
        )
        for u in report.units
    ]
    report.findings = [
        replace(
            f,
            unit_id=HOSTILE,
            account=HOSTILE,
            crew=HOSTILE,
            sheet=HOSTILE,
            columns=(HOSTILE,),
            title=HOSTILE,
            message=HOSTILE,
            why=HOSTILE,
            fix=HOSTILE,
            numbers=((HOSTILE, HOSTILE),),
            figure_names=(HOSTILE,),
            figures=(HOSTILE,),
            source=HOSTILE,
            derivation=(HOSTILE,),
            cost_lines=(HOSTILE,),
        )
        for f in report.findings
    ]
    report.not_checked = [
        replace(n, unit_id=HOSTILE, account=HOSTILE, sheet=HOSTILE, reason=HOSTILE)
        for n in report.not_checked
    ]
    report.remarks = [Remark(Level.SKIP, HOSTILE, HOSTILE, (HOSTILE,), HOSTILE, HOSTILE, HOSTILE, HOSTILE)]
    report.banner = [HOSTILE]
    report.list_parts = lambda: [PartLine(HOSTILE, HOSTILE, 1, HOSTILE, HOSTILE, 1, HOSTILE, HOSTILE)]
    report.orders = [replace(line, what=HOSTILE, size=HOSTILE, bag=HOSTILE) for line in report.orders]
    report.order_groups = [
        replace(group, name=HOSTILE, lines=tuple(report.orders)) for group in report.order_groups
    ]
    quotes = [replace(line, account=HOSTILE, what=HOSTILE, text=HOSTILE) for line in report.list_quotes()]
    report.list_quotes = lambda: quotes
    report.measuring = [
        replace(
            line,
            unit_id=HOSTILE,
            account=HOSTILE,
            crew=HOSTILE,
            because=HOSTILE,
            measure=HOSTILE,
            bring=HOSTILE,
        )
        for line in report.measuring
    ]
    report.media = [
        replace(line, unit_id=HOSTILE, account=HOSTILE, media=HOSTILE, state=HOSTILE) for line in report.media
    ]
    report.sources = [SourceLine(HOSTILE, HOSTILE, HOSTILE, HOSTILE)]
    report.assumptions = [(HOSTILE, HOSTILE, HOSTILE)]
    report.cautions = (HOSTILE,)
    return report
