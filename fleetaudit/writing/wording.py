"""A finding put into sentences; the only place where sentences about findings are made."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cached_property, lru_cache
from math import isinf, isnan, nan

import numpy as np
from msgspec import Struct

from fleetaudit.auditing.result import AuditResult, CheckResult
from fleetaudit.checks.check import Check
from fleetaudit.facts.fact import Fact
from fleetaudit.facts.frame import Codes, Floats
from fleetaudit.language import say
from fleetaudit.parts import medium_name
from fleetaudit.ranking import Cost
from fleetaudit.schema import fleet
from fleetaudit.schema.column import MISSING_WORDS, Column, Missing
from fleetaudit.schema.quantity import Kind, Quantity
from fleetaudit.workbook.place import Place, address
from fleetaudit.writing.cost_words import cost_lines
from fleetaudit.writing.derivation import Derivation
from fleetaudit.writing.display import UNKNOWN, Display, day
from fleetaudit.writing.report import FindingRecord, Span

SHOWN_TEXT = 60
_HOLE = re.compile(r"\{(\w+)\}")
#: "7 gpm to 9 gpm", to be said as "7 to 9 gpm"
_SPAN = re.compile(r"([\d.,]+) (\S+) (to|a|y) ([\d.,]+ \2)")
_TO = re.compile(r" (?:to|a|y) \d")


def shorten(text: str, length: int = SHOWN_TEXT) -> str:
    """Text of the user cut to a length, the cut marked."""
    return text if len(text) <= length else text[: length - 1] + "…"


class Speaker(Struct, dict=True):
    """Puts the results of one audited frame into words."""

    result: AuditResult
    system: str
    #: whether a finding carries the way its figures were worked out, line by line
    worked_out: bool = True

    @cached_property
    def display(self) -> Display:
        """Numbers in the reader's units."""
        return Display(self.system)

    @cached_property
    def derivation(self) -> Derivation:
        """The way from inputs to the flow window, line by line."""
        return Derivation(self.result, self.display)

    def _derives(self, check: Check) -> bool:
        return self.worked_out and "rate_low_m_s" in check.figures

    def cell(self, unit: int, column: Column) -> str:
        """Address of a unit's cell in a column, "" where the sheet has no such column."""
        return self._at(column, int(self.result.view.frame.rows[unit]))

    def _at(self, column: Column, row: int) -> str:
        frame = self.result.view.frame
        place = frame.columns.get(column.name)
        if place is None and column is fleet.SIZE:
            place = frame.columns.get(fleet.DIAMETER.name)
        if place is None:
            return ""
        return str(Place(frame.file, frame.sheet, row, place))

    def local(self, cell: str) -> str:
        """Address without the sheet."""
        return cell.rsplit("!", 1)[-1]

    def finding(self, unit: int, item: CheckResult, cost: Cost | None) -> FindingRecord:
        """Record of one finding."""
        return self.findings(np.array([unit]), item, cost)[0]

    def findings(self, units: Codes, item: CheckResult, cost: Cost | None) -> list[FindingRecord]:
        """Records of the findings of one check, whatever is the same for all of them worked out once."""
        check, frame, index = item.check, self.result.view.frame, units.tolist()
        numbers = self._numbers(units, item)
        chance = item.outcome.probability
        chances = [nan] * len(index) if chance is None else chance[units].tolist()
        phrases = {
            name: (phrase.codes[units].tolist(), [", ".join(map(say, words)) for words in phrase.phrases])
            for name, phrase in item.outcome.words.items()
        }
        odd = None if item.outcome.cell is None else item.outcome.cell[units].tolist()
        fixed = f"{say(check.fix)} {say(check.caution)}".strip()
        message, why, title = say(check.message), say(check.why), say(check.title)
        unit_id, account, crew = frame.text(fleet.UNIT_ID), frame.text(fleet.ACCOUNT), frame.text(fleet.CREW)
        once = ("", "account", "column")[int(check.once)]
        arithmetic = cost_lines(cost if self.worked_out else None, units, self.display)
        named = [(say(NUMBER_WORDS[name]), texts) for name, _, texts, _ in numbers]
        records, unknown = [], say(UNKNOWN)
        for place, (unit, row, tier, confidence) in enumerate(
            zip(
                index,
                frame.rows[units].tolist(),
                item.tier[units].tolist(),
                item.confidence[units].tolist(),
                strict=True,
            )
        ):
            column = fleet.COLUMNS[odd[place]] if odd is not None and odd[place] >= 0 else None
            cells = self._cells((column,) if column is not None else check.needs, row)
            words = {name: texts[place] for name, _, texts, _ in numbers}
            words["medium"] = self.medium(unit)
            if column is not None:
                words["column"] = say(column.title)
                words["raw"] = f'"{shorten(frame.raw.get((unit, column.name), ""))}"'
            for name, (codes, texts) in phrases.items():
                words[name] = texts[codes[place]]
            values = {key: figures[place] for _, key, _, figures in numbers}
            if not isnan(chances[place]):
                values["probability"] = round(chances[place], 3)
            records.append(
                FindingRecord(
                    unit=unit,
                    unit_id=unit_id[unit],
                    account=account[unit],
                    crew=crew[unit],
                    sheet=frame.sheet,
                    row=row,
                    cell=self.local(cells[-1]) if cells else address(row, 1),
                    cells=cells,
                    check=check.slug,
                    title=title,
                    tier=TIERS[tier],
                    confidence=CONFIDENCES[confidence],
                    once=once,
                    message=self._sentence(message, words),
                    why=self._sentence(why, words),
                    fix=self._sentence(fixed, words),
                    cost_year=None
                    if cost is None
                    else Span(float(cost.low[unit]), float(cost.mid[unit]), float(cost.high[unit])),
                    cost_parts=()
                    if cost is None
                    else tuple((name, float(part[unit])) for name, part in cost.parts.items()),
                    numbers=tuple([(name, texts[place]) for name, texts in named if texts[place] != unknown]),
                    values=values,
                    source=self.derivation.source(unit, check),
                    derivation=self.derivation.lines(unit) if self._derives(check) else (),
                    cost_lines=arithmetic[place],
                )
            )
        return records

    def _numbers(
        self, units: Codes, item: CheckResult
    ) -> list[tuple[str, str, list[str], list[float | str | None]]]:
        """Each number a check quotes: name, key with the US unit, texts to show and raw figures."""
        return [
            (
                name,
                _key(name, item.check.numbers[name]),
                *self._shown(item.check.numbers[name], _values(held)[units]),
            )
            for name, held in item.outcome.numbers.items()
        ]

    def _shown(self, quantity: Quantity, values: Floats) -> tuple[list[str], list[float | str | None]]:
        """Texts and raw figures of values; each distinct value is put into words once."""
        memory = self._said.setdefault(quantity, {})
        texts, figures = [], []
        for value in values.tolist():
            key = None if isnan(value) else value
            if key not in memory:
                memory[key] = self.display.text(quantity, value), _figure(quantity, value)
            text, figure = memory[key]
            texts.append(text)
            figures.append(figure)
        return texts, figures

    @cached_property
    def _said(self) -> dict[Quantity, dict[float | None, tuple[str, float | str | None]]]:
        return {}

    def _cells(self, columns: tuple[Column, ...], row: int) -> tuple[str, ...]:
        """Addresses of the cells in a row, each once."""
        starts = self._starts.get(columns)
        if starts is None:
            row_one = (self._at(column, 1) for column in columns)
            starts = self._starts[columns] = tuple(dict.fromkeys(cell[:-1] for cell in row_one if cell))
        return tuple([f"{start}{row}" for start in starts])

    @cached_property
    def _starts(self) -> dict[tuple[Column, ...], tuple[str, ...]]:
        return {}

    def _sentence(self, template: str, words: dict[str, str]) -> str:
        """Template filled with the words; what was said before in the same words is not made anew."""
        holes = _holes(template)
        key = template, *[words[name] for name in holes]
        said = self._sentences.get(key)
        if said is None:
            said = self._fill(template, words)
            if not any("{" in word for word in key[1:]):
                self._sentences[key] = said
        return said

    @cached_property
    def _sentences(self) -> dict[tuple[str, ...], str]:
        return {}

    def medium(self, unit: int) -> str:
        """Name of the medium as used within a sentence."""
        layers = self.result.view.frame.layers.get(unit)
        media = self.result.view.catalogue.media
        if layers:
            names = [say(media[layer.medium].name if layer.medium >= 0 else "unknown") for layer in layers]
            mixed = not all(isnan(layer.share) for layer in layers)
            return f" {say('with') if mixed else say('over')} ".join(names)
        name = say(medium_name(self.result, unit))
        return name[:1].lower() + name[1:] if name else say("unknown medium")

    def _fill(self, template: str, words: dict[str, str], depth: int = 0) -> str:
        """Put words into the holes, and into the holes of words; a sentence starts with a capital."""

        def word(hole: re.Match[str]) -> str:
            text = words[hole[1]]
            plain = "{" not in text and not _TO.search(text)
            return text if plain or depth >= 3 or hole[1] == "raw" else self._fill(text, words, depth + 1)

        filled = _HOLE.sub(word, template)
        if _TO.search(filled):
            filled = _SPAN.sub(r"\1 \3 \4", filled)
        return filled if depth else filled[:1].upper() + filled[1:]

    def reason(self, item: CheckResult, unit: int) -> str:
        """Why a check could not run for a unit."""
        missing = int(item.reason[unit])
        columns = tuple([column.name for column in item.check.needs if not self._known(column, unit)])
        said = self._reasons.get((missing, columns))
        if said is None:
            said = self._reasons[missing, columns] = _reason(Missing(missing), columns)
        return said

    @cached_property
    def _reasons(self) -> dict[tuple[int, tuple[str, ...]], str]:
        return {}

    def _known(self, column: Column, unit: int) -> bool:
        flags = self._knowns.get(column.name)
        if flags is None:
            looked = fleet.DIAMETER if column is fleet.SIZE else column
            why = self.result.view.frame.why_missing(looked)
            flags = self._knowns[column.name] = (why == Missing.KNOWN).tolist()
        return flags[unit]

    @cached_property
    def _knowns(self) -> dict[str, list[bool]]:
        return {}


