"""What return sheets change in the list of units, and what of them cannot be taken; no files, no clock."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Container, Iterable, Mapping, Sequence
from enum import Enum
from math import isnan, nan, pi

from msgspec import Struct, field

from fleetaudit.facts.frame import Frame
from fleetaudit.facts.history import Before
from fleetaudit.schema import fleet, visits
from fleetaudit.schema.column import Column, Missing, Origin
from fleetaudit.schema.quantity import Kind

NEW_BED, TOPPED_UP = 0, 1
#: two numbers count as the same within this share
SAME = 1e-4


class Poured(Struct, frozen=True):
    """One medium of a bed as a return tells it: code, depth [m], volume [m3] or share; NaN where not told."""

    medium: int
    depth_m: float = nan
    volume_m3: float = nan
    share: float = nan


class Entry(Struct, frozen=True):
    """What a cell of a return sheet says: number in SI, day or code, NaN for words; `text` is as typed.

    Of media that were loaded, `name` is the usual name of the main one, and `layers` are all of them from the
    top down where the cell says how much of each, or names several.
    """

    number: float
    text: str
    name: str = ""
    layers: tuple[Poured, ...] = ()


class Visit(Struct, frozen=True):
    """One line of a return sheet; `entries` by the name of the column, blank and unreadable ones left out."""

    file: str
    sheet: str
    row: int
    unit_id: str
    label: str
    entries: Mapping[str, Entry]
    unreadable: tuple[Column, ...] = ()

    @property
    def day(self) -> float:
        """Day of the visit, NaN where not given."""
        return self.number(visits.VISIT_DATE)

    @property
    def who(self) -> str:
        """Crew and initials."""
        return ", ".join(filter(None, (self.text(visits.CREW), self.text(visits.INITIALS))))

    def number(self, column: Column) -> float:
        """Number of a column, NaN where blank."""
        entry = self.entries.get(column.name)
        return float("nan") if entry is None else entry.number

    def text(self, column: Column) -> str:
        """Text of a column, "" where blank."""
        entry = self.entries.get(column.name)
        return "" if entry is None else entry.text

    def same_as(self, other: Visit) -> bool:
        """True for two lines that say the same."""
        return dict(self.entries) == dict(other.entries) and not (self.unreadable or other.unreadable)


class Refused(Enum):
    """Why a line, or one value of it, is not taken over."""

    NO_UNIT = "no unit"
    UNKNOWN_UNIT = "unknown unit"
    SEVERAL_ROWS = "several rows"
    TWO_RETURNS = "two returns"
    NO_DATE = "no date"
    IN_THE_FUTURE = "in the future"
    NOBODY = "nobody"
    UNREADABLE = "unreadable"
    BED_WORK_UNSAID = "bed work unsaid"
    MEDIUM_UNSAID = "medium unsaid"
    UNKNOWN_MEDIUM = "unknown medium"
    LAYERED = "layered"
    OLDER = "older"
    NOT_SETTABLE = "not settable"


class Refusal(Struct, frozen=True):
    """Something that is not taken over; `detail` is what the reason is about."""

    visit: Visit
    reason: Refused
    column: Column | None = None
    detail: str = ""


class Change(Struct, frozen=True):
    """A value for a cell of the list of units: SI number, day, code or text; None empties the cell.

    `because` is the column whose change makes an emptied cell out of date.
    """

    unit: int
    column: Column
    value: float | str | None
    visit: Visit
    because: Column | None = None


class Told(Struct, frozen=True):
    """Something a return says for which the list of units has no column; it goes into the history alone."""

    unit: int
    column: Column
    text: str
    visit: Visit


class Plan(Struct):
    """What would be done with the returns; `lacking` are columns of the list that they would fill."""

    changes: list[Change] = field(default_factory=list)
    lacking: list[Column] = field(default_factory=list)
    told: list[Told] = field(default_factory=list)
    refused: list[Refusal] = field(default_factory=list)
    repeated: list[Visit] = field(default_factory=list)


def plan(
    frame: Frame, returns: Sequence[Visit], as_of_day: float, wanted_columns: Iterable[Column] = (),
    before: Sequence[Before] = (), dissolving: Container[int] = (), builds: Container[int] = (),
) -> Plan:  # fmt: skip
    """Changes that the returns ask for; `wanted_columns` are to be added where the list lacks them.

    `dissolving` holds the codes of media that dissolve, whose depth found is another matter than that of the
    fill, and `builds` those of names that stand for a bed of several, as multi-media.
    """
    wanted = {column.name for column in wanted_columns}
    planner = _Planner(frame, as_of_day, wanted, before, dissolving, builds)
    for unit, visit in planner.matched(returns):
        planner.take(unit, visit)
    return planner.out


class _Planner:
    def __init__(
        self, frame: Frame, as_of_day: float, wanted: set[str], before: Sequence[Before],
        dissolving: Container[int], builds: Container[int],
    ) -> None:  # fmt: skip
        self.dissolving, self.builds = dissolving, builds
        self.frame, self.as_of_day, self.wanted, self.before = frame, as_of_day, wanted, before
        self.out = Plan()
        self.ids: dict[str, list[int]] = defaultdict(list)
        made_up = frame.origins(fleet.UNIT_ID) == Origin.FILLED
        for unit, name in enumerate(frame.text(fleet.UNIT_ID)):
            if not made_up[unit]:
                self.ids[name.casefold()].append(unit)

    def refuse(self, visit: Visit, reason: Refused, column: Column | None = None, detail: str = "") -> None:
        """Note what is not taken over."""
        self.out.refused.append(Refusal(visit, reason, column, detail))

    def matched(self, returns: Sequence[Visit]) -> list[tuple[int, Visit]]:
        """Lines that can be taken over, with their units; two that differ for one unit are both left."""
        by_unit: dict[int, list[Visit]] = defaultdict(list)
        for visit in returns:
            unit = self._unit(visit)
            if unit is not None:
                by_unit[unit].append(visit)
        found = []
        for unit, several in by_unit.items():
            first = several[0]
            if all(first.same_as(other) for other in several[1:]):
                found.append((unit, first))
                self.out.repeated += several[1:]
                continue
            for visit in several:
                others = [f"{other.file} row {other.row}" for other in several if other is not visit]
                self.refuse(visit, Refused.TWO_RETURNS, None, ", ".join(others))
        return found

    def _unit(self, visit: Visit) -> int | None:
        if not visit.unit_id:
            self.refuse(visit, Refused.NO_UNIT)
            return None
        units = self.ids.get(visit.unit_id.casefold(), [])
        if visit.label:
            labels = self.frame.text(fleet.VESSEL_LABEL)
            units = [unit for unit in units if labels[unit].casefold() == visit.label.casefold()]
        if len(units) == 1:
            return units[0]
        if units:
            rows = ", ".join(str(int(self.frame.rows[unit])) for unit in units)
            self.refuse(visit, Refused.SEVERAL_ROWS, None, rows)
        else:
            self.refuse(visit, Refused.UNKNOWN_UNIT, None, self._near(visit.unit_id))
        return None

    def _near(self, unit_id: str) -> str:
        from difflib import get_close_matches  # noqa: PLC0415 - only on the way to a complaint

        close = get_close_matches(unit_id.casefold(), self.ids, 1, 0.7)
        return self.frame.text(fleet.UNIT_ID)[self.ids[close[0]][0]] if close else ""

    def take(self, unit: int, visit: Visit) -> None:
        """Work out what one line changes."""
        for column in visit.unreadable:
            self.refuse(visit, Refused.UNREADABLE, column)
        if visits.VISIT_DATE in visit.unreadable:
            return
        if isnan(visit.day):
            self.refuse(visit, Refused.NO_DATE)
        elif visit.day > self.as_of_day:
            self.refuse(visit, Refused.IN_THE_FUTURE, visits.VISIT_DATE, visit.text(visits.VISIT_DATE))
        elif not visit.who:
            self.refuse(visit, Refused.NOBODY)
        else:
            wanted = self._wanted(unit, visit)
            self._outdated(unit, visit, wanted)
            for column, (value, because, entry) in wanted.items():
                self._settle(unit, visit, column, value, because, entry)
            for column in (visits.FOUND, visits.NOTE):
                if visit.text(column):
                    self._tell(unit, visit, column, visit.text(column))

    def _wanted(
        self, unit: int, visit: Visit
    ) -> dict[Column, tuple[float | str | None, Column | None, Column]]:
        """New value of each column of the list, with the column of the return it comes from."""
        wanted: dict[Column, tuple[float | str | None, Column | None, Column]] = {}
        for said, column in visits.SAME_AS:
            if not isnan(visit.number(said)):
                wanted[column] = visit.number(said), None, said
        fitted = visit.number(visits.RESTRICTOR_FITTED)
        changed_restrictor = not isnan(fitted) and self._differs(unit, fleet.RESTRICTOR, fitted)
        if self._bed(unit, visit, wanted) or changed_restrictor:
            crew = visit.text(visits.CREW) or visit.text(visits.INITIALS)
            if self.frame.columns.get(fleet.MEDIA_CREW.name):
                wanted[fleet.MEDIA_CREW] = crew, None, visits.CREW
        if not isnan(visit.number(visits.RESTRICTOR_FOUND)) and not isnan(fitted):
            self._tell(unit, visit, visits.RESTRICTOR_FOUND, visit.text(visits.RESTRICTOR_FOUND))
        return wanted

    def _bed(
        self, unit: int, visit: Visit, wanted: dict[Column, tuple[float | str | None, Column | None, Column]]
    ) -> bool:
        """Note what work on the bed changes; True for a new bed."""
        work, volume = visit.number(visits.BED_WORK), visit.number(visits.VOLUME_LOADED)
        medium = visit.entries.get(visits.MEDIUM_LOADED.name)
        dissolves = int(self.frame.code(fleet.MEDIUM.name)[unit]) in self.dissolving
        if isnan(work) and dissolves and fleet.DEPTH in wanted:
            wanted[fleet.DEPTH_LEFT] = wanted.pop(fleet.DEPTH)
        if work == TOPPED_UP:
            wanted[fleet.TOP_UP_DATE] = visit.day, None, visits.BED_WORK
            for column in (visits.MEDIUM_LOADED, visits.VOLUME_LOADED):
                if visit.text(column):
                    self._tell(unit, visit, column, visit.text(column))
            return False
        if isnan(work) and medium is None and isnan(volume):
            return False
        refused = self._no_new_bed(unit, visit, medium)
        if refused is not None or medium is None:
            self.out.refused += [] if refused is None else [refused]
            return False
        wanted[fleet.MEDIA_DATE] = visit.day, None, visits.BED_WORK
        for column, text in self._make_up(unit, medium).items():
            wanted[column] = text, None, visits.MEDIUM_LOADED
        alone = medium.layers[0] if len(medium.layers) == 1 else None
        if alone is not None and not isnan(alone.depth_m):
            wanted.setdefault(fleet.DEPTH, (alone.depth_m, None, visits.MEDIUM_LOADED))
        if not isnan(volume):
            total = int(self.frame.code(fleet.VOLUME_IS_TOTAL.name)[unit]) == 1
            vessels = self.frame.number(fleet.VESSELS)[unit]
            share = 1.0 if total or isnan(vessels) else float(vessels)
            wanted[fleet.VOLUME] = volume / share, None, visits.VOLUME_LOADED
        return True

    def _no_new_bed(self, unit: int, visit: Visit, medium: Entry | None) -> Refusal | None:
        """Why media that were loaded cannot be taken over as a new bed."""
        if isnan(visit.number(visits.BED_WORK)):
            return Refusal(visit, Refused.BED_WORK_UNSAID, visits.BED_WORK)
        if medium is None:
            return Refusal(visit, Refused.MEDIUM_UNSAID, visits.MEDIUM_LOADED)
        if medium.number < 0:
            return Refusal(visit, Refused.UNKNOWN_MEDIUM, visits.MEDIUM_LOADED, medium.text)
        of_layers = int(medium.number) in {layer.medium for layer in self.frame.layers.get(unit, ())}
        if of_layers and not medium.layers and not self._as_on_record(unit, medium):
            return Refusal(visit, Refused.LAYERED, visits.MEDIUM_LOADED, medium.text)
        if visit.day < self.frame.number(fleet.MEDIA_DATE)[unit]:
            return Refusal(visit, Refused.OLDER, fleet.MEDIA_DATE)
        return None

    def _make_up(self, unit: int, medium: Entry) -> dict[Column, str | None]:
        """Cells that say what the bed is made of, where they are to say something else now."""
        if self._as_on_record(unit, medium):
            return {}
        there, code = self.frame.layers.get(unit, ()), int(self.frame.code(fleet.MEDIUM.name)[unit])
        own_column = bool(self.frame.text(fleet.LAYERS)[unit])
        if len(medium.layers) < 2:
            emptied: dict[Column, str | None] = {fleet.LAYERS: None} if own_column else {}
            same = code == int(medium.number) and (not there or own_column)
            name = medium.name if medium.layers else medium.text
            return emptied if same else {fleet.MEDIUM: name, **emptied}
        if fleet.LAYERS.name not in self.frame.columns or (there and not own_column):
            return {fleet.MEDIUM: medium.text}
        # a name of a bed of several stands for any layers, that of one medium only for its own
        kept = code in self.builds or code == int(medium.number)
        main = {} if kept else {fleet.MEDIUM: medium.name}
        return {fleet.LAYERS: medium.text, **main}

    def _as_on_record(self, unit: int, medium: Entry) -> bool:
        """True where a return names what the list says already, in the same words or to the same effect."""
        said = " ".join(medium.text.casefold().split())
        there = self.frame.layers.get(unit, ())
        if not there:
            code = int(self.frame.code(fleet.MEDIUM.name)[unit])
            return len(medium.layers) < 2 and code == int(medium.number)
        cells = (self.frame.text(column)[unit] for column in (fleet.LAYERS, fleet.MEDIUM))
        if said in (" ".join(cell.casefold().split()) for cell in cells if cell):
            return True
        inside = float(self.frame.number(fleet.INSIDE)[unit])
        across = float(self.frame.number(fleet.DIAMETER)[unit]) if isnan(inside) else inside
        ground = pi / 4 * across**2
        now = [(one.medium, one.depth_m, one.share) for one in there]
        new = [
            (one.medium, one.volume_m3 / ground if isnan(one.depth_m) else one.depth_m, one.share)
            for one in medium.layers
        ]
        return len(now) == len(new) and all(
            before[0] == after[0] and all(_alike(*pair) for pair in zip(before[1:], after[1:], strict=True))
            for before, after in zip(now, new, strict=True)
        )

    def _outdated(
        self, unit: int, visit: Visit, wanted: dict[Column, tuple[float | str | None, Column | None, Column]]
    ) -> None:
        """Empty what was true of the restrictor or the bed that is no longer there."""
        for column, cause in visits.OUTDATED_BY:
            filled = int(self.frame.why_missing(column)[unit]) not in (Missing.BLANK, Missing.NO_COLUMN)
            if column in wanted or cause not in wanted or not filled:
                continue
            if self._differs(unit, cause, wanted[cause][0]):
                wanted[column] = None, cause, wanted[cause][2]

    def _differs(self, unit: int, column: Column, value: float | str | None) -> bool:
        if isinstance(value, str) or value is None:
            return value != (self.frame.text(column)[unit] or None)
        if column.quantity.kind in (Kind.CHOICE, Kind.FLAG):
            return int(self.frame.code(column.name)[unit]) != int(value)
        there = float(self.frame.number(column)[unit])
        return isnan(there) or abs(there - value) > SAME * abs(value)

    def _settle(
        self,
        unit: int,
        visit: Visit,
        column: Column,
        value: float | str | None,
        because: Column | None,
        said: Column,
    ) -> None:
        """A change where the list has the column, a line of the history alone where it has not."""
        if column.name not in self.frame.columns and column.name not in self.wanted:
            if because is None:
                self.out.lacking += [] if column in self.out.lacking else [column]
                self._tell(unit, visit, said, visit.text(said))
        elif self._later(unit, visit, column):
            self.refuse(visit, Refused.OLDER, column)
        elif because is not None or self._differs(unit, column, value):
            self.out.changes.append(Change(unit, column, value, visit, because))

    def _tell(self, unit: int, visit: Visit, column: Column, text: str) -> None:
        known = any(
            line.what == column.title and line.new == text and line.day == visit.day and self._is(unit, line)
            for line in self.before
        )
        if not known:
            self.out.told.append(Told(unit, column, text, visit))

    def _later(self, unit: int, visit: Visit, column: Column) -> bool:
        """True where the history holds a later visit that changed the same."""
        return any(
            line.what == column.title and line.day > visit.day and self._is(unit, line)
            for line in self.before
        )

    def _is(self, unit: int, line: Before) -> bool:
        mine = self.frame.text(fleet.UNIT_ID)[unit], self.frame.text(fleet.VESSEL_LABEL)[unit]
        return (line.unit_id.casefold(), line.label.casefold()) == (mine[0].casefold(), mine[1].casefold())


def _alike(one: float, other: float) -> bool:
    """True for two numbers that are both not known, or the same."""
    if isnan(one) or isnan(other):
        return isnan(one) and isnan(other)
    return abs(one - other) <= SAME * max(abs(one), abs(other))
