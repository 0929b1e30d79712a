"""A finding put into sentences; the only place where sentences about findings are made."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from fleetaudit.auditing.result import AuditResult, CheckResult
from fleetaudit.facts.fact import Fact
from fleetaudit.parts import medium_name
from fleetaudit.ranking import Cost
from fleetaudit.schema import fleet
from fleetaudit.schema.column import MISSING_WORDS, Column, Missing
from fleetaudit.schema.quantity import Kind
from fleetaudit.workbook.place import Place, address
from fleetaudit.writing.derivation import Derivation
from fleetaudit.writing.display import Display
from fleetaudit.writing.report import FindingRecord, Span

SHOWN_TEXT = 60
_HOLE = re.compile(r"\{(\w+)\}")
#: "7 gpm to 9 gpm", to be said as "7 to 9 gpm"
_SPAN = re.compile(r"([\d.,]+) (\S+) to ([\d.,]+ \2)")


def shorten(text: str, length: int = SHOWN_TEXT) -> str:
    """Text of the user cut to a length, the cut marked."""
    return text if len(text) <= length else text[: length - 1] + "…"


@dataclass
class Speaker:
    """Puts the results of one audited frame into words."""

    result: AuditResult
    system: str

    @cached_property
    def display(self) -> Display:
        """Numbers in the reader's units."""
        return Display(self.system)

    @cached_property
    def derivation(self) -> Derivation:
        """The way from inputs to the flow window, line by line."""
        return Derivation(self.result, self.display)

    def cell(self, unit: int, column: Column) -> str:
        """Address of a unit's cell in a column, "" where the sheet has no such column."""
        frame = self.result.view.frame
        place = frame.columns.get(column.name)
        if place is None and column is fleet.SIZE:
            place = frame.columns.get(fleet.DIAMETER.name)
        if place is None:
            return ""
        return str(Place(frame.file, frame.sheet, int(frame.rows[unit]), place))

    def local(self, cell: str) -> str:
        """Address without the sheet."""
        return cell.rsplit("!", 1)[-1]

    def finding(self, unit: int, item: CheckResult, cost: Cost | None) -> FindingRecord:
        """Record of one finding."""
        view, check = self.result.view, item.check
        frame = view.frame
        odd = self._odd_column(unit, item)
        columns = (odd,) if odd is not None else check.needs
        cells = tuple(dict.fromkeys(cell for cell in (self.cell(unit, column) for column in columns) if cell))
        known = self._numbers(unit, item)
        words = self._words(unit, item, known, odd)
        return FindingRecord(
            unit=unit,
            unit_id=frame.text(fleet.UNIT_ID)[unit],
            account=frame.text(fleet.ACCOUNT)[unit],
            crew=frame.text(fleet.CREW)[unit],
            sheet=frame.sheet,
            row=int(frame.rows[unit]),
            cell=self.local(cells[-1]) if cells else address(int(frame.rows[unit]), 1),
            cells=cells,
            check=check.slug,
            title=check.title,
            tier=_word(item.tier[unit], TIERS),
            confidence=_word(item.confidence[unit], CONFIDENCES),
            once=("", "account", "column")[int(check.once)],
            message=self._fill(check.message, words),
            why=self._fill(check.why, words),
            fix=self._fill(f"{check.fix} {check.caution}".strip(), words),
            cost_year=None if cost is None else Span(float(cost.low[unit]), float(cost.mid[unit]), float(cost.high[unit])),
            cost_parts=() if cost is None else tuple((name, float(part[unit])) for name, part in cost.parts.items()),
            numbers=tuple((NUMBER_WORDS.get(name, name), text) for name, (text, _) in known.items()),
            values={**self._values(unit, item), **_probability(item, unit)},
            source=self.derivation.source(unit, check),
            derivation=self.derivation.lines(unit) if "rate_low_m_s" in check.figures else (),
        )

    def _numbers(self, unit: int, item: CheckResult) -> dict[str, tuple[str, float]]:
        found = {}
        for name, held in item.outcome.numbers.items():
            value = float((held.value if isinstance(held, Fact) else held)[unit])
            found[name] = (self.display.text(item.check.numbers[name], value), value)
        return found

    def _values(self, unit: int, item: CheckResult) -> dict[str, float | str | None]:
        """Raw numbers, the unit of the table's US system in the key."""
        plain = Display("us")
        values: dict[str, float | str | None] = {}
        for name, held in item.outcome.numbers.items():
            quantity = item.check.numbers[name]
            value = float((held.value if isinstance(held, Fact) else held)[unit])
            unit_name = re.sub(r"\W+", "_", quantity.unit("us").replace("%", "pct")).strip("_")
            key = f"{name}_{unit_name}" if unit_name else name
            if quantity.kind is Kind.DATE:
                values[key] = None if np.isnan(value) else plain.text(quantity, value)
            else:
                shown = plain.value(quantity, value)
                values[key] = None if shown is None or np.isinf(shown) else round(shown, 4)
        return values

    def _odd_column(self, unit: int, item: CheckResult) -> Column | None:
        if item.outcome.cell is None:
            return None
        place = int(item.outcome.cell[unit])
        return fleet.COLUMNS[place] if place >= 0 else None

    def _words(
        self, unit: int, item: CheckResult, known: dict[str, tuple[str, float]], odd: Column | None
    ) -> dict[str, str]:
        frame = self.result.view.frame
        words = {name: text for name, (text, _) in known.items()}
        words["medium"] = self.medium(unit)
        if odd is not None:
            words["column"] = odd.title
            words["raw"] = f'"{shorten(frame.raw.get((unit, odd.name), ""))}"'
        words |= {name: phrase.of(unit) for name, phrase in item.outcome.words.items()}
        return words

    def medium(self, unit: int) -> str:
        """Name of the medium as used within a sentence."""
        layers = self.result.view.frame.layers.get(unit)
        media = self.result.view.catalogue.media
        if layers:
            names = [media[layer.medium].name if layer.medium >= 0 else "unknown" for layer in layers]
            return " over ".join(names)
        name = medium_name(self.result, unit)
        return name[:1].lower() + name[1:] if name else "unknown medium"

    def _fill(self, template: str, words: dict[str, str], depth: int = 0) -> str:
        """Put the words into the holes, and words into the holes of words; a sentence starts with a capital."""
        filled = _HOLE.sub(
            lambda hole: self._fill(words[hole[1]], words, depth + 1) if depth < 3 and hole[1] != "raw" else words[hole[1]],
            template,
        )
        filled = _SPAN.sub(r"\1 to \3", filled)
        return filled if depth else filled[:1].upper() + filled[1:]

    def reason(self, item: CheckResult, unit: int) -> str:
        """Why a check could not run for a unit."""
        missing = Missing(int(item.reason[unit]))
        text = MISSING_WORDS[missing]
        columns = [column for column in item.check.needs if not self._known(column, unit)]
        names = ", ".join(column.title.lower() for column in columns)
        if names and missing in (Missing.BLANK, Missing.NO_COLUMN, Missing.UNREADABLE, Missing.IMPLAUSIBLE):
            return f"{text}: {names}"
        return text

    def _known(self, column: Column, unit: int) -> bool:
        frame = self.result.view.frame
        if column is fleet.SIZE:
            column = fleet.DIAMETER
        return int(frame.why_missing(column)[unit]) == Missing.KNOWN


