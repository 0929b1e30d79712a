"""The audited fleet in the form the writers share: records in report order, sentences made, units chosen.

The records hold plain values and other records, never a ring, so the garbage collector is told to let them be
(`gc=False`): there are many of them.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from functools import cached_property

from msgspec import Struct, field

from fleetaudit.crews.report import CrewReport
from fleetaudit.needs import Stocked
from fleetaudit.schema.remark import Remark
from fleetaudit.workbook.place import quoted


class Span(Struct, frozen=True, gc=False):
    """Low, target (or middle) and high of a figure, None where not known."""

    low: float | None
    target: float | None
    high: float | None


UNKNOWN_SPAN = Span(None, None, None)


class UnitRecord(Struct, frozen=True, gc=False):
    """One unit. Flows in gpm, areas in ft2, temperatures in degrees Celsius, whatever the display units are.

    `verdict` is now, plan, not-checked, note, clean, or not-judged (out of service, no bed; `scope` says
    why).
    """

    index: int
    unit_id: str
    account: str
    address: str
    crew: str
    sheet: str
    row: int
    verdict: str
    scope: str
    media: str
    media_key: str
    vessel: str
    vessel_diameter_in: float | None
    area_ft2: float | None
    water_cold_c: float | None
    water_warm_c: float | None
    temperature_assumed: bool
    needed_gpm: Span
    restrictor_gpm: float | None
    restrictor_recommended_gpm: float | None
    housing: str
    housing_recommended: str | None
    expansion_cold_pct: float | None
    expansion_warm_pct: float | None
    media_date: date | None
    media_due: date | None
    checks_run: int
    checks_applied: int
    findings: tuple[str, ...]
    latitude: float | None = None
    longitude: float | None = None
    #: flow to drain with the restrictor's tolerance, least, rated or measured, and most
    drain_gpm: Span = UNKNOWN_SPAN


class FindingRecord(Struct, frozen=True, gc=False):
    """One finding with its sentences.

    `columns` are the letters of those it rests on, the one it is about last. `numbers` are display strings
    with units; `figures` are raw, named with their unit by `figure_names`. What many findings share is one
    object.
    """

    unit: int
    unit_id: str
    account: str
    crew: str
    sheet: str
    row: int
    columns: tuple[str, ...]
    check: str
    title: str
    tier: str
    confidence: str
    once: str
    message: str
    why: str
    fix: str
    cost_year: Span | None
    numbers: tuple[tuple[str, str], ...]
    figure_names: tuple[str, ...]
    figures: tuple[float | str | None, ...]
    source: str
    derivation: tuple[str, ...]
    cost_lines: tuple[str, ...] = ()

    @property
    def column(self) -> str:
        """Letters of the column it is about, the first one where it is about none."""
        return self.columns[-1] if self.columns else "A"

    @property
    def cell(self) -> str:
        """Address, within the sheet, of the cell it is about."""
        return f"{self.column}{self.row}"

    @property
    def cells(self) -> tuple[str, ...]:
        """Addresses of the cells it rests on."""
        start = f"{quoted(self.sheet)}!"
        return tuple([f"{start}{column}{self.row}" for column in self.columns])

    @property
    def values(self) -> dict[str, float | str | None]:
        """Raw figures by name."""
        return dict(zip(self.figure_names, self.figures, strict=True))


class NotCheckedRecord(Struct, frozen=True, gc=False):
    """One check that applied to a unit and could not run."""

    unit: int
    unit_id: str
    account: str
    sheet: str
    row: int
    check: str
    reason: str
    core: bool


class PartLine(Struct, frozen=True, gc=False):
    """One line of the parts and media to take."""

    account: str
    unit_id: str
    row: int
    what: str
    size: str
    quantity: float
    unit: str
    note: str
    mass: float | None = None
    mass_unit: str = ""
    bags: float | None = None
    bag: str = ""
    crew: str = ""


class OrderLine(Struct, frozen=True, gc=False):
    """What is needed of one thing and what is left to order of it.

    `needed` is in pieces or volume, `doubtful` of it for units to be measured first; `stock` and `to_order`
    are in `order_unit`, bags for media. `bags` is None for what comes in none.
    """

    what: str
    size: str
    needed: float
    unit: str
    mass: float | None
    mass_unit: str
    bags: float | None
    bag: str
    stock: float
    to_order: float
    order_unit: str
    doubtful: float
    units: int


class OrderGroup(Struct, frozen=True, gc=False):
    """What is needed for one account, crew or day of a route; `netted` where stock was taken off."""

    kind: str
    name: str
    lines: tuple[OrderLine, ...]
    netted: bool = False
    day: date | None = None


class QuoteLine(Struct, frozen=True, gc=False):
    """What the findings of one account cost to put right, with a text to paste into a quote."""

    account: str
    units: int
    what: str
    parts: Span
    media: Span
    hours: Span
    work: Span
    total: Span
    doubtful: bool
    text: str


class MeasureLine(Struct, frozen=True, gc=False):
    """A unit to be measured before anybody acts on what was found: what to measure and what to bring."""

    unit: int
    unit_id: str
    account: str
    crew: str
    row: int
    because: str
    measure: str
    bring: str


class MediaLine(Struct, frozen=True, gc=False):
    """When the medium of one unit falls due; `day` is None where nothing tells it."""

    unit_id: str
    account: str
    row: int
    media: str
    loaded: date | None
    day: date | None
    earliest: date | None
    latest: date | None
    overdue_days: int | None
    state: str
    by: str
    work: str
    guards: bool


class SourceLine(Struct, frozen=True, gc=False):
    """One figure in force that the audit used, with where it comes from."""

    what: str
    value: str
    source: str
    status: str


class AcceptedRecord(Struct, frozen=True, gc=False):
    """A finding that somebody answers for leaving as it is until a day; it is counted nowhere else."""

    finding: FindingRecord
    reason: str
    by: str
    until: date
    cell: str


class Report(Struct, dict=True):
    """Everything the writers need; findings and units in report order.

    Lists that not every output has are made by `list_parts` and the like when somebody asks for them.
    """

    version: str
    file: str
    path: str
    sheet: str
    sheets: tuple[str, ...]
    sha256: str
    as_of: date
    system: str
    due_within_days: int
    units: list[UnitRecord] = field(default_factory=list)
    findings: list[FindingRecord] = field(default_factory=list)
    not_checked: list[NotCheckedRecord] = field(default_factory=list)
    remarks: list[Remark] = field(default_factory=list)
    banner: list[str] = field(default_factory=list)
    orders: list[OrderLine] = field(default_factory=list)
    #: what this workbook leaves of the stock that others share
    stock_left: tuple[Stocked, ...] = ()
    measuring: list[MeasureLine] = field(default_factory=list)
    media: list[MediaLine] = field(default_factory=list)
    sources: list[SourceLine] = field(default_factory=list)
    assumptions: list[tuple[str, str, str]] = field(default_factory=list)
    cautions: tuple[str, ...] = ()
    by_verdict: dict[str, int] = field(default_factory=dict)
    by_check: dict[str, int] = field(default_factory=dict)
    by_tier: dict[str, int] = field(default_factory=dict)
    cost_by_tier: dict[str, Span] = field(default_factory=dict)
    #: how the order of the findings changes where prices turn out otherwise, a sentence
    sensitivity: str = ""
    crews: CrewReport | None = None
    #: day and crew of the plan in the workbook, for each unit that it sends somebody to
    route_days: dict[int, tuple[date, str]] = field(default_factory=dict)
    accepted: list[AcceptedRecord] = field(default_factory=list)
    #: marks of accepted findings that the annotated copy fills in, by sheet and (row, column)
    marks: dict[str, dict[tuple[int, int], object]] = field(default_factory=dict)
    list_parts: Callable[[], list[PartLine]] = list
    list_order_groups: Callable[[], list[OrderGroup]] = list
    list_quotes: Callable[[], list[QuoteLine]] = list

    @cached_property
    def parts(self) -> list[PartLine]:
        """What to take along, unit by unit."""
        return self.list_parts()

    @cached_property
    def order_groups(self) -> list[OrderGroup]:
        """What is needed for each account and crew, and on the days of a route."""
        return self.list_order_groups()

    @cached_property
    def quotes(self) -> list[QuoteLine]:
        """What the findings of each account cost to put right."""
        return self.list_quotes()
