"""What the results are called: our columns beside the user's rows and the sheets added to the workbook."""

from __future__ import annotations

from msgspec import Struct

from fleetaudit.schema import quantity as q
from fleetaudit.schema.quantity import Kind, Quantity

OWN_PREFIX = "Audit: "

NOW, PLAN, NOT_CHECKED, NOTE, CLEAN, NOT_JUDGED = "now", "plan", "not-checked", "note", "clean", "not-judged"
VERDICTS = (NOW, PLAN, NOT_CHECKED, NOTE, CLEAN, NOT_JUDGED)
TIERS = (NOW, PLAN, NOTE)
TOOL = "fleetaudit"
JSON_VERSION = 1


class ResultColumn(Struct, frozen=True):
    """One column of a result; `width` is in characters, as spreadsheet programs count it."""

    title: str
    quantity: Quantity = q.TEXT
    width: float = 12.0

    def heading(self, system: str) -> str:
        """Title with the unit of the system in brackets, where there is one."""
        unit = self.quantity.unit(system)
        return f"{self.title} ({unit})" if unit else self.title

    def own_heading(self, system: str) -> str:
        """Heading of the column in the user's own sheet."""
        return OWN_PREFIX + self.heading(system)

    @property
    def numeric(self) -> bool:
        """True where the cells hold numbers."""
        return self.quantity.kind is Kind.NUMBER


VERDICT = ResultColumn("verdict", width=15)
NEEDED_LOW = ResultColumn("backwash needs at least", q.FLOW, 15)
NEEDED_TARGET = ResultColumn("best backwash flow", q.FLOW, 15)
NEEDED_HIGH = ResultColumn("backwash at most", q.FLOW, 15)
FITTED = ResultColumn("fitted restrictor", q.FLOW, 15)
RECOMMENDED = ResultColumn("restrictor to fit", q.FLOW, 15)
HOUSING = ResultColumn("housing to fit", width=15)
EXPANSION_COLD = ResultColumn("expansion in coldest water", q.SHARE, 15)
EXPANSION_WARM = ResultColumn("expansion in warmest water", q.SHARE, 15)
MEDIA_DUE = ResultColumn("media due", q.DATE, 13)
FINDINGS = ResultColumn("findings", width=44)
UNIT = ResultColumn("unit", width=14)

OWN_COLUMNS = (
    VERDICT,
    NEEDED_LOW,
    NEEDED_TARGET,
    NEEDED_HIGH,
    FITTED,
    RECOMMENDED,
    HOUSING,
    EXPANSION_COLD,
    EXPANSION_WARM,
    MEDIA_DUE,
    FINDINGS,
    UNIT,
)

SHEET_SUMMARY = "Audit summary"
SHEET_FINDINGS = "Audit findings"
SHEET_PARTS = "Audit parts"
SHEET_ORDER = "Audit order"
SHEET_QUOTE = "Audit quote"
SHEET_MEASURING = "Audit measuring"
SHEET_MEDIA = "Audit media"
SHEET_PROBLEMS = "Audit problems"
SHEET_NOT_CHECKED = "Audit not checked"
SHEET_BASIS = "Audit basis"
SHEET_UNITS = "Audit units"
SHEET_ACCEPTED = "Audit accepted"
SHEET_CREWS = "Audit crews"
OWN_SHEETS = (
    SHEET_SUMMARY,
    SHEET_FINDINGS,
    SHEET_PARTS,
    SHEET_ORDER,
    SHEET_QUOTE,
    SHEET_MEASURING,
    SHEET_MEDIA,
    SHEET_PROBLEMS,
    SHEET_NOT_CHECKED,
    SHEET_BASIS,
    SHEET_UNITS,
    SHEET_ACCEPTED,
    SHEET_CREWS,
)