TIERS = ("now", "plan", "note")
#: what the numbers of a finding are called where they stand alone
NUMBER_WORDS = {
    "flow": "flow to drain", "low": "needed at least", "high": "at most", "fit": "restrictor to fit",
    "measured": "measured flow", "rated": "recorded rating", "limit": "housing takes up to", "least": "least",
    "most": "most", "largest": "largest housing takes", "age": "age of the medium", "life": "its life here", "due": "due",
    "treated": "water treated", "left": "left", "depth": "bed depth", "space": "room above the bed",
    "warm": "warmest water", "cold": "coldest water", "target": "best compromise", "minutes": "backwash",
    "interval": "time between washes", "supply": "supply sustains", "bore": "drain bore", "time": "contact time",
    "times": "rows with this unit", "water": "warmest water", "hottest": "hottest it stands", "ph": "pH",
    "probability": "chance that the finding is true",
}
def _probability(item: CheckResult, unit: int) -> dict[str, float]:
    """Probability that the finding is true, where the check has one."""
    chance = item.outcome.probability
    return {} if chance is None or np.isnan(chance[unit]) else {"probability": round(float(chance[unit]), 3)}


CONFIDENCES = ("sure", "likely", "measure-first")


def _word(code: int, words: tuple[str, ...]) -> str:
    return words[int(code)]