TIERS = ("now", "plan", "note")
#: what the numbers of a finding are called where they stand alone
NUMBER_WORDS = {
    "flow": "flow to drain",
    "low": "needed at least",
    "high": "at most",
    "fit": "restrictor to fit",
    "measured": "measured flow",
    "rated": "recorded rating",
    "limit": "housing takes up to",
    "least": "least",
    "most": "most",
    "largest": "largest housing takes",
    "age": "age of the medium",
    "life": "its life here",
    "due": "due",
    "overdue": "past it by",
    "earliest": "at the earliest",
    "latest": "at the latest",
    "treated": "water treated",
    "takes": "takes here",
    "topped": "last top-up",
    "left": "left",
    "depth": "bed depth",
    "space": "room above the bed",
    "warm": "warmest water",
    "cold": "coldest water",
    "target": "best compromise",
    "short": "under the least in warm water",
    "over": "over the most in cold water",
    "warm_rise": "expansion in warm water",
    "cold_rise": "expansion in cold water",
    "other": "another rating it fits",
    "minutes": "backwash",
    "interval": "time between washes",
    "supply": "supply sustains",
    "bore": "drain bore",
    "time": "contact time",
    "times": "rows with this unit",
    "water": "warmest water",
    "hottest": "hottest it stands",
    "ph": "pH",
    "probability": "chance that the finding is true",
}
CONFIDENCES = ("sure", "likely", "measure-first")