FINDING_COLUMNS = (
    ResultColumn("Tier", width=8),
    ResultColumn("Confidence", width=14),
    ResultColumn("Unit", width=13),
    ResultColumn("Account", width=22),
    ResultColumn("Cell", width=19),
    ResultColumn("Check", width=19),
    ResultColumn("What was found", width=42),
    ResultColumn("What to do", width=34),
    ResultColumn("Why it matters", width=36),
    ResultColumn("Numbers", width=28),
    ResultColumn("Cost a year, low", q.COUNT, 10),
    ResultColumn("Cost a year, middle", q.COUNT, 10),
    ResultColumn("Cost a year, high", q.COUNT, 10),
    ResultColumn("How the middle cost was worked out", width=48),
    ResultColumn("Crew", width=10),
    ResultColumn("Worked out", width=60),
    ResultColumn("Source", width=40),
    ResultColumn("All cells used", width=26),
)
ACCEPTED_COLUMNS = (
    ResultColumn("Unit", width=13),
    ResultColumn("Account", width=22),
    ResultColumn("Cell", width=19),
    ResultColumn("Check", width=24),
    ResultColumn("Tier if it counted", width=10),
    ResultColumn("What was found", width=42),
    ResultColumn("Reason for accepting it", width=42),
    ResultColumn("Accepted by", width=20),
    ResultColumn("Until", q.DATE, 12),
)
#: widths of the sheet that compares crews; its tables have headings of their own
CREW_COLUMNS = (
    ResultColumn("Name", width=24),
    ResultColumn("In words", width=90),
    *(ResultColumn("", width=11) for _ in range(3)),
    ResultColumn("95 % interval", width=14),
    *(ResultColumn("", width=12) for _ in range(12)),
    ResultColumn("What it says", width=26),
)
PART_COLUMNS = (
    ResultColumn("Account", width=28),
    ResultColumn("Unit", width=16),
    ResultColumn("What", width=30),
    ResultColumn("Size", width=24),
    ResultColumn("Quantity", q.NUMBER, 10),
    ResultColumn("Unit of quantity", width=10),
    ResultColumn("Row", width=7),
    ResultColumn("Note", width=44),
    ResultColumn("Mass", q.NUMBER, 9),
    ResultColumn("Unit of mass", width=8),
    ResultColumn("Bags", q.NUMBER, 7),
    ResultColumn("Content of a bag", width=10),
    ResultColumn("Crew", width=14),
)
ORDER_COLUMNS = (
    ResultColumn("For", width=9),
    ResultColumn("Name", width=26),
    ResultColumn("What", width=30),
    ResultColumn("Size", width=24),
    ResultColumn("Needed", q.NUMBER, 9),
    ResultColumn("Unit", width=8),
    ResultColumn("Mass", q.NUMBER, 9),
    ResultColumn("Unit of mass", width=8),
    ResultColumn("Bags", q.NUMBER, 7),
    ResultColumn("Content of a bag", width=10),
    ResultColumn("From stock", q.NUMBER, 9),
    ResultColumn("To order", q.NUMBER, 9),
    ResultColumn("Ordered by", width=9),
    ResultColumn("Of the needed, measure first", q.NUMBER, 12),
    ResultColumn("Units", q.COUNT, 7),
)
QUOTE_COLUMNS = (
    ResultColumn("Account", width=26),
    ResultColumn("Units", q.COUNT, 7),
    ResultColumn("Parts and media", width=60),
    ResultColumn("Parts", q.COUNT, 9),
    ResultColumn("Media", q.COUNT, 9),
    ResultColumn("Work", q.COUNT, 9),
    ResultColumn("Total, low", q.COUNT, 9),
    ResultColumn("Total, middle", q.COUNT, 9),
    ResultColumn("Total, high", q.COUNT, 9),
    ResultColumn("Hours, low", q.NUMBER, 8),
    ResultColumn("Hours, middle", q.NUMBER, 8),
    ResultColumn("Hours, high", q.NUMBER, 8),
    ResultColumn("Text to paste into a quote; prices are those of Settings, without travel", width=90),
)
MEASURING_COLUMNS = (
    ResultColumn("Unit", width=14),
    ResultColumn("Account", width=26),
    ResultColumn("Row", width=19),
    ResultColumn("Because of", width=34),
    ResultColumn("What to measure", width=60),
    ResultColumn("What to bring", width=48),
    ResultColumn("Crew", width=14),
)
MEDIA_COLUMNS = (
    ResultColumn("Unit", width=14),
    ResultColumn("Account", width=26),
    ResultColumn("Row", width=19),
    ResultColumn("Medium", width=28),
    ResultColumn("Loaded", q.DATE, 12),
    ResultColumn("Due", q.DATE, 12),
    ResultColumn("At the earliest", q.DATE, 12),
    ResultColumn("At the latest", q.DATE, 12),
    ResultColumn("Days overdue", q.COUNT, 9),
    ResultColumn("State", width=24),
    ResultColumn("Told by", width=14),
    ResultColumn("Work", width=10),
    ResultColumn("Guards health", width=9),
)
PART_TOTAL_COLUMNS = (
    ResultColumn("All units together", width=28),
    ResultColumn("", width=16),
    ResultColumn("What", width=30),
    ResultColumn("Size", width=18),
    ResultColumn("Quantity", q.NUMBER, 10),
    ResultColumn("Unit of quantity", width=10),
)
PROBLEM_COLUMNS = (
    ResultColumn("Kind", width=12),
    ResultColumn("About", width=22),
    ResultColumn("What was seen", width=60),
    ResultColumn("Read as", width=22),
    ResultColumn("Assumed instead", width=22),
    ResultColumn("What it changes", width=44),
    ResultColumn("Column", width=18),
    ResultColumn("First cell", width=19),
    ResultColumn("Cells", q.COUNT, 8),
    ResultColumn("All cells", width=40),
)
NOT_CHECKED_COLUMNS = (
    ResultColumn("Unit", width=16),
    ResultColumn("Account", width=28),
    ResultColumn("Row", width=19),
    ResultColumn("No verdict without it", width=60),
    ResultColumn("Other checks that could not run", width=80),
)
ASSUMPTION_COLUMNS = (
    ResultColumn("Assumption", width=44),
    ResultColumn("Taken as", width=30),
    ResultColumn("What it touches", width=60),
)
SOURCE_COLUMNS = (
    ResultColumn("Figure", width=44),
    ResultColumn("Value", width=30),
    ResultColumn("Source", width=60),
    ResultColumn("Status", width=26),
)