def _reason(missing: Missing, columns: Sequence[str]) -> str:
    """Why a check could not run, with the columns that hold nothing usable where that is the reason."""
    text = say(MISSING_WORDS[missing])
    names = ", ".join(say(fleet.BY_NAME[name].title).lower() for name in columns)
    if names and missing in (Missing.BLANK, Missing.NO_COLUMN, Missing.UNREADABLE, Missing.IMPLAUSIBLE):
        return f"{text}: {names}"
    return text


def _values(held: Fact | Floats) -> Floats:
    return held.value if isinstance(held, Fact) else held


def _key(name: str, quantity: Quantity) -> str:
    """Key of a raw number: its name and its unit in the US system."""
    unit = re.sub(r"\W+", "_", quantity.unit("us").replace("%", "pct")).strip("_")
    return f"{name}_{unit}" if unit else name


def _figure(quantity: Quantity, value: float) -> float | str | None:
    """Raw number in the unit of the US system, a date as text; None where not known."""
    plain = Display("us")
    if quantity.kind is Kind.DATE:
        return None if isnan(value) else day(value).isoformat()
    shown = plain.value(quantity, value)
    return None if shown is None or isinf(shown) else round(shown, 4)


@lru_cache(maxsize=4096)
def _holes(template: str) -> tuple[str, ...]:
    """Names of the holes of a template."""
    return tuple(_HOLE.findall(template))
